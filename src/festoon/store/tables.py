"""The tables of the store. Rows are only ever added; the two exceptions are said at their columns.

Every row that records something carries ``entry``, the number of the trail entry that tells who added it, when and
why, and whose seal covers the row. Texts, whole numbers and floats only, so that a row hashes alike in any database.
"""

from __future__ import annotations

from sqlalchemy import (
    Column,
    Float,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)
_CODE, _HASH, _WHEN, _WORD = String(64), String(64), String(32), String(64)


def _entry() -> Column[int]:
    return Column("entry", Integer, ForeignKey("trail.seq"), nullable=False)


store_info = Table(
    "store_info",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("store", _CODE, nullable=False),
    Column("created_at", _WHEN, nullable=False),
)
"""One row: the random name of this store. Whoever writes locks it first, so that writers come one after the other."""

trail = Table(
    "trail",
    metadata,
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("at", _WHEN, nullable=False),
    Column("by", _CODE, nullable=False),
    Column("what", _WORD, nullable=False),
    Column("case_id", _CODE, nullable=True, index=True),
    Column("subject", String(200), nullable=False),
    Column("why", Text, nullable=True),  # emptied, with the salt, when its case is deleted on request
    Column("salt", _HASH, nullable=True),
    Column("seal", _HASH, nullable=False),
    Column("previous", _HASH, nullable=False, unique=True),
    Column("hash", _HASH, nullable=False, unique=True),
)
cases = Table(
    "cases",
    metadata,
    Column("case_id", _CODE, primary_key=True),
    Column("head", Integer, nullable=False),  # moves to each new version
    Column("keep_until", String(10), nullable=True),
    Column("deleted", Integer, nullable=True),  # number of the trail entry that is its tombstone
    Column("changed", Integer, nullable=False, index=True),  # number of its latest trail entry
)
case_versions = Table(
    "case_versions",
    metadata,
    Column("case_id", _CODE, ForeignKey("cases.case_id"), primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("parent", Integer, nullable=False),
    Column("document", Text, nullable=False),
    Column("sha256", _HASH, nullable=False),
    Column("kept_at", _WHEN, nullable=False),
    Column("kept_by", _CODE, nullable=False),
    _entry(),
)
readings = Table(
    "readings",
    metadata,
    Column("case_id", _CODE, ForeignKey("cases.case_id"), primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("tooth", String(2), nullable=True),
    Column("site", String(20), nullable=True),
    Column("quantity", String(40), nullable=False),
    Column("value", Float(53), nullable=False),
    Column("se", Float(53), nullable=True),
    Column("method", String(20), nullable=True),
    Column("datum", String(20), nullable=True),
    Column("at", String(10), nullable=True),
    Column("by", _CODE, nullable=True),
    Column("flag", Text, nullable=True),
    Column("source", String(200), nullable=False),
    _entry(),
)
verdicts = Table(
    "verdicts",
    metadata,
    Column("case_id", _CODE, primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("reading", Integer, nullable=False),
    Column("is_kept", Integer, nullable=False),
    _entry(),
    ForeignKeyConstraint(["case_id", "reading"], ["readings.case_id", "readings.number"]),
)
"""A person's word on one reading: set aside (0) or taken back (1). The latest holds; the reading itself stays."""

plans = Table(
    "plans",
    metadata,
    Column("case_id", _CODE, primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("case_version", Integer, nullable=False),
    Column("supersedes", Integer, nullable=True),
    Column("document", Text, nullable=False),
    Column("sha256", _HASH, nullable=False),
    Column("kept_at", _WHEN, nullable=False),
    Column("kept_by", _CODE, nullable=False),
    _entry(),
    ForeignKeyConstraint(["case_id", "case_version"], ["case_versions.case_id", "case_versions.number"]),
    ForeignKeyConstraint(["case_id", "supersedes"], ["plans.case_id", "plans.number"]),
)
plan_readings = Table(
    "plan_readings",
    metadata,
    Column("case_id", _CODE, primary_key=True),
    Column("plan", Integer, primary_key=True, autoincrement=False),
    Column("reading", Integer, primary_key=True, autoincrement=False),
    _entry(),
    ForeignKeyConstraint(["case_id", "plan"], ["plans.case_id", "plans.number"]),
    ForeignKeyConstraint(["case_id", "reading"], ["readings.case_id", "readings.number"]),
)
signatures = Table(
    "signatures",
    metadata,
    Column("case_id", _CODE, primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("plan", Integer, nullable=False),
    Column("plan_sha256", _HASH, nullable=False),
    Column("signed_by", _CODE, nullable=False),
    Column("signed_at", _WHEN, nullable=False),
    Column("role", _WORD, nullable=False),
    Column("reason", Text, nullable=False),
    _entry(),
    ForeignKeyConstraint(["case_id", "plan"], ["plans.case_id", "plans.number"]),
)
case_files = Table(
    "case_files",
    metadata,
    Column("case_id", _CODE, ForeignKey("cases.case_id"), primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("sha256", _HASH, nullable=False),
    Column("size", Integer, nullable=False),
    Column("kind", _WORD, nullable=False),
    Column("removed", Text, nullable=False),
    _entry(),
    Index(None, "sha256"),
)
"""A file beside the database, by the hash of its bytes; ``removed`` lists what identity was taken out of it."""

surgeries = Table(
    "surgeries",
    metadata,
    Column("case_id", _CODE, primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("plan", Integer, nullable=False),
    Column("plan_sha256", _HASH, nullable=False),
    Column("document", Text, nullable=False),
    Column("begun_at", _WHEN, nullable=False),
    Column("begun_by", _CODE, nullable=False),
    _entry(),
    ForeignKeyConstraint(["case_id", "plan"], ["plans.case_id", "plans.number"]),
)
"""One day of surgery, held against one signed plan; ``document`` holds what was settled as it began."""

surgery_entries = Table(
    "surgery_entries",
    metadata,
    Column("case_id", _CODE, primary_key=True),
    Column("surgery", Integer, primary_key=True, autoincrement=False),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("key", _WORD, nullable=False),
    Column("document", Text, nullable=False),
    Column("kept_at", _WHEN, nullable=False),
    Column("kept_by", _CODE, nullable=False),
    _entry(),
    ForeignKeyConstraint(["case_id", "surgery"], ["surgeries.case_id", "surgeries.number"]),
    UniqueConstraint("case_id", "surgery", "key"),
)
"""What was entered at the chair, one row each. ``key`` is made by the client, so that a retry adds nothing twice."""

recall_entries = Table(
    "recall_entries",
    metadata,
    Column("case_id", _CODE, primary_key=True),
    Column("surgery", Integer, primary_key=True, autoincrement=False),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("key", _WORD, nullable=False),
    Column("document", Text, nullable=False),
    Column("kept_at", _WHEN, nullable=False),
    Column("kept_by", _CODE, nullable=False),
    _entry(),
    ForeignKeyConstraint(["case_id", "surgery"], ["surgeries.case_id", "surgeries.number"]),
    UniqueConstraint("case_id", "surgery", "key"),
)
"""Visits after a surgery and the dated history of the teeth's edges, one row each."""

column_maps = Table(
    "column_maps",
    metadata,
    Column("name", _CODE, primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("document", Text, nullable=False),
    _entry(),
)

CASE_TABLES = (
    recall_entries,
    surgery_entries,
    surgeries,
    plan_readings,
    signatures,
    verdicts,
    plans,
    case_files,
    readings,
    case_versions,
)
"""Everything that belongs to a case, in an order in which it can be removed."""
SINCE_R0003 = (surgeries, surgery_entries, recall_entries)
"""Tables that archives of older versions do not have."""
SEALED_TABLES = (*reversed(CASE_TABLES), column_maps)
"""Every table whose rows a trail entry seals, in an order in which they can be added."""

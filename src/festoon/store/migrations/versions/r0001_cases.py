"""Cases, readings, plans, signatures, files and the trail."""

import sqlalchemy as sa
from alembic import op

revision = "r0001"
down_revision = None
branch_labels = None
depends_on = None

_CODE, _HASH, _WHEN, _WORD = sa.String(64), sa.String(64), sa.String(32), sa.String(64)


def _entry() -> sa.Column[int]:
    return sa.Column("entry", sa.Integer, sa.ForeignKey("trail.seq", name="fk_entry"), nullable=False)


def _key() -> list[sa.Column[object]]:
    return [
        sa.Column("case_id", _CODE, nullable=False),
        sa.Column("number", sa.Integer, nullable=False, autoincrement=False),
    ]


def upgrade() -> None:
    """Make the first tables."""
    op.create_table(
        "store_info",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("store", _CODE, nullable=False),
        sa.Column("created_at", _WHEN, nullable=False),
    )
    op.create_table(
        "trail",
        sa.Column("seq", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("at", _WHEN, nullable=False),
        sa.Column("by", _CODE, nullable=False),
        sa.Column("what", _WORD, nullable=False),
        sa.Column("case_id", _CODE, nullable=True),
        sa.Column("subject", sa.String(200), nullable=False),
        sa.Column("why", sa.Text, nullable=True),
        sa.Column("salt", _HASH, nullable=True),
        sa.Column("seal", _HASH, nullable=False),
        sa.Column("previous", _HASH, nullable=False, unique=True),
        sa.Column("hash", _HASH, nullable=False, unique=True),
    )
    op.create_index("ix_trail_case_id", "trail", ["case_id"])
    op.create_table(
        "cases",
        sa.Column("case_id", _CODE, primary_key=True),
        sa.Column("head", sa.Integer, nullable=False),
        sa.Column("deleted", sa.Integer, nullable=True),
        sa.Column("changed", sa.Integer, nullable=False),
    )
    op.create_index("ix_cases_changed", "cases", ["changed"])
    of_case = ["case_id"], ["cases.case_id"]
    op.create_table(
        "case_versions",
        *_key(),
        sa.Column("parent", sa.Integer, nullable=False),
        sa.Column("document", sa.Text, nullable=False),
        sa.Column("sha256", _HASH, nullable=False),
        sa.Column("kept_at", _WHEN, nullable=False),
        sa.Column("kept_by", _CODE, nullable=False),
        _entry(),
        sa.PrimaryKeyConstraint("case_id", "number"),
        sa.ForeignKeyConstraint(*of_case),
    )
    op.create_table(
        "readings",
        *_key(),
        sa.Column("tooth", sa.String(2), nullable=True),
        sa.Column("site", sa.String(20), nullable=True),
        sa.Column("quantity", sa.String(40), nullable=False),
        sa.Column("value", sa.Float(53), nullable=False),
        sa.Column("se", sa.Float(53), nullable=True),
        sa.Column("method", sa.String(20), nullable=True),
        sa.Column("datum", sa.String(20), nullable=True),
        sa.Column("at", sa.String(10), nullable=True),
        sa.Column("by", _CODE, nullable=True),
        sa.Column("flag", sa.Text, nullable=True),
        sa.Column("source", sa.String(200), nullable=False),
        _entry(),
        sa.PrimaryKeyConstraint("case_id", "number"),
        sa.ForeignKeyConstraint(*of_case),
    )
    op.create_table(
        "verdicts",
        *_key(),
        sa.Column("reading", sa.Integer, nullable=False),
        sa.Column("is_kept", sa.Integer, nullable=False),
        _entry(),
        sa.PrimaryKeyConstraint("case_id", "number"),
        sa.ForeignKeyConstraint(["case_id", "reading"], ["readings.case_id", "readings.number"]),
    )
    op.create_table(
        "plans",
        *_key(),
        sa.Column("case_version", sa.Integer, nullable=False),
        sa.Column("supersedes", sa.Integer, nullable=True),
        sa.Column("document", sa.Text, nullable=False),
        sa.Column("sha256", _HASH, nullable=False),
        sa.Column("kept_at", _WHEN, nullable=False),
        sa.Column("kept_by", _CODE, nullable=False),
        _entry(),
        sa.PrimaryKeyConstraint("case_id", "number"),
        sa.ForeignKeyConstraint(["case_id", "case_version"], ["case_versions.case_id", "case_versions.number"]),
        sa.ForeignKeyConstraint(["case_id", "supersedes"], ["plans.case_id", "plans.number"]),
    )
    op.create_table(
        "plan_readings",
        sa.Column("case_id", _CODE, nullable=False),
        sa.Column("plan", sa.Integer, nullable=False, autoincrement=False),
        sa.Column("reading", sa.Integer, nullable=False, autoincrement=False),
        _entry(),
        sa.PrimaryKeyConstraint("case_id", "plan", "reading"),
        sa.ForeignKeyConstraint(["case_id", "plan"], ["plans.case_id", "plans.number"]),
        sa.ForeignKeyConstraint(["case_id", "reading"], ["readings.case_id", "readings.number"]),
    )
    op.create_table(
        "signatures",
        *_key(),
        sa.Column("plan", sa.Integer, nullable=False),
        sa.Column("plan_sha256", _HASH, nullable=False),
        sa.Column("signed_by", _CODE, nullable=False),
        sa.Column("signed_at", _WHEN, nullable=False),
        sa.Column("role", _WORD, nullable=False),
        sa.Column("reason", sa.Text, nullable=False),
        _entry(),
        sa.PrimaryKeyConstraint("case_id", "number"),
        sa.ForeignKeyConstraint(["case_id", "plan"], ["plans.case_id", "plans.number"]),
    )
    op.create_table(
        "case_files",
        *_key(),
        sa.Column("sha256", _HASH, nullable=False),
        sa.Column("size", sa.Integer, nullable=False),
        sa.Column("kind", _WORD, nullable=False),
        sa.Column("removed", sa.Text, nullable=False),
        _entry(),
        sa.PrimaryKeyConstraint("case_id", "number"),
        sa.ForeignKeyConstraint(*of_case),
    )
    op.create_index("ix_case_files_sha256", "case_files", ["sha256"])

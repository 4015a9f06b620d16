"""What the store holds: cases listed, searched and opened; their plans, signatures and trail."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from sqlalchemy import Connection, exists, func, select

from festoon.store.errors import UnknownRecordError
from festoon.store.keeping import READING_FIELDS
from festoon.store.store import Store, require_case
from festoon.store.tables import (
    case_files,
    case_versions,
    cases,
    column_maps,
    plan_readings,
    plans,
    readings,
    signatures,
    trail,
    verdicts,
)
from festoon.store.trail import Entry


class CaseLine(NamedTuple):
    """One case in a list."""

    case: str
    versions: int
    """Number of its head version; 0 where only readings were kept."""
    changed_at: str
    has_plan: bool
    is_signed: bool
    keep_until: str | None


class Version(NamedTuple):
    """One version of a case: when, by whom and why it was saved, and which one it was made from."""

    number: int
    parent: int
    at: str
    by: str
    why: str


@dataclass(frozen=True)
class KeptReading:
    """One reading as kept."""

    number: int
    fields: Mapping[str, Any]
    """By the names of ``READING_FIELDS``."""
    is_set_aside: bool


@dataclass(frozen=True)
class Signature:
    """One signature under one plan."""

    number: int
    by: str
    role: str
    at: str
    reason: str


@dataclass(frozen=True)
class PlanOnRecord:
    """A plan as kept, with what it was made from."""

    number: int
    case_version: int
    supersedes: int | None
    superseded_by: int | None
    document: str
    sha256: str
    used: tuple[int, ...]
    """Numbers of the readings."""
    signatures: tuple[Signature, ...]


@dataclass(frozen=True)
class FileOnRecord:
    """A file of a case."""

    sha256: str
    size: int
    kind: str
    removed: tuple[str, ...]
    """Identity that was taken out of it."""


@dataclass(frozen=True)
class CaseOnRecord:
    """A case, opened."""

    case: str
    version: int
    """The head version; 0 where only readings were kept."""
    document: str | None
    beside: tuple[int, ...]
    """Versions kept beside the head that nobody has brought together with it yet."""
    readings: tuple[KeptReading, ...]
    plans: tuple[PlanOnRecord, ...]
    files: tuple[FileOnRecord, ...]
    keep_until: str | None


def list_cases(store: Store, *, search: str = "", limit: int | None = None, offset: int = 0) -> list[CaseLine]:
    """Cases, the latest changed first. ``search`` is part of the id; deleted cases are not listed."""
    planned = exists().where(plans.c.case_id == cases.c.case_id)
    signed = exists().where(signatures.c.case_id == cases.c.case_id)
    query = (
        select(cases.c.case_id, cases.c.head, trail.c.at, planned, signed, cases.c.keep_until)
        .join(trail, trail.c.seq == cases.c.changed)
        .where(cases.c.deleted.is_(None))
        .order_by(cases.c.changed.desc(), cases.c.case_id)
        .limit(limit)
        .offset(offset)
    )
    if search:
        query = query.where(func.lower(cases.c.case_id).contains(search.lower(), autoescape=True))
    with store.read() as connection:
        return [
            CaseLine(case, head, at, bool(has_plan), bool(is_signed), until)
            for case, head, at, has_plan, is_signed, until in connection.execute(query)
        ]


def saying(store: Store, ids: Sequence[str], text: str) -> frozenset[str]:
    """Of some cases those whose head version has a text in it: what a list says of a case without opening it."""
    query = select(cases.c.case_id).join(
        case_versions, (case_versions.c.case_id == cases.c.case_id) & (case_versions.c.number == cases.c.head)
    )
    with store.read() as connection:
        return frozenset(
            connection.scalars(
                query.where(cases.c.case_id.in_(ids), case_versions.c.document.contains(text, autoescape=True))
            )
        )


def open_case(store: Store, case: str) -> CaseOnRecord:
    """A case with everything kept of it, at one moment.

    Raises
    ------
    UnknownRecordError
        If there is no such case, or it was deleted on request.
    """
    with store.read() as connection:
        head = require_case(connection, case)
        document = None
        if head:
            of_head = select(case_versions.c.document).where(
                case_versions.c.case_id == case, case_versions.c.number == head
            )
            document = connection.execute(of_head).scalar_one()
        until = connection.execute(select(cases.c.keep_until).where(cases.c.case_id == case)).scalar_one()
        return CaseOnRecord(
            case, head, document, _beside(connection, case, head), _readings(connection, case),
            _plans(connection, case), _files(connection, case), until,
        )  # fmt: skip


def versions_of(store: Store, case: str) -> list[Version]:
    """Every version of a case in its order, those kept beside the head among them."""
    query = (
        select(case_versions.c.number, case_versions.c.parent, trail.c.at, trail.c.by, trail.c.why)
        .join(trail, trail.c.seq == case_versions.c.entry)
        .where(case_versions.c.case_id == case)
        .order_by(case_versions.c.number)
    )
    with store.read() as connection:
        require_case(connection, case)
        return [Version(number, parent, at, by, why or "") for number, parent, at, by, why in connection.execute(query)]


def version_of(store: Store, case: str, number: int) -> str:
    """One version of a case as JSON.

    Raises
    ------
    UnknownRecordError
        If there is no such version.
    """
    with store.read() as connection:
        require_case(connection, case)
        found = connection.execute(
            select(case_versions.c.document).where(case_versions.c.case_id == case, case_versions.c.number == number)
        ).scalar_one_or_none()
    if found is None:
        raise UnknownRecordError(f"case {case} has no version {number}")
    return str(found)


def map_named(store: Store, name: str) -> str:
    """The latest column map of a name, as JSON.

    Raises
    ------
    UnknownRecordError
        If there is none.
    """
    with store.read() as connection:
        query = select(column_maps.c.document).where(column_maps.c.name == name)
        found = connection.execute(query.order_by(column_maps.c.number.desc()).limit(1)).scalar_one_or_none()
        names = connection.execute(select(column_maps.c.name).distinct().order_by(column_maps.c.name)).scalars().all()
    if found is None:
        raise UnknownRecordError(f"no column map {name!r} was kept here (there is {', '.join(names) or 'none'})")
    return str(found)


def staleness(record: CaseOnRecord, plan: PlanOnRecord) -> tuple[str, ...]:
    """Why a plan no longer says what the records say; empty while it does."""
    found = []
    if record.version != plan.case_version:
        found.append(f"the case is at version {record.version}, the plan was made from version {plan.case_version}")
    current = {reading.number for reading in record.readings if not reading.is_set_aside}
    newer, gone = current - set(plan.used), set(plan.used) - current
    if newer:
        found.append(f"{len(newer)} readings were kept since")
    if gone:
        found.append(f"{len(gone)} readings it used were set aside since")
    return tuple(found)


def trail_of(store: Store, case: str | None = None) -> list[Entry]:
    """The trail, of one case or of the whole store, in its order."""
    query = select(trail).order_by(trail.c.seq)
    if case is not None:
        query = query.where(trail.c.case_id == case)
    with store.read() as connection:
        return [
            Entry(row.seq, row.at, row.by, row.what, row.case_id, row.subject, row.why, row.hash)
            for row in connection.execute(query)
        ]


def _beside(connection: Connection, case: str, head: int) -> tuple[int, ...]:
    """Versions that are on no line to the head: walk back from it, then from nothing else."""
    parents = {
        int(number): int(parent)
        for number, parent in connection.execute(
            select(case_versions.c.number, case_versions.c.parent).where(case_versions.c.case_id == case)
        )
    }
    line = set()
    at = head
    while at:
        line.add(at)
        at = parents.get(at, 0)
    # A version saved on the head after one was kept beside it has seen both, and settles it.
    return tuple(number for number in sorted(parents) if number not in line and number > head)


def _readings(connection: Connection, case: str) -> tuple[KeptReading, ...]:
    last_word: dict[int, int] = {}
    said = select(verdicts.c.reading, verdicts.c.is_kept).where(verdicts.c.case_id == case).order_by(verdicts.c.number)
    for reading, is_kept in connection.execute(said):
        last_word[reading] = is_kept
    columns = [readings.c.number, *(readings.c[field] for field in READING_FIELDS)]
    rows = connection.execute(select(*columns).where(readings.c.case_id == case).order_by(readings.c.number))
    return tuple(
        KeptReading(number, dict(zip(READING_FIELDS, fields, strict=True)), not last_word.get(number, 1))
        for number, *fields in rows
    )


def _plans(connection: Connection, case: str) -> tuple[PlanOnRecord, ...]:
    used: dict[int, list[int]] = {}
    links = select(plan_readings.c.plan, plan_readings.c.reading).where(plan_readings.c.case_id == case)
    for plan, reading in connection.execute(links.order_by(plan_readings.c.reading)):
        used.setdefault(plan, []).append(reading)
    signed: dict[int, list[Signature]] = {}
    for row in connection.execute(select(signatures).where(signatures.c.case_id == case).order_by(signatures.c.number)):
        signed.setdefault(row.plan, []).append(
            Signature(row.number, row.signed_by, row.role, row.signed_at, row.reason)
        )
    rows = connection.execute(select(plans).where(plans.c.case_id == case).order_by(plans.c.number)).all()
    later = {row.supersedes: row.number for row in rows if row.supersedes is not None}
    return tuple(
        PlanOnRecord(
            row.number, row.case_version, row.supersedes, later.get(row.number), row.document, row.sha256,
            tuple(used.get(row.number, ())), tuple(signed.get(row.number, ())),
        )
        for row in rows
    )  # fmt: skip


def _files(connection: Connection, case: str) -> tuple[FileOnRecord, ...]:
    rows = connection.execute(select(case_files).where(case_files.c.case_id == case).order_by(case_files.c.number))
    return tuple(FileOnRecord(row.sha256, row.size, row.kind, tuple(json.loads(row.removed))) for row in rows)

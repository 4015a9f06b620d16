"""Keeping cases, readings, verdicts, plans, signatures, files and maps. Everything is added, nothing changed."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Table, func, insert, select, update

from festoon.store.errors import SignedPlanError, StaleVersionError, UnknownRecordError
from festoon.store.store import Store, Writer, require_case
from festoon.store.tables import (
    case_files,
    case_versions,
    cases,
    column_maps,
    plan_readings,
    plans,
    readings,
    signatures,
    verdicts,
)
from festoon.store.trail import Act, digest, now_text

READING_FIELDS = ("tooth", "site", "quantity", "value", "se", "method", "datum", "at", "by", "flag", "source")
"""What a reading says, as the store keeps it: texts and numbers."""


@dataclass(frozen=True)
class KeptPlan:
    """A plan and exactly what it was made from."""

    number: int
    sha256: str


def save_case(store: Store, case: str, document: str, *, base: int, by: str, why: str) -> int:
    """Save a case as a new version.

    Parameters
    ----------
    store : Store
        The store.
    case : str
        Pseudonymous id.
    document : str
        The case as JSON.
    base : int
        The version this one was made from; 0 for a new case.
    by, why : str
        Who (a code) and why, for the trail.

    Returns
    -------
    number : int
        The new head version.

    Raises
    ------
    StaleVersionError
        If somebody else saved in the meantime; this version is kept beside theirs, and the head stays theirs.
    """
    with store.write() as write:
        head = _case_row(write, case)
        number = _next(write.connection, case_versions, case)
        row = {
            "case_id": case, "number": number, "parent": base, "document": document,
            "sha256": digest(document.encode()), "kept_at": now_text(write.now), "kept_by": by,
        }  # fmt: skip
        is_stale = base != head
        what = "case kept beside" if is_stale else "case saved"
        entry = write.record([Act(what, f"version {number}", why, case, {case_versions: [row]})], by)
        _touch(write.connection, case, entry, head=None if is_stale else number)
    if is_stale:
        raise StaleVersionError(case, base=base, head=head, kept=number)
    return number


def keep_readings(
    store: Store, by_case: Mapping[str, Sequence[Mapping[str, Any]]], *, by: str, why: str
) -> dict[str, range]:
    """Keep readings of one or many cases, all or none; a case that is not there yet is begun.

    Returns
    -------
    numbers : dict of str to range
        The numbers that the readings of each case were given, in their order.
    """
    kept: dict[str, range] = {}
    with store.write() as write:
        known = {row.case_id: row.deleted for row in write.connection.execute(select(cases.c.case_id, cases.c.deleted))}
        gone = [case for case in by_case if known.get(case) is not None]
        if gone:
            raise UnknownRecordError(f"case {gone[0]} was deleted on request (trail entry {known[gone[0]]})")
        new = [case for case in by_case if case not in known]
        if new:
            write.connection.execute(insert(cases), [{"case_id": case, "head": 0, "changed": 0} for case in new])
        counts = select(readings.c.case_id, func.max(readings.c.number)).group_by(readings.c.case_id)
        if len(by_case) < 50:
            counts = counts.where(readings.c.case_id.in_(list(by_case)))
        latest = {case: int(number) for case, number in write.connection.execute(counts)}
        acts = []
        for case, rows in by_case.items():
            first = latest.get(case, 0) + 1
            kept[case] = range(first, first + len(rows))
            full = [
                {"case_id": case, "number": number, **{field: row.get(field) for field in READING_FIELDS}}
                for number, row in zip(kept[case], rows, strict=True)
            ]
            acts.append(Act("readings kept", f"{len(rows)} readings", why, case, {readings: full}))
        last = write.record(acts, by)
        entries = range(last - len(acts) + 1, last + 1)
        changed = update(cases).where(cases.c.case_id == _bind("which")).values(changed=_bind("seq"))
        write.connection.execute(
            changed, [{"which": case, "seq": entry} for case, entry in zip(by_case, entries, strict=True)]
        )
    return kept


def judge_reading(store: Store, case: str, reading: int, *, is_kept: bool, by: str, why: str) -> None:
    """Set a reading aside, or take it back: how a person settles a conflict. The reading itself stays.

    Raises
    ------
    UnknownRecordError
        If there is no such reading.
    """
    with store.write() as write:
        require_case(write.connection, case)
        _require(write.connection, readings, case, reading, "reading")
        number = _next(write.connection, verdicts, case)
        row = {"case_id": case, "number": number, "reading": reading, "is_kept": int(is_kept)}
        what = "reading taken back" if is_kept else "reading set aside"
        entry = write.record([Act(what, f"reading {reading}", why, case, {verdicts: [row]})], by)
        _touch(write.connection, case, entry)


def keep_plan(
    store: Store,
    case: str,
    document: str,
    *,
    case_version: int,
    used: Sequence[int],
    supersedes: int | None = None,
    by: str,
    why: str,
) -> KeptPlan:
    """Keep a plan with the exact version and readings it was made from.

    Raises
    ------
    UnknownRecordError
        If the version, a reading or the superseded plan is not there.
    """
    with store.write() as write:
        require_case(write.connection, case)
        _require(write.connection, case_versions, case, case_version, "version")
        for reading in used:
            _require(write.connection, readings, case, reading, "reading")
        if supersedes is not None:
            _require(write.connection, plans, case, supersedes, "plan")
        number = _next(write.connection, plans, case)
        sha256 = digest(document.encode())
        row = {
            "case_id": case, "number": number, "case_version": case_version, "supersedes": supersedes,
            "document": document, "sha256": sha256, "kept_at": now_text(write.now), "kept_by": by,
        }  # fmt: skip
        links = [{"case_id": case, "plan": number, "reading": reading} for reading in sorted(set(used))]
        subject = f"plan {number}" + (f" in place of plan {supersedes}" if supersedes else "")
        entry = write.record([Act("plan kept", subject, why, case, {plans: [row], plan_readings: links})], by)
        _touch(write.connection, case, entry)
    return KeptPlan(number, sha256)


def sign_plan(store: Store, case: str, plan: int, sha256: str, *, by: str, role: str, reason: str) -> int:
    """Sign a plan. ``sha256`` is that of the plan the person saw, so that nothing else can be signed.

    Returns
    -------
    number : int
        Of the signature.

    Raises
    ------
    SignedPlanError
        If the plan was superseded, is another than the one seen, or this person signed it already.
    UnknownRecordError
        If there is no such plan.
    """
    with store.write() as write:
        require_case(write.connection, case)
        row = write.connection.execute(
            select(plans.c.sha256).where(plans.c.case_id == case, plans.c.number == plan)
        ).first()
        if row is None:
            raise UnknownRecordError(f"case {case} has no plan {plan}")
        if row.sha256 != sha256:
            raise SignedPlanError(f"plan {plan} of case {case} is not the one that was shown: look at it again")
        later = write.connection.execute(
            select(plans.c.number).where(plans.c.case_id == case, plans.c.supersedes == plan)
        ).first()
        if later is not None:
            raise SignedPlanError(f"plan {plan} of case {case} was superseded by plan {later.number}: sign that one")
        mine = select(signatures.c.number).where(
            signatures.c.case_id == case,
            signatures.c.plan == plan,
            signatures.c.signed_by == by,
            signatures.c.role == role,
        )
        if write.connection.execute(mine).first() is not None:
            raise SignedPlanError(f"{by} has signed plan {plan} of case {case} as {role} already")
        number = _next(write.connection, signatures, case)
        signed = {
            "case_id": case, "number": number, "plan": plan, "plan_sha256": sha256, "signed_by": by,
            "signed_at": now_text(write.now), "role": role, "reason": reason,
        }  # fmt: skip
        entry = write.record([Act("plan signed", f"plan {plan}", reason, case, {signatures: [signed]})], by)
        _touch(write.connection, case, entry)
    return number


def attach_file(store: Store, case: str, data: bytes, *, kind: str, removed: Sequence[str], by: str, why: str) -> str:
    """Keep a file for a case. The bytes are on disk before the row that names them. Returns their SHA-256."""
    sha256 = store.files.put(data)
    with store.write() as write:
        _case_row(write, case)
        number = _next(write.connection, case_files, case)
        row = {
            "case_id": case, "number": number, "sha256": sha256, "size": len(data), "kind": kind,
            "removed": json.dumps(list(removed), ensure_ascii=False),
        }  # fmt: skip
        entry = write.record([Act("file attached", f"{kind} {sha256[:12]}", why, case, {case_files: [row]})], by)
        _touch(write.connection, case, entry)
        if not store.files.path(sha256).exists():  # collected between the two: the collector needs the writers' lock
            store.files.put(data)
    return sha256


def keep_map(store: Store, name: str, document: str, *, by: str, why: str) -> int:
    """Keep a column map under a name; an earlier one of that name stays in the trail. Returns its number."""
    with store.write() as write:
        latest = write.connection.execute(
            select(func.max(column_maps.c.number)).where(column_maps.c.name == name)
        ).scalar_one()
        number = int(latest or 0) + 1
        row = {"name": name, "number": number, "document": document}
        write.record([Act("column map kept", f"map {name} {number}", why, None, {column_maps: [row]})], by)
    return number


def keep_until(store: Store, case: str, day: str, *, by: str, why: str) -> None:
    """Say until which day a case must be kept; deleting it before then needs to be said twice."""
    with store.write() as write:
        require_case(write.connection, case)
        entry = write.record([Act("retention set", f"until {day}", why, case, {})], by)
        write.connection.execute(update(cases).where(cases.c.case_id == case).values(keep_until=day, changed=entry))


def _bind(name: str) -> Any:
    from sqlalchemy import bindparam

    return bindparam(name)


def _case_row(write: Writer, case: str) -> int:
    """The head of a case, begun here if it is new."""
    row = write.connection.execute(select(cases.c.case_id).where(cases.c.case_id == case)).first()
    if row is None:
        write.connection.execute(insert(cases).values(case_id=case, head=0, changed=0))
        return 0
    return require_case(write.connection, case)


def _next(connection: Connection, table: Table, case: str) -> int:
    latest = connection.execute(select(func.max(table.c.number)).where(table.c.case_id == case)).scalar_one()
    return int(latest or 0) + 1


def _require(connection: Connection, table: Table, case: str, number: int, name: str) -> None:
    found = connection.execute(select(table.c.number).where(table.c.case_id == case, table.c.number == number)).first()
    if found is None:
        raise UnknownRecordError(f"case {case} has no {name} {number}")


def _touch(connection: Connection, case: str, entry: int, *, head: int | None = None) -> None:
    values = {"changed": entry} | ({} if head is None else {"head": head})
    connection.execute(update(cases).where(cases.c.case_id == case).values(**values))

"""Keeping surgeries and what was entered at the chair or at recalls. Rows are added; nothing is changed or removed.

A write returns only when its commit is on disk. Every entry has a key made by the client: the same key with the same
content is the same entry, so that a retry after a lost network adds nothing twice.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from sqlalchemy import Connection, Table, func, select, update

from festoon.store.errors import StoreError, UnknownRecordError
from festoon.store.store import Store, Writer, require_case
from festoon.store.tables import cases, recall_entries, surgeries, surgery_entries
from festoon.store.trail import Act, now_text


class RepeatedKeyError(StoreError):
    """A key that was used before, for another content."""


@dataclass(frozen=True)
class KeptEntry:
    """One row as kept."""

    number: int
    key: str
    document: str
    kept_at: str
    kept_by: str


@dataclass(frozen=True)
class KeptSurgery:
    """One surgery as kept, with everything entered since, in its order."""

    case: str
    number: int
    plan: int
    plan_sha256: str
    document: str
    begun_at: str
    begun_by: str
    entries: tuple[KeptEntry, ...]
    recalls: tuple[KeptEntry, ...]


Check = Callable[[tuple[KeptEntry, ...]], None]
"""Looks at the entries so far, inside the writers' lock, and raises where the new one may not follow them."""


def begin_surgery(store: Store, case: str, plan: int, plan_sha256: str, document: str, *, by: str, why: str) -> int:
    """Begin a surgery held against one plan. Returns its number."""
    with store.write() as write:
        require_case(write.connection, case)
        latest = select(func.max(surgeries.c.number)).where(surgeries.c.case_id == case)
        number = int(write.connection.execute(latest).scalar_one() or 0) + 1
        row = {
            "case_id": case, "number": number, "plan": plan, "plan_sha256": plan_sha256, "document": document,
            "begun_at": now_text(write.now), "begun_by": by,
        }  # fmt: skip
        act = Act("surgery begun", f"surgery {number}, plan {plan}", why, case, {surgeries: [row]})
        _touch(write, case, write.record([act], by))
    return number


def keep_entry(
    store: Store, case: str, surgery: int, key: str, document: str, *, by: str, what: str, check: Check | None = None
) -> int:
    """Keep one entry of the chair. Returns its number; on disk by then.

    Raises
    ------
    RepeatedKeyError
        If the key was used for another content.
    UnknownRecordError
        If there is no such surgery.
    """
    return _keep(store, surgery_entries, case, surgery, key, document, by=by, what=what, check=check)


def keep_recall(store: Store, case: str, surgery: int, key: str, document: str, *, by: str, what: str) -> int:
    """Keep one entry of a recall. See :func:`keep_entry`."""
    return _keep(store, recall_entries, case, surgery, key, document, by=by, what=what, check=None)


def surgery_on_record(store: Store, case: str, number: int) -> KeptSurgery:
    """A surgery with its entries.

    Raises
    ------
    UnknownRecordError
        If there is none.
    """
    with store.read() as connection:
        require_case(connection, case)
        query = select(surgeries).where(surgeries.c.case_id == case, surgeries.c.number == number)
        row = connection.execute(query).first()
        if row is None:
            raise UnknownRecordError(f"case {case} has no surgery {number}")
        return KeptSurgery(
            case, number, row.plan, row.plan_sha256, row.document, row.begun_at, row.begun_by,
            _entries(connection, surgery_entries, case, number), _entries(connection, recall_entries, case, number),
        )  # fmt: skip


def surgeries_of(store: Store, case: str) -> tuple[int, ...]:
    """Numbers of the surgeries of a case, in their order."""
    with store.read() as connection:
        require_case(connection, case)
        query = select(surgeries.c.number).where(surgeries.c.case_id == case).order_by(surgeries.c.number)
        return tuple(int(number) for number in connection.execute(query).scalars())


def _keep(
    store: Store,
    table: Table,
    case: str,
    surgery: int,
    key: str,
    document: str,
    *,
    by: str,
    what: str,
    check: Check | None,
) -> int:
    with store.write() as write:
        require_case(write.connection, case)
        known = select(surgeries.c.number).where(surgeries.c.case_id == case, surgeries.c.number == surgery)
        if write.connection.execute(known).first() is None:
            raise UnknownRecordError(f"case {case} has no surgery {surgery}")
        so_far = _entries(write.connection, table, case, surgery)
        same = next((entry for entry in so_far if entry.key == key), None)
        if same is not None:
            if same.document != document:
                raise RepeatedKeyError(f"the key {key} was used for entry {same.number}, which says something else")
            return same.number
        if check is not None:
            check(so_far)
        number = len(so_far) + 1
        row = {
            "case_id": case, "surgery": surgery, "number": number, "key": key, "document": document,
            "kept_at": now_text(write.now), "kept_by": by,
        }  # fmt: skip
        act = Act(what, f"surgery {surgery}, entry {number}", "entered", case, {table: [row]})
        _touch(write, case, write.record([act], by))
    return number


def _entries(connection: Connection, table: Table, case: str, surgery: int) -> tuple[KeptEntry, ...]:
    query = select(table).where(table.c.case_id == case, table.c.surgery == surgery).order_by(table.c.number)
    return tuple(
        KeptEntry(row.number, row.key, row.document, row.kept_at, row.kept_by) for row in connection.execute(query)
    )


def _touch(write: Writer, case: str, entry: int) -> None:
    write.connection.execute(update(cases).where(cases.c.case_id == case).values(changed=entry))

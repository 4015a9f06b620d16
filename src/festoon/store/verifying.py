"""Proof that nothing kept was changed, cut out or slipped in: the chain, its seals, the heads, the files."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Connection, Table, select

from festoon.store.engine import damage
from festoon.store.files import hash_of
from festoon.store.store import Store
from festoon.store.tables import SEALED_TABLES, case_files, case_versions, cases, trail
from festoon.store.trail import GENESIS, chained, content, seal

DELETED = "case deleted"
"""What the tombstone of a case is called in the trail."""


@dataclass
class Verdict:
    """What the check found."""

    n_entries: int = 0
    head: str = GENESIS
    """Hash of the latest entry: printed on a signed sheet, it proves later what the trail was then."""
    broken: list[str] = field(default_factory=list)
    """Why the records cannot be trusted."""
    notes: list[str] = field(default_factory=list)
    """What is unusual and no proof of anything."""

    @property
    def is_whole(self) -> bool:
        """True where nothing is broken."""
        return not self.broken


def verify(store: Store) -> Verdict:
    """Check the whole store against its trail."""
    verdict = Verdict()
    wrong = damage(store.home.database, thorough=True)
    if wrong is not None:
        verdict.broken.append(f"the database file: {wrong}")
        return verdict
    with store.read() as connection:
        deleted = _chain(connection, _Recorded(connection), verdict)
        _heads(connection, verdict, deleted)
        wanted = {row.sha256 for row in connection.execute(select(case_files.c.sha256).distinct())}
    for sha256 in sorted(wanted):
        path = store.files.path(sha256)
        if not path.exists():
            verdict.broken.append(f"the file {sha256[:12]} is missing")
        elif hash_of(path) != sha256:
            verdict.broken.append(f"the file {sha256[:12]} was changed or cut short")
    anchor = store.home.anchor()
    if anchor is not None and anchor[0] > verdict.n_entries:
        verdict.broken.append(f"the trail ends at entry {verdict.n_entries}, and entry {anchor[0]} had been written")
    return verdict


class _Recorded:
    """The rows of every table in the order of their entries, read as the chain is walked: never all at once."""

    def __init__(self, connection: Connection) -> None:
        self._tables = {
            table: iter(
                connection.execute(select(table).order_by(table.c.entry).execution_options(yield_per=2000)).mappings()
            )
            for table in SEALED_TABLES
        }
        self._next = {table: next(rows, None) for table, rows in self._tables.items()}

    def take(self, seq: int) -> dict[Table, list[dict[str, Any]]]:
        """The rows of one entry, in every table that has some."""
        found: dict[Table, list[dict[str, Any]]] = {}
        for table, rows in self._tables.items():
            while (row := self._next[table]) is not None and row["entry"] == seq:
                found.setdefault(table, []).append(dict(row))
                self._next[table] = next(rows, None)
        return found

    @property
    def left(self) -> list[int]:
        """Entries whose rows nobody asked for: the first of each table."""
        return sorted({int(row["entry"]) for row in self._next.values() if row is not None})


def _chain(connection: Connection, recorded: _Recorded, verdict: Verdict) -> dict[str, int]:
    """Walk the chain; returns the deleted cases with their tombstones."""
    tombstones = connection.execute(select(trail.c.case_id, trail.c.seq).where(trail.c.what == DELETED))
    deleted = {str(row.case_id): int(row.seq) for row in tombstones}
    previous, at = GENESIS, ""
    number = 0
    for number, row in enumerate(
        connection.execute(select(trail).order_by(trail.c.seq).execution_options(yield_per=2000)).mappings(), start=1
    ):
        seq = row["seq"]
        if seq != number:
            verdict.broken.append(f"trail entry {number} is missing")
            break
        if row["previous"] != previous:
            verdict.broken.append(f"trail entry {seq} does not follow the one before it")
        if chained(dict(row)) != row["hash"]:
            verdict.broken.append(f"trail entry {seq} was changed")
        here = recorded.take(seq)
        if row["salt"] is None:
            if deleted.get(row["case_id"], 0) < seq or here:
                verdict.broken.append(f"trail entry {seq} lost its reason, and its case was not deleted")
        elif seal(row["salt"], row["why"] or "", content(here)) != row["seal"]:
            verdict.broken.append(f"what trail entry {seq} ({row['what']}, {row['subject']}) recorded was changed")
        if row["at"] < at:
            verdict.notes.append(f"trail entry {seq} is dated before the one it follows: the clock was moved back")
        previous, at = row["hash"], row["at"]
    for seq in recorded.left:
        verdict.broken.append(f"there are records of a trail entry {seq} that is not there")
    verdict.n_entries, verdict.head = number, previous
    return deleted


def _heads(connection: Connection, verdict: Verdict, deleted: dict[str, int]) -> None:
    versions: dict[str, list[tuple[int, int]]] = defaultdict(list)
    for row in connection.execute(select(case_versions.c.case_id, case_versions.c.number, case_versions.c.parent)):
        versions[row.case_id].append((row.number, row.parent))
    for row in connection.execute(select(cases)):
        head = 0
        for number, parent in sorted(versions.pop(row.case_id, [])):
            head = number if parent == head else head
        if row.head != (0 if row.deleted else head):
            verdict.broken.append(f"case {row.case_id} points to version {row.head}, the trail to version {head}")
        if row.deleted != deleted.get(row.case_id):
            verdict.broken.append(f"case {row.case_id} and the trail do not agree whether it was deleted")

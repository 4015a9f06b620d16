"""Deletion on request: a person's right. What was known of the person goes; that something was deleted stays."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from sqlalchemy import delete, select, update

from festoon.store.errors import StoreError
from festoon.store.store import Store, require_case
from festoon.store.tables import CASE_TABLES, case_files, cases, trail
from festoon.store.trail import Act
from festoon.store.verifying import DELETED


@dataclass(frozen=True)
class Erased:
    """What a deletion removed, and where copies may still be."""

    tombstone: int
    """Number of the trail entry that stays."""
    n_rows: int
    n_files: int
    older_backups: tuple[str, ...]
    """Backups made before, by name: they still hold the case until they are deleted."""


def delete_case(store: Store, case: str, *, by: str, why: str, despite_retention: bool = False) -> Erased:
    """Delete a case on request: versions, readings, plans, signatures, files, and the reasons in its trail.

    A tombstone stays in the chain, so that the trail can still be proved; the id is never used again.

    Raises
    ------
    StoreError
        If the case must still be kept by the day set for it and ``despite_retention`` is not given.
    UnknownRecordError
        If there is no such case.
    """
    with store.write() as write:
        connection = write.connection
        require_case(connection, case)
        until = connection.execute(select(cases.c.keep_until).where(cases.c.case_id == case)).scalar_one()
        today = store.clock().astimezone(dt.UTC).date().isoformat()
        if until is not None and until > today and not despite_retention:
            raise StoreError(
                f"case {case} is to be kept until {until}: a law may ask for that. Delete it all the same only after "
                "that was looked into."
            )
        mine = set(connection.execute(select(case_files.c.sha256).where(case_files.c.case_id == case)).scalars())
        n_rows = 0
        for table in CASE_TABLES:
            n_rows += connection.execute(delete(table).where(table.c.case_id == case)).rowcount
        connection.execute(update(trail).where(trail.c.case_id == case).values(why=None, salt=None))
        tombstone = write.record([Act(DELETED, f"{n_rows} records", why, case, {})], by)
        connection.execute(
            update(cases)
            .where(cases.c.case_id == case)
            .values(head=0, keep_until=None, deleted=tombstone, changed=tombstone)
        )
        shared = set(connection.execute(select(case_files.c.sha256).where(case_files.c.sha256.in_(mine))).scalars())
    gone = mine - shared
    for sha256 in gone:
        store.files.path(sha256).unlink(missing_ok=True)
    _empty_log(store)
    backups = tuple(sorted(path.name for path in store.home.backups.glob("*"))) if store.home.backups.exists() else ()
    return Erased(tombstone, n_rows, len(gone), backups)


def _empty_log(store: Store) -> None:
    """Deleted pages may stand in the write-ahead log still: write it back and cut it short."""
    if store.engine.dialect.name == "sqlite":
        with store.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
            connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")


def collect_files(store: Store, *, grace_seconds: float | None = None) -> tuple[int, int]:
    """Remove files that no case refers to. Returns how many, and their bytes."""
    with store.write() as write:  # nobody can name a file while it is looked at
        wanted = set(write.connection.execute(select(case_files.c.sha256).distinct()).scalars())
        if grace_seconds is None:
            return store.files.collect(wanted)
        return store.files.collect(wanted, grace_seconds=grace_seconds)

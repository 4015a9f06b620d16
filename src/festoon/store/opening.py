"""Opening a store: made where there is none, checked where there is one, never guessed at and never overwritten."""

from __future__ import annotations

import datetime as dt
import secrets
from pathlib import Path

from sqlalchemy import insert, select

from festoon.store.engine import copy_online, damage, plain_failures, sqlite_engine
from festoon.store.errors import StoreDamagedError, StoreUnwritableError
from festoon.store.home import Home, default_home
from festoon.store.migrating import REVISIONS, migrate, revision_of
from festoon.store.store import Clock, Store, system_clock
from festoon.store.tables import store_info, trail
from festoon.store.trail import now_text
from festoon.store.writing import flush_folder


def open_store(root: Path | None = None, *, clock: Clock = system_clock) -> Store:
    """The store in a folder, made there if there is none.

    Parameters
    ----------
    root : Path, optional
        The folder; by default the one that ``FESTOON_HOME`` names, or festoon's in the user's data folder.
    clock : callable
        Says what time it is.

    Raises
    ------
    StoreDamagedError
        If the database is damaged (it is set aside then), or missing or older although the trail had more.
    StoreNewerError
        If a newer festoon wrote it; it is not touched.
    StoreUnwritableError
        If the folder cannot be written.
    """
    home = Home(root or default_home())
    try:
        home.root.mkdir(parents=True, exist_ok=True, mode=0o700)
        existed = home.database.exists()
    except OSError as error:
        raise StoreUnwritableError(f"the folder of the records cannot be used: {error.strerror}") from None
    anchor = home.anchor()
    if not existed and anchor is not None:
        raise StoreDamagedError(
            f"the database is missing, and the trail had {anchor[0]} entries. Nothing was made in its place: restore a "
            "backup with festoon records restore"
        )
    if existed:
        _check(home, clock())
        _check_revision(home)
    store = Store(home, sqlite_engine(home.database), clock)
    _bring_up_to_date(store, existed)
    if anchor is not None:
        _check_anchor(store, *anchor)
    return store


def _check(home: Home, now: dt.datetime) -> None:
    try:
        wrong = damage(home.database) if home.database.stat().st_size else "it is empty"
    except OSError as error:
        raise StoreUnwritableError(f"the database cannot be read: {error.strerror}") from None
    if wrong is None or (wrong == "it is empty" and home.anchor() is None):
        return  # empty and never used: a first start that was stopped
    place = home.set_aside(now)
    raise StoreDamagedError(
        f"the database is damaged ({wrong}). It was set aside, whole, as set-aside/{place.name}. Restore a backup with "
        "festoon records restore"
    )


def _check_revision(home: Home) -> None:
    """Looked at without writing, so that a newer database is not touched."""
    from sqlalchemy import create_engine
    from sqlalchemy.pool import NullPool

    uri = f"sqlite:///{home.database.resolve().as_uri()}?mode=ro&uri=true"
    engine = create_engine(uri, poolclass=NullPool, hide_parameters=True)
    with plain_failures(), engine.connect() as connection:
        revision_of(connection)


def _bring_up_to_date(store: Store, existed: bool) -> None:
    with plain_failures(), store.engine.connect() as connection:
        found = revision_of(connection)
    if found == REVISIONS[-1]:
        return
    if existed and found is not None:
        now = store.clock().astimezone(dt.UTC).strftime("%Y%m%dT%H%M%S%fZ")
        safe_copy(store.home.database, store.home.backups / f"before-migration-{now}.db")
    engine = store.engine.execution_options(writes=True)
    with plain_failures(), engine.begin() as connection:
        if revision_of(connection) == REVISIONS[-1]:
            return  # another process was faster
        migrate(connection)
        if connection.execute(select(store_info.c.id)).first() is None:
            connection.execute(
                insert(store_info).values(id=1, store=secrets.token_hex(8), created_at=now_text(store.clock()))
            )


def safe_copy(source: Path, target: Path) -> None:
    """A consistent copy of the database under a new name, whole or not at all.

    Raises
    ------
    StoreUnwritableError
        If it cannot be written.
    """
    unfinished = target.with_name(f".{target.name}.part")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        unfinished.unlink(missing_ok=True)
        with plain_failures():
            copy_online(source, unfinished)
        unfinished.replace(target)
        flush_folder(target.parent)
    except OSError as error:
        raise StoreUnwritableError(f"the copy could not be written: {error.strerror}") from None
    finally:
        unfinished.unlink(missing_ok=True)


def _check_anchor(store: Store, seq: int, entry_hash: str) -> None:
    with store.read() as connection:
        found = connection.execute(select(trail.c.hash).where(trail.c.seq == seq)).scalar_one_or_none()
    if found != entry_hash:
        raise StoreDamagedError(
            f"the database does not hold trail entry {seq} as it was written: it is an older copy, or was changed. It "
            "was left as it is. Restore a backup with festoon records restore, which says so in the trail"
        )

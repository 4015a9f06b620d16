"""The one place that knows which database it is: how to connect, and how SQLite is told to be careful."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.exc import DatabaseError, IntegrityError
from sqlalchemy.pool import NullPool

from festoon.store.errors import StoreDamagedError, StoreUnwritableError

_WAIT_SECONDS = 20
"""How long a writer waits for another one; a write takes milliseconds, a large table seconds."""
SQLITE_MAGIC = b"SQLite format 3\x00"
_DAMAGED = ("malformed", "not a database", "disk image", "corrupt")


def sqlite_engine(path: Path) -> Engine:
    """An engine on a SQLite file: write-ahead log, foreign keys on, every commit on disk before it counts.

    Deleted content is overwritten with zeros. Parameters never show in messages: they hold a patient's readings.
    """
    engine = create_engine(
        f"sqlite:///{path}", hide_parameters=True, poolclass=NullPool, connect_args={"timeout": _WAIT_SECONDS}
    )

    @event.listens_for(engine, "connect")
    def _careful(connection: sqlite3.Connection, _: Any) -> None:
        connection.isolation_level = None  # transactions begin where the event below says, not where the driver guesses
        for pragma in ("journal_mode=WAL", "foreign_keys=ON", "synchronous=FULL", "secure_delete=ON"):
            connection.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get("writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


@contextmanager
def plain_failures() -> Iterator[None]:
    """Failures of the database as failures of the store, in words and without statements or paths.

    Raises
    ------
    StoreUnwritableError
        If the disk is full, the file cannot be written or another process holds it.
    StoreDamagedError
        If the database is no longer whole.
    """
    try:
        yield
    except IntegrityError:
        raise  # a fault of festoon, not of the disk
    except (DatabaseError, sqlite3.DatabaseError) as error:
        said = str(error.orig if isinstance(error, DatabaseError) else error).lower()
        if any(word in said for word in _DAMAGED):
            raise StoreDamagedError(
                "the database is damaged; nothing more was written to it. Restore a backup: festoon records restore"
            ) from None
        raise StoreUnwritableError(_unwritable(said)) from None


def _unwritable(said: str) -> str:
    for word, plain in (
        ("full", "the disk is full"),
        ("readonly", "the folder of the records is read-only"),
        ("locked", "another process has been writing for a long time"),
        ("unable to open", "the folder of the records cannot be written"),
        ("i/o", "the disk failed or is full"),
    ):
        if word in said:
            return f"{plain}; nothing of this was kept, and what was there before is whole"
    return f"the database refused ({said}); nothing of this was kept"


def damage(path: Path, *, thorough: bool = False) -> str | None:
    """What is wrong with a SQLite file, or None. Reads only."""
    with path.open("rb") as stream:
        head = stream.read(len(SQLITE_MAGIC))
    if head != SQLITE_MAGIC:
        return "its first bytes are not those of a database"
    check = "integrity_check" if thorough else "quick_check"
    try:
        said = _checked(path, check)
    except sqlite3.OperationalError as error:
        # Locked, read-only media, no descriptor: a reason not to open it, no proof that it is damaged.
        if not any(word in str(error).lower() for word in _DAMAGED):
            raise StoreUnwritableError(_unwritable(str(error).lower())) from None
        return "it is malformed"
    except sqlite3.DatabaseError:
        return "it is malformed"
    return None if said == ["ok"] else "its pages contradict each other"


def _checked(path: Path, check: str) -> list[str]:
    """Reading only; only where a writer was killed half way is SQLite let in to undo what it had begun."""
    for mode in ("ro", "rw"):
        uri = f"{path.resolve().as_uri()}?mode={mode}"
        with closing(sqlite3.connect(uri, uri=True, timeout=_WAIT_SECONDS)) as connection:
            try:
                return [str(row[0]) for row in connection.execute(f"PRAGMA {check}(3)")]
            except sqlite3.OperationalError as error:
                if mode == "rw" or "readonly" not in str(error):
                    raise
    raise AssertionError("both modes were tried")


def copy_online(source: Path, target: Path) -> None:
    """A consistent copy of a SQLite file while others read and write it."""
    with closing(sqlite3.connect(f"{source.resolve().as_uri()}?mode=ro", uri=True, timeout=_WAIT_SECONDS)) as old:  # noqa: SIM117 - one line a connection
        with closing(sqlite3.connect(target)) as new:
            old.backup(new)
            # One plain file: no log beside it that could be forgotten when it is moved.
            new.execute("PRAGMA journal_mode=DELETE")

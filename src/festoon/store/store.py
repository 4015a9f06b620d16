"""An open store: a connection to read, a connection to write, the files beside it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

from sqlalchemy import Connection, Engine, select

from festoon.store.engine import plain_failures
from festoon.store.errors import StoreUnwritableError, UnknownRecordError
from festoon.store.files import FileStore
from festoon.store.home import Home
from festoon.store.tables import cases, store_info
from festoon.store.trail import Act, record

Clock = Callable[[], dt.datetime]


def system_clock() -> dt.datetime:
    """Now, with its zone."""
    return dt.datetime.now(dt.UTC)


@dataclass
class Writer:
    """A write that has not been committed: everything of it becomes visible together, or nothing does."""

    connection: Connection
    now: dt.datetime
    _head: tuple[int, str] | None = None

    def record(self, acts: Sequence[Act], by: str) -> int:
        """Add the rows of these acts and their trail entries. Returns the number of the latest entry."""
        self._head = record(self.connection, acts, by=by, now=self.now)
        return self._head[0]

    @property
    def head(self) -> tuple[int, str] | None:
        """Number and hash of the latest entry of this write."""
        return self._head


@dataclass(frozen=True)
class Store:
    """One practice's records. Made by :func:`festoon.store.opening.open_store`."""

    home: Home
    engine: Engine
    clock: Clock

    @property
    def files(self) -> FileStore:
        """The large files beside the database."""
        return FileStore(self.home.files)

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """A connection that sees one moment of the store."""
        with plain_failures(), self.engine.begin() as connection:
            yield connection

    @contextmanager
    def write(self) -> Iterator[Writer]:
        """A write of its own: committed whole at the end of the block, undone at any exception.

        Raises
        ------
        StoreUnwritableError
            If the disk is full, the folder read-only, or another writer does not finish.
        """
        engine = self.engine.execution_options(writes=True)
        with plain_failures(), engine.begin() as connection:
            # Writers come one after the other in every database, not only where the file is locked anyway.
            connection.execute(select(store_info.c.id).with_for_update()).all()
            writer = Writer(connection, self.clock())
            yield writer
        if writer.head is not None:
            try:
                self.home.set_anchor(*writer.head)
            except OSError:
                raise StoreUnwritableError(
                    "the record was kept, but the note of the latest trail entry could not be written beside it: the "
                    "disk is full or read-only"
                ) from None


def require_case(connection: Connection, case: str) -> int:
    """The head version of a case that is there and not deleted.

    Raises
    ------
    UnknownRecordError
        If it is not.
    """
    row = connection.execute(select(cases.c.head, cases.c.deleted).where(cases.c.case_id == case)).first()
    if row is None:
        raise UnknownRecordError(f"there is no case {case}")
    if row.deleted is not None:
        raise UnknownRecordError(f"case {case} was deleted on request (trail entry {row.deleted})")
    return int(row.head)

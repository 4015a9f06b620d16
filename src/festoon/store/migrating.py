"""Which version a database has, and the way from an older one to this. Alembic is loaded only where steps are run."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import Connection, inspect, text

from festoon.store.errors import StoreDamagedError, StoreNewerError

REVISIONS = ("r0001", "r0002", "r0003")
"""Every version of the database, oldest first; the last is this one's."""


def revision_of(connection: Connection) -> str | None:
    """The version of the database; None for an empty one.

    Raises
    ------
    StoreNewerError
        If a newer festoon wrote it.
    StoreDamagedError
        If it holds tables and no version.
    """
    # One look at the tables: between two, another process may have finished making the database.
    tables = inspect(connection).get_table_names()
    if "alembic_version" not in tables:
        if tables:
            raise StoreDamagedError("this is a database, but none of festoon's records")
        return None
    found = connection.execute(text("SELECT version_num FROM alembic_version")).scalar_one_or_none()
    if found is None:
        return None
    if found not in REVISIONS:
        raise StoreNewerError(
            f"the records were written by a newer festoon (database version {found}; this one knows "
            f"{', '.join(REVISIONS)}). They were not touched: install the newer festoon."
        )
    return str(found)


def migrate(connection: Connection, to: str = REVISIONS[-1]) -> None:
    """Bring the database to a version, inside the transaction of the connection."""
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    config.attributes["connection"] = connection
    command.upgrade(config, to)

"""Backups while others work, and the way back. A restore sets the present database aside, it never overwrites it."""

from __future__ import annotations

import datetime as dt
import json
import os
import re
import secrets
import shutil
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import select

from festoon.store.engine import damage, plain_failures, sqlite_engine
from festoon.store.erasing import delete_case
from festoon.store.errors import StoreDamagedError, StoreError, StoreUnwritableError, UnknownRecordError
from festoon.store.files import FileStore, hash_of
from festoon.store.home import Home, default_home
from festoon.store.migrating import REVISIONS, revision_of
from festoon.store.opening import open_store, safe_copy
from festoon.store.store import Clock, Store, system_clock
from festoon.store.tables import case_files, cases
from festoon.store.trail import Act
from festoon.store.verifying import verify
from festoon.store.writing import flush_folder, write_file

BACKUP_FORMAT = "festoon-backup/1"
_NAME = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True)
class Backup:
    """A backup that was made."""

    folder: Path
    n_files: int
    n_bytes: int


def back_up(store: Store, folder: Path | None = None) -> Backup:
    """Copy the store into a folder of its own, while others read and write it.

    Files never change, so on the same disk they are linked rather than copied. The folder appears whole.

    Raises
    ------
    StoreUnwritableError
        If it cannot be written; nothing is left behind then.
    StoreError
        If a folder of that name is there already.
    """
    stamp = store.clock().astimezone(dt.UTC).strftime("%Y%m%dT%H%M%S%fZ")
    target = folder or store.home.backups / f"backup-{stamp}"
    if target.exists():
        raise StoreError(f"{target.name} is there already, and no backup is ever overwritten: name another folder")
    unfinished = target.with_name(f".{target.name}.{secrets.token_hex(4)}.part")
    try:
        unfinished.mkdir(parents=True)
        safe_copy(store.home.database, unfinished / "records.db")
        with store.read() as connection:
            wanted = {row.sha256 for row in connection.execute(select(case_files.c.sha256).distinct())}
        n_bytes = 0
        for sha256 in sorted(wanted):
            n_bytes += _copied(store.files, FileStore(unfinished / "files"), sha256)
        manifest = {
            "format": BACKUP_FORMAT, "made_at": stamp, "database": hash_of(unfinished / "records.db"),
            "files": sorted(wanted),
        }  # fmt: skip
        write_file(unfinished / "manifest.json", json.dumps(manifest, indent=1).encode())
        unfinished.rename(target)
        flush_folder(target.parent)
    except OSError as error:
        raise StoreUnwritableError(f"the backup could not be written: {error.strerror}") from None
    finally:
        shutil.rmtree(unfinished, ignore_errors=True)
    return Backup(target, len(wanted), n_bytes)


def _copied(source: FileStore, target: FileStore, sha256: str) -> int:
    old, new = source.path(sha256), target.path(sha256)
    if not old.exists():
        raise StoreDamagedError(f"the file {sha256[:12]} is missing, so the backup would not be whole")
    new.parent.mkdir(parents=True, exist_ok=True)
    try:
        os.link(old, new)
    except OSError:  # another disk, or one without links
        write_file(new, source.get(sha256))
    return new.stat().st_size


def restore(folder: Path, root: Path | None = None, *, by: str, why: str, clock: Clock = system_clock) -> Store:
    """Bring a backup back, after proving that it is whole. The present database is set aside, not overwritten.

    Close every other window of the app first: it would go on writing to what was set aside.

    Raises
    ------
    UnknownRecordError
        If the folder is no backup.
    StoreDamagedError
        If the backup is damaged or was changed; the present records stay as they are then.
    """
    home = Home(root or default_home())
    database, manifest = _checked(folder)
    unfinished = home.root / ".records.db.restoring"
    gone = _deleted_here(home)
    try:
        home.root.mkdir(parents=True, exist_ok=True, mode=0o700)
        backup_files = FileStore(folder / "files")
        for sha256 in manifest.files:
            FileStore(home.files).put(backup_files.get(sha256))
        unfinished.unlink(missing_ok=True)
        safe_copy(database, unfinished)
        _prove(unfinished)
        if home.database_files:
            home.set_aside(clock())
        unfinished.rename(home.database)
        flush_folder(home.root)
        home.forget_anchor()
    except OSError as error:
        raise StoreUnwritableError(f"the backup could not be brought back: {error.strerror}") from None
    finally:
        unfinished.unlink(missing_ok=True)
    store = open_store(home.root, clock=clock)
    with store.write() as write:
        write.record([Act("store restored", f"backup of {manifest.made_at}", why, None, {})], by)
    with store.read() as connection:
        back = connection.execute(select(cases.c.case_id).where(cases.c.deleted.is_(None))).scalars().all()
    for case in sorted(gone & set(back)):  # a person's right does not end with a backup
        delete_case(store, case, by=by, why="deleted on request before the restore", despite_retention=True)
    verdict = verify(store)
    if not verdict.is_whole:
        raise StoreDamagedError(
            "the backup was brought back and does not hold together: " + "; ".join(verdict.broken[:5])
        )
    return store


def _deleted_here(home: Home) -> set[str]:
    """Cases that the present records, if they can be read, say were deleted on request."""
    if not home.database.exists() or damage(home.database) is not None:
        return set()
    with plain_failures(), sqlite_engine(home.database).connect() as connection:
        if revision_of(connection) != REVISIONS[-1]:
            return set()
        return set(connection.execute(select(cases.c.case_id).where(cases.c.deleted.is_not(None))).scalars())


@dataclass(frozen=True)
class _Manifest:
    made_at: str
    files: tuple[str, ...]


def _checked(folder: Path) -> tuple[Path, _Manifest]:
    """The database of a backup and what its manifest says, both as they were written."""
    database = folder / "records.db"
    if folder.is_file():
        return folder, _Manifest(folder.stem, ())  # a copy of the database alone, as made before a migration
    try:
        said = json.loads((folder / "manifest.json").read_text("utf-8"))
        files = tuple(str(name) for name in said["files"])
        is_ours = said["format"] == BACKUP_FORMAT and all(map(_NAME.fullmatch, files))
        expected, made_at = str(said["database"]), str(said["made_at"])
    except OSError:
        raise UnknownRecordError(f"{folder.name} is no backup: it holds no manifest.json") from None
    except (ValueError, KeyError, TypeError):
        raise StoreDamagedError(f"the manifest of {folder.name} is damaged") from None
    if not is_ours or not re.fullmatch(r"[0-9A-Za-z-]{1,40}", made_at):
        raise StoreDamagedError(f"{folder.name} is no backup of this format")
    if not database.exists() or hash_of(database) != expected:
        raise StoreDamagedError(f"the database of {folder.name} was changed or cut short; take another backup")
    return database, _Manifest(made_at, files)


def _prove(copy: Path) -> None:
    wrong = damage(copy, thorough=True)
    if wrong is not None:
        raise StoreDamagedError(f"the database of the backup is damaged ({wrong}); take another backup")

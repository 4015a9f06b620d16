"""Where the store lives on disk, and the small files beside the database."""

from __future__ import annotations

import datetime as dt
import json
import os
import sys
from dataclasses import dataclass
from pathlib import Path

from festoon.store.errors import StoreDamagedError
from festoon.store.writing import write_file

HOME_VARIABLE = "FESTOON_HOME"


def default_home() -> Path:
    """The folder that ``FESTOON_HOME`` names, else festoon's place in the platform's user data folder."""
    named = os.environ.get(HOME_VARIABLE)
    if named:
        return Path(named).expanduser()
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA", Path.home() / "AppData" / "Local")) / "festoon"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support" / "festoon"
    return Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share") / "festoon"


@dataclass(frozen=True)
class Home:
    """The folders and files of one store."""

    root: Path

    @property
    def database(self) -> Path:
        """The SQLite file."""
        return self.root / "records.db"

    @property
    def database_files(self) -> tuple[Path, ...]:
        """The database with its log and index, where they are."""
        names = ("records.db", "records.db-wal", "records.db-shm")
        return tuple(path for name in names if (path := self.root / name).exists())

    @property
    def files(self) -> Path:
        """Large files, by the hash of their bytes."""
        return self.root / "files"

    @property
    def backups(self) -> Path:
        """Copies made by the backup command and before a migration."""
        return self.root / "backups"

    @property
    def _anchor(self) -> Path:
        return self.root / "trail-head.json"

    def anchor(self) -> tuple[int, str] | None:
        """Number and hash of an entry that the trail must hold: a database without it is older than it should be.

        Raises
        ------
        StoreDamagedError
            If the file is there and cannot be read.
        """
        try:
            said = json.loads(self._anchor.read_text("utf-8"))
            return int(said["seq"]), str(said["hash"])
        except FileNotFoundError:
            return None
        except (ValueError, KeyError, TypeError):
            raise StoreDamagedError("trail-head.json is damaged: compare the trail with a backup") from None

    def set_anchor(self, seq: int, entry_hash: str) -> None:
        """Note the latest entry, after it was committed. One that is noted late is harmless: the chain goes on."""
        write_file(self._anchor, json.dumps({"seq": seq, "hash": entry_hash}).encode())

    def forget_anchor(self) -> None:
        """For a restore only: an older database takes the place of a newer one on purpose."""
        self._anchor.unlink(missing_ok=True)

    def set_aside(self, now: dt.datetime) -> Path:
        """Move the database out of the way, whole and under a name of its own; nothing is overwritten."""
        stamp = now.astimezone(dt.UTC).strftime("%Y%m%dT%H%M%S%fZ")
        place = self.root / "set-aside" / stamp
        place.mkdir(parents=True)
        for path in self.database_files:
            path.rename(place / path.name)
        return place

"""Large files beside the database, named by the SHA-256 of their bytes: photographs, scans, volumes.

A file is never changed: other bytes have another name. What nothing refers to any more is collected after an hour, so
that a file whose row is just being written is left alone.
"""

from __future__ import annotations

import hashlib
import re
import time
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from pathlib import Path

from festoon.store.errors import StoreDamagedError, StoreUnwritableError, UnknownRecordError
from festoon.store.writing import write_file

GRACE_SECONDS = 3600.0
_NAME = re.compile(r"[0-9a-f]{64}")
_CHUNK = 1 << 20


@dataclass(frozen=True)
class FileStore:
    """Files by hash, in folders by the first two digits."""

    root: Path

    def path(self, sha256: str) -> Path:
        """Where a file lies or would lie."""
        if not _NAME.fullmatch(sha256):
            raise UnknownRecordError("a file is named by the 64 hexadecimal digits of its SHA-256")
        return self.root / sha256[:2] / sha256

    def put(self, data: bytes) -> str:
        """Keep bytes; the same bytes are kept once. Returns their SHA-256."""
        sha256 = hashlib.sha256(data).hexdigest()
        path = self.path(sha256)
        if path.exists() and hash_of(path) == sha256:
            path.touch()  # young again, so that no collector takes it before its row is written
        else:
            try:
                write_file(path, data)
            except OSError as error:
                raise StoreUnwritableError(f"the file could not be kept: {(error.strerror or '').lower()}") from None
        return sha256

    def get(self, sha256: str) -> bytes:
        """The bytes of a file, checked against their name.

        Raises
        ------
        UnknownRecordError
            If it is not there.
        StoreDamagedError
            If its bytes are not those it was named after.
        """
        try:
            data = self.path(sha256).read_bytes()
        except FileNotFoundError:
            raise UnknownRecordError(f"the file {sha256[:12]} is not in the store") from None
        if hashlib.sha256(data).hexdigest() != sha256:
            raise StoreDamagedError(f"the file {sha256[:12]} was changed or cut short; restore it from a backup")
        return data

    def names(self) -> Iterator[str]:
        """Every file there is, by hash."""
        for path in sorted(self.root.glob("??/*")):
            if _NAME.fullmatch(path.name):
                yield path.name

    def collect(self, wanted: Collection[str], *, grace_seconds: float = GRACE_SECONDS) -> tuple[int, int]:
        """Remove what nothing refers to, and what a stopped write left behind. Returns files and bytes removed."""
        before = time.time() - grace_seconds
        n_files = n_bytes = 0
        for path in list(self.root.glob("??/*")):  # with the .part files, whose names begin with a dot
            if path.name in wanted:
                continue
            try:
                about = path.stat()
                if about.st_mtime <= before:
                    path.unlink()
                    n_files, n_bytes = n_files + 1, n_bytes + about.st_size
            except FileNotFoundError:
                continue  # its writer has just given it its name
        return n_files, n_bytes


def hash_of(path: Path) -> str:
    """SHA-256 of a file, read in pieces."""
    found = hashlib.sha256()
    with path.open("rb") as stream:
        while piece := stream.read(_CHUNK):
            found.update(piece)
    return found.hexdigest()

"""One file, whole or not at all, and on disk before its name is."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path


def write_file(path: Path, data: bytes) -> None:
    """Put ``data`` in place of ``path``: temporary file, flushed to disk, renamed, the folder flushed.

    Raises
    ------
    OSError
        If it cannot be written; the old file stands unchanged then.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=".", suffix=".part")
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        Path(temporary).replace(path)
    finally:
        Path(temporary).unlink(missing_ok=True)
    flush_folder(path.parent)


def flush_folder(folder: Path) -> None:
    """Have the names in a folder on disk; where a system cannot open folders it does so by itself."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        os.fsync(handle)
    finally:
        os.close(handle)

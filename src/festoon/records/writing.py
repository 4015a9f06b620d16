"""Files that appear whole or not at all."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping
from pathlib import Path


def write_whole(folder: Path, contents: Mapping[str, bytes]) -> tuple[Path, ...]:
    """Write several files into ``folder`` so that a reader never sees half of one.

    Each goes to a temporary file in the same folder first; only when all are on disk are they put in place.

    Raises
    ------
    OSError
        If the folder cannot be made or written; no file of the set has been put in place then.
    """
    folder.mkdir(parents=True, exist_ok=True)
    waiting: list[tuple[Path, Path]] = []
    try:
        for name, data in contents.items():
            handle, temporary = tempfile.mkstemp(dir=folder, prefix=f".{name}.")
            waiting.append((Path(temporary), folder / name))
            with os.fdopen(handle, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            Path(temporary).chmod(0o644)
        for temporary_path, final in waiting:
            temporary_path.replace(final)
    finally:
        for temporary_path, _ in waiting:
            temporary_path.unlink(missing_ok=True)
    return tuple(final for _, final in waiting)

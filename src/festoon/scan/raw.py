"""What a mesh file holds before anybody has judged it, and the words to refuse it with."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from festoon.errors import Fault, InputRefusedError

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Jaw = Literal["upper", "lower"]
Unit = Literal["mm", "cm", "m", "inch"]
MM_PER: dict[Unit, float] = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "inch": 25.4}


@dataclass(frozen=True)
class RawMesh:
    """Corners and triangles as the file has them, in the file's unit."""

    vertices: Floats
    """Shape (N, 3); NaN is possible."""
    faces: Ints
    """Shape (M, 3); indices outside 0..N-1 are possible."""
    colours: Floats | None = None
    """Shape (N, 3), 0 to 1; None where the file has none."""
    unit: Unit | None = None
    """Only 3MF says it."""
    notes: tuple[str, ...] = ()
    """What was put right while reading, in words."""


def refusal(file: str, found: str, expected: str, do: str, *, where: str = "", line: int | None = None) -> Exception:
    """The error for a file that cannot be used as a surface."""
    return InputRefusedError([Fault(file=file, where=where, found=found, expected=expected, do=do, line=line)])


EXPORT_AGAIN = "Export the scan again as STL, PLY, OBJ or 3MF"


def fans(counts: Ints, corners: Ints) -> Ints:
    """Triangles of polygons: ``counts`` (P,) corners each, all of them in ``corners``; fans from each first corner."""
    start = np.concatenate([[0], np.cumsum(counts)[:-1]])
    many = np.maximum(counts - 2, 0)
    first = np.repeat(start, many)
    step = np.arange(len(first)) - np.repeat(np.cumsum(many) - many, many)
    return np.stack([corners[first], corners[first + step + 1], corners[first + step + 2]], axis=1)

"""What a template is made from: a surface, the teeth on it, and what is wished. Free of how either was found."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal, Self

import numpy as np
from numpy.typing import NDArray

from festoon.kernels.tooth_frame import ToothFrame

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

Kind = Literal["gingival-line", "gingival-and-crest", "two-piece"]
KINDS: tuple[Kind, ...] = ("gingival-line", "gingival-and-crest", "two-piece")

CLEARANCE = 0.08
"""Clearance of the inner face to the tooth, mm. ERR-039 (from memory): 0.05 to 0.15."""
WALL = 2.0
"""Least wall, mm. ERR-040 (from memory): 2 to 3."""
GRID = 0.15
"""Spacing of the grid of distances, mm."""
RELIEF = 0.4
"""Room between part and gingiva, mm: nothing bears on what will be cut (common practice, no source)."""


@dataclass(frozen=True)
class ToothOnScan(ToothFrame):
    """One tooth as it stands on the scan, its edge the present one. Coordinates are those of the file, mm."""

    fdi: str
    margin: Floats
    """Present gingival margin all round, an ordered ring, shape (N, 3)."""

    def moved(self, turn: Floats, shift: Floats) -> Self:
        """The same tooth after ``turn @ p + shift``."""
        return replace(super().moved(turn, shift), margin=self.margin @ turn.T + shift)


@dataclass(frozen=True)
class Sheet:
    """A triangle surface, outward wound; mm."""

    vertices: Floats
    """Shape (N, 3)."""
    faces: Ints
    """Shape (M, 3)."""

    def moved(self, turn: Floats, shift: Floats) -> Sheet:
        """The same surface after ``turn @ p + shift``."""
        return Sheet(np.ascontiguousarray(self.vertices @ turn.T + shift), self.faces)

    @property
    def vertex_normals(self) -> Floats:
        """Area-weighted unit normals, shape (N, 3)."""
        p = self.vertices[self.faces]
        face = np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0])
        out = np.stack(
            [np.bincount(self.faces.ravel(), np.repeat(face[:, k], 3), len(self.vertices)) for k in range(3)], axis=1
        )
        return np.asarray(out / np.maximum(np.linalg.norm(out, axis=1, keepdims=True), 1e-30))


@dataclass(frozen=True)
class Wish:
    """What is asked of the part."""

    clearance: float = CLEARANCE
    wall: float = WALL
    grid: float = GRID
    build_volume: tuple[float, float, float] | None = None
    """Room of the printer, mm; None: not said, and so not checked."""
    axis: tuple[float, float] | None = None
    """Lean of the insertion axis from the mean of the teeth's axes, degrees facially and to the patient's left; None: found."""
    label: str = ""
    """Case and plan version, raised on the part."""

"""The frame of one tooth: level 0, three directions, mid-width. Every room that measures teeth in space speaks in it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Self

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class ToothFrame:
    """Where a tooth stands, mm, in the frame that its edge point is given in."""

    edge: Floats
    """Edge point, level 0, shape (3,)."""
    axis: Floats
    """Facial long axis, unit, apical."""
    facial: Floats
    """Facial direction, unit, at right angles to the axis."""
    distal: Floats
    """Mesiodistal direction, unit, distal positive."""
    middle: float
    """Distal coordinate of mid-width from the edge point, mm."""
    width: float
    """Greatest mesiodistal extent of the crown, mm."""

    def coordinates(self, points: Floats) -> Floats:
        """(distal from mid-width, facial, level) of points, shape (..., 3)."""
        away = points - self.edge
        return np.stack([away @ self.distal - self.middle, away @ self.facial, away @ self.axis], axis=-1)

    def points(self, across: Floats, depth: Floats, level: Floats) -> Floats:
        """The reverse of :meth:`coordinates`, shape (..., 3)."""
        return np.asarray(
            self.edge
            + (np.asarray(across) + self.middle)[..., None] * self.distal
            + np.asarray(depth)[..., None] * self.facial
            + np.asarray(level)[..., None] * self.axis
        )

    @property
    def matrix(self) -> Floats:
        """Tooth coordinates (distal from the edge point, facial, level) to the frame it stands in, shape (4, 4)."""
        out = np.eye(4)
        out[:3, 0], out[:3, 1], out[:3, 2], out[:3, 3] = self.distal, self.facial, self.axis, self.edge
        return out

    def moved(self, turn: Floats, shift: Floats) -> Self:
        """The same tooth after ``turn @ p + shift``, shapes (3, 3) and (3,)."""
        return replace(
            self,
            edge=turn @ self.edge + shift,
            axis=turn @ self.axis,
            facial=turn @ self.facial,
            distal=turn @ self.distal,
        )

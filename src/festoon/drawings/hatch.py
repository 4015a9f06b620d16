"""Hatches: gingiva to remove leans one way in fine lines, bone to remove the other way in heavy, wider ones.

The lines are drawn one by one and not as a tiled pattern, because tiles print as an even grey on some printers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, cos, floor, radians, sin

from festoon.drawings.curves import Point
from festoon.drawings.palette import Theme
from festoon.drawings.svg import element, number


@dataclass(frozen=True)
class Hatch:
    """Parallel lines: their lean in degrees, their distance and weight in mm on paper."""

    lean: float
    distance: float
    weight: float

    def fill(self, area: Sequence[Point], colour: str) -> str:
        """The hatch inside a closed outline; neighbouring areas share one grid, so that it runs on."""
        segments = list(self._segments(area))
        if not segments:
            return ""
        path = "".join(f"M{number(a[0])} {number(a[1])}L{number(b[0])} {number(b[1])}" for a, b in segments)
        return element("path", d=path, fill="none", stroke=colour, stroke_width=self.weight)

    def _segments(self, area: Sequence[Point]) -> list[tuple[Point, Point]]:
        """Pieces of the hatch lines inside the outline, by the even-odd rule."""
        along = (cos(radians(self.lean)), -sin(radians(self.lean)))
        across = (-along[1], along[0])
        turned = [(x * along[0] + y * along[1], x * across[0] + y * across[1]) for x, y in area]
        low, high = min(t for _, t in turned), max(t for _, t in turned)
        found = []
        for k in range(ceil(low / self.distance), floor(high / self.distance) + 1):
            t = k * self.distance
            crossings = sorted(
                s0 + (t - t0) / (t1 - t0) * (s1 - s0)
                for (s0, t0), (s1, t1) in pairwise([*turned, turned[0]])
                if (t0 <= t) != (t1 <= t)
            )
            for start, end in zip(crossings[::2], crossings[1::2], strict=True):
                ends = ((s * along[0] + t * across[0], s * along[1] + t * across[1]) for s in (start, end))
                found.append((next(ends), next(ends)))
        return found


GINGIVA = Hatch(lean=45.0, distance=0.85, weight=0.17)
BONE = Hatch(lean=-45.0, distance=1.25, weight=0.4)


def hatched_gingiva(area: Sequence[Point], theme: Theme) -> str:
    """Gingiva to remove."""
    return GINGIVA.fill(area, theme.margin)


def hatched_bone(area: Sequence[Point], theme: Theme) -> str:
    """Bone to remove."""
    return BONE.fill(area, theme.crest)

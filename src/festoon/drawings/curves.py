"""Curves through charted sites that invent nothing: monotone between neighbours, broken where a site is unknown.

Piecewise cubic Hermite interpolation with the slopes of Fritsch and Butland (the harmonic mean of the neighbouring
secants; zero where they change sign) and the three-point end slope limited to keep the shape: F. N. Fritsch and
J. Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300-304. A curve has no extremum that is not a charted site.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from festoon.drawings.svg import number

Point = tuple[float, float]


@dataclass(frozen=True)
class Curve:
    """One unbroken run of known sites."""

    points: tuple[Point, ...]
    slopes: tuple[float, ...]

    @classmethod
    def through(cls, points: Sequence[Point]) -> Curve:
        """The curve through points of increasing abscissa.

        Raises
        ------
        ValueError
            If there is no point, or the abscissae do not increase.
        """
        if not points or any(a[0] >= b[0] for a, b in pairwise(points)):
            raise ValueError("a curve needs points of increasing abscissa")
        return cls(tuple(points), _slopes(points))

    @property
    def start(self) -> float:
        """First abscissa."""
        return self.points[0][0]

    @property
    def end(self) -> float:
        """Last abscissa."""
        return self.points[-1][0]

    def at(self, x: float) -> float:
        """The ordinate at ``x``, which must lie within the run."""
        if len(self.points) == 1:
            return self.points[0][1]
        k = min(max(bisect_right([p[0] for p in self.points], x) - 1, 0), len(self.points) - 2)
        (x0, y0), (x1, y1) = self.points[k], self.points[k + 1]
        h = x1 - x0
        t = (x - x0) / h
        return (
            (1 + 2 * t) * (1 - t) ** 2 * y0
            + t * (1 - t) ** 2 * h * self.slopes[k]
            + t * t * (3 - 2 * t) * y1
            - t * t * (1 - t) * h * self.slopes[k + 1]
        )

    def path(self) -> str:
        """Path data, exact: a cubic Hermite piece is a cubic Bézier piece."""
        (x, y), *_ = self.points
        parts = [f"M{number(x)} {number(y)}"]
        for ((x0, y0), m0), ((x1, y1), m1) in pairwise(zip(self.points, self.slopes, strict=True)):
            third = (x1 - x0) / 3
            controls = (x0 + third, y0 + third * m0, x1 - third, y1 - third * m1, x1, y1)
            parts.append("C" + " ".join(map(number, controls)))
        return "".join(parts)


def _slopes(points: Sequence[Point]) -> tuple[float, ...]:
    if len(points) == 1:
        return (0.0,)
    widths = [b[0] - a[0] for a, b in pairwise(points)]
    secants = [(b[1] - a[1]) / h for (a, b), h in zip(pairwise(points), widths, strict=True)]
    if len(secants) == 1:
        return (secants[0], secants[0])
    inner = [
        0.0 if d0 * d1 <= 0 else 3 * (h0 + h1) / ((2 * h1 + h0) / d0 + (h1 + 2 * h0) / d1)
        for (h0, h1), (d0, d1) in zip(pairwise(widths), pairwise(secants), strict=True)
    ]
    return (_end(widths[:2], secants[:2]), *inner, _end(widths[:-3:-1], secants[:-3:-1]))


def _end(widths: Sequence[float], secants: Sequence[float]) -> float:
    """Three-point slope at an end, limited so that the first piece stays monotone."""
    (h0, h1), (d0, d1) = widths, secants
    slope = ((2 * h0 + h1) * d0 - h0 * d1) / (h0 + h1)
    if slope * d0 <= 0:
        return 0.0
    if d0 * d1 < 0 and abs(slope) > 3 * abs(d0):
        return 3 * d0
    return slope


def runs(points: Sequence[tuple[float, float | None]]) -> list[Curve]:
    """One curve for each run of known sites; an unknown site breaks the line and is never bridged."""
    curves: list[Curve] = []
    run: list[Point] = []
    for x, y in [*points, (0.0, None)]:
        if y is not None:
            run.append((x, y))
        elif run:
            curves.append(Curve.through(run))
            run = []
    return curves


def between(first: Sequence[Curve], second: Sequence[Curve], steps: int = 32) -> list[list[Point]]:
    """Outlines of the areas between two broken lines, over every stretch on which both are known."""
    areas = []
    for a in first:
        for b in second:
            start, end = max(a.start, b.start), min(a.end, b.end)
            if end <= start:
                continue
            xs = [start + (end - start) * k / steps for k in range(steps + 1)]
            areas.append([(x, a.at(x)) for x in xs] + [(x, b.at(x)) for x in reversed(xs)])
    return areas

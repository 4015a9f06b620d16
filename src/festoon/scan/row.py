"""The row of teeth laid out straight: a smooth curve through edges and cusps, and what stands along it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d, maximum_filter1d
from scipy.spatial import cKDTree

from festoon.scan.orientation import Lie
from festoon.scan.raw import Floats
from festoon.scan.surface import Surface

STEP = 0.2
"""Cell of the laid-out height map, mm."""
_REACH = 8.0
"""How far facially and lingually of the curve the map goes, mm."""
_BEYOND = 9.0
"""How far the curve goes on past its last edge or cusp, mm."""
SECTION = 4.0
"""Sections of the row are taken coronal to this far below its crest, mm: enough of a short crown, none of the gingiva."""


@dataclass(frozen=True)
class Row:
    """The row of teeth along its curve, from the looker's left to right (facing the front)."""

    lie: Lie
    curve: Floats
    """Points (K, 2) of the turned frame, every :data:`STEP` mm."""
    places: Floats
    """Arc length of the curve's points from its start, mm, shape (K,)."""
    heights: Floats
    """Highest surface by place and distance facially of the curve, shape (K, J); -inf where there is none."""
    aside: Floats
    """Distances facially of the curve of the map's columns, mm, shape (J,)."""

    @property
    def foremost(self) -> float:
        """Place where the curve crosses the middle of the arch, mm."""
        return float(self.places[np.argmin(np.abs(self.curve[:, 0]) + 1e3 * (self.curve[:, 1] < 0))])

    def crest(self) -> Floats:
        """Highest surface at each place, mm, shape (K,); -inf where there is none."""
        return np.asarray(self.heights.max(axis=1))

    def level(self) -> Floats:
        """The crest of the row, smoothed over whole teeth, shape (K,)."""
        crest = self.crest()
        crest = np.where(np.isfinite(crest), crest, np.min(crest[np.isfinite(crest)]))
        return np.asarray(gaussian_filter1d(maximum_filter1d(crest, int(9 / STEP)), 4 / STEP))

    def sections(self) -> Floats:
        """Area of the row's section coronal to :data:`SECTION` mm below its level, mm2, shape (K,)."""
        return np.asarray(np.maximum(self.heights - (self.level() - SECTION)[:, None], 0).sum(axis=1) * STEP)

    def at(self, place: Floats, aside: Floats | float = 0.0) -> tuple[Floats, Floats]:
        """Points (N, 2) of the turned frame and unit facial directions (N, 2)."""
        x = np.interp(place, self.places, self.curve[:, 0])
        y = np.interp(place, self.places, self.curve[:, 1])
        facial = self._facial()
        f = np.stack([np.interp(place, self.places, facial[:, k]) for k in (0, 1)], axis=-1)
        f /= np.linalg.norm(f, axis=-1, keepdims=True)
        return np.stack([x, y], axis=-1) + np.asarray(aside)[..., None] * f, f

    def laid_out(self, turned: Floats) -> tuple[Floats, Floats]:
        """Place along the curve and distance facially of it, of points (N, 3) in the turned frame."""
        _, k = cKDTree(self.curve).query(turned[:, :2])
        facial = self._facial()[k]
        away = turned[:, :2] - self.curve[k]
        along = np.stack([facial[:, 1], -facial[:, 0]], axis=1)
        return self.places[k] + (away * along).sum(axis=1), (away * facial).sum(axis=1)

    def _facial(self) -> Floats:
        """Unit directions to the outside of the arch at the curve's points, shape (K, 2)."""
        tangent = np.gradient(self.curve, axis=0)
        tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
        return np.stack([-tangent[:, 1], tangent[:, 0]], axis=1)


def lay_out(surface: Surface, lie: Lie) -> Row:
    """Lay the row of teeth out straight."""
    curve = _curve(lie.ridge)
    places = np.arange(len(curve), dtype=np.float64) * STEP
    aside = np.arange(-_REACH, _REACH + STEP / 2, STEP)
    row = Row(lie, curve, places, np.full((len(places), len(aside)), -np.inf), aside)
    p = lie.turned(surface.vertices)
    p = p[p[:, 2] > lie.ridge[:, 2].min() - 10.0]
    s, n = row.laid_out(p)
    i, j = np.round(s / STEP).astype(int), np.round((n + _REACH) / STEP).astype(int)
    inside = (i >= 0) & (i < len(places)) & (j >= 0) & (j < len(aside))
    np.maximum.at(row.heights, (i[inside], j[inside]), p[inside, 2])
    return Row(lie, curve, places, _closed(row.heights), aside)


def _closed(heights: Floats) -> Floats:
    """Empty cells between filled ones get the higher of their neighbours, twice: a coarse mesh leaves pinholes."""
    for _ in range(2):
        near = np.max([np.roll(heights, (i, j), (0, 1)) for i in (-1, 0, 1) for j in (-1, 0, 1)], axis=0)
        heights = np.where(np.isfinite(heights), heights, near - 0.1)
    return heights


def _curve(ridge: Floats) -> Floats:
    """A smooth curve through the edge and cusp points, every :data:`STEP` mm, from the looker's left to right."""
    theta, rho = np.arctan2(ridge[:, 0], ridge[:, 1]), np.hypot(ridge[:, 0], ridge[:, 1])
    span = float(np.ptp(theta))
    degree = 4 if span < np.pi else 6
    middle = float(theta.max() + theta.min()) / 2
    # One point for each small angle, so that a tooth with many points does not pull.
    bins = np.floor((theta - theta.min()) / np.radians(3)).astype(int)
    chosen = np.array([(theta[bins == b].mean(), np.median(rho[bins == b])) for b in np.unique(bins)])
    weight = np.ones(len(chosen))
    for _ in range(8):
        fit = np.polynomial.Polynomial.fit(chosen[:, 0] - middle, chosen[:, 1], min(degree, len(chosen) - 2), w=weight)
        weight = 1 / (1 + ((chosen[:, 1] - fit(chosen[:, 0] - middle)) / 1.0) ** 2)
    t = np.linspace(theta.min(), theta.max(), 2000)
    r = fit(t - middle)
    line = np.stack([r * np.sin(t), r * np.cos(t)], axis=1)
    ends = []
    for a, b in ((line[40], line[0]), (line[-41], line[-1])):
        d = (b - a) / np.linalg.norm(b - a)
        ends.append(b + d * np.linspace(0, _BEYOND, 100)[1:, None])
    line = np.vstack([ends[0][::-1], line, ends[1]])
    length = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    every = np.arange(0, length[-1], STEP)
    return np.stack([np.interp(every, length, line[:, k]) for k in (0, 1)], axis=1)

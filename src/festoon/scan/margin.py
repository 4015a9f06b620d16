"""The gingival margin in a view of a tooth: the globally cheapest path from one groove to the other, along concavity and colour.

Where a tooth meets its gingiva the surface has a concave corner whose gingival side lies apically, and the colour turns from
tooth to gingiva in the same direction. Both are read at a fixed scale; the path of least total cost is found over the whole view
(Dijkstra), so that no local lure stops it; then each of its points moves to the top of the evidence across the path.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import UnivariateSpline
from scipy.ndimage import binary_dilation, gaussian_filter, map_coordinates
from skimage.graph import MCP_Geometric

from festoon.scan.raw import Floats
from festoon.scan.view import CELL, View

GEOMETRY_SCALE, COLOUR_SCALE = 0.25, 0.15
"""Standard deviations of the Gaussian derivatives, mm."""
_TURN_OF_SLOPE = 1.0
"""Change of slope at a margin that counts as full evidence: the gingiva stands off the tooth at some 45 degrees."""
_FLOOR = 0.03
_OUTWARD = (-1.0, -0.5, 0.0, 0.5, 1.0)
"""Directions in which gingiva may lie: straight apically, and turned by so much (radians) towards the papillae."""
_IN_HOLE = 0.35
"""Evidence assumed where the scan has a hole: the path crosses it the short way."""
_SMOOTH = 0.02
"""Scatter of the refined points about a smooth curve, mm: as measured on synthetic mouths."""
_TOLD = 0.4
"""Evidence of colour from which it alone says where across the path the margin lies."""
_WORST = 1e3
_BY_HAND, _LOOSE = 1.7, 0.004
"""Within the first (mm) of a point that a person set the evidence that it overrules counts for nothing, and the curve is held by the second
alone: it bends smoothly to the point, without a hook back to what it left."""


@dataclass(frozen=True)
class Traced:
    """A margin traced in a view."""

    columns: Floats
    """Across coordinates, mm, from one groove to the other, shape (N,)."""
    rows: Floats
    """Down coordinates, mm."""
    strength: Floats
    """Evidence along the curve, 0 (none) to 1 (a sharp corner with a clear change of colour), shape (N,)."""
    disagreement: float
    """Median distance between where geometry and where colour put the margin, mm; NaN without colours."""

    def part(self, first: int, last: int) -> Traced:
        """The part from one point to another, both in it."""
        k = slice(first, last + 1)
        return Traced(self.columns[k], self.rows[k], self.strength[k], self.disagreement)


@dataclass(frozen=True)
class Evidence:
    """How margin-like each cell of a view is."""

    geometry: Floats
    """0 to 1, shape (H, W)."""
    colour: Floats | None

    @property
    def total(self) -> Floats:
        """Both together, 0 to 1."""
        if self.colour is None:
            return self.geometry
        return np.asarray(0.3 * self.geometry + 0.7 * self.colour)


def evidence(view: View) -> Evidence:
    """Read the evidence of a margin off a view."""
    depth = view.filled
    hole = binary_dilation(view.holes, iterations=4) if view.holes.any() else view.holes
    s = GEOMETRY_SCALE / CELL
    ww, xx, xw = (gaussian_filter(depth, s, order=o) / CELL**2 for o in ((2, 0), (0, 2), (1, 1)))
    full = _TURN_OF_SLOPE / (GEOMETRY_SCALE * np.sqrt(2 * np.pi))
    bend = np.max(
        [np.cos(a) ** 2 * ww + np.sin(a) ** 2 * xx + 2 * np.sin(a) * np.cos(a) * xw for a in _OUTWARD], axis=0
    )
    geometry = np.where(hole, _IN_HOLE, np.clip(bend / full, 0, 1))
    if view.gum is None:
        return Evidence(geometry, None)
    s = COLOUR_SCALE / CELL
    gw, gx = (gaussian_filter(view.gum, s, order=o) / CELL for o in ((1, 0), (0, 1)))
    full = 1 / (COLOUR_SCALE * np.sqrt(2 * np.pi))
    redder = np.max([np.cos(a) * gw + np.sin(a) * gx for a in _OUTWARD], axis=0)
    return Evidence(geometry, np.where(hole, _IN_HOLE, np.clip(redder / full, 0, 1)))


def trace(
    view: View,
    reach: tuple[float, float],
    rows: tuple[float, float],
    fixed: tuple[tuple[float, float], ...] = (),
    read: Evidence | None = None,
) -> Traced | None:
    """The cheapest path across a view, over one tooth and on to the middle of its papillae and beyond.

    Parameters
    ----------
    view : View
    reach : (float, float)
        Across coordinates between which it is sought, mm. It ends earlier where the surface does.
    rows : (float, float)
        Where a margin may lie, down coordinates, mm.
    fixed : tuple of (across, down)
        Points a person set: the path goes through them.
    read : Evidence, optional
        The evidence, where it is known already.
    """
    read = evidence(view) if read is None else read
    # Every way in from the rim of such a circle is as long: the path comes in where the margin does.
    loose = np.zeros(view.depth.shape, dtype=bool)
    for x, y in fixed:
        loose |= np.hypot(view.x[None, :] - x, view.w[:, None] - y) < _BY_HAND
    cost = (1 - np.where(loose, 0.0, read.total)) ** 2 + _FLOOR
    a, b = (int(np.clip(np.searchsorted(view.w, r), 1, len(view.w) - 2)) for r in rows)
    height = np.arange(len(view.w))[:, None]
    inside = (height >= a) & (height <= b) & view.surface & (view.x >= reach[0]) & (view.x <= reach[1])
    cost = np.where(inside, cost, _WORST)
    left, right = [], []
    for r in np.flatnonzero(inside.any(axis=1)):
        (columns,) = np.nonzero(inside[r])
        left.append((int(r), int(columns[0])))
        right.append((int(r), int(columns[-1])))
    # Only the true sides of what is seen: not a hole's rim, and not a spot of cheek far back.
    left = [at for at in left if view.x[at[1]] < 0.4 * reach[0]]
    right = [at for at in right if view.x[at[1]] > 0.4 * reach[1]]
    if not left or not right:
        return None
    stops = [
        (
            int(np.clip(round((y - view.w[0]) / CELL), a, b)),
            int(np.clip(round((x - view.x[0]) / CELL), 0, len(view.x) - 1)),
        )
        for x, y in sorted(fixed)
    ]
    path: list[tuple[int, int]] = []
    starts = left
    for ends in [*([stop] for stop in stops), right]:
        found = MCP_Geometric(cost)
        costs, _ = found.find_costs(starts, ends)
        end = min(ends, key=lambda at: costs[at])
        if not np.isfinite(costs[end]) or costs[end] >= _WORST:
            return None
        path += found.traceback(end)[1 if path else 0 :]
        starts = [end]
    return _refined(view, read, np.array(path, dtype=np.float64), fixed, loose)


def _refined(
    view: View, read: Evidence, path: Floats, fixed: tuple[tuple[float, float], ...], loose: NDArray[np.bool_]
) -> Traced | None:
    """Move every point to the top of the evidence across the path, then fit a smooth curve through all."""
    if len(path) < 12:
        return None
    run = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    every = np.linspace(0, run[-1], max(int(run[-1]), 12))
    window = np.hanning(9) / np.hanning(9).sum()
    at = np.stack([np.interp(every, run, path[:, k]) for k in (0, 1)], axis=1)
    soft = np.stack([np.convolve(np.pad(at[:, k], 4, mode="edge"), window, "valid") for k in (0, 1)], axis=1)
    tangent = np.gradient(soft, axis=0)
    tangent /= np.maximum(np.linalg.norm(tangent, axis=1, keepdims=True), 1e-9)
    across = np.stack([-tangent[:, 1], tangent[:, 0]], axis=1)
    offsets = np.arange(-5, 5.01, 0.5)
    places = soft[:, None] + offsets[None, :, None] * across[:, None]

    def peak(values: Floats) -> tuple[Floats, Floats]:
        line = map_coordinates(values, places.transpose(2, 0, 1), order=1, mode="nearest")
        k = np.clip(np.argmax(line - 0.002 * np.abs(offsets), axis=1), 1, len(offsets) - 2)
        i = np.arange(len(line))
        lower, top, upper = line[i, k - 1], line[i, k], line[i, k + 1]
        bend = np.minimum(lower - 2 * top + upper, -1e-6)
        return offsets[k] + 0.5 * np.clip(0.5 * (lower - upper) / bend, -1, 1), top

    shift, strength = peak(read.total)
    disagreement = float("nan")
    if read.colour is not None:
        (by_shape, sure), (by_colour, told) = peak(read.geometry), peak(read.colour)
        # Shape finds the way and colour the place: smoothing draws the top of a curved corner coronally, by 0.05 mm and more.
        shift = np.where(told > _TOLD, by_colour, shift)
        clear = sure > 0.3
        if clear.sum() > 5:
            disagreement = float(np.median(np.abs(by_shape - by_colour)[clear])) * CELL
    row, column = np.round(soft).astype(int).T
    free = loose[row, column]
    moved = soft + np.where(free, 0.0, shift)[:, None] * across
    weight = np.where(free, _LOOSE, 0.05 + strength)
    weight /= weight.mean()
    for x, y in fixed:  # what a person set is kept where it was set
        spot = np.array([(y - view.w[0]) / CELL, (x - view.x[0]) / CELL])
        k = int(np.argmin(np.linalg.norm(soft - spot, axis=1)))
        moved[k], weight[k] = spot, 50.0
    smooth = [
        UnivariateSpline(every, moved[:, k], w=weight, s=len(every) * (_SMOOTH / CELL) ** 2)(every) for k in (0, 1)
    ]
    return Traced(view.x[0] + CELL * smooth[1], view.w[0] + CELL * smooth[0], strength, disagreement)

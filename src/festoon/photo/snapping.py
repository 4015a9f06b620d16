"""A line between two clicks falls on the edge between them: the cheapest path over the edges of the photograph.

Two steps, both with a global optimum. Over a coarse grid the cheapest path of any shape (Dijkstra's method, which graph search in
scikit-image uses; the idea of tracing so is Mortensen and Barrett 1995, from memory). Round it a strip as fine as the grid of the
edges, in which dynamic programming finds the cheapest line that goes along the strip.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from skimage.graph import MCP_Geometric

from festoon.photo.edges import Floats, Looks, Points, edge_strength, looks_of
from festoon.photo.reading import Photo

_NODES = 12_000
"""Most nodes of the coarse search: about 3 ms on one core."""
_STATIONS = 256
"""Most stations along the fine strip."""
_LEVELS = 6
_BEND = 0.15
"""Cost of a step of one grid pixel sideways, in costs of a pixel without any edge. A setting of ours."""
_FLAT = 0.04
"""Cost of a pixel on the best edge: without it a detour would be free. A setting of ours."""


@dataclass(frozen=True)
class Snapper:
    """A photograph made ready for snapping."""

    looks: Looks
    costs: tuple[Floats, ...]
    """Cost of a step, 0 to 1, on the grid and on ever coarser grids, each half as fine."""

    def segment(self, start: tuple[float, float], end: tuple[float, float]) -> Points:
        """The edge between two clicked points.

        Parameters
        ----------
        start, end : (x, y)
            Photo pixels; the line passes through both.

        Returns
        -------
        array, shape (n, 2)
            Photo pixels from start to end.

        Raises
        ------
        ValueError
            If a point lies outside the photograph.
        """
        ends = self.looks.to_grid(np.array([start, end]))
        height, width = self.costs[0].shape
        if (ends < -0.5).any() or (ends > np.array([width, height]) - 0.5).any():
            raise ValueError(f"both points must lie in the photograph: {start}, {end}")
        length = float(np.hypot(*(ends[1] - ends[0])))
        if length < 3:
            return np.array([start, end], dtype=np.float64)
        low, high = window(ends, (height, width))
        level = 0
        while np.prod((high - low) / 2**level) > _NODES and level < _LEVELS - 1:
            level += 1
        coarse = cheapest(self.costs[level], low, high, ends, level)
        fine = along_strip(self.costs[0], coarse, half_width=2 * 2**level + 2)
        out = self.looks.to_photo(fine)
        out[0], out[-1] = start, end
        return out

    def line(self, clicks: Points, closed: bool = False) -> Points:
        """The edge through clicked points in their order, shape (n, 2); closed: back to the first, which is not repeated."""
        stops = [*map(tuple, clicks), *([tuple(clicks[0])] if closed else [])]
        parts = [self.segment(a, b)[:-1] for a, b in pairwise(stops)]
        return np.concatenate([*parts, *([] if closed else [np.asarray(clicks[-1:], dtype=np.float64)])])


def prepare(photo: Photo) -> Snapper:
    """Make a photograph ready: done once, so that every segment after it is quick."""
    looks = looks_of(photo)
    cost = (_FLAT + (1 - _FLAT) * (1 - edge_strength(looks.lab)) ** 2).astype(np.float32)
    costs = [cost]
    for _ in range(_LEVELS - 1):
        above = costs[-1]
        even = np.pad(above, [(0, side % 2) for side in above.shape], mode="edge")
        pairs = even.reshape(even.shape[0] // 2, 2, even.shape[1] // 2, 2)
        costs.append(
            ((pairs.min(axis=(1, 3)) + pairs.mean(axis=(1, 3))) / 2).astype(np.float32)
        )  # a thin edge survives
    return Snapper(looks, tuple(costs))


def window(ends: Points, shape: tuple[int, int]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Corners (x, y) of the part of the grid in which a path is sought: the box of the ends and 0.4 of their distance round it."""
    pad = 8 + 0.4 * float(np.hypot(*(ends[1] - ends[0])))
    low = np.maximum(np.floor(ends.min(axis=0) - pad), 0).astype(np.int64)
    high = np.minimum(np.ceil(ends.max(axis=0) + pad) + 1, [shape[1], shape[0]]).astype(np.int64)
    return low, high


def cheapest(cost: Floats, low: NDArray[np.int64], high: NDArray[np.int64], ends: Points, level: int) -> Points:
    """The cheapest path of any shape on one level's grid, as points (x, y) of the finest grid."""
    size = 2**level
    corner = low // size
    top = np.minimum(-(-high // size), [cost.shape[1], cost.shape[0]])
    part = cost[corner[1] : top[1], corner[0] : top[0]]
    nodes = [tuple(int(v) for v in np.clip((end + 0.5) // size - corner, 0, top - corner - 1)[::-1]) for end in ends]
    search = MCP_Geometric(part)
    search.find_costs([nodes[0]], [nodes[1]])
    path = np.array(search.traceback(nodes[1]), dtype=np.float64)[:, ::-1]
    points = (path + corner + 0.5) * size - 0.5
    return np.concatenate([ends[:1], points[1:-1], ends[1:]])


def along_strip(cost: Floats, guide: Points, half_width: int) -> Points:
    """The cheapest line along a guide, within a strip round it, from the guide's first point to its last."""
    middle, normal = stations(guide, _STATIONS)
    offsets = np.arange(-half_width, half_width + 1, dtype=np.float64)
    where = middle[:, None, :] + offsets[None, :, None] * normal[:, None, :]
    sampled = ndimage.map_coordinates(cost, [where[..., 1], where[..., 0]], order=1, mode="nearest")
    sampled[0] = sampled[-1] = np.inf
    sampled[0, half_width] = sampled[-1, half_width] = 0
    reach = max(1, round(float(np.hypot(*(middle[1] - middle[0])))))
    best = cheapest_offsets(sampled, reach, _BEND)
    chosen = offsets[best]
    chosen[1:-1] = ndimage.gaussian_filter1d(chosen, 1.0)[1:-1]
    return np.asarray(middle + chosen[:, None] * normal)


def stations(guide: Points, most: int) -> tuple[Points, Points]:
    """Evenly spaced points of a smoothed guide and its unit normals there."""
    run = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(guide, axis=0).T))])
    count = int(min(most, max(5, np.ceil(run[-1]) + 1)))
    even = np.linspace(0, run[-1], count)
    middle = np.column_stack([np.interp(even, run, guide[:, axis]) for axis in (0, 1)])
    spread = max(1.0, 3 * (run[-1] / max(1, len(guide) - 1)) * count / max(run[-1], 1e-9))
    smooth = ndimage.gaussian_filter1d(middle, spread, axis=0, mode="nearest")
    smooth[0], smooth[-1] = guide[0], guide[-1]
    ahead = np.gradient(ndimage.gaussian_filter1d(smooth, spread, axis=0, mode="nearest"), axis=0)
    ahead /= np.maximum(np.hypot(ahead[:, 0], ahead[:, 1]), 1e-9)[:, None]
    return smooth, np.column_stack([-ahead[:, 1], ahead[:, 0]])


def cheapest_offsets(cost: NDArray[np.floating], reach: int, bend: float) -> NDArray[np.int64]:
    """Dynamic programming: one column per row, the sum of costs least, neighbours at most ``reach`` columns apart.

    Parameters
    ----------
    cost : array, shape (rows, columns)
        inf: not to be entered.
    reach : int
    bend : float
        Cost of each column of sideways step.

    Raises
    ------
    ValueError
        If no line gets through.
    """
    rows, columns = cost.shape
    total = np.array(cost[0], dtype=np.float64)
    back = np.empty((rows, columns), dtype=np.int16)
    padded = np.full(columns + 2 * reach, np.inf)
    shifts = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1)
    toll = bend * np.abs(np.arange(-reach, reach + 1))
    every = np.arange(columns)
    for row in range(1, rows):
        padded[reach : reach + columns] = total
        choices = shifts + toll
        picked = choices.argmin(axis=1)
        total = choices[every, picked] + cost[row]
        back[row] = picked - reach
    out = np.empty(rows, dtype=np.int64)
    out[-1] = int(total.argmin())
    if not np.isfinite(total[out[-1]]):
        raise ValueError("no line gets through the strip")
    for row in range(rows - 1, 0, -1):
        out[row - 1] = out[row] + back[row, out[row]]
    return out

"""The limits of a crown in its facial view: the grooves to its neighbours, or its own silhouette where no neighbour touches."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter

from festoon.scan.raw import Floats, Ints
from festoon.scan.view import CELL, View

_DEEPEST = 4.0
"""Depths further behind the crown than this are all alike, mm."""
_FAR = 1e4
_JUMP = 0.6
"""A step of depth between neighbouring cells that means another surface behind, mm."""
_TURN = 0.12
"""Cost of moving one cell aside from row to row, mm of depth."""


def side_of(view: View, side: int, tip: tuple[float, float], neighbour: bool) -> tuple[Floats, Ints | None]:
    """The crown's limit on one side, row by row from its top to the papilla tip, across coordinates in mm; NaN elsewhere.

    With a neighbour that is the groove between both; without one, or where the surface falls away before it, the silhouette.
    ``tip`` is the (across, down) place of the papilla tip, or of the margin's end where there is no neighbour. The column of the
    groove in each of the first rows comes with it; None without a neighbour.
    """
    last = int(np.clip(np.searchsorted(view.w, tip[1]), 4, len(view.w)))
    far = np.full(last, len(view.x) - 1 if side > 0 else 0)
    path = groove(view, side, abs(tip[0]), last) if neighbour else far
    out = np.full(len(view.w), np.nan)
    out[:last] = limits(view, path, side)
    return out, path if neighbour else None


def groove(view: View, side: int, guess: float, last: int) -> Ints:
    """Column of the groove on one side in the first ``last`` rows: the path that runs deepest (dynamic programming).

    Parameters
    ----------
    view : View
    side : {-1, 1}
        Mesial or distal.
    guess : float
        Distance of the papilla tip from the middle, mm: the groove ends there.
    last : int
        Row of the papilla tip.
    """
    depth = gaussian_filter(np.maximum(view.filled, np.nanmax(view.depth) - _DEEPEST - 2.0), 1.0)[:last]
    cost = np.maximum(depth - np.quantile(depth, 0.9, axis=1)[:, None], -_DEEPEST)
    away = np.abs(view.x * side - guess)
    cost = cost + 0.5 * np.maximum(away - 0.5, 0) ** 2
    cost = np.where(away < 2.0, cost, _FAR)
    cost[-1] += _FAR * (away > 2 * CELL)  # it ends at the tip
    return best_path(cost, _TURN)


def best_path(cost: Floats, turn: float, reach: int = 2) -> Ints:
    """The column in every row of the cheapest path from the first row to the last, moving at most ``reach`` columns a row."""
    total = cost[0].copy()
    came = np.zeros(cost.shape, dtype=np.int64)
    columns = np.arange(cost.shape[1])
    for row in range(1, len(cost)):
        best, source = np.full(len(columns), np.inf), columns.copy()
        for step in range(-reach, reach + 1):
            moved = np.full(len(columns), np.inf)
            a, b = max(0, step), len(columns) + min(0, step)
            moved[a:b] = total[a - step : b - step] + turn * abs(step)
            better = moved < best
            best[better], source[better] = moved[better], (columns - step)[better]
        came[row] = source
        total = best + cost[row]
    path = np.empty(len(cost), dtype=np.int64)
    path[-1] = int(np.argmin(total))
    for row in range(len(cost) - 1, 0, -1):
        path[row - 1] = came[row, path[row]]
    return path


def limits(view: View, path: Ints, side: int) -> Floats:
    """Across coordinate of the crown's limit in each row: the groove, or the last cell before the surface falls away."""
    middle = int(np.argmin(np.abs(view.x)))
    depth = view.filled
    out, solid = np.full(len(path), np.nan), view.surface
    for row, end in enumerate(path):
        line = depth[row, middle : end + 1] if side > 0 else depth[row, end : middle + 1][::-1]
        seen = solid[row, middle : end + 1] if side > 0 else solid[row, end : middle + 1][::-1]
        if len(line) < 3 or not seen[:3].any():
            continue
        gone = np.flatnonzero((np.diff(line) < -_JUMP) | ~seen[1:])
        gone = gone[gone > 2]
        last = int(gone[0]) if len(gone) else len(line) - 1
        out[row] = view.x[middle] + side * last * CELL
    return out

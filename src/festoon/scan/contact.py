"""Where a crown ends beside its neighbour, finer than the groove between them shows.

A scanner bridges the narrowest part of an embrasure, so that the bottom of the groove lies somewhere between two crowns and belongs to
neither. What is seen of both proximal surfaces is therefore carried on into the embrasure as two parabolas. A crown ends at the top of
its own parabola, or where both meet: at the contact.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from festoon.scan.raw import Floats, Ints
from festoon.scan.view import CELL, View

_STEP = 3
"""Every so many rows are fitted."""
_ROWS = 7
"""Rows on either side that are fitted together."""
_ASIDE = 1.5
"""How far beside the groove a proximal surface is looked at, mm."""
_CLEAR, _HIGH = 0.08, 1.1
"""What is fitted begins this far above the bottom of the groove, which is bridged, and ends at the second, mm: further up the surface
is the facial one."""
_DEEPEST, _ROUND = 0.6, 0.2
"""A parabola is carried on at most this far below the bottom of a groove; below a silhouette, mm."""
_RIM = 4
"""Cells within which a limit without neighbour must not meet the border of the scan."""
_CUT = 0.25
"""It may in less than this share of the rows."""
_TOUCHES, _NEARLY = 0.02, 0.35
"""Two parabolas nearer than the first meet; where they never do but come nearer than the second, the contact is half way, mm."""
_RISING = 0.1
"""A top lower than this above the bottom of the groove is not yet reached there, mm."""
_LARGEST_STEP = 0.35
"""A fit that ends further out beyond the groove is no fit, mm."""
_MEDIAN = 3
"""Fits on either side whose median is taken."""
_INCISAL = 0.15
"""The first share of the height, where edges are round, has no proximal surface."""
_FEWEST = 30


@dataclass(frozen=True)
class End:
    """One end of a crown."""

    points: Floats
    """The end row by row, arch frame, shape (R, 3)."""
    fitted: bool
    """False where nothing could be fitted and the bottom of the groove stands in, or the scan itself ends there."""
    hidden: bool = False
    """The neighbour hides where the surface turns: it ends, for what is seen, at its silhouette."""


def crown_end(view: View, limit: Floats, groove: Ints | None, side: int, otherwise: Floats) -> End:
    """The end of a crown on one side in its facial view.

    Parameters
    ----------
    view : View
    limit : array (H,)
        Across coordinate of the groove or the silhouette, row by row, mm; NaN where there is none.
    groove : array (R,), optional
        Column of the groove in the first R rows; None where no neighbour touches.
    side : {-1, 1}
        Mesial or distal.
    otherwise : array (3,)
        The end where no limit is known.
    """
    (known,) = np.nonzero(np.isfinite(limit))
    if not len(known):
        return End(otherwise[None], False)
    first, last = int(known[0]), int(known[-1])
    column = np.full(len(limit), -1)
    column[known] = np.clip(np.round((limit[known] - view.x[0]) / CELL), 0, len(view.x) - 1).astype(int)
    in_groove = np.zeros(len(limit), dtype=bool)
    if groove is not None:
        in_groove[: len(groove)] = (np.abs(column[: len(groove)] - groove) <= 1) & (column[: len(groove)] >= 0)
    # No silhouette where the scan itself ends.
    inner = np.clip(column[known][:, None] - side * np.arange(_RIM), 0, len(view.x) - 1)
    cut = view.rim[known[:, None], inner].any(axis=1) & ~in_groove[known]
    seen = float(cut.mean()) < _CUT
    own, beside = (_surface(view, column, in_groove, side, mine) for mine in (True, False))
    rows = np.arange(first + int(_INCISAL * (last - first)), last + 1, _STEP)
    found = [_one(view, column, bool(in_groove[r]), side, own, beside, int(r), last) for r in rows]
    across = _medians(np.array([f[0] for f in found]))
    depth = _medians(np.array([f[1] for f in found]))
    good = np.isfinite(across)
    if good.any():
        widest = int(np.nanargmax(across))
        sure = np.array([f[2] for f in found])[max(widest - _MEDIAN, 0) : widest + _MEDIAN + 1]
        points = view.points(view.w[rows[good]], side * across[good], depth[good])
        return End(points, seen, bool(sure.mean() < 0.5))
    return End(view.points(view.w[known], limit[known], view.filled[known, column[known]]), False)


def _surface(view: View, column: Ints, in_groove: Floats, side: int, mine: bool) -> list[Floats]:
    """Of each row, what is seen of a proximal surface: (outward, depth) of its cells, mm."""
    out = view.x * side
    every = []
    for row, k in enumerate(column):
        if k < 0:
            every.append(np.empty((0, 2)))
            continue
        away = out - out[k]
        there = (away <= 0) & (away > -_ASIDE) if mine else (away > 0) & (away < _ASIDE)
        there &= view.seen[row]
        there[there] &= view.depth[row, there] > view.filled[row, k] + (_CLEAR if in_groove[row] else 0.0)
        every.append(np.stack([out[there], view.depth[row, there]], axis=1))
    return every


def _one(
    view: View, column: Ints, groove: bool, side: int, own: list[Floats], beside: list[Floats], row: int, last: int
) -> tuple[float, float, bool]:
    """Outward coordinate and depth of the end in one row, and whether it was seen; NaN where there is nothing to fit."""
    none = (float("nan"), float("nan"), False)
    near = [k for k in range(max(row - _ROWS, 0), min(row + _ROWS, last) + 1) if column[k] >= 0]
    if column[row] < 0 or not near:
        return none
    bottom = float(np.median([view.filled[k, column[k]] for k in near]))
    mine = _parabola(view, own, near, row, bottom)
    if mine is None:
        return none
    up = np.arange(-_DEEPEST if groove else -_ROUND, _HIGH, 0.02)
    here = np.polyval(mine, up)
    top = -mine[1] / (2 * mine[0]) if mine[0] < 0 else -np.inf
    if not groove and top < -_ROUND:
        # The surface has not yet turned where it is lost from sight behind its neighbour: there it ends, for what is seen.
        return float(np.polyval(mine, 0.0)), bottom, False
    lowest = 0
    other = _parabola(view, beside, near, row, bottom) if groove else None
    if other is not None:
        gap = np.where(up < 0.3, np.polyval(other, up) - here, np.inf)
        (met,) = np.nonzero(gap < _TOUCHES)
        if len(met):
            lowest = int(met[-1])
        else:
            k = int(np.argmin(gap))
            if top < _RISING and gap[k] < _NEARLY:
                return float(here[k] + gap[k] / 2), bottom + float(up[k]), True
    k = lowest + int(np.argmax(here[lowest:]))
    if here[k] > side * view.x[column[row]] + _LARGEST_STEP:
        return none
    return float(here[k]), bottom + float(up[k]), True


def _parabola(view: View, surface: list[Floats], near: list[int], row: int, bottom: float) -> Floats | None:
    """The parabola (highest power first) of outward over height above the bottom in a row, fitted with its neighbours."""
    cells = np.concatenate([np.c_[surface[k], np.full(len(surface[k]), view.w[k] - view.w[row])] for k in near])
    up = cells[:, 1] - bottom
    used = (up > -0.3) & (up < _HIGH)
    if used.sum() < _FEWEST or np.ptp(up[used]) < 0.4:
        return None
    out, up, along = cells[used, 0], up[used], cells[used, 2]
    design = np.stack([np.ones(len(up)), up, up**2, along, along**2, up * along], axis=1)
    weight = np.ones(len(up))
    for _ in range(3):
        weighed = design.T * weight
        solved = np.linalg.solve(weighed @ design + 1e-9 * np.eye(6), weighed @ out)
        left = out - design @ solved
        scale = max(1.4826 * float(np.median(np.abs(left))), 0.02)
        weight = 1 / (1 + (left / (2 * scale)) ** 2)
    return np.asarray(solved[2::-1])


def _medians(values: Floats) -> Floats:
    """Running median of what is there; NaN where fewer than three are."""
    out = np.full(len(values), np.nan)
    for k in range(len(values)):
        near = values[max(k - _MEDIAN, 0) : k + _MEDIAN + 1]
        near = near[np.isfinite(near)]
        if len(near) >= 3:
            out[k] = np.median(near)
    return out

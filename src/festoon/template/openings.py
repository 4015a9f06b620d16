"""Windows over the edges and drains between the teeth: where they stand without thinning a wall."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.ndimage import map_coordinates

from festoon.template.fields import Field, Grid
from festoon.template.inputs import Floats
from festoon.template.lines import Caster, Row

WINDOW = 1.0
"""Radius of the window over an incisal edge, mm. ERR-043 (from memory, low confidence): 2 to 3 mm across."""
_NARROW = 0.8
"""Radius of a window where a wider one would thin a wall: between longer neighbours, or towards the outer face, mm (no source)."""
_WINDOW_DEEP = 0.2
"""A window reaches so far past the edge, mm: deeper, it would thin the wall beside it (no source)."""
DRAIN = 0.5
"""Radius of a drain between two teeth, mm (common practice, no source)."""
_DRAIN_DEEP = 1.5
"""A drain reaches so far past the edges, mm."""
_ASIDE = np.array([0.0, 0.2, -0.2, 0.4, -0.4, 0.6, -0.6, 0.8, -0.8, 1.0, -1.0, 1.2, -1.2, 1.4, -1.4])
"""Places that are tried, mm along the row from the one wanted, the nearest first."""
_AROUND = np.linspace(0.0, 2 * np.pi, 16, endpoint=False)
_OUT = 0.1
"""Step of the way out from the side of an opening, mm."""
_LAST = 6
"""Over so many of its last steps the way must lead straight to an inner face,"""
_STRAIGHT = 0.75
"""nearing it by this share of the way: then side and face are the two sides of a wall."""


@dataclass(frozen=True)
class Opening:
    """A round hole along the insertion axis."""

    place: Floats
    """Its middle, xy, shape (2,)."""
    radius: float
    top: float
    """Height at which it ends apically, mm."""


def openings(
    row: Row,
    caster: Caster,
    gaps: list[tuple[float, float, float]],
    ends: tuple[float, float],
    thick: Field,
    grid: Grid,
    wall: float,
) -> list[Opening]:
    """Every window and drain.

    A window shows the edge it stands over. Where a part's open end is near, that shows the seating itself; a drain that would leave
    the wall beside it thin is left out, since the windows on both sides drain too.

    Parameters
    ----------
    row : Row
    caster : Caster
    gaps : list
        From and to along the row, and height, of what a bar spans.
    ends : (float, float)
        Where the part ends along the row.
    thick : array
        Distance from the inner face, over the grid.
    grid : Grid
    wall : float
        Wall that is made, mm.
    """
    first, last = ends
    out = []
    for t in row.targets:
        (along,), _ = row.at(t.tooth.edge[None, :2])
        if min(along - first, last - along) <= WINDOW + 2.2:
            continue
        top = float(t.tooth.edge[2]) + _WINDOW_DEEP
        way = t.tooth.distal[:2] / np.linalg.norm(t.tooth.distal[:2])
        tried = [Opening(t.tooth.edge[:2] + far * way, radius, top) for radius in (WINDOW, _NARROW) for far in _ASIDE]
        left = np.array([_left(one, _WINDOW_DEEP, thick, grid, wall) for one in tried])
        out.append(tried[int(np.argmax(left >= min(wall - _OUT, left.max())))])
    for a, b in pairwise(row.targets):
        if min(a.half, b.half) < WINDOW + DRAIN + 2.2:  # too narrow for a sound bridge between: the windows drain
            continue
        middle = caster.valley(a.tooth.edge, b.tooth.edge)
        (along,), _ = row.at(middle[None, :2])
        if any(begin < along < finish for begin, finish, _ in gaps):  # it would halve the bar
            continue
        top = float(a.tooth.edge[2] + b.tooth.edge[2]) / 2 + _DRAIN_DEEP
        way = b.tooth.edge[:2] - a.tooth.edge[:2]
        way = way / np.linalg.norm(way)
        tried = [Opening(middle[:2] + far * way, DRAIN, top) for far in _ASIDE]
        out += [one for one in tried if _left(one, _DRAIN_DEEP, thick, grid, wall) >= wall - _OUT][:1]
    return out


def _left(one: Opening, deep: float, thick: Field, grid: Grid, wall: float) -> float:
    """Least wall beside an opening that reaches ``deep`` past the edges, inwards and outwards, mm."""
    return min(_left_beside(one, thick, grid, wall), _left_outside(one, deep, thick, grid, wall))


def _left_beside(one: Opening, thick: Field, grid: Grid, wall: float) -> float:
    """Least of what is left between the side of an opening and an inner face that runs beside it, mm; no more than ``wall``."""
    z = np.arange(grid.low[2], one.top, grid.step)
    far = _round(one, one.radius + np.arange(-_LAST * _OUT, wall, _OUT), z, thick, grid)
    side = far[_LAST] > 0
    met = far[_LAST:] <= _OUT
    straight = far[:-_LAST] - far[_LAST:] > _STRAIGHT * _LAST * _OUT
    first = met.argmax(axis=0)
    found = side & met.any(axis=0) & np.take_along_axis(straight, first[None], axis=0)[0]
    return float(np.min(first * _OUT, where=found, initial=wall))


def _left_outside(one: Opening, deep: float, thick: Field, grid: Grid, wall: float) -> float:
    """Least wall between the side of an opening, where it looks at a tooth past its edge, and the outer face, mm."""
    z = np.arange(one.top - deep - grid.step, one.top + grid.step / 2, grid.step / 2)
    far = _round(one, np.array([one.radius]), z, thick, grid)
    return float(wall - np.max(far, where=(far > 0) & (far < wall), initial=0.0))


def _round(one: Opening, radii: Floats, z: Floats, thick: Field, grid: Grid) -> Floats:
    """Distance from the inner face round an opening, shape (radii, ways, heights), mm."""
    way = np.stack([np.cos(_AROUND), np.sin(_AROUND)], axis=1)
    at = np.empty((len(radii), len(way), len(z), 3))
    at[..., :2] = (one.place + radii[:, None, None] * way)[:, :, None]
    at[..., 2] = z
    return np.asarray(map_coordinates(thick, np.moveaxis((at - grid.low) / grid.step, 3, 0), order=1, mode="nearest"))

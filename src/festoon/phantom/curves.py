"""Where the smooth surfaces of a phantom meet: margins, crests, papilla tips, contacts. Roots of the fields, not of a mesh."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from festoon.model.dentition import Pair
from festoon.phantom.arch import CONTACT_WITHIN, Arch, Placed
from festoon.phantom.tissues import Tissues

Floats = NDArray[np.float64]

AROUND = 480


@dataclass(frozen=True)
class Ring:
    """A closed curve on the surface of a tooth, by stretched angle."""

    phi: Floats
    levels: Floats
    """Local levels w."""
    points: Floats
    """Jaw coordinates, shape (AROUND, 3)."""


def between(field: Callable[[Floats], Floats], low: Floats, high: Floats, steps: int = 30) -> Floats:
    """Share of the way from ``low`` (field > 0) to ``high`` (field < 0) at which the field is 0; points (N, 3)."""
    a, b = np.zeros(len(low)), np.ones(len(low))
    for _ in range(steps):
        mid = (a + b) / 2
        outside = field(low + (high - low) * mid[:, None]) > 0
        a, b = np.where(outside, mid, a), np.where(outside, b, mid)
    return (a + b) / 2


def rings(tissues: Tissues, of_bone: bool) -> dict[str, Ring]:
    """Gingival margin (or crest) of every tooth: where the field changes sign along the tooth's surface."""
    phi = 2 * np.pi * np.arange(AROUND) / AROUND
    field = tissues.bone if of_bone else tissues.gingiva
    guesses = [(c.crest if of_bone else c.margin)(phi) for c in tissues.collars]
    a = np.stack([g - 2.5 for g in guesses])
    b = np.stack([g + 0.6 for g in guesses])
    for _ in range(26):
        mid = (a + b) / 2
        points = np.concatenate([
            c.placed.to_jaw(c.placed.body.surface(phi, w)) for c, w in zip(tissues.collars, mid, strict=True)
        ])  # fmt: skip
        outside = (field(points) > 0).reshape(mid.shape)
        a, b = np.where(outside, mid, a), np.where(outside, b, mid)
    return {
        c.placed.tooth.fdi: Ring(phi, w, c.placed.to_jaw(c.placed.body.surface(phi, w)))
        for c, w in zip(tissues.collars, (a + b) / 2, strict=True)
    }


def cej_rings(arch: Arch) -> dict[str, Ring]:
    """Cemento-enamel junction of every tooth."""
    phi = 2 * np.pi * np.arange(AROUND) / AROUND
    out = {}
    for placed in arch.teeth:
        w = placed.body.cej(phi)
        out[placed.tooth.fdi] = Ring(phi, w, placed.to_jaw(placed.body.surface(phi, w)))
    return out


@dataclass(frozen=True)
class View:
    """A straight facial view of an embrasure: parallel rays, horizontal, along the mean facial direction of both teeth."""

    centre: Floats
    """A point in the embrasure, jaw coordinates."""
    across: Floats
    """Unit, horizontal, to the left as the patient has it."""
    facial: Floats
    """Unit, horizontal, towards the viewer."""
    reach: float
    """Half the width of what belongs to the embrasure, mm."""


def view_of(arch: Arch, pair: Pair, height: float) -> View:
    """The view of an embrasure, centred between both teeth at a height."""
    right, left = arch.of(pair.right), arch.of(pair.left)
    facial = right.frame.facial + left.frame.facial
    facial[2] = 0
    facial /= np.linalg.norm(facial)
    across = np.array([-facial[1], facial[0], 0.0])
    ends = []
    for placed, sign in ((right, 1.0), (left, -1.0)):
        points = placed.to_jaw(placed.lines.points)
        near = points[np.abs(points[..., 2] - height) < 0.4]
        ends.append(near[np.argmax(near @ across * sign)])
    centre = (ends[0] + ends[1]) / 2
    centre[2] = height
    space = float((ends[1] - ends[0]) @ across)
    return View(centre, across, facial, 1.2 + max(0.0, space) / 2)


_DEPTHS = np.arange(5.0, -5.0, -0.08)
"""Where rays are looked at, facially of the middle of the embrasure."""
_COLUMNS = (0.15, 0.03, 0.006)
"""Distance of the columns of rays in each step of the search for a papilla tip, mm."""
TIP_BAND = 0.1
"""A tip stands in the middle of what is seen within this of its height, mm: between crowns the very top is seen through a slit that
narrows to nothing, and how deep a ray goes there says nothing."""


def papilla_tip(tissues: Tissues, pair: Pair) -> Floats:
    """The most coronal soft tissue that a straight facial view of the embrasure shows, jaw coordinates.

    Every ray ends at the first thing it meets; the tip has the height of the most coronal ray that ends on gingiva, and the place
    where the rays within :data:`TIP_BAND` of that end on average.

    Raises
    ------
    ValueError
        If no gingiva is seen there.
    """
    arch = tissues.arch
    view = view_of(arch, pair, arch.tip_heights[str(pair)])
    up = np.array([0.0, 0.0, 1.0])

    def look(across: Floats, height: Floats, depths: Floats) -> tuple[NDArray[np.bool_], Floats]:
        """Whether each ray ends on gingiva, and how far facially."""
        start = view.centre + across[:, None] * view.across + height[:, None] * up
        points = (start[:, None] + depths[None, :, None] * view.facial).reshape(-1, 3)
        hard, soft = (field.reshape(len(start), -1) for field in tissues.tooth_and_gingiva(points))
        both = np.minimum(hard, soft)
        first = np.argmax(both < 0, axis=1)
        k = np.arange(len(start))
        on_gingiva = (soft[k, first] < 0) & (hard[k, first] >= 0)
        before = np.maximum(first - 1, 0)
        share = both[k, before] / np.where(first > before, both[k, before] - both[k, first], 1.0)
        return on_gingiva, depths[before] + share * (depths[first] - depths[before])

    rows = np.arange(-3.0, 4.01, 0.25)
    columns = np.arange(-view.reach, view.reach + 0.01, _COLUMNS[0])
    across, height = (grid.ravel() for grid in np.meshgrid(columns, rows, indexing="ij"))
    seen = look(across, height, _DEPTHS[::4])[0].reshape(len(columns), len(rows))
    if not seen.any():
        raise ValueError(f"no papilla is seen between {pair}")
    top = float(height.reshape(seen.shape)[seen].min())
    columns = columns[seen[:, rows <= top + 0.5].any(axis=1)]
    best, at = top + 0.5, 0.0
    for step, finer in zip(_COLUMNS, (*_COLUMNS[1:], 0.0), strict=True):
        low, high = np.full(len(columns), best - 1.0), np.full(len(columns), best)
        shown = look(columns, high, _DEPTHS)[0]
        columns, low, high = columns[shown], low[shown], high[shown]
        for _ in range(12):
            mid = (low + high) / 2
            shown = look(columns, mid, _DEPTHS)[0]
            high, low = np.where(shown, mid, high), np.where(shown, low, mid)
        k = int(np.argmin(high))
        best, at = float(high[k]), float(columns[k])
        if finer:
            # Every column that could hold a higher one beside it: tips may have two tops.
            near = columns[high < best + step]
            columns = np.unique(np.round(near[:, None] + np.arange(-step, step + finer / 2, finer), 6))
    band = best + TIP_BAND * (np.arange(5) + 0.5) / 5
    across, height = (g.ravel() for g in np.meshgrid(at + np.arange(-1.0, 1.01, 0.02), band, indexing="ij"))
    shown, depth = look(across, height, _DEPTHS)
    beside = across[shown].mean() * view.across if shown.any() else at * view.across
    facial = depth[shown].mean() if shown.any() else look(np.array([at]), np.array([best]), _DEPTHS)[1][0]
    return np.asarray(view.centre + beside + best * up + facial * view.facial)


def surface_point(tissues: Tissues, placed: Placed, level: float, of_bone: bool = False, across: float = 0.0) -> Floats:
    """The outer surface of the gingiva (or bone) facially of a tooth at a level, in the plane ``across`` distal of mid-width."""
    frame = placed.frame
    foot = frame.edge + (frame.middle + across) * frame.distal + level * frame.axis
    depths = np.arange(9.0, -3.0, -0.1)
    line = foot + depths[:, None] * frame.facial
    field = tissues.bone if of_bone else tissues.gingiva
    inside = field(line) < 0
    if not inside.any():
        raise ValueError(f"{placed.tooth}: no surface facially at level {level:.2f}")
    k = int(np.argmax(inside))
    low, high = line[k - 1 : k], line[k : k + 1]
    return np.asarray((low + (high - low) * between(field, low, high))[0])


def contact_end(arch: Arch, pair: Pair) -> dict[str, Floats] | None:
    """The most apical point of each tooth that is nearer to its neighbour than :data:`CONTACT_WITHIN`; None without contact."""
    out = {}
    for one, other in ((pair.right, pair.left), (pair.left, pair.right)):
        a, b = arch.of(one), arch.of(other)
        near = _near(a, b, a.lines.phi, a.lines.levels[::4])
        if near is None:
            return None
        phi0, phi1, end = near
        # Again, finely, round the apical end of what was found.
        phi = np.linspace(phi0 - 0.1, phi1 + 0.1, 81)
        levels = np.broadcast_to(end + np.linspace(-0.5, 0.5, 101)[:, None], (101, 81))
        p = a.body.surface(np.broadcast_to(phi, levels.shape), levels).reshape(-1, 3)
        jaw = a.to_jaw(p[_apart(a, b, p) < CONTACT_WITHIN])
        out[one.fdi] = jaw[np.argmax(jaw @ a.frame.axis)]
    return out


def _near(a: Placed, b: Placed, phi: Floats, levels: Floats) -> tuple[float, float, float] | None:
    """Range of angles and the last level at which tooth ``a`` touches tooth ``b``."""
    p = np.broadcast_to(phi, levels.shape)
    points = a.body.surface(p, levels).reshape(-1, 3)
    close = (_apart(a, b, points) < CONTACT_WITHIN).reshape(levels.shape) & (levels < 0.8 * a.body.shape.crown)
    if not close.any():
        return None
    side = np.mod(p[close] - np.pi / 2, 2 * np.pi) + np.pi / 2  # the mesial side without a jump at pi
    if np.ptp(side) > np.pi:
        side = np.mod(side + np.pi, 2 * np.pi) - np.pi
    return float(side.min()), float(side.max()), float(levels[close].max())


def _apart(a: Placed, b: Placed, points: Floats) -> Floats:
    """Distance of local points of ``a`` to tooth ``b``; exact within 0.2 mm, first order beyond."""
    local = b.to_local(a.to_jaw(points))
    out = np.full(len(local), 9.0)
    box = (np.abs(local[:, 0]) < b.plan.width) & (np.abs(local[:, 1]) < b.plan.depth)
    d, phi, w = b.body.polar(local[box])
    near = d < 0.2
    q, angle, level = local[box][near], phi[near], w[near]
    # Gauss-Newton for the foot of the perpendicular.
    e = 1e-3
    for _ in range(5):
        s = b.body.surface(angle, level)
        df = (b.body.surface(angle + e, level) - s) / e
        dl = (b.body.surface(angle, level + e) - s) / e
        r = q - s
        aa, bb, ab = (df * df).sum(1), (dl * dl).sum(1), (df * dl).sum(1)
        ra, rb = (r * df).sum(1), (r * dl).sum(1)
        det = np.maximum(aa * bb - ab * ab, 1e-12)
        angle = angle + np.clip((ra * bb - rb * ab) / det, -0.1, 0.1)
        level = level + np.clip((rb * aa - ra * ab) / det, -0.3, 0.3)
    d = d.copy()
    d[near] = np.linalg.norm(q - b.body.surface(angle, level), axis=1)
    out[box] = d
    return out


def spline_at(x: Floats, values: Floats, at: float) -> Floats:
    """Values of a curve (N, k) where its coordinate ``x`` (monotone near there) passes ``at``, by a local cubic."""
    order = np.argsort(x)
    return np.asarray(CubicSpline(x[order], values[order])(at))

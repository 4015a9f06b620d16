"""One crown as the picture shows it: axis, edge, width, margin and papilla tips, in pixels, by the definitions of the readings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from festoon.model.dentition import Pair, Site, Tooth, as_seen
from festoon.photo.marks import Marks, ToothMarks

Floats = NDArray[np.float64]

_POINTS = 720
"""An outline is drawn anew with so many points."""
_EDGE_NEAR = 0.035
"""Incisors: the edge point lies within this share of the width from mid-width; 0.3 mm of 8.5."""
_COVERED = 0.1
"""Share of the crown under gingiva, by which the height for the axis is longer than what is seen. A setting: CRN-032 less CRN-003 is 15 %
in young men's unworn centrals, short teeth and worn ones have less."""
_TOP = 0.16
"""The zenith is the top of a curve through the margin within this share of the width."""
_LEANS_AT_MOST = float(np.cos(np.radians(30)))
"""An axis further from the vertical is not believed; the vertical stands then."""
_ALONGSIDE = 4.0
"""Where a gap takes more than so many times its width to grow by as much again, borders run side by side: no papilla ends there."""
_TOUCH = 0.03
"""Outlines of neighbours nearer than this share of the width are one border."""


@dataclass(frozen=True)
class PixelCrown:
    """A crown in the picture. Points are (column, row); levels and offsets are pixels in the tooth's own directions."""

    tooth: Tooth
    edge: Floats
    """Edge point, level 0."""
    axis: Floats
    """Unit, apical."""
    distal: Floats
    """Unit, at right angles to the axis."""
    sides: tuple[Floats, Floats]
    """Mesial and distal end of the greatest width."""
    zenith: Floats
    zenith_spread: float
    """Half the stretch along which the margin lies within one mark's error of its top."""
    mark_se: float
    """Standard error of one of its marks, pixels."""
    outline: Floats | None
    """Closed, evenly spaced, shape (N, 2); None where single points were marked."""
    tips: Mapping[Site, Floats] = field(default_factory=dict)
    """Papilla tips, mesial and distal."""

    def level(self, point: Floats) -> float:
        """Distance from the edge along the axis."""
        return float((point - self.edge) @ self.axis)

    def across(self, point: Floats) -> float:
        """Distance from mid-width, distal positive."""
        return float((point - (self.sides[0] + self.sides[1]) / 2) @ self.distal)

    @property
    def width(self) -> float:
        """Greatest extent at right angles to the axis."""
        return float((self.sides[1] - self.sides[0]) @ self.distal)

    @property
    def length(self) -> float:
        """Level of the zenith."""
        return self.level(self.zenith)

    @property
    def middle(self) -> Floats:
        """Middle of the crown: mid-width, half-way up."""
        across = (self.sides[0] + self.sides[1]) / 2
        return np.asarray(across + (self.length / 2 - self.level(across)) * self.axis)

    def distal_of(self, up: Floats) -> Floats:
        """Distal in a picture whose apical direction is ``up``, unit."""
        return _distal(self.tooth, up)

    def margin_at(self, across: float) -> float | None:
        """Level of the margin at a distance from mid-width; None where single points were marked."""
        if self.outline is None:
            return None
        found = _crossings(self.outline - (self.sides[0] + self.sides[1]) / 2, self.distal, across)
        return max(self.level(p + (self.sides[0] + self.sides[1]) / 2) for p in found) if len(found) else None


def crowns_of(marks: Marks) -> dict[Tooth, PixelCrown]:
    """Every marked crown, with the papilla tips between them."""
    teeth = as_seen(Tooth(code) for code in marks.teeth)
    up = upright_of(marks)
    rings = {t: _evenly(np.array(o, dtype=float)) for t in teeth if (o := marks.teeth[t.fdi].outline)}
    tips: dict[Tooth, dict[Site, Floats]] = {tooth: {} for tooth in teeth}
    for a, b in pairwise(teeth):
        if a.is_neighbour_of(b):
            pair = Pair(a, b)
            marked = marks.papillae.get(str(pair))
            tip = np.array(marked, dtype=float) if marked else None
            if tip is None and a in rings and b in rings:
                tip = _shared_end(rings[a], rings[b], up if a.is_upper else -up)
            if tip is not None:
                tips[a][pair.site_of(a)] = tips[b][pair.site_of(b)] = tip
    return {t: _crown(t, marks.teeth[t.fdi], rings.get(t), tips[t], marks.mark_se_of(t), up) for t in teeth}


def upright_of(marks: Marks) -> Floats:
    """The picture's direction towards the forehead: square to the declared horizontal, else straight up."""
    if marks.horizontal is None:
        return np.array([0.0, -1.0])
    a, b = (np.array(p) for p in sorted(marks.horizontal))
    along = (b - a) / np.linalg.norm(b - a)
    return np.array([along[1], -along[0]])


def _crown(
    tooth: Tooth, marked: ToothMarks, outline: Floats | None, tips: Mapping[Site, Floats], mark_se: float, up: Floats
) -> PixelCrown:
    start = up if tooth.is_upper else -up
    if outline is None:
        points = [np.array(getattr(marked, name), dtype=float) for name in ("mesial", "distal", "edge", "zenith")]
        along = points[3] - points[2]
        axis = along / np.linalg.norm(along) if np.linalg.norm(along) else start
        return PixelCrown(
            tooth,
            points[2],
            axis,
            _distal(tooth, axis),
            (points[0], points[1]),
            points[3],
            3 * mark_se,
            mark_se,
            None,
            tips,
        )
    axis = _axis(tooth, outline, start, tips)
    distal = _distal(tooth, axis)
    across = outline @ distal
    sides = [outline[np.argmin(across)], outline[np.argmax(across)]]
    middle = float(across.min() + across.max()) / 2
    levels = outline @ axis
    near = np.abs(across - middle) < _EDGE_NEAR * np.ptp(across) if tooth.position <= 2 else np.ones(len(across), bool)
    low = near & (levels < levels.mean())
    edge = outline[low][np.argmin(levels[low])] if low.any() else outline[np.argmin(levels)]
    if tooth.position <= 2:  # at mid-width itself, so that a notch beside it moves no axis
        edge = edge + (middle - edge @ distal) * distal
    zenith, spread = _zenith(outline, axis, distal, mark_se)
    given = {
        name: np.array(p, dtype=float)
        for name in ("mesial", "distal", "edge", "zenith")
        if (p := getattr(marked, name))
    }
    return PixelCrown(
        tooth,
        given.get("edge", edge),
        axis,
        distal,
        (given.get("mesial", sides[0]), given.get("distal", sides[1])),
        given.get("zenith", zenith),
        spread,
        mark_se,
        outline,
        tips,
    )


def _distal(tooth: Tooth, axis: Floats) -> Floats:
    """Facing the patient, distal of a right tooth is to the picture's left."""
    right = np.array([-axis[1], axis[0]]) if tooth.is_upper else np.array([axis[1], -axis[0]])
    return -right if tooth.is_right else right


def _evenly(points: Floats) -> Floats:
    ring = np.concatenate([points, points[:1]])
    along = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(ring, axis=0), axis=1))])
    at = np.linspace(0, along[-1], _POINTS, endpoint=False)
    return np.stack([np.interp(at, along, ring[:, k]) for k in (0, 1)], axis=1)


def _crossings(ring: Floats, direction: Floats, value: float) -> Floats:
    """Points where a closed ring crosses ``p @ direction == value``."""
    after = np.roll(ring, -1, axis=0)
    a, b = ring @ direction - value, after @ direction - value
    cut = np.flatnonzero((a < 0) != (b < 0))
    share = a[cut] / (a[cut] - b[cut])
    return np.asarray(ring[cut] + share[:, None] * (after[cut] - ring[cut]))


def chord(ring: Floats, axis: Floats, distal: Floats, at: float) -> float | None:
    """Width of a closed ring along the row where ``p @ axis == at``; None where the row misses it."""
    row = _crossings(ring, axis, at) @ distal
    return float(np.ptp(row)) if len(row) >= 2 else None


def _axis(tooth: Tooth, outline: Floats, start: Floats, tips: Mapping[Site, Floats]) -> Floats:
    """Through the midpoints of the outline between 30 and 70 % of the crown's height; behind the canines the vertical.

    Where papillae hide the sides the outline is not the crown's: rows end at the lower tip, at half the height where a tip is unknown.
    """
    axis = start
    if tooth.position > 3:
        return axis
    for _ in range(8):
        distal = _distal(tooth, axis)
        levels = outline @ axis
        low, high = float(levels.min()), float(np.ptp(levels)) * (1 + _COVERED)
        shares = [(float(tip @ axis) - low) / high for tip in tips.values()] + [0.5] * (2 - len(tips))
        at = low + high * np.linspace(0.3, min(0.7, max(0.45, min(shares))), 17)
        rows = [_crossings(outline, axis, level) @ distal for level in at]
        kept = [(level, (row.min() + row.max()) / 2) for level, row in zip(at, rows, strict=True) if len(row) >= 2]
        if len(kept) < 6:
            return start
        at_level, middles = np.array(kept, dtype=np.float64).T
        slope = float(np.polyfit(at_level, middles, 1)[0])
        axis = axis + 0.7 * slope * distal
        axis /= np.linalg.norm(axis)
    return axis if axis @ start > _LEANS_AT_MOST else start


def _zenith(outline: Floats, axis: Floats, distal: Floats, mark_se: float) -> tuple[Floats, float]:
    levels, across = outline @ axis, outline @ distal
    top = int(np.argmax(levels))
    near = np.abs(across - across[top]) < _TOP * np.ptp(across)
    near &= levels > levels[top] - 0.25 * np.ptp(levels)
    x = across[near] - across[top]
    fit = np.polyfit(x, levels[near], 3)
    fine = np.linspace(x.min(), x.max(), 801)
    curve = np.polyval(fit, fine)
    best = int(np.argmax(curve))
    flat = fine[curve > curve[best] - mark_se]
    place = (across[top] + fine[best]) * distal + curve[best] * axis
    return np.asarray(place), float(max(np.ptp(flat) / 2, mark_se))


def _shared_end(a: Floats, b: Floats, apical: Floats) -> Floats | None:
    """The apical end of the border that two neighbours share: the papilla's tip where it fills the embrasure."""
    apart = np.linalg.norm(a[:, None] - b[None], axis=2)
    both = (a + b[apart.argmin(axis=1)]) / 2
    touch = _TOUCH * (np.ptp(a[:, 0]) + np.ptp(b[:, 0])) / 2
    ends = []
    for gap in (touch, 2 * touch, 3 * touch):
        near = both[apart.min(axis=1) < gap]
        if not len(near):
            return None
        ends.append(near[np.argmax(near @ apical)])
    if (ends[1] - ends[0]) @ apical > _ALONGSIDE * touch:  # borders that run side by side have not parted yet
        ends = ends[1:]
        if (ends[1] - ends[0]) @ apical > _ALONGSIDE * touch:
            return None
    # Borders that part gradually touch too far apically: straight ones by as much as their gap takes to double, drawn ones by about half.
    return np.asarray(ends[0] - 0.5 * max((ends[1] - ends[0]) @ apical, 0.0) * apical)

"""One tooth of a scan: looked at from its facial and lingual side, its margin traced, its frame found."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from scipy.ndimage import map_coordinates

from festoon.kernels.tooth_frame import ToothFrame
from festoon.model.dentition import Tooth
from festoon.scan.arch import Standing
from festoon.scan.by_hand import ByHand
from festoon.scan.contact import End, crown_end
from festoon.scan.frame import Outline, facial_frame
from festoon.scan.groove import side_of
from festoon.scan.margin import Evidence, Traced, evidence, trace
from festoon.scan.raw import Floats, Ints
from festoon.scan.sizes import COVER_SD, expected_cover
from festoon.scan.view import CELL, Scene, View, look

_ROWS = (-1.5, 15.0)
"""Rows of a view, from this far incisally of the tooth's top to this far apically, mm."""
_BESIDE = 2.2
"""How far a view goes beyond the half width of its tooth, mm."""
_TIP_WITHIN = 1.5
"""A papilla tip lies within this of the end of its tooth's stretch, across, mm."""
UPRIGHT = float(np.cos(np.radians(30)))
"""An axis or facial direction further from the arch's own is not believed."""
_ASKANCE = float(np.radians(8))
"""The second look is turned against the arch by no more: a crown seen more askance hides the margin on its far side behind its own bulge,
and the curve runs along its silhouette, in front of the margin."""
_ROUNDED, _STRAIGHT = 0.45, 1.7
"""Smoothing rounds the margin this near to a papilla tip, mm: there it is drawn on from the stretch that ends at the second."""
_TIP_RISE = 0.5
"""A tip is drawn on at most this far, mm."""
_FACIAL_DEPTH = 4.0
"""What lies further behind the facial surface is not part of its outline, mm."""
_LEAST_SEEN = 0.1
"""Where less than this share of a view shows surface, no tooth is seen."""
_SHORTEST = 2.5
"""No margin is sought within this of the top of a tooth, mm: so short a crown is entered by hand."""


@dataclass(frozen=True)
class Side:
    """A view of a tooth from its facial or lingual side, and the margin in it."""

    view: View
    read: Evidence
    traced: Traced
    """From the mesial papilla tip (or the end of the surface) to the distal one."""
    limits: tuple[Floats, Floats]
    """Mesial and distal limit of the crown, by row, mm; NaN where there is none."""
    grooves: tuple[Ints | None, Ints | None]
    """Column of the groove to the neighbour in the first rows; None without a neighbour."""
    curve: Floats
    """Margin in space from mesial to distal, arch frame, shape (N, 3)."""


@dataclass(frozen=True)
class ScannedTooth:
    """One tooth as the scan shows it. Coordinates are those of the arch frame, mm."""

    tooth: Tooth
    standing: Standing
    start: Floats
    """Unit, square to the line through the neighbours' middles: from where the facial direction is sought."""
    frame: ToothFrame
    cover_slope: tuple[ToothFrame, ToothFrame]
    """The frame had the CEJ lain one spread more coronally or apically than assumed: the part of the error that the axis brings."""
    outline: Outline
    facial: Side
    lingual: Side | None
    """None where no lingual margin is seen."""
    found: ToothFrame
    """The frame as it was found, whatever a person set since."""
    whole: Outline
    """The outline as it was found."""
    bare: bool = False
    """A closed shell without gingiva: its rim stands for the margin."""
    by_hand: ByHand = field(default_factory=ByHand)
    """What a person set."""

    @property
    def margin(self) -> Floats:
        """The margin as a closed curve, shape (N, 3): facially mesial to distal, then back lingually. Under the contacts, where no
        scanner sees, it is a straight line."""
        return (
            self.facial.curve if self.lingual is None else np.concatenate([self.facial.curve, self.lingual.curve[::-1]])
        )


def look_at_tooth(
    scene: Scene,
    standing: Standing,
    tips: Floats,
    vertical: Floats,
    start: Floats,
) -> ScannedTooth | None:
    """Measure one tooth; None where no margin is found facially.

    Parameters
    ----------
    scene : Scene
        The surface in the arch frame.
    standing : Standing
    tips : array (K, 3)
        Points of the crown near its edge or cusps.
    vertical : array (3,)
        The arch's vertical, apical.
    start : array (3,)
        Direction square to the line through the neighbours' middles.
    """
    position = standing.stretch.tooth.position
    cover = expected_cover(position)
    facial = _side(scene, standing, tips, vertical, start)
    if facial is None:
        return None
    first = facial_frame(_outline(facial, tips), position, cover, vertical, start, vertical, facial.view.across)
    # A second look, straight along what the first one found; not where that cannot be right.
    if first.axis @ vertical > UPRIGHT and first.facial @ start > UPRIGHT:
        facial = _side(scene, standing, tips, first.axis, within_sight(first, start))
    if facial is None:
        return None
    lingual = _side(scene, standing, tips, vertical, -start)
    outline = _outline(facial, tips)

    frame, around = frames_around(outline, position, vertical, start, first.axis)
    return ScannedTooth(
        standing.stretch.tooth, standing, start, frame, around, outline, facial, lingual, frame, outline
    )


def frames_around(
    outline: Outline, position: int, vertical: Floats, start: Floats, axis: Floats, edge: Floats | None = None
) -> tuple[ToothFrame, tuple[ToothFrame, ToothFrame]]:
    """The frame of a tooth, and those had the CEJ lain one spread more coronally or apically."""
    cover = expected_cover(position)
    made = [
        facial_frame(outline, position, assumed, vertical, start, axis, outline.view.across, edge)
        for assumed in (cover, max(cover - COVER_SD, 0.0), cover + COVER_SD)
    ]
    return made[0], (made[1], made[2])


def within_sight(frame: ToothFrame, start: Floats) -> Floats:
    """The facial direction of a tooth, or what comes nearest to it without looking too much askance; unit, at right angles to the axis."""
    square = start - (start @ frame.axis) * frame.axis
    square /= np.linalg.norm(square)
    along = float(frame.facial @ square)
    if along >= np.cos(_ASKANCE):
        return frame.facial
    aside = frame.facial - along * square
    return np.asarray(np.cos(_ASKANCE) * square + np.sin(_ASKANCE) * aside / np.linalg.norm(aside))


def view_of(scene: Scene, standing: Standing, tips: Floats, vertical: Floats, towards: Floats) -> View | None:
    """A tooth seen along ``-towards``; None where next to nothing is seen."""
    half = standing.stretch.width / 2
    across = np.cross(towards, vertical)
    across = across if across @ standing.distal > 0 else -across
    top = tips[np.argmin(tips @ vertical)]
    origin = tips.mean(axis=0)
    origin = origin + ((top - origin) @ vertical) * vertical
    # Across, the middle of the stretch is surer than that of the tips: a cusp may stand aside.
    origin = origin + ((standing.middle - origin) @ across) * across
    view = look(scene, origin, across, vertical, towards, half + _BESIDE, _ROWS)
    return view if view.seen.mean() >= _LEAST_SEEN else None


def _side(scene: Scene, standing: Standing, tips: Floats, vertical: Floats, towards: Floats) -> Side | None:
    view = view_of(scene, standing, tips, vertical, towards)
    return None if view is None else _traced_side(view, evidence(view), standing)


def retrace(tooth: ScannedTooth, by_hand: ByHand, vertical: Floats) -> ScannedTooth:
    """The tooth solved again around what a person set.

    Raises
    ------
    ValueError
        If no margin can go through the points.
    """
    through = by_hand.through(tooth.facial.view)
    if tooth.bare and through:
        raise ValueError("a bare crown has no gingival margin to move")
    side = tooth.facial if tooth.bare else _traced_side(tooth.facial.view, tooth.facial.read, tooth.standing, through)
    if side is None:
        raise ValueError("no margin can go through this point: it lies off the facial surface of the tooth")
    outline = tooth.whole if tooth.bare else _outline(side, tooth.outline.tips)
    mesial, distal = (
        end if point is None else End(point[None], True)
        for end, point in zip(outline.ends, (by_hand.at("mesial_end"), by_hand.at("distal_end")), strict=True)
    )
    outline = replace(outline, ends=(mesial, distal))
    frame, around = frames_around(
        outline, tooth.tooth.position, vertical, tooth.start, tooth.found.axis, by_hand.at("edge")
    )
    return replace(tooth, frame=frame, cover_slope=around, outline=outline, facial=side, by_hand=by_hand)


def _traced_side(
    view: View, read: Evidence, standing: Standing, fixed: tuple[tuple[float, float], ...] = ()
) -> Side | None:
    half = standing.stretch.width / 2
    reach = (-(half + (_BESIDE - 0.4) * standing.neighbours[0]), half + (_BESIDE - 0.4) * standing.neighbours[1])
    whole = trace(view, reach, (_SHORTEST, _ROWS[1] - 1.0), fixed, read)
    if whole is None:
        return None
    a, b = (_tip(whole, s, half, n) for s, n in zip((-1, 1), standing.neighbours, strict=True))
    if b - a < 12:
        return None
    traced = whole.part(a, b)
    for side, has in zip((-1, 1), standing.neighbours, strict=True):
        end = -1 if side > 0 else 0
        # Where a person set the margin near a tip, the tip is what the path through it says.
        by_hand = any(np.hypot(x - traced.columns[end], y - traced.rows[end]) < _STRAIGHT for x, y in fixed)
        traced = _with_tip(traced, side) if has and not by_hand else traced
    sides = tuple(
        side_of(view, s, (float(traced.columns[k]), float(traced.rows[k])), n)
        for s, k, n in zip((-1, 1), (0, -1), standing.neighbours, strict=True)
    )
    limits, grooves = (sides[0][0], sides[1][0]), (sides[0][1], sides[1][1])
    return Side(view, read, traced, limits, grooves, on_surface(view, traced.columns, traced.rows))


def _tip(whole: Traced, side: int, half: float, neighbour: bool) -> int:
    """Index of the most coronal point of the margin near one end of the tooth; its very end where there is no neighbour."""
    if not neighbour:
        return 0 if side < 0 else len(whole.rows) - 1
    near = np.abs(whole.columns * side - half) < _TIP_WITHIN
    if not near.any():
        return 0 if side < 0 else len(whole.rows) - 1
    return int(np.argmin(np.where(near, whole.rows, np.inf)))


def _with_tip(traced: Traced, side: int) -> Traced:
    """The margin drawn on to its papilla tip.

    Two margins meet at a tip at an angle; a smooth curve through both rounds it off, and a scanner bridges the narrowest part of the
    embrasure. The parabola through the margin a little away from the tip, carried on to where the tip is, does neither.
    """
    columns, rows, strength = (v if side < 0 else v[::-1] for v in (traced.columns, traced.rows, traced.strength))
    run = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(columns), np.diff(rows)))])
    used = (run > _ROUNDED) & (run < _STRAIGHT)
    if used.sum() < 8 or np.ptp(columns[used]) < 0.3:
        return traced
    fit = np.polynomial.Polynomial.fit(columns[used], rows[used], 2)
    tip = max(min(float(fit(columns[0])), rows[0]), rows[0] - _TIP_RISE)
    k = int(np.argmax(used))
    share = np.linspace(0, 1, k + 1)[:-1]
    columns, rows = columns.copy(), rows.copy()
    line = fit(columns[0] + share * (columns[k] - columns[0]))
    columns[:k] = columns[0] + share * (columns[k] - columns[0])
    rows[:k] = np.maximum(line, tip)
    out = [v if side < 0 else v[::-1] for v in (columns, rows, strength)]
    return Traced(out[0], out[1], out[2], traced.disagreement)


def on_surface(view: View, columns: Floats, rows: Floats) -> Floats:
    """Places of a view in space."""
    at = np.stack([(rows - view.w[0]) / CELL, (columns - view.x[0]) / CELL])
    depth = map_coordinates(view.filled, at, order=1, mode="nearest")
    return view.points(rows, columns, depth)


def _outline(side: Side, tips: Floats) -> Outline:
    view, traced = side.view, side.traced
    mesial, distal = side.limits
    order = np.argsort(traced.columns)
    # Beyond its ends the margin goes on level: a crown bulges past the place where its margin leaves the view.
    low = np.interp(view.x, traced.columns[order], traced.rows[order])
    depth = view.filled
    # Rows without a limit (above the edge, below a tip) show nothing of this crown beside its margin.
    left = np.where(np.isfinite(mesial), mesial, traced.columns.min())[:, None]
    right = np.where(np.isfinite(distal), distal, traced.columns.max())[:, None]
    crown = view.seen & (view.w[:, None] < low[None, :]) & (view.x[None, :] >= left) & (view.x[None, :] <= right)
    # A lingual cusp looks over the facial one.
    crown &= depth > np.median(depth[:, len(view.x) // 2]) - _FACIAL_DEPTH
    neck = float(np.interp(0.0, traced.columns[order], traced.rows[order]))
    ends = (
        crown_end(view, mesial, side.grooves[0], -1, side.curve[0]),
        crown_end(view, distal, side.grooves[1], 1, side.curve[-1]),
    )
    return Outline(view, ends, crown, tips, neck)

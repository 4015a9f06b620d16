"""Readings of a photograph whose pose is solved: every mark goes back along its ray to the scanned surface, into the tooth's own frame."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from festoon.kernels.tooth_frame import ToothFrame
from festoon.model.dentition import Site, Tooth
from festoon.model.quantities import Quantity, QuantityReading
from festoon.photo.crown import PixelCrown, chord
from festoon.photo.marks import Marks
from festoon.photo.pose import Border, Pose, ScannedFront, seen_borders
from festoon.photo.quantities import UNTOLD_MM, axis_se, is_whole, tell_reading

Floats = NDArray[np.float64]

_ROWS = np.linspace(0.2, 0.6, 13)
"""Widths are compared at these shares of the crown's length, as far as no papilla lies there."""
_LINE_ANGLE = 0.3
"""Line angles lie this share of the width from mid-width (as in scans)."""
_PLACE_MM = 0.12
"""Mid-width and line angles are known to about this, mm: where the margin is steep its level hangs on it."""
_TOP_MM = 1.3
"""The zenith is the top of a curve through the margin this near to it."""
_DEPTH_MM = 0.2
"""Margin and papilla may lie so far before or behind the scanned surface, mm."""
_WIDTH_MM, _LEVEL_MM, _TIP_MM, _TIP_BETWEEN_CENTRALS_MM = 0.16, 0.11, 0.25, 0.42
"""What scan and outline differ by beside the marks (seen on synthetic mouths); a traced scan's widths are off by 0.2 mm themselves."""
_TIP_ASIDE_MM = 1.1
"""A papilla tip seen aside, from the camera and not straight into its embrasure, is off by this times the fourth power of the sine of the angle, mm (seen on synthetic mouths: little of a lateral, half a
millimetre of a canine)."""
_SIDE = {Site.MESIOFACIAL: -1.0, Site.MIDFACIAL: 0.0, Site.DISTOFACIAL: 1.0}
_HIDDEN = 0.64
"""Of a tooth turned by more than 40 degrees (sine) the far line angle is not read."""
_UNLIKE = 2.5
"""A tooth whose width in picture and scan differs by more than so many standard errors is not measured."""
_ALIKE = 0.5
"""Marks of one drawn line err together: averaging many leaves this share of one mark's error."""


def readings_with_pose(
    front: ScannedFront, crowns: Mapping[Tooth, PixelCrown], marks: Marks, pose: Pose
) -> tuple[QuantityReading, ...]:
    """Readings of every marked crown that is on the scan, corrected for the camera.

    Parameters
    ----------
    front : ScannedFront
    crowns : mapping of Tooth to PixelCrown
    marks : Marks
    pose : Pose
    """
    borders = seen_borders(front, pose)
    out: list[QuantityReading] = []
    for tooth, crown in crowns.items():
        if tooth in front.frames and tooth in borders and crown.outline is not None and is_whole(crown, marks):
            out += _of_tooth(front, crown, marks, pose, borders[tooth])
    return tuple(out)


def back_projected(front: ScannedFront, tooth: Tooth, pose: Pose, pixels: Floats) -> Floats:
    """Where pixels (N, 2) lie on the scan, in the frame of a tooth: (distal from mid-width, facial, level), mm.

    A ray that misses takes the depth of the crown's nearest vertex in the picture.
    """
    direction = pose.rays(pixels)
    start = np.broadcast_to(pose.position, direction.shape)
    face, depth, _ = front.tree.intersect_ray_first(
        front.vertices, front.faces, np.ascontiguousarray(start), np.ascontiguousarray(direction)
    )
    face, depth = np.asarray(face), np.asarray(depth, dtype=np.float64)
    frame = front.frames[tooth]
    crown = front.crown(tooth)
    outward = frame.coordinates(crown)[:, 1]
    crown = crown[outward > np.median(outward)]  # the facial half
    shown = pose.project(crown)
    near = pose.depth(crown)
    # What lies far before or behind the nearest part of the crown is a neighbour or the far side of the arch.
    _, k = cKDTree(shown).query(pixels, k=8)
    nearest = near[k].min(axis=1)
    wrong = (face < 0) | (np.abs(depth - nearest) > 1.5)
    return frame.coordinates(pose.at_depth(pixels, np.where(wrong, nearest, depth)))


def _of_tooth(
    front: ScannedFront, crown: PixelCrown, marks: Marks, pose: Pose, border: Border
) -> list[QuantityReading]:
    tooth, frame = crown.tooth, front.frames[crown.tooth]
    per_mm = pose.focal_px / pose.distance_mm
    mark = crown.mark_se / per_mm
    ring = np.asarray(crown.outline)[::3]
    pixels = np.concatenate([ring, *[tip[None] for tip in crown.tips.values()]])

    def values(at: Pose) -> Floats:
        spots = back_projected(front, tooth, at, pixels)
        return _values(frame, spots[: len(ring)], spots[len(ring) :], crown, border, at)

    found = values(pose)
    spots = back_projected(front, tooth, pose, ring)
    slopes = [_slope(spots[:, 0], spots[:, 2], share * frame.width) for share in (0.0, -_LINE_ANGLE, _LINE_ANGLE)]
    spread = np.sqrt((sigma_points(pose, values) ** 2).sum(axis=0))
    ray = pose.rays(crown.middle[None])[0]
    # A mark before the scanned surface is read aside by the tangent of the angle between ray and facial direction.
    aside = _DEPTH_MM * abs(float(ray @ frame.axis) / float(ray @ frame.facial))
    across = _DEPTH_MM * abs(float(ray @ frame.distal) / float(ray @ frame.facial))
    turned = 1 / max(abs(float(ray @ frame.facial)), 0.2)
    out: list[QuantityReading] = []

    def say(quantity: Quantity, k: int, own: float, site: Site | None = None) -> None:
        if np.isfinite(found[k]) and np.isfinite(spread[k]):  # else the margin does not surely reach there
            se = float(np.hypot(spread[k], own))
            if se <= UNTOLD_MM:
                out.append(tell_reading(tooth, quantity, float(found[k]), se, by=marks.by, site=site))

    level = float(np.sqrt(2 * mark**2 + _LEVEL_MM**2 + aside**2))
    width = float(np.hypot(2**0.5 * mark * turned * _ALIKE, _WIDTH_MM * turned**0.5))
    if abs(found[0] - frame.width) > _UNLIKE * float(np.hypot(width, spread[0])):
        return []  # a width does not change: numbers, outline or the tracing of this tooth are wrong
    say(Quantity.CROWN_WIDTH, 0, width)
    say(Quantity.CROWN_LENGTH, 1, level)
    ratio = found[0] / found[1]
    own = ratio * np.hypot(np.hypot(width, spread[0]) / found[0], np.hypot(level, spread[1]) / found[1])
    if np.isfinite(own):
        out.append(tell_reading(tooth, Quantity.CROWN_RATIO, float(ratio), float(own), by=marks.by))
    flat = crown.zenith_spread / 3**0.5 / per_mm * turned  # anywhere along it alike
    say(Quantity.ZENITH_OFFSET, 2, float(np.sqrt(flat**2 / 2 + across**2 + (axis_se(tooth) * found[1] / 4) ** 2)))
    for k, site in ((3, Site.MIDFACIAL), (4, Site.MESIOFACIAL), (5, Site.DISTOFACIAL)):
        if (_SIDE[site] * float(ray @ frame.distal)) > _HIDDEN * float(np.linalg.norm(ray)):
            continue
        beside = slopes[k - 3] * np.sqrt(across**2 + (mark * turned) ** 2 + _PLACE_MM**2)
        say(Quantity.MARGIN_LEVEL, k, float(np.hypot(level, beside)), site)
    aslant = 1 - min(1.0, 1 / turned) ** 2
    for k, site in enumerate(crown.tips):
        plain = _TIP_BETWEEN_CENTRALS_MM if tooth.position == 1 and site is Site.MESIAL else _TIP_MM
        tip = float(np.sqrt(level**2 + plain**2 + (_TIP_ASIDE_MM * aslant**2) ** 2))
        say(Quantity.MARGIN_LEVEL, 6 + 2 * k, tip, site)
        say(Quantity.PAPILLA_HEIGHT, 7 + 2 * k, tip, site)
    return out


def sigma_points(pose: Pose, values: Callable[[Pose], Floats]) -> Floats:
    """Spread of the values along each principal axis of the pose's covariance, shape (10, N): their squares add to the variance.

    One standard deviation to either side; the root mean square of both steps holds what bends as well as what slopes.
    """
    middle = values(pose)
    size, axes = np.linalg.eigh(pose.covariance)
    out = []
    for s, axis in zip(size, axes.T, strict=True):
        step = np.sqrt(max(s, 0.0)) * axis
        both = [values(replace(pose, parameters=pose.parameters + sign * step)) - middle for sign in (1, -1)]
        out.append(np.sqrt((both[0] ** 2 + both[1] ** 2) / 2))
    return np.array(out)


def _values(frame: ToothFrame, ring: Floats, tips: Floats, crown: PixelCrown, border: Border, pose: Pose) -> Floats:
    """Width, length, zenith offset, three margin levels, then each papilla's tip level and height, mm; NaN where there is none."""
    across, level = ring[:, 0], ring[:, 2]
    middle = np.abs(across) < (0.3 if crown.tooth.position <= 2 else frame.width / 2)
    low = level[middle & (level < np.median(level))]
    edge = float(low.min()) if len(low) else float(level.min())
    top = int(np.argmax(level))
    near = (np.abs(across - across[top]) < _TOP_MM) & (level > level[top] - 2.0)
    zenith, offset = float(level[top]), float(across[top])
    if near.sum() >= 6:
        fit = np.polyfit(across[near] - across[top], level[near], 3)
        fine = np.linspace(across[near].min(), across[near].max(), 401) - across[top]
        best = int(np.argmax(np.polyval(fit, fine)))
        zenith, offset = float(np.polyval(fit, fine[best])), float(fine[best] + across[top])
    out = [_width(crown, border, pose, frame), zenith - edge, offset]
    for share in (0.0, -_LINE_ANGLE, _LINE_ANGLE):
        out.append(_crossing(across, level, share * frame.width) - edge)
    for tip in tips:
        out += [float(tip[2]) - edge, zenith - float(tip[2])]
    return np.array(out)


def _slope(across: Floats, level: Floats, at: float) -> float:
    """Rise of the margin there, mm a mm."""
    a, b = (_crossing(across, level, at + d) for d in (-0.3, 0.3))
    return abs(b - a) / 0.6 if np.isfinite(a) and np.isfinite(b) else 1.0


def _crossing(across: Floats, level: Floats, at: float) -> float:
    """Most apical level at which a closed ring crosses a place; NaN where it does not reach it."""
    a, b = across - at, np.roll(across, -1) - at
    cut = (a < 0) != (b < 0)
    if not cut.any():
        return np.nan
    share = a[cut] / (a[cut] - b[cut])
    return float((level[cut] + share * (np.roll(level, -1)[cut] - level[cut])).max())


def _width(crown: PixelCrown, border: Border, pose: Pose, frame: ToothFrame) -> float:
    """The scan's width times what the picture shows of it, over what it should: both along the same rows."""
    seen, should = np.asarray(crown.outline), pose.project(border.points)
    tips = [crown.level(tip) / crown.length for tip in crown.tips.values()] or [0.5]
    rows = _ROWS[min(tips) - 0.03 > _ROWS] if min(tips) > 0.28 else _ROWS[:3]
    ratios = [
        a / b
        for share in rows
        for at in [float(crown.edge @ crown.axis + share * crown.length)]
        if (a := chord(seen, crown.axis, crown.distal, at)) and (b := chord(should, crown.axis, crown.distal, at))
    ]
    return frame.width * float(np.median(ratios)) if len(ratios) >= 3 else np.nan

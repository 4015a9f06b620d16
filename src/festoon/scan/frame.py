"""The frame of one tooth: facial long axis, facial direction, edge point, mid-width, by the definitions of the readings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation, gaussian_filter1d

from festoon.kernels.tooth_frame import ToothFrame
from festoon.scan.contact import End
from festoon.scan.raw import Floats
from festoon.scan.view import CELL, View

_LARGEST_TURN = 0.2
"""The axis turns at most by so much (radians) in one step."""
_BEHIND = (0.3, 0.5, 0.8)
"""Chords of the facial surface this far behind its most facial point, mm."""
_LEANS_AT_MOST = float(np.cos(np.radians(40)))
_CUSP_DEPTH = 4.5
"""A facial cusp tip lies no further than this behind the most facial place of its crown, mm; a lingual one does."""
_CUSP_ROUND = 1.0
"""Nor this far behind the lowest of those, mm: the tip rounds off into the occlusal surface."""
_FACING = 0.6
"""Cosine beyond which a place looks away too much to be of the facial profile."""
_SOFT = 0.4
"""Width of the border of the region of a mean normal, mm."""


@dataclass(frozen=True)
class Outline:
    """What a facial view shows of one crown: its surface and, row by row, its mesial and distal limits."""

    view: View
    ends: tuple[End, End]
    """Mesial and distal end of the crown."""
    mask: NDArray[np.bool_]
    """Where the view shows the crown, shape (H, W)."""
    tips: Floats
    """Smoothed points near the edge or cusp, arch frame, shape (K, 3)."""
    neck: float
    """Level (down coordinate of the view) of the midfacial margin."""

    def extent(self, edge: Floats, distal: Floats) -> tuple[float, float]:
        """Middle from the edge point, and width, of the crown along its mesiodistal direction, mm."""
        low, high = (float(f((end.points - edge) @ distal)) for f, end in zip((np.min, np.max), self.ends, strict=True))
        return (low + high) / 2, high - low

    def facial_tips(self, position: int) -> Floats:
        """The points near the edge or, behind the canines, those of the facial cusps: a lingual one may reach further."""
        if position <= 3 or not self.mask.any():
            return self.tips
        behind = float(self.view.depth[self.mask].max()) - (self.tips - self.view.origin) @ self.view.towards
        near = behind < _CUSP_DEPTH
        if not near.any():
            return self.tips
        lowest = behind[near][np.argmin(self.tips[near] @ self.view.down)]
        return np.asarray(self.tips[near & (behind < lowest + _CUSP_ROUND)])

    def inside(self, row: int, across: float) -> bool:
        """Whether a place of a row is on the crown as seen."""
        column = round((across - self.view.x[0]) / CELL)
        return 0 <= column < self.mask.shape[1] and bool(self.mask[row, column])


def facial_frame(
    outline: Outline,
    position: int,
    cover: float,
    vertical: Floats,
    start: Floats,
    axis: Floats,
    distal: Floats,
    held: Floats | None = None,
) -> ToothFrame:
    """The frame of a tooth from what its facial view shows.

    The crown's height for the axis reaches from the edge to the midfacial CEJ. A scan does not show the CEJ: it is taken to lie
    ``cover`` apical to the margin, and what of the middle three fifths lies under gingiva is left out of the fits.

    Parameters
    ----------
    outline : Outline
    position : int
        1 to 8.
    cover : float
        Assumed distance of the CEJ apical to the midfacial margin, mm.
    vertical : array (3,)
        The arch's vertical, apical: the axis of premolars and molars seen from the front.
    start : array (3,)
        Direction square to the arch, from where the facial direction is sought.
    axis, distal : array (3,)
        First guesses.
    held : array (3,), optional
        The edge point, where a person set it.
    """
    view = outline.view
    depth = view.filled
    normal = _area_normals(view, depth)
    # Not beside holes: closing them makes steps.
    whole = view.seen & ~binary_dilation(~view.seen, iterations=3) if view.holes.any() else view.seen
    rows, columns = np.nonzero(whole)
    every = view.points(view.w[rows], view.x[columns], depth[rows, columns])
    normals = normal[rows, columns]
    # Between the cusps of a molar the profile runs over into the occlusal surface: that is not facial.
    looks_facial = normals @ view.towards > _FACING * np.linalg.norm(normals, axis=1)
    chords = _chords(outline)
    facial = start - (start @ axis) * axis
    facial /= np.linalg.norm(facial)
    neck = view.points(np.array(outline.neck), np.array(0.0), np.array(0.0))
    tips = outline.facial_tips(position)
    edge = tips[np.argmin(tips @ axis)] if held is None else held
    for _ in range(30):
        before = np.concatenate([axis, facial])
        distal = distal - (distal @ axis) * axis - (distal @ facial) * facial
        distal /= np.linalg.norm(distal)
        middle = outline.extent(edge, distal)[0]
        edge = _edge(tips, edge, distal, axis, facial, middle, position) if held is None else held
        middle = outline.extent(edge, distal)[0]
        seen = float((neck - edge) @ axis)
        height = seen + cover
        lean = _lean(every[looks_facial] - edge, distal, facial, axis, middle, height, seen)
        if position <= 3:
            tilt = _tilt(chords, edge, distal, axis, height)
        else:
            tilt = float(vertical @ distal / (vertical @ axis))
        axis = axis + lean * facial + tilt * distal
        axis /= np.linalg.norm(axis)
        if axis @ vertical < _LEANS_AT_MOST:
            break  # no tooth leans so: the surface is too broken to tell
        facial = _facial(outline, edge, every - edge, normals, axis, start, distal, height)
        if np.abs(np.concatenate([axis, facial]) - before).max() < 1e-5:
            break
    distal = distal - (distal @ axis) * axis - (distal @ facial) * facial
    distal /= np.linalg.norm(distal)
    return ToothFrame(edge, axis, facial, distal, *outline.extent(edge, distal))


def _area_normals(view: View, depth: Floats) -> Floats:
    """Normals times area of the cells, shape (H, W, 3): (-dd/dx, -dd/dw, 1), linear in the depths and so not biased by noise."""
    dw, dx = (np.asarray(np.gradient(depth, CELL, axis=k)) for k in (0, 1))
    return np.asarray(
        -dx[..., None] * view.across - dw[..., None] * view.down + np.ones_like(dx)[..., None] * view.towards
    )


def _edge(
    tips: Floats, edge: Floats, distal: Floats, axis: Floats, facial: Floats, middle: float, position: int
) -> Floats:
    """Incisors: the most incisal point within 0.3 mm of mid-width; others: the facial cusp tip."""
    away = tips - edge
    across, level, forward = away @ distal, away @ axis, away @ facial
    if position <= 2:
        near = np.abs(across - middle) <= 0.3
    elif position == 3:
        near = level < level.min() + 1.0
    else:
        near = (level < level.min() + 2.5) & (forward > -1.5)
    if not near.any():
        return edge
    return np.asarray(tips[near][np.argmin(level[near])])


def _lean(
    away: Floats, distal: Floats, facial: Floats, axis: Floats, middle: float, height: float, seen: float
) -> float:
    """Slope of the facial profile at mid-width over the middle three fifths of the crown, as far as it is seen."""
    across, forward, level = away @ distal, away @ facial, away @ axis
    used = (np.abs(across - middle) < 0.25) & (level > 0.2 * height) & (level < min(0.8 * height, seen - 0.25))
    if used.sum() < 20:
        return 0.0
    return _slope(level[used], forward[used])


def _chords(outline: Outline) -> tuple[Floats, Floats]:
    """Mesial and distal ends of chords of the facial surface, row by row, arch frame, each (R, 3).

    A chord joins the two places of a row that lie equally far behind its most facial point. Papillae hide the outline from
    mid-crown on, but not the chords: their midpoints go on where those of the outline end.
    """
    view = outline.view
    ends: tuple[list[Floats], list[Floats]] = ([], [])
    depth = gaussian_filter1d(gaussian_filter1d(view.filled, 0.2 / CELL, axis=1), 0.2 / CELL, axis=0)
    middle = int(np.argmin(np.abs(view.x)))
    wide = int(0.3 * (view.x[-1] - 2.0) * 2 / CELL)
    for row in range(0, len(view.w), 3):
        if not 2.0 < view.w[row] < outline.neck - 0.4:
            continue
        line = depth[row]
        top = middle - wide + int(np.argmax(line[middle - wide : middle + wide + 1]))
        for behind in _BEHIND:
            left, right = line[: top + 1][::-1], line[top:]
            i, j = int(np.argmax(left < line[top] - behind)), int(np.argmax(right < line[top] - behind))
            if not i or not j:
                continue
            wide_left, wide_right = (
                i - _between(left, i, line[top] - behind),
                j - _between(right, j, line[top] - behind),
            )
            x = float(view.x[top] - wide_left * CELL), float(view.x[top] + wide_right * CELL)
            if not outline.inside(row, x[0]) or not outline.inside(row, x[1]):
                continue
            for side, across in zip(ends, x, strict=True):
                side.append(view.points(view.w[row], np.array(across), np.array(line[top] - behind)))
    return np.array(ends[0]).reshape(-1, 3), np.array(ends[1]).reshape(-1, 3)


def _between(line: Floats, k: int, wanted: float) -> float:
    """How far before cell ``k`` the line passes the wanted depth, 0 to 1 cell."""
    drop = line[k - 1] - line[k]
    return float(np.clip((wanted - line[k]) / drop, 0, 1)) if drop > 0 else 0.0


def _tilt(chords: tuple[Floats, Floats], edge: Floats, distal: Floats, axis: Floats, height: float) -> float:
    """Slope of the midpoints between 30 and 70 % of the crown's height."""
    middle = (chords[0] + chords[1]) / 2 - edge
    level, across = middle @ axis, middle @ distal
    used = (level > 0.3 * height) & (level < 0.7 * height)
    return _slope(level[used], across[used]) if used.sum() >= 8 else 0.0


def _slope(x: Floats, y: Floats) -> float:
    """Slope of a straight line that a few strays do not turn, at most :data:`_LARGEST_TURN` at a time."""
    weight = np.ones(len(x))
    slope = 0.0
    for _ in range(6):
        mx, my = np.average(x, weights=weight), np.average(y, weights=weight)
        slope = float((weight * (x - mx) * (y - my)).sum() / max((weight * (x - mx) ** 2).sum(), 1e-9))
        left = y - my - slope * (x - mx)
        scale = max(1.4826 * float(np.median(np.abs(left))), 0.02)
        weight = 1 / (1 + (left / (2 * scale)) ** 2)
    return float(np.clip(slope, -_LARGEST_TURN, _LARGEST_TURN))


def _facial(
    outline: Outline,
    edge: Floats,
    away: Floats,
    normals: Floats,
    axis: Floats,
    start: Floats,
    distal: Floats,
    height: float,
) -> Floats:
    """Mean normal of the middle half (in both senses) of the facial surface, at right angles to the axis, in three steps from ``start``."""
    facial = start - (start @ axis) * axis
    facial /= np.linalg.norm(facial)
    along = np.clip((height / 4 - np.abs(away @ axis - height / 2)) / _SOFT + 0.5, 0, 1)
    for _ in range(3):
        d = distal - (distal @ axis) * axis - (distal @ facial) * facial
        d /= np.linalg.norm(d)
        middle, width = outline.extent(edge, d)
        weight = along * np.clip((width / 4 - np.abs(away @ d - middle)) / _SOFT + 0.5, 0, 1)
        total = weight @ normals
        if total @ facial > 0:
            facial = total - (total @ axis) * axis
            facial /= np.linalg.norm(facial)
    return np.asarray(facial)

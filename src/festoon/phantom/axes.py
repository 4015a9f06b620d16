"""The facial long axis, the facial direction and the edge point of a tooth, by the definitions of the readings.

Worked on the smooth surface itself (:class:`~festoon.phantom.tooth.ToothBody`) in the tooth's local frame. The crown's height is
taken from the edge to the midfacial CEJ, so that the axis never depends on where the margin is.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from festoon.kernels.tooth_frame import ToothFrame
from festoon.phantom.shells import angles
from festoon.phantom.tooth import ToothBody

Floats = NDArray[np.float64]

_SOFT = 0.4
"""Width of the border of the region of a mean normal, mm: wider than a facet."""


@dataclass(frozen=True)
class Lines:
    """Dense lines of the lateral surface from the rim to below the neck, by stretched angle."""

    body: ToothBody
    around: int = 240
    rows: int = 200

    @cached_property
    def phi(self) -> Floats:
        """Angles of the lines."""
        return angles(self.around)

    @cached_property
    def levels(self) -> Floats:
        """Local levels, shape (rows, around)."""
        top = self.body.rim(self.phi)
        # Finer near the edge, where sections change fast; on to 6 mm below the neck.
        t = np.linspace(0, 1, self.rows) ** 1.5
        return np.asarray(top + (self.body.shape.crown + 6.0 - top) * t[:, None])

    @cached_property
    def points(self) -> Floats:
        """Points, shape (rows, around, 3)."""
        return self.body.surface(np.broadcast_to(self.phi, self.levels.shape), self.levels)

    @cached_property
    def cap(self) -> Floats:
        """Points of the incisal or occlusal surface, shape (N, 3)."""
        rim = self.points[0]
        centre = rim.mean(axis=0)
        shares = np.linspace(0, 1, 120)[:, None, None]
        flat = centre + shares * (rim[None] - centre)
        flat[..., 2] = self.body.cap(flat[..., 0], flat[..., 1])
        return np.asarray(flat.reshape(-1, 3))

    def ring(self, height: Floats, level: float) -> Floats:
        """Points of all lines where their ``height`` (rows, around) is ``level``, shape (around, 3); NaN where none is."""
        above = (height[:-1] <= level) & (height[1:] > level)
        row = np.argmax(above, axis=0)
        k = np.arange(self.around)
        low, high = height[row, k], height[row + 1, k]
        share = (level - low) / np.where(high != low, high - low, 1.0)
        found = self.points[row, k] * (1 - share)[:, None] + self.points[row + 1, k] * share[:, None]
        found[~above.any(axis=0)] = np.nan
        return np.asarray(found)


def facial_frame(
    lines: Lines, vertical: Floats | None = None, outward: Floats | None = None, steps: int = 30
) -> ToothFrame:
    """The frame of a tooth in its local coordinates.

    Parameters
    ----------
    lines : Lines
        Its surface.
    vertical : array of shape (3,), optional
        The arch's vertical in local coordinates (apical), for premolars and molars, whose axis seen from the front is that.
    outward : array of shape (3,), optional
        Square to the arch at this tooth, in local coordinates: from where the facial direction is sought. Else the local
        facial direction.
    steps : int
        Axis and facial direction hang on each other: so often they are found again, at most.
    """
    shape = lines.body.shape
    distal, facial, axis = np.eye(3)
    start = facial if outward is None else outward
    every = np.concatenate([lines.points.reshape(-1, 3), lines.cap])
    edge = every[np.argmin(every[:, 2])]
    crown = np.concatenate([lines.points[lines.levels <= shape.crown], lines.cap])
    neck = lines.body.surface(np.array([np.pi / 2]), np.array([shape.crown]))[0]
    middle = width = 0.0
    patches = _patches(lines)
    for _ in range(steps):
        before = np.concatenate([axis, facial])
        across = (crown - edge) @ distal
        middle, width = float(across.max() + across.min()) / 2, float(np.ptp(across))
        edge = _edge(every, edge, distal, axis, middle, shape.position, facial)
        height = float((neck - edge) @ axis)
        across = (crown - edge) @ distal
        middle = float(across.max() + across.min()) / 2
        t = np.linspace(0.2, 0.8, 61)
        along = (lines.points - edge) @ axis
        rings = [lines.ring(along, float(share) * height) for share in t]
        # From the side: the facial profile at mid-width over the middle three fifths.
        depth = np.array([_facial_at(ring - edge, distal, facial, middle) for ring in rings])
        found = np.isfinite(depth)  # between the cusps of a molar the profile begins late
        lean = float(np.polyfit(t[found] * height, depth[found], 1)[0])
        # From the front: midpoints of the outline between 30 and 70 %.
        if vertical is None:
            wanted = (t >= 0.3 - 1e-9) & (t <= 0.7 + 1e-9)
            mids = np.array([_mid(ring - edge, distal) for ring, used in zip(rings, wanted, strict=True) if used])
            tilt = float(np.polyfit(t[wanted] * height, mids, 1)[0])
        else:
            tilt = float(vertical @ distal / (vertical @ axis))
        axis = axis + lean * facial + tilt * distal
        axis /= np.linalg.norm(axis)
        facial = _facial_direction(patches, crown, edge, axis, start, height)
        distal = np.cross(facial, axis)
        if np.abs(np.concatenate([axis, facial]) - before).max() < 2e-6:
            break
    across = (crown - edge) @ distal
    middle, width = float(across.max() + across.min()) / 2, float(np.ptp(across))
    return ToothFrame(edge, axis, facial, distal, middle, width)


def _edge(
    every: Floats, edge: Floats, distal: Floats, axis: Floats, middle: float, position: int, facial: Floats
) -> Floats:
    """Incisors: the most incisal point within 0.3 mm of mid-width; others: the facial cusp tip. Ties are averaged."""
    across, height, forward = (every - edge) @ distal, (every - edge) @ axis, (every - edge) @ facial
    if position <= 2:
        near = np.abs(across - middle) <= 0.3
    elif position == 3:
        near = height < height.min() + 1.0
    else:
        near = (height < height.min() + 2.5) & (forward > -1.5)
    low = height[near].min()
    tied = near & (height < low + 1e-4)
    return np.asarray(every[tied].mean(axis=0))


def _facial_at(ring: Floats, distal: Floats, facial: Floats, middle: float) -> float:
    """How far facially the ring lies at mid-width."""
    across, forward = ring @ distal - middle, ring @ facial
    side = (forward > np.nanmean(forward)) & (np.abs(across) < 1.5)
    order = np.argsort(across[side])
    if side.sum() < 2:
        return float("nan")
    return float(np.interp(0.0, across[side][order], forward[side][order]))


def _mid(ring: Floats, distal: Floats) -> float:
    across = ring @ distal
    return float(np.nanmax(across) + np.nanmin(across)) / 2


def _patches(lines: Lines) -> tuple[Floats, Floats]:
    """Area-weighted normals and middles of the facets of the facial half of the surface."""
    p = lines.points
    n = np.cross(p[:-1, 1:] - p[:-1, :-1], p[1:, :-1] - p[:-1, :-1])
    mid = (p[:-1, 1:] + p[1:, :-1]) / 2
    facial = np.sin(lines.phi[1:]) > 0
    return n[:, facial].reshape(-1, 3), mid[:, facial].reshape(-1, 3)


def _facial_direction(
    patches: tuple[Floats, Floats], crown: Floats, edge: Floats, axis: Floats, start: Floats, height: float
) -> Floats:
    """Mean normal of the middle half (in both senses) of the facial surface, at right angles to the axis.

    The middle half is itself seen along a direction. On a round tooth every direction agrees with itself, so the answer is
    tied down: three steps from ``start``, which is square to the arch.
    """
    normals, middles = patches
    facial = start - (start @ axis) * axis
    facial /= np.linalg.norm(facial)
    away = middles - edge
    # A facet counts by how much of it lies inside: facets are too large to be in or out.
    along = np.clip((height / 4 - np.abs(away @ axis - height / 2)) / _SOFT + 0.5, 0, 1)
    for _ in range(3):
        distal = np.cross(facial, axis)
        across = (crown - edge) @ distal
        middle, width = (across.max() + across.min()) / 2, np.ptp(across)
        weight = along * np.clip((width / 4 - np.abs(away @ distal - middle)) / _SOFT + 0.5, 0, 1)
        total = weight @ normals
        facial = total - (total @ axis) * axis
        facial /= np.linalg.norm(facial)
    return np.asarray(facial)

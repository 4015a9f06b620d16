"""The arch frame from the surface itself, and where each tooth stands in it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from festoon.scan.raw import Floats
from festoon.scan.row import SECTION, Row
from festoon.scan.teeth import LOWER_SLOTS, UPPER_SLOTS, Division, Stretch

_BESIDE = 2.5
"""A tooth nearer than this beside another is its neighbour: they touch, or share a papilla across a small space, mm."""


@dataclass(frozen=True)
class ArchFrame:
    """x to the patient's left, y posterior, z superior, mm, right-handed."""

    from_file: Floats
    """Takes file coordinates (mm) to the arch frame, shape (4, 4)."""
    upper: bool
    pitch_se_deg: float
    """Standard error of the occlusal plane about x, degrees."""
    roll_se_deg: float
    """Standard error of the occlusal plane about y, degrees."""

    @property
    def apical(self) -> Floats:
        """Unit, the arch's vertical towards the roots."""
        return np.array([0.0, 0.0, 1.0 if self.upper else -1.0])

    def to_arch(self, points: Floats) -> Floats:
        """File coordinates (mm) to the arch frame."""
        return np.asarray(points @ self.from_file[:3, :3].T + self.from_file[:3, 3])

    def to_file(self, points: Floats) -> Floats:
        """The arch frame to file coordinates (mm)."""
        return np.asarray((points - self.from_file[:3, 3]) @ self.from_file[:3, :3])

    def moved(self, origin: Floats) -> ArchFrame:
        """The same frame with its origin at a point given in the present frame."""
        matrix = self.from_file.copy()
        matrix[:3, 3] -= origin
        return ArchFrame(matrix, self.upper, self.pitch_se_deg, self.roll_se_deg)


@dataclass(frozen=True)
class Standing:
    """Where one tooth stands, before it has been looked at."""

    stretch: Stretch
    middle: Floats
    """Middle of its stretch on the row's curve at the row's crest, arch frame, shape (3,)."""
    centre: Floats
    """Middle of the crown's volume coronal to the row's section, arch frame, shape (3,)."""
    facial: Floats
    """Unit, square to the arch, horizontal."""
    distal: Floats
    """Unit, along the arch, horizontal."""
    neighbours: tuple[bool, bool]
    """Whether another tooth stands at its mesial and its distal end."""


def frame_of(row: Row, division: Division) -> tuple[ArchFrame, tuple[Standing, ...]]:
    """The arch frame (origin on the middle of the row's crest until the edges are known) and the places of the teeth."""
    upper = division.jaw == "upper"
    sign = 1.0 if upper else -1.0
    across, anterior, occlusal = row.lie.rotation
    across, anterior = _level_across(row, division, across, anterior)
    turn = np.stack([sign * across, -anterior, -sign * occlusal])
    matrix = np.eye(4)
    matrix[:3, :3] = turn
    level = row.level()
    solid = np.maximum(np.where(np.isfinite(row.heights), row.heights, -1e3) - (level - SECTION)[:, None], 0)
    points, facials, centres = [], [], []
    for stretch in division.stretches:
        (point,), (facial,) = row.at(np.array([stretch.middle]))
        height = float(np.interp(stretch.middle, row.places, level))
        points.append(row.lie.back(np.array([*point, height])))
        own = (row.places >= stretch.start) & (row.places <= stretch.end)
        mass = max(float(solid[own].sum()), 1e-9)
        along, aside = solid[own].sum(axis=1) @ row.places[own] / mass, solid[own].sum(axis=0) @ row.aside / mass
        (centre,), _ = row.at(np.array([along]), np.array([aside]))
        centres.append(row.lie.back(np.array([*centre, height])))
        facials.append(row.lie.rotation.T @ np.array([*facial, 0.0]))
    front = [p for p, s in zip(points, division.stretches, strict=True) if s.tooth.position <= 2] or points
    matrix[:3, 3] = -turn @ np.mean(front, axis=0)
    wide = float(np.ptp(row.lie.ridge[:, 0]))
    frame = ArchFrame(matrix, upper, row.lie.plane_se_deg, float(np.degrees(0.35 / max(wide / 2, 5.0))))
    standing = []
    for stretch, point, centre, facial in zip(division.stretches, points, centres, facials, strict=True):
        f = turn @ facial
        along = np.cross(f, [0.0, 0.0, 1.0])  # to the patient's left where f looks forwards
        left = along if along @ np.array([-f[1], f[0], 0.0]) > 0 else -along
        distal = -left if stretch.tooth.is_right else left
        others = [o for o in division.stretches if o is not stretch]
        at_start = any(abs(o.end - stretch.start) < _BESIDE for o in others)
        at_end = any(abs(o.start - stretch.end) < _BESIDE for o in others)
        first_half = stretch.tooth.fdi in (UPPER_SLOTS if upper else LOWER_SLOTS)[:8]
        standing.append(
            Standing(
                stretch,
                frame.to_arch(point),
                frame.to_arch(centre),
                f,
                distal,
                (at_end, at_start) if first_half else (at_start, at_end),
            )
        )
    return frame, tuple(standing)


def _level_across(row: Row, division: Division, across: Floats, anterior: Floats) -> tuple[Floats, Floats]:
    """The two horizontal directions, turned so that left and right teeth of one kind face each other."""
    place = {s.tooth: row.at(np.array([s.middle]))[0][0] for s in division.stretches}
    apart = [p - place[t.contralateral] for t, p in place.items() if t.contralateral in place and t.is_right]
    if not apart:
        return across, anterior
    total = np.sum(apart, axis=0)
    total = total * np.sign(total[0])
    total /= np.linalg.norm(total)
    return total[0] * across + total[1] * anterior, total[0] * anterior - total[1] * across

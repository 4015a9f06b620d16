"""Millimetres without a scan: known widths, and an arch whose teeth turn away from the camera as front teeth do.

A width in the picture is the scale times what a tooth shows of itself: less, the more it turns away. One known width gives the
scale and leaves the turns to what is usual, with its spread; several known widths tell of the turns themselves, for teeth that show less than
their known widths say are turned. Everything is solved together by least squares and its error read from the Jacobian.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from festoon.model.dentition import Pair, Tooth, as_seen
from festoon.photo.crown import PixelCrown
from festoon.photo.scale import KnownLength, scale_from

Floats = NDArray[np.float64]

_TURN_DEG = {1: 3.0, 2: 30.0, 3: 55.0, 4: 58.0, 5: 62.0, 6: 68.0, 7: 72.0, 8: 75.0}
"""Facial directions from straight ahead by position. From memory; one real person's incisors are 3, 4, 30 and 31 degrees."""
_TURN_SPREAD, _TURN_OWN_DEG = 0.10, 5.5
"""Spread of all turns together (as a share) and of each by itself, degrees. Settings, from memory."""
_BULGE = {1: 0.22, 2: 0.26, 3: 0.36, 4: 0.40, 5: 0.40, 6: 0.35, 7: 0.35, 8: 0.35}
"""The facial surface lies this share of the width before the contacts. From memory."""
_BULGE_SPREAD = 0.3
_YAW_DEG = 5.0
"""Spread of the camera's turn to a side in a photograph meant to be frontal, degrees (common practice, no source)."""
_DISTANCE_MM, _DISTANCE_LN = 300.0, 0.4
"""Usual distance of the camera and the spread of its logarithm (common practice, no source; ERR-033 asks for 240 mm at least)."""
_HELD_MM = 2.0
"""How far before or behind its said place a ruler or a marker is held, mm (a setting, no source)."""
_ANY_WIDTH_MM, _ANY_WIDTH_SPREAD = 7.5, 4.0
"""An unknown width is hardly held at all."""
_LEAN_DEG, _LEAN_SPREAD_DEG, _PITCH_DEG = 5.0, 5.0, 7.0
"""Lean of a facial axis (one real person: 4 to 8), its spread, and the spread of the camera's pitch over the occlusal plane (no source)."""
_SIDE_MM = 0.07
"""What an outline's side and a contact differ by, mm, besides the mark itself (seen on synthetic mouths)."""
_APART = 2.0
"""Combined standard errors beyond which two sources are reported as disagreeing."""


@dataclass(frozen=True)
class KnownWidth:
    """A width measured on the person."""

    tooth: Tooth
    mm: float
    se_mm: float


@dataclass(frozen=True)
class ToothScale:
    """What one tooth's pixels are in millimetres."""

    width_mm: float | None
    """Corrected for its turn; None where it is the only thing known: it would be given back, not measured."""
    width_se_mm: float
    mm_per_px: float
    """Along the tooth, corrected for distance and for the usual lean."""
    relative_se: float
    ratio: float
    """Width over length, both corrected alike."""
    ratio_se: float
    """Without the marks' own part along the tooth."""
    middle_px: float
    """The facial midline lies so far distal of the mid-width that is seen: a turned tooth shows its middle aside."""
    middle_se_px: float
    turn_deg: float
    """Between the facial direction and the camera, sideways."""
    turn_se_deg: float


@dataclass(frozen=True)
class ArchScale:
    """Scale of every tooth of a picture."""

    teeth: Mapping[Tooth, ToothScale]
    yaw_deg: float
    """Of the camera, positive from the patient's left; as the upper teeth say where both jaws are measured."""
    yaw_se_deg: float
    conflicts: tuple[str, ...]
    notes: tuple[str, ...]


def arch_scale(
    crowns: Mapping[Tooth, PixelCrown], known: Sequence[KnownWidth], lengths: Sequence[KnownLength], mark_se: float
) -> ArchScale | None:
    """Solve scale, turn of the camera and turns of the teeth together.

    Parameters
    ----------
    crowns : mapping of Tooth to PixelCrown
    known : sequence of KnownWidth
        Of teeth among ``crowns``.
    lengths : sequence of KnownLength
        Rulers, probes and markers.
    mark_se : float
        Standard error of one mark, pixels.

    Returns
    -------
    ArchScale or None
        None where nothing is known: there are no millimetres then.
    """
    parts = [
        _jaw_scale(jaw, own, lengths, mark_se)
        for jaw in _jaws(crowns)
        if (own := [k for k in known if k.tooth in jaw]) or lengths
    ]
    if not parts:
        return None
    teeth = {tooth: one for part in parts for tooth, one in part.teeth.items()}
    conflicts = tuple(text for part in parts for text in part.conflicts)
    notes = tuple(dict.fromkeys(text for part in parts for text in part.notes))
    return ArchScale(teeth, parts[0].yaw_deg, parts[0].yaw_se_deg, conflicts, notes)


def _jaws(crowns: Mapping[Tooth, PixelCrown]) -> list[dict[Tooth, PixelCrown]]:
    """Upper and lower teeth apart: each jaw is an arch of its own."""
    jaws = ({t: c for t, c in crowns.items() if t.is_upper == upper} for upper in (True, False))
    return [jaw for jaw in jaws if jaw]


def _jaw_scale(
    crowns: Mapping[Tooth, PixelCrown], known: Sequence[KnownWidth], lengths: Sequence[KnownLength], mark_se: float
) -> ArchScale:
    whole = _Fit(crowns, known, lengths, mark_se)
    teeth, conflicts = {}, []
    for tooth in crowns:
        others = [k for k in known if k.tooth != tooth]
        own = next((k for k in known if k.tooth == tooth), None)
        width: tuple[float, float] | None = whole.width(tooth)
        if own is not None:  # the photograph's own word on a known width is that without it
            width = _Fit(whole.crowns, others, lengths, mark_se).width(tooth) if others or lengths else None
            if width is not None and abs(width[0] - own.mm) > _APART * np.hypot(width[1], own.se_mm):
                conflicts.append(
                    f"{tooth}: {own.mm:.2f} mm was given, {width[0]:.2f} +/- {width[1]:.2f} mm is what the other known lengths make of it"
                )
        along, relative = whole.along(tooth)
        turn, turn_se = whole.turn(tooth)
        lean, lean_se = _lean()
        teeth[tooth] = ToothScale(
            width[0] if width else None,
            width[1] if width else 0.0,
            along * lean,
            float(np.hypot(relative, lean_se / lean)),
            *whole.ratio(tooth),
            *whole.middle(tooth),
            turn,
            turn_se,
        )
    notes = []
    if len(known) < 3:
        notes.append(
            "turns of the teeth are the usual ones, not measured: give the widths of more teeth, or a scan, to know them"
        )
    notes.append(
        "the pitch of the head cannot be known from this photograph: a pitch of 15 degrees shortens a length by 3 %; "
        "the standard error allows for 7 degrees"
    )
    return ArchScale(teeth, *whole.yaw(), tuple(conflicts), tuple(notes))


def arch_ratios(crowns: Mapping[Tooth, PixelCrown], mark_se: float) -> dict[Tooth, tuple[float, float]]:
    """Width over length of each tooth without a scale: nearly nothing of it hangs on the size, and some on turn and pitch."""
    out: dict[Tooth, tuple[float, float]] = {}
    for jaw in _jaws(crowns):
        any_size = KnownWidth(min(jaw, key=lambda t: t.position), _ANY_WIDTH_MM, 1.0)
        fit = _Fit(jaw, [any_size], [], mark_se)
        out |= {tooth: fit.ratio(tooth) for tooth in jaw}
    return out


def _lean() -> tuple[float, float]:
    """Mean and spread of 1 / cosine of the angle between a facial axis and the picture."""
    spread = np.hypot(_LEAN_SPREAD_DEG, _PITCH_DEG)
    at = np.radians(_LEAN_DEG + spread * np.linspace(-3, 3, 121))
    weight = np.exp(-0.5 * np.linspace(-3, 3, 121) ** 2)
    mean = float(np.average(1 / np.cos(at), weights=weight))
    return mean, float(np.sqrt(np.average((1 / np.cos(at) - mean) ** 2, weights=weight)))


class _Fit:
    """Parameters: ln scale, yaw, all turns together, ln distance; then of each tooth its turn, width and bulge."""

    def __init__(
        self,
        crowns: Mapping[Tooth, PixelCrown],
        known: Sequence[KnownWidth],
        lengths: Sequence[KnownLength],
        mark_se: float,
    ) -> None:
        self.crowns = crowns
        self._order = list(crowns)
        self._px = np.array([c.width for c in crowns.values()])
        self._marks_px = np.array([c.mark_se for c in crowns.values()])
        self._known, self._lengths, self._mark_se = known, lengths, mark_se
        n = len(self._order)
        self._borders = [
            (k, j, pair.site_of(a).value, pair.site_of(b).value)
            for k, a in enumerate(self._order)
            for j, b in enumerate(self._order)
            if a.is_neighbour_of(b)
            for pair in [Pair(*as_seen((a, b)))]
        ]
        self._side = np.array([-1.0 if t.is_right else 1.0 for t in self._order])
        self._usual = np.radians([_TURN_DEG[t.position] for t in self._order])
        self._bulge = np.array([_BULGE[t.position] for t in self._order])
        start = np.concatenate(
            [[self._first_scale(), 0.0, 1.0, 0.0], np.zeros(n), np.full(n, _ANY_WIDTH_MM), np.zeros(n)]
        )
        for k in known:
            start[4 + n + self._order.index(k.tooth)] = k.mm
        found = least_squares(self._residuals, start, method="lm")
        self._at = found.x
        self._cov = np.linalg.inv(found.jac.T @ found.jac)

    def width(self, tooth: Tooth) -> tuple[float, float]:
        """Width and its standard error, mm."""
        n = len(self._order)
        k = 4 + n + self._order.index(tooth)
        return float(self._at[k]), float(np.sqrt(self._cov[k, k]))

    def along(self, tooth: Tooth) -> tuple[float, float]:
        """mm per pixel at the facial surface of a tooth, and its relative standard error."""
        k = self._order.index(tooth)
        value, se = self._propagated(lambda p: float(np.log(self._at_surface(p)[k])))
        return float(np.exp(value)), se

    def ratio(self, tooth: Tooth) -> tuple[float, float]:
        """Width over length, and standard error."""
        k, n = self._order.index(tooth), len(self._order)
        value, se = self._propagated(lambda p: float(np.log(p[4 + n + k] / self._at_surface(p)[k])))
        lean, lean_se = _lean()
        ratio = float(np.exp(value)) / lean / self.crowns[tooth].length
        return ratio, ratio * float(np.hypot(se, lean_se / lean))

    def turn(self, tooth: Tooth) -> tuple[float, float]:
        """Degrees between facial direction and camera, distal positive."""
        k = self._order.index(tooth)
        value, se = self._propagated(lambda p: float(self._turns(p)[1][k]))
        return float(np.degrees(value)), float(np.degrees(se))

    def middle(self, tooth: Tooth) -> tuple[float, float]:
        """Pixels by which the facial midline lies distal of the seen mid-width, and standard error."""
        k = self._order.index(tooth)

        def shift(p: Floats) -> float:
            mesial, distal, facial = self._ends(p)
            return float(self._per_mm(p)[k] * (facial[k] - (mesial[k] + distal[k]) / 2))

        return self._propagated(shift)

    def yaw(self) -> tuple[float, float]:
        """Degrees, and standard error."""
        return float(np.degrees(self._at[1])), float(np.degrees(np.sqrt(self._cov[1, 1])))

    def _propagated(self, value: Callable[[Floats], float]) -> tuple[float, float]:
        step = 1e-5
        slope = np.array(
            [(value(self._at + d) - value(self._at - d)) / (2 * step) for d in step * np.eye(len(self._at))]
        )
        return value(self._at), float(np.sqrt(slope @ self._cov @ slope))

    def _first_scale(self) -> float:
        px = {t: c.width for t, c in self.crowns.items()}
        se = 2 * self._mark_se
        known = [
            KnownLength(k.tooth.fdi, k.mm, k.se_mm, px[k.tooth] / np.cos(np.radians(_TURN_DEG[k.tooth.position])), se)
            for k in self._known
        ]
        scale = scale_from([*known, *self._lengths])
        if scale is None:
            raise ValueError("no known length: nothing can be solved")
        return float(-np.log(scale.mm_per_px))

    def _parts(self, p: Floats) -> tuple[Floats, Floats, Floats]:
        n = len(self._order)
        return p[4 : 4 + n], p[4 + n : 4 + 2 * n], p[4 + 2 * n :]

    def _turns(self, p: Floats) -> tuple[Floats, Floats]:
        """Turn of each tooth in the arch and to the camera, distal positive, radians."""
        own, _, _ = self._parts(p)
        turn = p[2] * self._usual + own
        return turn, turn - self._side * p[1]

    def _places(self, p: Floats) -> Floats:
        """Depth of the middle of each tooth's contacts behind those of the midline, mm."""
        turn, _ = self._turns(p)
        _, width, _ = self._parts(p)
        out = np.zeros((len(self._order), 2))
        for right in (True, False):
            mine = sorted(
                (k for k, t in enumerate(self._order) if t.is_right == right), key=lambda k: self._order[k].position
            )
            at, before = np.zeros(2), 0
            for k in mine:
                gap = self._order[k].position - before - 1  # unmarked teeth between: as wide and turned as this one
                step = width[k] * np.array([np.cos(turn[k]), np.sin(turn[k])])
                out[k] = (at + (gap + 0.5) * step) * [self._side[k], 1]
                at, before = at + (gap + 1) * step, self._order[k].position
        return np.asarray(out[:, 1] * np.cos(p[1]) - out[:, 0] * np.sin(p[1]))

    def _at_surface(self, p: Floats) -> Floats:
        """mm per pixel at the facial surfaces."""
        _, to_camera = self._turns(p)
        _, width, more = self._parts(p)
        bulge = self._bulge * (1 + more) * width
        depth = self._places(p) - bulge * np.cos(to_camera) + _BULGE[1] * _ANY_WIDTH_MM
        return np.asarray(np.exp(-p[0]) * (1 + depth / (_DISTANCE_MM * np.exp(p[3]))))

    def _ends(self, p: Floats) -> tuple[Floats, Floats, Floats]:
        """Where each tooth's seen mesial and distal end and its facial middle lie from the middle of its contacts, mm in the picture."""
        _, phi = self._turns(p)
        _, width, more = self._parts(p)
        half = width / 2 * np.cos(phi)
        bulge = self._bulge * (1 + more) * width
        over = np.sqrt(half**2 + (bulge * np.sin(phi)) ** 2) - half  # the surface swells past the contact
        swells = {"distal": np.where(phi > 0, over, 0.0), "mesial": np.where(phi < 0, over, 0.0)}
        distal, mesial = half + swells["distal"], half + swells["mesial"]
        for k, j, mine, theirs in self._borders:  # what a neighbour swells past the contact, it hides of this tooth
            (distal if mine == "distal" else mesial)[k] -= swells[theirs][j]
        return -mesial, distal, bulge * np.sin(phi)

    def _per_mm(self, p: Floats) -> Floats:
        """Pixels per mm at the contacts of each tooth."""
        depth = self._places(p) + _BULGE[1] * _ANY_WIDTH_MM
        return np.asarray(np.exp(p[0]) / (1 + depth / (_DISTANCE_MM * np.exp(p[3]))))

    def _shown(self, p: Floats) -> Floats:
        """Pixels of width that each tooth should show."""
        mesial, distal, _ = self._ends(p)
        return np.asarray(self._per_mm(p) * (distal - mesial))

    def _residuals(self, p: Floats) -> Floats:
        own, width, more = self._parts(p)
        se = np.sqrt(2) * np.hypot(self._marks_px, _SIDE_MM * np.exp(p[0]))
        parts = [
            (self._px - self._shown(p)) / se,
            own / np.radians(_TURN_OWN_DEG),
            more / _BULGE_SPREAD,
            np.array([p[1] / np.radians(_YAW_DEG), (p[2] - 1) / _TURN_SPREAD, p[3] / _DISTANCE_LN]),
            (width - _ANY_WIDTH_MM) / _ANY_WIDTH_SPREAD,
            np.array([(width[self._order.index(k.tooth)] - k.mm) / k.se_mm for k in self._known]),
        ]
        for k in self._lengths:
            made = k.length_mm * np.exp(p[0]) / (1 + k.behind_mm / (_DISTANCE_MM * np.exp(p[3])))
            error = np.sqrt(k.relative_se**2 + (_HELD_MM / _DISTANCE_MM) ** 2) * k.length_px
            parts.append(np.array([(k.length_px - made) / error]))
        return np.concatenate(parts)

"""Places on a traced tooth: zenith, midfacial and line-angle margin, papilla tips, in the tooth's own coordinates."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from festoon.kernels.tooth_frame import ToothFrame
from festoon.model.dentition import Pair, Site
from festoon.scan.raw import Floats
from festoon.scan.tooth import ScannedTooth
from festoon.scan.trace import TracedArch

LINE_ANGLE_SHARE = 0.3
"""Mesiofacial and distofacial lie this share of the crown's width from mid-width."""
_AROUND = 0.8
"""The zenith is the top of a curve fitted to the margin this far on either side, mm."""


@dataclass(frozen=True)
class Zenith:
    """The most apical point of the facial margin."""

    offset: float
    """Distance distal of mid-width, mm."""
    level: float
    forward: float
    """Facial coordinate, mm."""
    bend: float
    """Second derivative of the level at the top, 1/mm (negative): how sharply the zenith stands out."""


def zenith(tooth: ScannedTooth, frame: ToothFrame | None = None) -> Zenith:
    """The zenith in a frame of the tooth, its own by default; where a person set it, there."""
    held = tooth.by_hand.at("zenith")
    at = (frame or tooth.frame).coordinates(tooth.facial.curve)
    inner = np.flatnonzero(np.abs(at[:, 0]) < 0.35 * tooth.frame.width)
    inner = inner if len(inner) > 5 else np.arange(len(at))
    k = inner[np.argmax(at[inner, 2])]
    if held is not None:
        k = int(np.argmin(np.linalg.norm(tooth.facial.curve - held, axis=1)))
    near = np.abs(at[:, 0] - at[k, 0]) < _AROUND
    x = at[near, 0] - at[k, 0]
    fit = np.polynomial.Polynomial.fit(x, at[near, 2], 3 if near.sum() > 8 else 1)
    every = np.linspace(x.min(), x.max(), 401)
    top = every[np.argmax(fit(every))]
    bend = float(fit.deriv(2)(top)) if near.sum() > 8 else 0.0
    if held is not None:
        across, forward, level = (float(v) for v in (frame or tooth.frame).coordinates(held))
        return Zenith(across, level, forward, bend)
    return Zenith(float(at[k, 0] + top), float(fit(top)), float(at[k, 1]), bend)


def crossing(
    tooth: ScannedTooth, across: float, lingual: bool = False, frame: ToothFrame | None = None
) -> Floats | None:
    """Tooth coordinates of the margin ``across`` distal of mid-width; None where the curve does not reach."""
    side = tooth.lingual if lingual else tooth.facial
    if side is None:
        return None
    at = (frame or tooth.frame).coordinates(side.curve)
    order = np.argsort(at[:, 0])
    at = at[order]
    if not at[0, 0] <= across <= at[-1, 0]:
        return None
    near = np.abs(at[:, 0] - across) < 0.4
    if near.sum() < 4:
        return np.array([np.interp(across, at[:, 0], at[:, k]) for k in range(3)])
    # A short straight piece: less noise than one point, no rounding of the curve to speak of.
    there = np.polynomial.polynomial.polyfit(at[near, 0] - across, at[near, 1:], 2)[0]
    return np.array([across, *there])


@dataclass(frozen=True)
class Papilla:
    """One papilla tip, read on both of its teeth."""

    pair: Pair
    tip: Floats
    """Mean of both readings, arch frame, shape (3,)."""
    apart: float
    """Distance of the two readings along the arch's vertical, mm."""
    by_hand: bool
    """A person set it."""


def papillae(arch: TracedArch) -> tuple[Papilla, ...]:
    """The papilla tips between traced neighbours."""
    out = []
    for pair in arch.pairs:
        right, left = arch.teeth[pair.right], arch.teeth[pair.left]
        ends, held = [], []
        for tooth in (right, left):
            mesial = pair.site_of(tooth.tooth) is Site.MESIAL
            if tooth.standing.neighbours[0 if mesial else 1] and not tooth.bare:
                ends.append(tooth.facial.curve[0 if mesial else -1])
            point = tooth.by_hand.at("mesial_papilla" if mesial else "distal_papilla")
            held += [] if point is None else [point]
        if held:
            out.append(Papilla(pair, np.mean(held, axis=0), 0.0, True))
        elif ends:
            apart = abs(float((ends[0] - ends[-1]) @ arch.frame.apical))
            out.append(Papilla(pair, np.mean(ends, axis=0), apart, False))
    return tuple(out)

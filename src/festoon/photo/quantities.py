"""From marked crowns to readings without a scan: millimetres where something is known, else ratios alone."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from festoon.model.dentition import Site, Tooth
from festoon.model.quantities import Quantity, QuantityReading
from festoon.model.reading import Datum, Method
from festoon.photo.arch import ArchScale, ToothScale, arch_ratios
from festoon.photo.crown import PixelCrown, upright_of
from festoon.photo.marks import Marks

Floats = NDArray[np.float64]

AXIS_SE = {1: 2.3, 2: 4.0, 3: 4.0}
"""Standard error of the axis seen from the front, degrees, by position; 5 degrees further back (seen on synthetic mouths)."""
_TURNED_AWAY = 40.0
"""A tooth turned further from the camera than this is flagged, degrees: little of it is seen."""
_TIP_MM = (0.60, 0.42, 0.62)
"""Papilla tip in a picture against that of a straight facial view, mm, by how many teeth of its side lie before it, the last for all behind: between centrals
an embrasure is most often open, and the contact is then taken for the tip; behind a lateral the tip is seen aslant (seen on synthetic mouths)."""
_RECEDES_MM, _RECEDES_SPREAD_MM = 0.65, 0.3
"""The margin lies so far behind the surface at mid-crown; of a tooth turned away it is seen aside by the tangent of its turn (synthetic mouths)."""
_LEAN, _LEAN_SPREAD = -0.09, 0.15
"""Tangent of a facial axis's lean outwards, apically, as the camera sees it, and its spread with that of the pitch: 5 and 8.6 degrees, as for lengths."""
_TIP, _TIP_SPREAD = {1: 0.05, 2: 0.10, 3: 0.10}, 0.10
"""Tangent of an axis's tip, apical end distal positive, by position, and its spread (from memory; 3, 6 and 6 degrees, 6 each)."""
UNTOLD_MM = 1.5
"""A reading with a larger standard error than this says nothing and is left out, mm."""


def tell_reading(
    tooth: Tooth | None,
    quantity: Quantity,
    value: float,
    se: float,
    *,
    by: str | None,
    site: Site | None = None,
    flag: str | None = None,
) -> QuantityReading:
    """A reading of a photograph, rounded to what a file should hold."""
    return QuantityReading(
        tooth=tooth.fdi if tooth else None,
        site=site,
        quantity=quantity,
        value=round(value, 3),
        unit=quantity.unit,
        se=round(max(se, 0.001), 3),
        method=Method.PHOTO,
        datum=Datum.PRESENT_EDGE if quantity.is_level else None,
        by=by,
        flag=flag or None,
    )


def axis_se(tooth: Tooth) -> float:
    """Radians."""
    return float(np.radians(AXIS_SE.get(tooth.position, 5.0)))


def readings_without_scan(
    crowns: Mapping[Tooth, PixelCrown], marks: Marks, scale: ArchScale | None
) -> tuple[QuantityReading, ...]:
    """Readings of every marked crown.

    Parameters
    ----------
    crowns : mapping of Tooth to PixelCrown
    marks : Marks
    scale : ArchScale or None
        None: nothing is known in millimetres; then only the ratios are given.
    """
    if marks.view == "rest":
        return ()
    out: list[QuantityReading] = []
    ratios = arch_ratios(crowns, marks.mark_se) if scale is None else {}
    for tooth, crown in crowns.items():
        if not is_whole(crown, marks):
            continue
        own = 2**0.5 * crown.mark_se / crown.length
        if scale is None:
            if tooth in ratios:
                ratio, se = ratios[tooth]
                flag = "no scale: corrected for the usual turn of the tooth; pitch and turn of the camera are not known"
                out.append(
                    tell_reading(
                        tooth, Quantity.CROWN_RATIO, ratio, float(np.hypot(se, ratio * own)), by=marks.by, flag=flag
                    )
                )
        elif tooth in scale.teeth:
            out += _of_tooth(crown, marks, scale.teeth[tooth], upright_of(marks))
    return tuple(out)


def is_whole(crown: PixelCrown, marks: Marks) -> bool:
    """False where the lip covers the margin: what is seen then is no crown."""
    if marks.lip_line is None:
        return marks.view == "retracted"
    lip = lip_level(crown, marks)
    return lip is not None and lip > crown.length + 2 * crown.mark_se


def lip_level(crown: PixelCrown, marks: Marks) -> float | None:
    """Level in pixels at which the lip line crosses the crown's midline; None where it does not reach over the tooth."""
    line = np.array(marks.lip_line or (), dtype=float).reshape(-1, 2)
    across = np.array([crown.across(p) for p in line])
    level = np.array([crown.level(p) for p in line])
    cut = np.flatnonzero((across[:-1] < 0) != (across[1:] < 0))
    if not len(cut):
        return None
    a, b = across[cut], across[cut + 1]
    return float((level[cut] + (level[cut + 1] - level[cut]) * a / (a - b)).min())


def _of_tooth(crown: PixelCrown, marks: Marks, scale: ToothScale, upright: Floats) -> list[QuantityReading]:
    tooth, mark = crown.tooth, crown.mark_se * scale.mm_per_px
    flags = []
    if abs(scale.turn_deg) > _TURNED_AWAY:
        flags.append(f"turned {scale.turn_deg:.0f} +/- {scale.turn_se_deg:.0f} degrees from the camera")
    if crown.outline is None:
        flags.append("from single points")
    flag = "; ".join(flags)
    up = upright if tooth.is_upper else -upright
    turned = 1 / max(float(np.cos(np.radians(scale.turn_deg))), 0.2)
    out: list[QuantityReading] = []

    def say(quantity: Quantity, value: float, se: float, site: Site | None = None) -> None:
        if se > UNTOLD_MM:
            return
        out.append(tell_reading(tooth, quantity, value, se, by=marks.by, site=site, flag=flag))

    def level(px: float, across_px: float, own: float) -> tuple[float, float]:
        value = px * scale.mm_per_px
        lever = (across_px - scale.middle_px) * scale.mm_per_px * turned * axis_se(tooth)
        return value, float(np.sqrt((value * scale.relative_se) ** 2 + 2 * mark**2 + lever**2 + own**2))

    if scale.width_mm is not None:
        say(Quantity.CROWN_WIDTH, scale.width_mm, scale.width_se_mm)
    length, length_se = level(crown.length, crown.across(crown.zenith), 0.0)
    say(Quantity.CROWN_LENGTH, length, length_se)
    own = 2**0.5 * crown.mark_se / crown.length
    say(Quantity.CROWN_RATIO, scale.ratio, float(np.hypot(scale.ratio_se, scale.ratio * own)))
    aside = float(np.tan(np.radians(min(max(scale.turn_deg, -75), 75))))
    offset = (crown.across(crown.zenith) - scale.middle_px) * scale.mm_per_px * turned + _RECEDES_MM * aside
    lean = axis_se(tooth) * length
    wide = abs(aside) * np.radians(scale.turn_se_deg) * abs(offset)
    middle = abs(aside) * _RECEDES_SPREAD_MM  # mid-width as seen is not that of the tooth
    spread = crown.zenith_spread / 3**0.5 * scale.mm_per_px * turned  # anywhere along it alike
    say(Quantity.ZENITH_OFFSET, offset, float(np.sqrt(lean**2 + wide**2 + middle**2 + spread**2)))
    here = crown.margin_at(scale.middle_px)
    if here is not None:
        beside = [v for d in (-0.05, 0.05) if (v := crown.margin_at(scale.middle_px + d * crown.width)) is not None]
        slope = abs(beside[1] - beside[0]) / (0.1 * crown.width) if len(beside) == 2 else 0.0
        say(Quantity.MARGIN_LEVEL, *level(here, scale.middle_px, slope * (lean + middle) / turned), Site.MIDFACIAL)
    for site, tip in crown.tips.items():
        before = tooth.position - (1 if site is Site.MESIAL else 0)
        tip_se = _TIP_MM[min(before, len(_TIP_MM) - 1)]
        shift, shift_se = _slanting(crown, crown.across(tip) * scale.mm_per_px * turned, scale, up)
        value, se = level(crown.level(tip), crown.across(tip), float(np.hypot(tip_se, shift_se)))
        value -= shift
        say(Quantity.MARGIN_LEVEL, value, se, site)
        lever = (crown.across(tip) - scale.middle_px) * scale.mm_per_px * turned * axis_se(tooth)
        apart = np.sqrt(2 * mark**2 + tip_se**2 + shift_se**2 + lever**2 + ((length - value) * scale.relative_se) ** 2)
        say(Quantity.PAPILLA_HEIGHT, length - value, float(apart), site)
    return out


def _slanting(crown: PixelCrown, across_mm: float, scale: ToothScale, up: Floats) -> tuple[float, float]:
    """By how much a point beside the midline is read too apical, since lines across a turned tooth are not square to its axis in the picture; and error.

    Of a tooth turned by phi, leaning outwards by tau and tipped distally by psi (tangents), the axis is seen with the slope
    ``s = psi cos phi + tau sin phi`` and a line across the tooth with the slope ``-psi / cos phi``, so that a point a mm distal on it is seen
    ``a tan phi (tau - s sin phi)`` further along the axis. The slope is seen; tau follows from it and from what is usual of both.
    """
    phi = np.radians(min(max(scale.turn_deg, -75), 75))
    sine, cosine = float(np.sin(phi)), float(np.cos(phi))
    slope = float(crown.axis @ crown.distal_of(up)) / max(float(crown.axis @ up), 0.5)
    left_over = slope - _TIP.get(crown.tooth.position, 0.1) * cosine - _LEAN * sine
    noise = (_TIP_SPREAD * cosine) ** 2 + axis_se(crown.tooth) ** 2
    gain = _LEAN_SPREAD**2 * sine / (_LEAN_SPREAD**2 * sine**2 + noise)
    lean = _LEAN + gain * left_over
    lean_se = _LEAN_SPREAD * float(np.sqrt(max(1 - gain * sine, 0.0)))
    lever = across_mm * sine / cosine
    return lever * (lean - slope * sine), abs(lever) * lean_se

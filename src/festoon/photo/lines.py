"""What lines across the face say: cant, midline shift, lip line, gingival display, display at rest."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from festoon.model.dentition import Tooth
from festoon.model.quantities import Quantity, QuantityReading
from festoon.photo.crown import PixelCrown
from festoon.photo.marks import Marks
from festoon.photo.quantities import lip_level, tell_reading

Floats = NDArray[np.float64]

_HORIZONTAL_SE_DEG = 0.7
"""What the horizontal's marks and a turned head leave of a cant, degrees (common practice, no source)."""
_LIP_BEFORE_MM, _PITCH_DEG, _YAW_DEG = 4.0, 7.0, 5.0
"""The lip lies before the teeth: pitch shifts it against them (no source)."""
_FACE_BEFORE_MM = 10.0
"""Points of the facial midline lie before or behind the teeth by about this, so yaw shifts them (no source)."""


def readings_of_lines(
    crowns: Mapping[Tooth, PixelCrown], marks: Marks, mm_per_px: Mapping[Tooth, tuple[float, float]]
) -> tuple[QuantityReading, ...]:
    """Readings of the lines that were marked.

    Parameters
    ----------
    crowns : mapping of Tooth to PixelCrown
    marks : Marks
    mm_per_px : mapping of Tooth to (mm per pixel, relative standard error)
        Along each tooth; empty without a scale: then the cant alone is given.
    """
    out: list[QuantityReading] = []
    if marks.horizontal is not None:
        out += _cant(crowns, marks)
    if marks.midline is not None:
        out += _midline(crowns, marks, mm_per_px)
    if marks.lip_line is not None and marks.view != "retracted":
        for tooth, crown in crowns.items():
            if tooth in mm_per_px:
                out += _lip(crown, marks, *mm_per_px[tooth])
    return tuple(out)


def _cant(crowns: Mapping[Tooth, PixelCrown], marks: Marks) -> list[QuantityReading]:
    pairs = [(t, t.contralateral) for t in crowns if t.is_right and t.contralateral in crowns]
    if not pairs or marks.horizontal is None:
        return []
    right, left = max(pairs, key=lambda p: (p[0].is_upper, min(p[0].position, 3)))
    across = crowns[left].edge - crowns[right].edge
    a, b = (np.array(p) for p in sorted(marks.horizontal))
    level = np.degrees(np.arctan2(-(b - a)[1], (b - a)[0]))
    angle = float(np.degrees(np.arctan2(-across[1], across[0])) - level)
    own = np.degrees(2**0.5 * marks.mark_se * np.hypot(1 / np.linalg.norm(across), 1 / np.linalg.norm(b - a)))
    flag = f"edges of {right} and {left}"
    return [
        tell_reading(
            None, Quantity.OCCLUSAL_CANT, angle, float(np.hypot(own, _HORIZONTAL_SE_DEG)), by=marks.by, flag=flag
        )
    ]


def _midline(
    crowns: Mapping[Tooth, PixelCrown], marks: Marks, mm_per_px: Mapping[Tooth, tuple[float, float]]
) -> list[QuantityReading]:
    for right, left in ((Tooth("11"), Tooth("21")), (Tooth("41"), Tooth("31"))):
        if right in mm_per_px and left in mm_per_px:
            contact = (crowns[right].sides[0] + crowns[left].sides[0]) / 2
            points = np.array(marks.midline, dtype=float)
            middle = points.mean(axis=0)
            down = np.linalg.svd(points - middle)[2][0]
            down = down if down[1] > 0 else -down
            px = float((contact - middle) @ np.array([down[1], -down[0]]))
            mm, relative = mm_per_px[right]
            se = np.sqrt(
                (px * mm * relative) ** 2
                + 3 * (marks.mark_se * mm) ** 2
                + (_FACE_BEFORE_MM * np.sin(np.radians(_YAW_DEG))) ** 2
            )
            flag = "points of the facial midline lie before the teeth: a turn of the head by 5 degrees shifts them by 0.9 mm"
            return [tell_reading(None, Quantity.MIDLINE_SHIFT, px * mm, float(se), by=marks.by, flag=flag)]
    return []


def _lip(crown: PixelCrown, marks: Marks, mm: float, relative: float) -> list[QuantityReading]:
    found = lip_level(crown, marks)
    if found is None:
        return []
    shift = _LIP_BEFORE_MM * np.sin(np.radians(_PITCH_DEG))

    def se(px: float) -> float:
        return float(np.sqrt((px * mm * relative) ** 2 + 2 * (crown.mark_se * mm) ** 2 + shift**2))

    if marks.view == "rest":
        return [tell_reading(crown.tooth, Quantity.REST_DISPLAY, found * mm, se(found), by=marks.by)]
    out = [tell_reading(crown.tooth, Quantity.LIP_LEVEL, found * mm, se(found), by=marks.by)]
    over = found - crown.length
    if over > 2 * crown.mark_se:  # else the margin lies under the lip and nobody sees by how much
        out.append(tell_reading(crown.tooth, Quantity.GINGIVAL_DISPLAY, over * mm, se(over), by=marks.by))
    return out

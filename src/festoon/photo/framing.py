"""Whether a picture is the whole frame of its camera: only then is the middle of the picture where the camera looked, and the focal length that of the file.

A pose is solved with the camera's axis through the middle of the picture. A part cut out has its axis elsewhere. Nothing in the pixels tells; what the
file says of its sides does, or their ratio.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from math import hypot, isfinite
from numbers import Real
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL import Image

_EXIF_IFD = 0x8769
_WIDTH, _HEIGHT = 0xA002, 0xA003
_FOCAL, _FOCAL_35 = 0x920A, 0xA405
_PER_UNIT_X, _PER_UNIT_Y, _UNIT = 0xA20E, 0xA20F, 0xA210
_UNIT_MM = {2: 25.4, 3: 10.0, 4: 1.0}
"""Exif 2.32, FocalPlaneResolutionUnit: inch, centimetre, millimetre."""
_FILM_MM = 43.27
"""Diagonal of the film to which the equivalent focal length refers, mm (24 x 36)."""
_USUAL = (4 / 3, 3 / 2, 16 / 9, 1.0)
"""Sides of frames by cameras' own settings; each is cut about the middle (from memory)."""
_ALIKE = 0.01
"""Ratios of sides nearer than this share are one: rows are cut to whole blocks."""
_SMALLER = 0.94
"""A picture whose diagonal on the sensor is less than this share of what both focal lengths say is a part of the frame."""


class Framing(Enum):
    """How much of its camera's frame a picture is."""

    WHOLE = "whole"
    UNKNOWN = "unknown"
    """Nothing says that it is a part, and nothing that it is the whole."""
    PART = "part"


MIDDLE_SPREAD = {Framing.WHOLE: 0.01, Framing.UNKNOWN: 0.04, Framing.PART: 0.2}
"""Spread of the place where the camera's axis meets the picture about its middle, as a share of its longer side (settings, no source)."""


@dataclass(frozen=True)
class Framed:
    """How a picture was framed, and by what that is known, in words."""

    framing: Framing
    why: str


UNREAD = Framed(Framing.UNKNOWN, "not read from a file")
"""Of pixels that came without a file."""


def framed(opened: Image.Image) -> Framed:
    """What an opened file says of its frame, before it is turned upright."""
    said = opened.getexif().get_ifd(_EXIF_IFD)
    wide, high = opened.size
    ratio = max(wide, high) / min(wide, high)
    full = _number(said.get(_WIDTH)), _number(said.get(_HEIGHT))
    if full[0] and full[1]:
        theirs = max(full) / min(full)
        if abs(ratio / theirs - 1) > _ALIKE:
            return Framed(
                Framing.PART, f"{wide} x {high} pixels where the file speaks of {full[0]:.0f} x {full[1]:.0f}"
            )
    share = _share_of_sensor(said, wide, high)
    if share is not None and share < _SMALLER:
        return Framed(Framing.PART, f"its diagonal is {100 * share:.0f} % of what the focal lengths in the file say")
    if all(abs(ratio / usual - 1) > _ALIKE for usual in _USUAL):
        return Framed(Framing.PART, f"its sides stand as {ratio:.2f} to 1, as no usual camera's do")
    if full == (wide, high):
        return Framed(Framing.WHOLE, "its size is that of which the file speaks")
    return Framed(Framing.UNKNOWN, "the file says nothing of the size of its frame, or another of like sides")


def _share_of_sensor(said: dict[int, object], wide: int, high: int) -> float | None:
    """Diagonal of the picture on the sensor over that of the sensor; None where the file does not say both."""
    focal, film = _number(said.get(_FOCAL)), _number(said.get(_FOCAL_35))
    across, down = _number(said.get(_PER_UNIT_X)), _number(said.get(_PER_UNIT_Y))
    unit = said.get(_UNIT, 2)
    if not (focal and film and across and down) or unit not in _UNIT_MM:
        return None
    diagonal = hypot(wide / across, high / down) * _UNIT_MM[unit]
    return diagonal / (_FILM_MM * focal / film)


def _number(said: object) -> float:
    """A number of the file, rational or not; 0 where it says none."""
    number = float(said) if isinstance(said, Real) else 0.0
    return number if isfinite(number) else 0.0

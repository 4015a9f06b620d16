"""Raised text as a flat distance: words of an open font, laid along the outer face."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.util import find_spec
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFont
from scipy.ndimage import distance_transform_edt, map_coordinates

from festoon.template.inputs import Floats

RAISED = 0.5
"""How far text stands out, mm (common practice, no source)."""
_PER_MM = 24
"""Points of the picture in a millimetre."""


@dataclass(frozen=True)
class Words:
    """A line of text on the outer face."""

    text: str
    along: float
    """Arc length of its middle, mm."""
    height: float
    """Height (z, seated) of its middle, mm."""
    cap: float
    """Height of its capitals, mm."""

    @property
    def length(self) -> float:
        """How far it reaches along the face, mm."""
        return float(_picture(self.text, self.cap).shape[1] / _PER_MM - 1.0)

    def distance(self, along: Floats, up: Floats) -> Floats:
        """Distance to the strokes, negative inside, of places given by arc length and height upwards as read, mm."""
        picture = _picture(self.text, self.cap)
        rows, columns = picture.shape
        row = rows / 2 - (up * _PER_MM)
        column = columns / 2 + (along - self.along) * _PER_MM
        return np.asarray(map_coordinates(picture, np.stack([row, column]), order=1, mode="constant", cval=0.5))


@cache
def _font(cap: float) -> ImageFont.FreeTypeFont:
    spec = find_spec("font_source_sans_pro")
    if spec is None or spec.origin is None:
        raise ModuleNotFoundError("the fonts are not installed; install the dependencies of festoon again")
    path = Path(spec.origin).parent / "files" / "SourceSansPro-Bold.ttf"
    return ImageFont.truetype(str(path), round(cap / 0.66 * _PER_MM))  # capitals are 0.66 em in this family


@cache
def _picture(text: str, cap: float) -> Floats:
    """Distance to the strokes, mm, shape (rows, columns), with half a millimetre around."""
    font = _font(cap)
    left, top, right, bottom = font.getbbox(text)
    pad = _PER_MM // 2
    image = Image.new("L", (int(right - left) + 2 * pad, int(bottom - top) + 2 * pad))
    ImageDraw.Draw(image).text((pad - left, pad - top), text, fill=255, font=font)
    ink = np.asarray(image) > 127
    inside, outside = distance_transform_edt(ink), distance_transform_edt(~ink)
    return np.asarray((outside - inside) / _PER_MM)

"""Pictures drawn on the photograph: what was measured, and planned margins at their projected place."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from festoon.model.dentition import Tooth
from festoon.model.quantities import Quantity, QuantityReading
from festoon.photo.crown import PixelCrown
from festoon.photo.marks import Marks
from festoon.photo.reading import Photo

Floats = NDArray[np.float64]
Pen = ImageDraw.ImageDraw

_WIDE = 1800
"""Pictures are drawn this wide: the teeth, not the whole photograph, fill them."""
_INK, _PAPER, _OUTLINE, _AXIS, _TIP, _PLAN = (
    (27, 36, 43),
    (255, 255, 255),
    (255, 214, 90),
    (120, 200, 255),
    (130, 235, 190),
    (255, 255, 255),
)
_FONT_PACKAGE, _FONT_FILE = "font_source_sans_pro", "files/SourceSansPro-Regular.ttf"
PROMISE = "simulation, not a promise"
"""Stands on every picture that shows what is only planned."""
_DECIDES = "It informs a licensed clinician; it does not decide."


class _Sheet:
    """A part of the photograph, enlarged, with a foot for words."""

    def __init__(self, photo: Photo, points: Floats, wide: int = _WIDE) -> None:
        self.name = photo.name
        low, high = points.min(axis=0), points.max(axis=0)
        room = 0.22 * (high - low).max() * np.array([0.5, 1.0])
        top = np.array(photo.pixels.shape[1::-1]) - 1.0
        self._low, size = np.maximum(low - room, 0), np.minimum(high + room, top) - np.maximum(low - room, 0)
        self.scale = wide / size[0]
        box = (*self._low, *(self._low + size))
        picture = Image.fromarray(photo.pixels)
        shown = picture.resize((wide, round(size[1] * self.scale)), Image.Resampling.LANCZOS, box=box)
        self.image = Image.new("RGB", (wide, shown.height + 86), _PAPER)
        self.image.paste(shown)
        self.pen = ImageDraw.Draw(self.image)

    def at(self, point: Floats | Sequence[float]) -> tuple[float, float]:
        """Where a pixel of the photograph lies on the sheet."""
        x, y = (np.asarray(point, dtype=float) - self._low + 0.5) * self.scale
        return float(x), float(y)

    def line(self, points: Floats, colour: tuple[int, int, int], width: int = 4, dash: int = 0) -> None:
        """A line with a dark edge, so that it is seen on enamel and on gingiva; dashed by ``dash`` pixels."""
        placed = np.array([self.at(p) for p in points])
        for run in _dashes(placed, dash) if dash else [placed]:
            flat = [tuple(p) for p in run]
            self.pen.line(flat, fill=_INK, width=width + 3, joint="curve")
            self.pen.line(flat, fill=colour, width=width, joint="curve")

    def spot(self, point: Floats, colour: tuple[int, int, int], size: float = 8) -> None:
        """A disc."""
        x, y = self.at(point)
        self.pen.ellipse((x - size, y - size, x + size, y + size), fill=colour, outline=_INK, width=2)

    def words(self, point: Floats, text: str, size: int = 30) -> None:
        """Centred text on a plate."""
        x, y = self.at(point)
        font = _font(size)
        a, b, c, d = self.pen.textbbox((x, y), text, font=font, anchor="mm", align="center")
        self.pen.rounded_rectangle((a - 7, b - 4, c + 7, d + 6), 6, fill=_PAPER)
        self.pen.text((x, y), text, font=font, fill=_INK, anchor="mm", align="center")

    def foot(self, *lines: str) -> None:
        """Words under the picture."""
        for k, text in enumerate(lines):
            self.pen.text((18, self.image.height - 80 + 36 * k), text, font=_font(26), fill=_INK)

    def png(self) -> bytes:
        """The file."""
        data = io.BytesIO()
        self.image.save(data, "PNG")
        return data.getvalue()


def draw_measured(
    photo: Photo, crowns: Mapping[Tooth, PixelCrown], marks: Marks, readings: Sequence[QuantityReading]
) -> bytes:
    """The photograph with outlines, axes, zeniths and papilla tips, and width by length (or their ratio) at each tooth."""
    found = {(r.tooth, r.quantity): r for r in readings if r.site is None}
    known = [np.array([k.start, k.end]) for k in marks.lengths]
    known += [np.array([*k.corners, k.corners[0]]) for k in marks.markers]
    sheet = _Sheet(photo, np.concatenate([*(_points(c) for c in crowns.values()), *known]))
    for line in known:
        sheet.line(line, _TIP, 4)
    for crown in crowns.values():
        if crown.outline is not None:
            sheet.line(np.vstack([crown.outline, crown.outline[:1]]), _OUTLINE, 3)
        mid = (crown.sides[0] + crown.sides[1]) / 2
        foot = mid - crown.level(mid) * crown.axis
        sheet.line(np.array([foot, foot + crown.length * crown.axis]), _AXIS, 3, dash=16)
        half = crown.width / 2 * crown.distal
        level = mid + (0.3 * crown.length - crown.level(mid)) * crown.axis
        sheet.line(np.array([level - half, level + half]), _AXIS, 2, dash=8)
        for tip in crown.tips.values():
            sheet.spot(tip, _TIP, 9)
        sheet.spot(crown.zenith, _OUTLINE, 8)
        sheet.spot(crown.edge, _AXIS, 6)
    for name in ("lip_line", "midline", "horizontal"):
        line = getattr(marks, name)
        if line:
            sheet.line(np.array(line, dtype=float), _TIP, 4, dash=22)
    for crown in crowns.values():
        sheet.words(crown.edge - 0.3 * crown.length * crown.axis, _label(crown.tooth, found), 28)
    sheet.foot(
        "yellow: outline, zenith   dashed: axis, width; blue disc edge   green: papilla tips, lines, known lengths   numbers: w x l, mm, ± standard error",
        f"{photo.name}   {_DECIDES} Confirm numbers, sides and margins.",
    )
    return sheet.png()


def _label(tooth: Tooth, found: Mapping[tuple[str | None, Quantity], QuantityReading]) -> str:
    lines = [tooth.fdi]
    for quantity in (Quantity.CROWN_WIDTH, Quantity.CROWN_LENGTH):
        reading = found.get((tooth.fdi, quantity))
        if reading is not None and reading.se is not None:
            lines.append(f"{'w' if quantity is Quantity.CROWN_WIDTH else 'l'} {reading.value:.1f} ± {reading.se:.1f}")
    ratio = found.get((tooth.fdi, Quantity.CROWN_RATIO))
    if len(lines) == 1 and ratio is not None and ratio.se is not None:
        lines.append(f"w/l {ratio.value:.2f} ± {ratio.se:.2f}")
    return "\n".join(lines)


def draw_planned(photo: Photo, present: Mapping[Tooth, Floats], planned: Mapping[Tooth, Floats]) -> bytes:
    """Planned margins (and the present ones beside them) at their projected place on the photograph.

    Parameters
    ----------
    photo : Photo
    present, planned : mapping of Tooth to array (N, 2)
        Margins in pixels.
    """
    seen = np.concatenate([*present.values(), *planned.values()])
    wide = float(np.median([np.ptp(line[:, 0]) for line in present.values()]))
    sheet = _Sheet(photo, np.concatenate([seen, seen + np.array([0, 0.5 * wide]), seen - np.array([0, 0.2 * wide])]))
    for tooth, line in present.items():
        sheet.line(line, _OUTLINE, 3)
        if tooth in planned:
            apart = np.flatnonzero(np.linalg.norm(planned[tooth] - line, axis=1) * sheet.scale > 4)
            if len(apart):  # where nothing moves the present line says it all
                sheet.line(planned[tooth][apart[0] : apart[-1] + 1], _PLAN, 5, dash=30)
    for tooth, line in present.items():
        down = 1.0 if tooth.is_upper else -1.0
        middle = line[np.argmax(-down * line[:, 1])]
        sheet.words(middle + np.array([0, 0.45 * down * wide]), tooth.fdi)
    sheet.foot("line: margin now   dashed: planned margin", f"{PROMISE.upper()}   {photo.name}   {_DECIDES}")
    return sheet.png()


def draw_side_by_side(before: Photo, after: Photo, around: Floats) -> bytes:
    """Two pictures in one pose beside each other.

    Parameters
    ----------
    before, after : Photo
        Of one size; the later one already in the pose of the earlier.
    around : array (N, 2)
        Pixels that must be seen.
    """
    sheets = [_Sheet(photo, around, 1100) for photo in (before, after)]
    high = sheets[0].image.height
    out = Image.new("RGB", (2 * 1100 + 12, high), _PAPER)
    for x, sheet, when in zip((0, 1112), sheets, ("before", "after, in the pose of the other"), strict=True):
        out.paste(sheet.image, (x, 0))
        ImageDraw.Draw(out).text((x + 18, high - 80), f"{when}: {sheet.name}", font=_font(28), fill=_INK)
    ImageDraw.Draw(out).text((18, high - 42), _DECIDES, font=_font(26), fill=_INK)
    data = io.BytesIO()
    out.save(data, "PNG")
    return data.getvalue()


def _points(crown: PixelCrown) -> Floats:
    own = np.array([*crown.sides, crown.edge, crown.zenith])
    return own if crown.outline is None else np.vstack([own, crown.outline])


def _dashes(points: Floats, length: int) -> list[Floats]:
    along = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    fine = np.arange(0, along[-1], 2.0)
    dense = np.stack([np.interp(fine, along, points[:, k]) for k in (0, 1)], axis=1)
    step = max(length // 2, 2)
    return [dense[k : k + step + 1] for k in range(0, len(dense), int(1.8 * step)) if len(dense[k : k + step + 1]) > 1]


def _font(size: int) -> ImageFont.FreeTypeFont:
    with (files(_FONT_PACKAGE) / _FONT_FILE).open("rb") as file:
        return ImageFont.truetype(io.BytesIO(file.read()), size)

"""The traced scan as a picture: from the front and from both sides, with margins, axes, zeniths, papilla tips and numbers."""

from __future__ import annotations

import io
from collections.abc import Callable
from importlib.resources import files

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from festoon.scan.landmarks import papillae, zenith
from festoon.scan.raw import Floats
from festoon.scan.tooth import ScannedTooth
from festoon.scan.trace import TracedArch

_PER_MM = 26
"""Pixels of a millimetre in the front view."""
_PAPER, _INK, _QUIET = (255, 255, 255), (27, 36, 43), (85, 97, 107)
_MARGIN, _AXIS, _TIP, _DOUBT = (161, 29, 74), (31, 92, 153), (43, 122, 104), (190, 90, 0)
_TOOTH, _SOFT = np.array([236.0, 232.0, 220.0]), np.array([222.0, 176.0, 172.0])
_FONT_PACKAGE, _FONT_FILE = "font_source_sans_pro", "files/SourceSansPro-Regular.ttf"
_BACK = 60.0


def draw_picture(arch: TracedArch, doubtful: frozenset[str] = frozenset()) -> bytes:
    """A PNG: the front above, the right and left sides below.

    Parameters
    ----------
    arch : TracedArch
    doubtful : set of str
        ISO numbers of teeth that carry a flag; they are marked with a question mark.
    """
    if not arch.teeth:
        raise ValueError("nothing was traced")
    turn = np.radians(50)
    front = _panel(arch, np.array([0.0, -1.0, 0.0]), _PER_MM, doubtful, "from the front")
    sides = [
        _panel(
            arch,
            np.array([s * np.sin(turn), -np.cos(turn), 0.0]),
            _PER_MM * 0.62,
            doubtful,
            f"from the patient's {side}",
        )
        for s, side in ((-1.0, "right"), (1.0, "left"))
    ]
    below = Image.new("RGB", (sides[0].width + sides[1].width + 20, max(s.height for s in sides)), _PAPER)
    below.paste(sides[0], (0, 0))
    below.paste(sides[1], (sides[0].width + 20, 0))
    wide = max(front.width, below.width)
    foot = 56
    out = Image.new("RGB", (wide, front.height + below.height + foot), _PAPER)
    out.paste(front, ((wide - front.width) // 2, 0))
    out.paste(below, ((wide - below.width) // 2, front.height))
    pen = ImageDraw.Draw(out)
    pen.text(
        (16, out.height - foot + 8),
        f"{arch.surface.name}   {arch.division.jaw} jaw   thick: gingival margin   dashed: facial long axis   dot: zenith   "
        "triangle: papilla tip   numbers: crown width x length, mm   ?: flagged",
        font=_font(17),
        fill=_QUIET,
    )
    pen.text(
        (16, out.height - foot + 30),
        "It informs a licensed clinician; it does not decide. Confirm numbers, sides and margins.",
        font=_font(15),
        fill=_QUIET,
    )
    data = io.BytesIO()
    out.save(data, "PNG", optimize=False)
    return data.getvalue()


def _font(size: int) -> ImageFont.FreeTypeFont:
    with (files(_FONT_PACKAGE) / _FONT_FILE).open("rb") as file:
        return ImageFont.truetype(io.BytesIO(file.read()), size)


def _panel(arch: TracedArch, towards: Floats, per_mm: float, doubtful: frozenset[str], title: str) -> Image.Image:
    right = np.cross([0.0, 0.0, 1.0], towards)  # the looker's right is the patient's left
    up = np.array([0.0, 0.0, 1.0])
    points = np.concatenate(
        [t.facial.curve for t in arch.teeth.values()] + [t.frame.edge[None] for t in arch.teeth.values()]
    )
    seen = points[(points @ towards) > np.quantile(points @ towards, 0.02) - 1.0]
    a, b = seen @ right, seen @ up
    box = (a.min() - 4.0, a.max() + 4.0, b.min() - 4.5, b.max() + 4.5)
    wide, high = int((box[1] - box[0]) * per_mm), int((box[3] - box[2]) * per_mm)
    image = Image.fromarray(_shaded(arch, towards, right, up, box, wide, high))
    pen = ImageDraw.Draw(image, "RGBA")

    def at(point: Floats) -> tuple[float, float]:
        return float((point @ right - box[0]) * per_mm), float((box[3] - point @ up) * per_mm)

    for papilla in papillae(arch):
        if _visible(arch, papilla.tip, towards):
            x, y = at(papilla.tip)
            s = 0.22 * per_mm
            pen.polygon([(x - s, y + s), (x + s, y + s), (x, y - s)], fill=_TIP, outline=(255, 255, 255))
    for tooth in arch.teeth.values():
        if float(tooth.frame.facial @ towards) > 0.35:
            _mark(pen, arch, tooth, towards, at, per_mm, tooth.tooth.fdi in doubtful)
    pen.text((12, 8), title, font=_font(max(16, int(per_mm * 0.75))), fill=_QUIET)
    return image


def _mark(
    pen: ImageDraw.ImageDraw,
    arch: TracedArch,
    tooth: ScannedTooth,
    towards: Floats,
    at: Callable[[Floats], tuple[float, float]],
    per_mm: float,
    doubt: bool,
) -> None:
    frame, found = tooth.frame, zenith(tooth)
    curve = [
        at(p) for p, v in zip(tooth.facial.curve, _visible_many(arch, tooth.facial.curve, towards), strict=True) if v
    ]
    if len(curve) > 1:
        pen.line(curve, fill=(255, 255, 255), width=int(per_mm * 0.26), joint="curve")
        pen.line(curve, fill=_MARGIN, width=max(2, int(per_mm * 0.13)), joint="curve")
    start, end = frame.edge - 0.8 * frame.axis, frame.edge + (found.level + 1.2) * frame.axis
    lift = found.forward * frame.facial + frame.middle * frame.distal
    steps = np.linspace(0, 1, 24)
    for k in range(0, 23, 2):
        pen.line(
            [at(start + lift + steps[k] * (end - start)), at(start + lift + steps[k + 1] * (end - start))],
            fill=_AXIS,
            width=2,
        )
    x, y = at(frame.points(*np.array([found.offset, found.forward, found.level])))
    r = 0.2 * per_mm
    pen.ellipse((x - r, y - r, x + r, y + r), fill=_MARGIN, outline=(255, 255, 255), width=2)
    cx, cy = at(frame.edge + lift + 0.42 * found.level * frame.axis)
    text = f"{tooth.tooth.fdi}{' ?' if doubt else ''}"
    big, small = _font(max(14, int(per_mm * 0.95))), _font(max(11, int(per_mm * 0.66)))
    for words, font, dy in ((text, big, -0.6), (f"{frame.width:.1f} x {found.level:.1f}", small, 0.5)):
        pen.text(
            (cx, cy + dy * per_mm),
            words,
            font=font,
            fill=_DOUBT if doubt else _INK,
            anchor="mm",
            stroke_width=3,
            stroke_fill=(250, 248, 242),
        )


def _shaded(
    arch: TracedArch, towards: Floats, right: Floats, up: Floats, box: tuple[float, ...], wide: int, high: int
) -> np.ndarray:
    x = np.linspace(box[0], box[1], wide)
    y = np.linspace(box[3], box[2], high)
    start = (x[None, :, None] * right + y[:, None, None] * up + _BACK * towards).reshape(-1, 3)
    face, _, weight = arch.scene.cast(start, np.broadcast_to(-towards, start.shape))
    hit = face >= 0
    normals = _normals(arch)
    corners = arch.scene.faces[face[hit]]
    normal = (normals[corners] * weight[hit][..., None]).sum(axis=1)
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    light = towards + 0.5 * up - 0.35 * right
    light /= np.linalg.norm(light)
    glow = 0.42 + 0.58 * np.clip(normal @ light, 0, 1) ** 0.8
    own = (arch.labels[face[hit]] > 0)[:, None]
    colours = np.where(own, _TOOTH, _SOFT)
    if arch.surface.colours is not None:
        seen = (arch.surface.colours[corners] * weight[hit][..., None]).sum(axis=1) * 255
        colours = 0.75 * seen + 0.25 * colours
    out = np.full((len(start), 3), 255.0)
    out[hit] = colours * glow[:, None]
    return np.asarray(np.clip(out, 0, 255).astype(np.uint8).reshape(high, wide, 3))


def _normals(arch: TracedArch) -> Floats:
    return np.asarray(arch.surface.normals @ arch.frame.from_file[:3, :3].T)


def _visible_many(arch: TracedArch, points: Floats, towards: Floats) -> np.ndarray:
    """Whether nothing stands between points of the surface and the looker."""
    face, t, _ = arch.scene.cast(points + _BACK * towards, np.broadcast_to(-towards, points.shape))
    return np.asarray((face < 0) | (t > _BACK - 0.8))


def _visible(arch: TracedArch, point: Floats, towards: Floats) -> bool:
    return bool(_visible_many(arch, point[None], towards)[0])

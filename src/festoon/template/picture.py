"""A picture of the part on the teeth: parallel rays, one light beside the eye, a lit edge where the surface turns away."""

from __future__ import annotations

import io
from typing import Any, Literal

import igl
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from festoon.template.build import Part
from festoon.template.inputs import Floats, Ints, Sheet
from festoon.template.prepare import Ground

Look = Literal["front", "right", "left", "below", "section"]
LOOKS: dict[Look, tuple[float, float]] = {
    "front": (0, 0),
    "right": (-55, 8),
    "left": (55, 8),
    "below": (0, -75),
    "section": (90, 0),
}
"""Turn about the axis (to the patient's left positive) and rise of each view, degrees."""
_TOOTH, _GINGIVA, _PART, _CUT = (0.95, 0.92, 0.84), (0.80, 0.52, 0.50), (0.55, 0.70, 0.78), (0.30, 0.47, 0.58)
_BEHIND = 1.0
_LINE = (40, 20, 20)


def render(ground: Ground, part: Part | None, look: Look, *, width: int = 1200, at: Floats | None = None) -> bytes:
    """The part on the scan as a PNG.

    Parameters
    ----------
    ground : Ground
        Seated pose.
    part : Part or None
        None: the teeth alone.
    look : {"front", "right", "left", "below", "section"}
        "section": cut square to the arch at ``at``, seen from the patient's left.
    width : int
        Points across.
    at : array (3,), optional
        Place of the section; the middle of the first tooth with an edge when left out.
    """
    sheets = [ground.sheet] if part is None else [ground.sheet, part.sheet]
    focus = ground.sheet if part is None else part.sheet
    yaw, rise = (np.radians(v) for v in LOOKS[look])
    up_z = 1.0 if part is None else part.up
    left = up_z  # x goes to the patient's left in the upper jaw, to the right in the lower
    eye = np.array([left * np.sin(yaw) * np.cos(rise), -np.cos(yaw) * np.cos(rise), up_z * np.sin(rise)])
    up = np.array([0.0, 0.0, up_z])
    up = up - (up @ eye) * eye
    up /= np.linalg.norm(up)
    right = np.cross(up, eye)
    inside = (
        (focus.vertices.min(axis=0) - 3 < ground.sheet.vertices)
        & (ground.sheet.vertices < focus.vertices.max(axis=0) + 3)
    ).all(axis=1)
    seen = np.concatenate([focus.vertices, ground.sheet.vertices[inside]])
    plane: tuple[Floats, Floats] | None = None
    if look == "section":
        target = next((t for t in (part.row.targets if part else ()) if t.treated), None)
        place = at if at is not None else target.tooth.edge if target else seen.mean(axis=0)
        if target is not None and at is None:
            eye = np.cross(target.tooth.facial, [0, 0, 1.0])
            eye /= np.linalg.norm(eye)
            right = np.cross(up, eye)
        plane = (place, eye)
        seen = seen[np.abs((seen - place) @ eye) < 3]
    u, v = seen @ right, seen @ up
    pad = 2.0
    step = (np.ptp(u) + 2 * pad) / width
    height = int(min((np.ptp(v) + 2 * pad) / step, 1.4 * width))
    uu = u.min() - pad + step * (np.arange(width) + 0.5)
    vv = v.max() + pad - step * (np.arange(height) + 0.5)
    start_depth = 200.0 if plane is None else float(plane[0] @ eye)
    start = (uu[None, :, None] * right + vv[:, None, None] * up + start_depth * eye).reshape(-1, 3)
    picture = _shade(sheets, ground, start, -eye, plane is not None).reshape(height, width, 3)
    image = Image.fromarray((np.clip(picture, 0, 1) * 255).astype(np.uint8))
    if part is not None and look in ("front", "right", "left"):
        _draw_lines(image, part, eye, lambda p: ((p @ right - uu[0]) / step, (vv[0] - p @ up) / step))
    out = io.BytesIO()
    image.save(out, format="PNG", compress_level=6)
    return out.getvalue()


def _shade(sheets: list[Sheet], ground: Ground, start: Floats, direction: Floats, cut: bool) -> Floats:
    """Colours of rays, shape (N, 3)."""
    best = np.full(len(start), np.inf)
    colour = np.ones((len(start), 3)) * np.array([0.985, 0.985, 0.98])
    along = np.tile(direction, (len(start), 1))
    for k, sheet in enumerate(sheets):
        tree: Any = igl.AABB()
        tree.init(sheet.vertices, sheet.faces)
        face, t, _ = tree.intersect_ray_first(sheet.vertices, sheet.faces, np.ascontiguousarray(start), along)
        face, t = np.asarray(face), np.asarray(t)
        hit = (face >= 0) & (t < best)
        best[hit] = t[hit]
        p = sheet.vertices[sheet.faces[face[hit]]]
        normal = np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0])
        normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-12)
        facing = -(normal @ direction)
        light = np.array([-0.35, -0.35, 0.6]) - direction
        light /= np.linalg.norm(light)
        lit = 0.42 + 0.58 * np.clip(normal @ light, 0, 1)
        lit = np.where(facing < 0, 0.75, lit)
        base = np.tile(_PART, (len(p), 1)) if k else _ground_colour(ground, face[hit])
        colour[hit] = base * (lit * (0.72 + 0.28 * np.clip(np.abs(facing), 0, 1)))[:, None]
        if cut and k:
            # A first hit from inside the body: the plane cuts it here.
            colour[np.flatnonzero(hit)[facing < 0]] = _CUT
            best[np.flatnonzero(hit)[facing < 0]] = 0.0
    return np.asarray(colour)


def _ground_colour(ground: Ground, faces: Ints) -> Floats:
    hard = (ground.tooth[ground.sheet.faces[faces]] > 0).mean(axis=1)[:, None]
    return np.asarray(hard * np.array(_TOOTH) + (1 - hard) * np.array(_GINGIVA))


def _draw_lines(image: Image.Image, part: Part, eye: Floats, project: Any) -> None:
    """The planned line of each treated tooth, dashed."""
    pen = ImageDraw.Draw(image)
    for target in part.row.targets:
        level = part.edges.get(target.tooth.fdi)
        if level is None or target.tooth.facial @ eye < 0.2:
            continue
        depth = np.full(len(level), float(np.max(target.tooth.coordinates(target.tooth.margin)[:, 1])) + 1.5)
        points = target.tooth.points(target.across, depth, level)
        x, y = project(points)
        for k in range(0, len(x) - 2, 4):
            pen.line([(x[k], y[k]), (x[k + 2], y[k + 2])], fill=_LINE, width=2)


def as_array(png: bytes) -> NDArray[np.uint8]:
    """The points of a picture, shape (H, W, 3)."""
    return np.asarray(Image.open(io.BytesIO(png)).convert("RGB"))

"""Photographs of a phantom: rays of a true camera, a flash, glare on wet surfaces, a frame of lips and retractor.

A small caster of rays on a library's ray queries, and not a renderer: the general-purpose one that ran here took 240 MB and 8 to 10 s
a picture, was not the same bytes twice and has no lens distortion (measured in docs/phantom.md).
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import Any

import igl
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from festoon.phantom import shells
from festoon.phantom.camera import Camera, looking
from festoon.phantom.colours import Palette
from festoon.phantom.scan import vertex_normals
from festoon.phantom.shells import Mesh
from festoon.phantom.solids import in_arch_frame, mesh_in_arch_frame, surface_of
from festoon.phantom.tissues import Tissues

Floats = NDArray[np.float64]

TOOTH, GINGIVA, LIP, PLASTIC = range(4)
"""Materials of a scene."""
_GLOSS = np.array([[0.55, 240.0], [0.30, 90.0], [0.05, 18.0], [0.5, 120.0]])
"""Strength and sharpness of the glare by material."""
_SOFT = np.array([0.25, 0.18, 0.20, 0.35])
"""How far light creeps into the shade, by material: a stand-in for light inside the tissue."""


@dataclass(frozen=True)
class PhotoSettings:
    """What the camera and the photographer do."""

    width: int = 1200
    height: int = 800
    focal_mm: float = 105.0
    sensor_mm: float = 22.3
    distance_mm: float = 380.0
    views: tuple[str, ...] = ("front", "right", "left")
    retracted: bool = True
    tilt_deg: float = 2.0
    """Standard deviation of yaw, pitch and roll."""
    distortion: float = 4.0
    """Standard deviation of k1 (r in units of the focal length; 4 moves a corner by about 5 %)."""


_VIEWS = {"front": (0.0, 0.0), "right": (-38.0, 0.0), "left": (38.0, 0.0), "below": (0.0, -62.0)}
"""Yaw and pitch of each view, degrees."""


@dataclass(frozen=True)
class Scene:
    """What stands before the camera, arch frame."""

    mesh: Mesh
    normals: Floats
    colours: Floats
    material: NDArray[np.int64]
    """By face."""
    tree: Any


def build_scene(tissues: Tissues, palette: Palette, retracted: bool = True) -> Scene:
    """Teeth, gingiva and, where wished, lips and retractor."""
    upper = tissues.arch.mouth.upper
    soft = surface_of(tissues.gingiva, *tissues.seen_box(), spacing=0.25)
    parts = [(soft, palette.of(soft.vertices), GINGIVA)]
    for collar in tissues.collars:
        placed = collar.placed
        tooth = shells.whole(placed.body, 144, (80, 6))  # roots are out of sight
        tooth = tooth.moved(placed.matrix, placed.origin)
        parts.append((tooth, palette.of_teeth(tooth.vertices), TOOTH))
    made = [(mesh_in_arch_frame(mesh, upper), colour, kind) for mesh, colour, kind in parts]
    if retracted:
        made += _frame(upper)
    return scene_of(made)


def scene_of(made: list[tuple[Mesh, Floats, int]]) -> Scene:
    """A scene of meshes in the arch frame, each with its colours by vertex and its material."""
    mesh = shells.joined(*[m for m, _, _ in made])
    tree = igl.AABB()
    tree.init(mesh.vertices, mesh.faces)
    return Scene(
        mesh=mesh,
        normals=np.vstack([vertex_normals(m) for m, _, _ in made]),
        colours=np.vstack([c for _, c, _ in made]),
        material=np.concatenate([np.full(len(m.faces), kind) for m, _, kind in made]),
        tree=tree,
    )


def _frame(upper: bool) -> list[tuple[Mesh, Floats, int]]:
    """Two lips round the opening and a hook of the retractor in each corner of the mouth."""
    middle = 7.0 if upper else -7.0
    t = np.linspace(0, 2 * np.pi, 160, endpoint=False)
    line = np.stack([46 * np.cos(t), -4 + 14 * np.cos(t) ** 2 - 4, middle + 25.5 * np.sin(t)], axis=1)
    lips = _tube(line, 6.5 + 1.5 * np.abs(np.sin(t)), True)
    out = [(lips, np.tile([0.68, 0.38, 0.37], (len(lips.vertices), 1)), LIP)]
    for side in (-1.0, 1.0):
        a = np.linspace(-1.25, 1.25, 60)
        line = np.stack([side * (6 + 34.5 * np.cos(a)), -7 + 10 * np.cos(a), middle + 21 * np.sin(a)], axis=1)
        hook = _tube(line, np.full(60, 1.6), False)
        out.append((hook, np.tile([0.80, 0.84, 0.86], (len(hook.vertices), 1)), PLASTIC))
    return out


def _tube(line: Floats, radius: Floats, ring: bool) -> Mesh:
    """A round tube along a line, closed on itself or at its ends."""
    ahead = np.roll(line, -1, axis=0) - np.roll(line, 1, axis=0) if ring else np.gradient(line, axis=0)
    ahead /= np.linalg.norm(ahead, axis=1, keepdims=True)
    side = np.cross(ahead, [0.0, 1.0, 0.0])
    side /= np.linalg.norm(side, axis=1, keepdims=True)
    other = np.cross(ahead, side)
    a = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    around = np.cos(a)[None, :, None] * side[:, None] + np.sin(a)[None, :, None] * other[:, None]
    rings = line[:, None] + radius[:, None, None] * around
    if not ring:
        return shells.closed(rings, line[0], line[-1])
    k, n = len(line), len(a)
    index = np.arange(k * n).reshape(k, n)
    p, q = np.roll(index, -1, axis=0), np.roll(index, -1, axis=1)
    r = np.roll(p, -1, axis=1)
    faces = np.concatenate([np.stack([index, q, r], -1).reshape(-1, 3), np.stack([index, r, p], -1).reshape(-1, 3)])
    return Mesh(rings.reshape(-1, 3), faces)


def photograph(scene: Scene, camera: Camera) -> NDArray[np.uint8]:
    """The picture, shape (height, width, 3)."""
    rays = camera.rays()
    start = np.broadcast_to(camera.position, rays.shape)
    face, t, bary = _cast(scene, start, rays)
    hit = np.flatnonzero(face >= 0)
    corner = scene.mesh.faces[face[hit]]
    weight = np.stack([1 - bary[hit].sum(axis=1), bary[hit, 0], bary[hit, 1]], axis=1)[..., None]
    normal = (scene.normals[corner] * weight).sum(axis=1)
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-9)
    colour = (scene.colours[corner] * weight).sum(axis=1)
    kind = scene.material[face[hit]]
    place = camera.position + t[hit, None] * rays[hit]
    view = -rays[hit]
    light = np.full(len(hit), 0.07)
    glare = np.zeros(len(hit))
    right, down = camera.rotation[0], camera.rotation[1]
    # Two flashes beside the lens, as in intraoral photography.
    for lamp in (camera.position + 45 * right - 15 * down, camera.position - 45 * right - 15 * down):
        to = lamp - place
        away = np.linalg.norm(to, axis=1, keepdims=True)
        to = to / away
        facing = (normal * to).sum(axis=1)
        soft = _SOFT[kind]
        # What faces away from a flash has no light of it to lose.
        seen = np.flatnonzero(facing > -soft)
        blocked, near, _ = _cast(scene, (place + 0.02 * normal)[seen], to[seen])
        lit = np.ones(len(hit))
        lit[seen[(blocked >= 0) & (near > 0.05)]] = 0.15
        light += 0.52 * lit * np.clip((facing + soft) / (1 + soft), 0, None)
        half = to + view
        half /= np.linalg.norm(half, axis=1, keepdims=True)
        shine = np.clip((normal * half).sum(axis=1), 0, 1) ** _GLOSS[kind, 1]
        glare += lit * _GLOSS[kind, 0] * shine * (facing > 0)
    # Light is lost into the depth of the mouth.
    depth = np.clip((place[:, 1] - 4) / 40, 0, 1) if abs(camera.rotation[2, 2]) < 0.6 else np.zeros(len(hit))
    shown = colour * (light * (1 - 0.6 * depth))[:, None] + glare[:, None]
    picture = np.tile(np.array([0.035, 0.015, 0.015]), (len(rays), 1))
    picture[hit] = shown
    picture = np.clip(picture, 0, None)
    picture = np.where(
        picture < 0.8, picture, 1 - 0.2 * np.exp(-(picture - 0.8) / 0.2)
    )  # a soft shoulder, as sensors have
    return np.asarray((np.clip(picture, 0, 1) * 255).round().astype(np.uint8).reshape(camera.height, camera.width, 3))


def _cast(scene: Scene, start: Floats, direction: Floats) -> tuple[NDArray[np.int64], Floats, Floats]:
    face, t, bary = scene.tree.intersect_ray_first(
        scene.mesh.vertices, scene.mesh.faces, np.ascontiguousarray(start), np.ascontiguousarray(direction)
    )
    return np.asarray(face), np.asarray(t), np.asarray(bary)


def make_photos(
    tissues: Tissues, palette: Palette, settings: PhotoSettings, seed: int
) -> tuple[dict[str, bytes], dict[str, Any]]:
    """PNG files by view, and what each camera was: settings and seed decide every byte."""
    rng = np.random.default_rng([seed, 99])
    scene = build_scene(tissues, palette, settings.retracted)
    bare = build_scene(tissues, palette, False) if "below" in settings.views and settings.retracted else scene
    upper = tissues.arch.mouth.upper
    files, about = {}, {}
    edges = {p.tooth.fdi: in_arch_frame(p.frame.edge[None], upper)[0] for p in tissues.arch.teeth}
    for view in settings.views:
        yaw, pitch = _VIEWS[view]
        if not upper:
            pitch = -pitch
        target = np.array([0.0, 4.0 if view != "below" else 18.0, 5.0 if upper else -5.0])
        off = settings.tilt_deg * rng.standard_normal(3)
        camera = looking(
            target,
            yaw + float(off[0]),
            pitch + float(off[1]),
            float(off[2]),
            settings.distance_mm,
            focal_mm=settings.focal_mm,
            sensor_mm=settings.sensor_mm,
            width=settings.width,
            height=settings.height,
            k1=float(settings.distortion * rng.standard_normal()),
        )
        shown = photograph(bare if view == "below" else scene, camera)  # the lips are held out of a view from below
        files[view] = _png(shown)
        about[view] = camera.about() | {
            "yaw_deg": round(yaw + float(off[0]), 6),
            "pitch_deg": round(pitch + float(off[1]), 6),
            "roll_deg": round(float(off[2]), 6),
            "distance_mm": settings.distance_mm,
            "focal_mm": settings.focal_mm,
            "sensor_mm": settings.sensor_mm,
            "edges_px": {
                code: [round(float(v), 3) for v in camera.project(edge[None])[0]] for code, edge in edges.items()
            },
        }
    return files, about


def _png(picture: NDArray[np.uint8]) -> bytes:
    out = io.BytesIO()
    Image.fromarray(picture).save(out, format="PNG", compress_level=4)
    return out.getvalue()

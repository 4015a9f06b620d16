"""An intraoral-scan-like surface of a phantom: open, noisy, bent, with holes, saliva and crumbs, in any pose and unit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.spatial.transform import Rotation

from festoon.phantom.colours import Palette
from festoon.phantom.shells import Mesh, largest, of_vertices
from festoon.phantom.solids import contour, in_arch_frame, sampled
from festoon.phantom.tissues import Tissues

Floats = NDArray[np.float64]
Unit = Literal["mm", "cm", "m", "inch"]
PER_MM: dict[Unit, float] = {"mm": 1.0, "cm": 0.1, "m": 0.001, "inch": 1 / 25.4}

_BRIDGE = 0.25
"""Narrower gaps between teeth than about this are bridged, as a scanner does, mm."""
_SALIVA = (0.80, 0.66, 0.64)


@dataclass(frozen=True)
class ScanSettings:
    """How the scan departs from the truth."""

    spacing: float = 0.19
    """Size of its triangles, mm."""
    noise: float = 0.03
    """Standard deviation along the normal, vertex by vertex, mm."""
    distortion: float = 0.06
    """Size of the long-wave distortion, mm: see :func:`bent`."""
    holes: int = 4
    saliva: int = 5
    crumbs: int = 2
    unit: Unit = "mm"
    posed: bool = True
    """Turned and moved at random; else left in the arch frame."""


@dataclass(frozen=True)
class Scan:
    """The surface as a scanner's file has it, and what was done to it."""

    mesh: Mesh
    """In the unit and pose of the file."""
    colours: NDArray[np.uint8]
    """Shape (N, 3)."""
    unit: Unit
    about: dict[str, Any]
    """Everything that separates the file from the truth, for ``truth-about-files.json``."""


def bent(points: Floats, size: float, phase: float) -> Floats:
    """Points of the arch frame after the long-wave distortion: widened backwards and twisted.

    ``x += size sin(phase) (y / 40)^2 x / 25``, ``z += size cos(phase) (x / 25) (y / 40)``: at a last molar about ``size``.
    """
    x, y, z = points.T
    wide = size * np.sin(phase) * (y / 40) ** 2 * x / 25
    twist = size * np.cos(phase) * (x / 25) * (y / 40)
    return np.stack([x + wide, y, z + twist], axis=-1)


def make_scan(tissues: Tissues, palette: Palette, settings: ScanSettings, seed: int) -> Scan:
    """The scan of a jaw. Same seed and settings, same scan."""
    rng = np.random.default_rng([seed, 77])
    mesh = _visible(tissues, settings.spacing, rng)
    mesh, holes = _holed(mesh, settings.holes, rng)
    colours = palette.of(mesh.vertices, rng)
    normals = vertex_normals(mesh)
    points, colours, blobs = _wetted(mesh, normals, colours, tissues, settings.saliva, rng)
    points = points + settings.noise * _noise(mesh, rng)[:, None] * normals
    upper = tissues.arch.mouth.upper
    true = in_arch_frame(points, upper)
    phase = float(rng.uniform(0, 2 * np.pi))
    moved = bent(true, settings.distortion, phase)
    faces = mesh.faces if upper else np.ascontiguousarray(mesh.faces[:, ::-1])
    size = float(np.linalg.norm(moved - true, axis=1).max())
    whole, colours = _with_crumbs(Mesh(moved, faces), colours, settings.crumbs, rng)
    matrix = _pose(rng) if settings.posed else np.eye(4)
    matrix[:3] *= PER_MM[settings.unit]
    placed = whole.vertices @ matrix[:3, :3].T + matrix[:3, 3]
    about = {
        "unit": settings.unit,
        "arch_frame_to_file": [[round(float(v), 9) for v in row] for row in matrix],
        "noise_sd_mm": settings.noise,
        "triangle_size_mm": settings.spacing,
        "gaps_bridged_mm": _BRIDGE,
        "distortion": {
            "formula": "x += size sin(phase) (y/40)^2 x/25; z += size cos(phase) (x/25)(y/40); arch frame, mm",
            "size_mm": settings.distortion,
            "phase_rad": round(phase, 9),
            "largest_displacement_mm": round(size, 4),
        },
        "holes": [_place(p, r, upper) for p, r in holes],
        "saliva": [_place(p, r, upper) | {"height_mm": round(h, 3)} for p, r, h in blobs],
        "crumbs": settings.crumbs,
        "vertices": len(placed),
        "faces": len(whole.faces),
    }
    return Scan(Mesh(placed, whole.faces), (colours * 255).round().astype(np.uint8), settings.unit, about)


def _place(point: Floats, radius: float, upper: bool) -> dict[str, Any]:
    at = in_arch_frame(point[None], upper)[0]
    return {"centre_mm": [round(float(v), 3) for v in at], "radius_mm": round(radius, 3)}


def _visible(tissues: Tissues, spacing: float, rng: np.random.Generator) -> Mesh:
    """The open surface of teeth and gingiva as far as a scanner goes, with a ragged border."""
    box = [c.reach for c in tissues.collars]
    low = np.array([min(b[0][0] for b in box) - 1, min(b[0][1] for b in box) - 1, min(b[0][2] for b in box)])
    high = np.array([max(b[1][0] for b in box) + 1, tissues.back, tissues.line + 9.5])
    if tissues.arch.mouth.upper:
        high[2] = tissues.line + 15.0

    wave = rng.uniform(0, 2 * np.pi, 6)

    def ragged(points: Floats) -> Floats:
        s = tissues.along_line(points)
        parts = [0.25 / f * np.sin(s * f + p) for f, p in zip((0.2, 0.33, 0.6, 0.9, 1.4, 2.1), wave, strict=True)]
        return np.asarray(np.sum(parts, axis=0) / 1.5)

    def kept(points: Floats) -> NDArray[np.bool_]:
        n, edge = tissues.facial_of_line(points), ragged(points)
        deep = points[:, 2] - tissues.line
        outside = tissues.from_wall(points) > -4.0
        facial = outside & (deep < 8.0 + edge)
        lingual = ~outside & (n > -13 + 1.5 * edge) & (deep < (15 if tissues.arch.mouth.upper else 6.5 + edge))
        return (facial | lingual) & (points[:, 1] < tissues.back - 3.5 + edge)

    def field(points: Floats) -> Floats:
        hard, soft = tissues.tooth_and_gingiva(points, _BRIDGE)
        return np.minimum(hard, soft)

    vertices, faces = contour(sampled(field, low, high, spacing), spacing)
    vertices = vertices + low
    return largest(of_vertices(Mesh(vertices, faces), kept(vertices)))


def vertex_normals(mesh: Mesh) -> Floats:
    """Outward unit normals at the vertices, area-weighted."""
    p = mesh.vertices[mesh.faces]
    face = np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0])
    out = np.stack([
        np.bincount(mesh.faces.ravel(), weights=np.repeat(face[:, k], 3), minlength=len(mesh.vertices)) for k in range(3)
    ], axis=1)  # fmt: skip
    return np.asarray(out / np.maximum(np.linalg.norm(out, axis=1, keepdims=True), 1e-12))


def _holed(mesh: Mesh, count: int, rng: np.random.Generator) -> tuple[Mesh, list[tuple[Floats, float]]]:
    holes = []
    kept = np.ones(len(mesh.vertices), dtype=bool)
    for _ in range(count):
        centre = mesh.vertices[rng.integers(len(mesh.vertices))]
        radius = float(rng.uniform(0.5, 1.6))
        kept &= np.linalg.norm(mesh.vertices - centre, axis=1) > radius
        holes.append((centre, radius))
    return largest(of_vertices(mesh, kept)), holes


def _wetted(
    mesh: Mesh, normals: Floats, colours: Floats, tissues: Tissues, count: int, rng: np.random.Generator
) -> tuple[Floats, Floats, list[tuple[Floats, float, float]]]:
    """Drops of saliva, mostly along the margins: low smooth bumps."""
    hard, soft = tissues.tooth_and_gingiva(mesh.vertices)
    likely = np.flatnonzero((np.abs(hard) < 0.4) & (np.abs(soft) < 0.4))
    points, colours, blobs = mesh.vertices.copy(), colours.copy(), []
    for _ in range(count if len(likely) else 0):
        centre = mesh.vertices[likely[rng.integers(len(likely))]]
        radius, height = float(rng.uniform(0.6, 1.3)), float(rng.uniform(0.08, 0.25))
        away = np.linalg.norm(mesh.vertices - centre, axis=1) / radius
        bump = np.clip(1 - away**2, 0, None) ** 2
        points += height * bump[:, None] * normals
        colours += 0.7 * bump[:, None] * (np.array(_SALIVA) - colours)
        blobs.append((centre, radius, height))
    return points, colours, blobs


def _noise(mesh: Mesh, rng: np.random.Generator) -> Floats:
    """Noise of unit spread, alike over about two triangles, since scanners merge many views."""
    a, b = mesh.faces.ravel(), mesh.faces[:, [1, 2, 0]].ravel()
    n = len(mesh.vertices)
    links = sparse.coo_matrix((np.ones(len(a)), (a, b)), shape=(n, n)).tocsr()
    many = np.maximum(np.asarray(links.sum(axis=1)).ravel(), 1)
    out = rng.standard_normal(n)
    for _ in range(2):
        out = 0.5 * out + 0.5 * (links @ out) / many
    return np.asarray(out / out.std())


def _with_crumbs(mesh: Mesh, colours: Floats, count: int, rng: np.random.Generator) -> tuple[Mesh, Floats]:
    """Loose scraps of cheek or lip beside the arch, as scanners leave them."""
    for _ in range(count):
        side = rng.choice([-1.0, 1.0])
        centre = np.array([side * rng.uniform(30, 36), rng.uniform(5, 25), rng.uniform(-3, 6)])
        grid = np.stack(np.meshgrid(np.linspace(-2, 2, 14), np.linspace(-1.5, 1.5, 11), indexing="ij"), -1).reshape(
            -1, 2
        )
        patch = centre + np.stack([-side * 0.08 * (grid**2).sum(1), grid[:, 0], grid[:, 1]], axis=1)
        index = np.arange(14 * 11).reshape(14, 11)
        a, b, c, d = index[:-1, :-1].ravel(), index[1:, :-1].ravel(), index[1:, 1:].ravel(), index[:-1, 1:].ravel()
        faces = np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)]) + len(mesh.vertices)
        mesh = Mesh(np.vstack([mesh.vertices, patch]), np.vstack([mesh.faces, faces]))
        colours = np.vstack([colours, np.tile([0.76, 0.40, 0.40], (len(patch), 1))])
    return mesh, colours


def _pose(rng: np.random.Generator) -> Floats:
    """A random rotation and a shift up to 60 mm, as a 4 x 4 matrix."""
    q = rng.standard_normal(4)
    matrix = np.eye(4)
    matrix[:3, :3] = Rotation.from_quat(q / np.linalg.norm(q)).as_matrix()
    matrix[:3, 3] = rng.uniform(-60, 60, 3)
    return matrix

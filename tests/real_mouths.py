"""Mouths made of real teeth, each given a collar of gingiva whose margin is known exactly. Made when a test runs, never shipped."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import trimesh
from scipy.spatial import cKDTree
from skimage.measure import marching_cubes

from festoon.scan.raw import RawMesh
from festoon.scan.surface import Surface, clean

GRID = 0.22
"""Spacing of the grid, mm: that of a scanner's triangles."""
SLAB_MM = 0.6
FRONT = ("13", "12", "11", "21", "22", "23")


@dataclass(frozen=True)
class RealMouth:
    """Six real front teeth with gingiva. Coordinates: x to the patient's left, y posterior, z apical."""

    surface: Surface
    teeth: dict[str, trimesh.Trimesh]
    margin: dict[str, float]
    """Height of the midfacial margin by tooth."""
    _centres: np.ndarray

    def height_of_margin(self, points: np.ndarray) -> np.ndarray:
        """Height of the margin surface at places; where it meets a tooth is the true margin."""
        return scallop(points, self._centres, np.array([self.margin[c] for c in FRONT]))


def crowns_a(shared_data: Path) -> dict[str, trimesh.Trimesh]:
    """Crowns of photos-and-crowns-a (MIT)."""
    folder = shared_data / "photos-and-crowns-a" / "mesh-by-tooth"
    turn = np.array([[1.0, 0, 0], [0, 0, -1.0], [0, 1.0, 0]])  # x, vertical with the edge down, towards the lips
    return {c: _turned(trimesh.load_mesh(folder / f"Ref_Mesh_Tag=0_FDI={c}.obj"), turn) for c in FRONT}


def teeth_cbct(shared_data: Path) -> dict[str, trimesh.Trimesh]:
    """Whole teeth of teeth-cbct-upper (Gholamalizadeh et al. 2022, CC BY-NC-SA: for checking only)."""
    folder = shared_data / "teeth-cbct-upper"
    numbers = dict(zip(FRONT, (6, 7, 8, 9, 10, 11), strict=True))
    teeth = {c: trimesh.load_mesh(folder / f"tooth_{n}.stl") for c, n in numbers.items()}
    axes = json.loads((folder / "teeth_axes_maxilla.json").read_text("utf-8"))
    assert axes
    return {c: _turned(mesh, np.eye(3)) for c, mesh in teeth.items()}


def _turned(mesh: trimesh.Trimesh, turn: np.ndarray) -> trimesh.Trimesh:
    out = trimesh.Trimesh(np.asarray(mesh.vertices) @ turn.T, mesh.faces, process=True)
    out.merge_vertices()
    return out


def scallop(points: np.ndarray, centres: np.ndarray, heights: np.ndarray) -> np.ndarray:
    """A festooned height over the arch: the teeth's own heights at their middles, 3.5 mm more coronal between them."""
    along = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(centres[:, :2], axis=0), axis=1))])
    line = np.stack([np.interp(np.linspace(-6, along[-1] + 6, 900), along, centres[:, k]) for k in (0, 1)], axis=1)
    places = np.linspace(-6, along[-1] + 6, 900)
    for end, step in ((0, -1), (-1, 1)):  # straight on past the last teeth
        direction = (centres[end, :2] - centres[1 if end == 0 else -2, :2]) / np.linalg.norm(
            centres[end, :2] - centres[1 if end == 0 else -2, :2]
        )
        past = places < 0 if step < 0 else places > along[-1]
        line[past] = centres[end, :2] + np.abs(places[past] - along[end])[:, None] * direction
    _, k = cKDTree(line).query(points[:, :2])
    s = places[k]
    middle = np.interp(s, along, heights)
    which = np.clip(np.searchsorted(along, s), 1, len(along) - 1)
    nearest = np.where(s - along[which - 1] < along[which] - s, which - 1, which)
    half = np.gradient(along)[nearest] / 2
    share = np.clip(np.abs(s - along[nearest]) / half, 0, 1.0)
    # No papilla beyond the last teeth.
    share = np.where((s < 0) | (s > along[-1]), np.minimum(share, 0.35), share)
    return np.asarray(middle - 3.5 * share**2)


def _rooted(points: np.ndarray, normals: np.ndarray, margin: float, top: float) -> tuple[np.ndarray, np.ndarray]:
    """A bare crown gets a straight root under its gingiva: its section a little apical to the margin, carried on."""
    if points[:, 2].max() > top:
        return points, normals
    neck = np.abs(points[:, 2] - margin - 0.4) < 0.15
    flat = normals[neck] * [1, 1, 0]
    flat /= np.linalg.norm(flat, axis=1, keepdims=True)
    rises = np.arange(0, top - margin + 1, 0.15)
    root = (points[neck][:, None] + rises[None, :, None] * [0, 0, 1.0]).reshape(-1, 3)
    kept = points[:, 2] < margin + 0.4
    return np.concatenate([points[kept], root]), np.concatenate([normals[kept], np.repeat(flat, len(rises), axis=0)])


def with_gingiva(
    teeth: dict[str, trimesh.Trimesh], length: float, noise: float = 0.05, colours: bool = True, seed: int = 0
) -> RealMouth:
    """Teeth with gingiva as an open, noisy scan. The midfacial margin lies ``length`` apical to the lowest point of each tooth."""
    rng = np.random.default_rng(seed)
    centres = np.array([t.vertices[t.vertices[:, 2] < t.vertices[:, 2].min() + 8].mean(axis=0) for t in teeth.values()])
    margin = {c: float(t.vertices[:, 2].min()) + length for c, t in teeth.items()}
    heights = np.array(list(margin.values()))
    every = [trimesh.sample.sample_surface(t, 60000, seed=1) for t in teeth.values()]
    top = heights.max() + 7.0
    made = [_rooted(p, t.face_normals[f], h, top) for t, (p, f), h in zip(teeth.values(), every, heights, strict=True)]
    points, normals = (np.concatenate([m[k] for m in made]) for k in (0, 1))
    tree = cKDTree(points)
    low = points.min(axis=0) - 4.0
    high = np.array([*(points.max(axis=0)[:2] + 4.0), top])
    axes = [np.arange(a, b, GRID) for a, b in zip(low, high, strict=True)]
    grid = np.stack(np.meshgrid(*axes, indexing="ij"), -1).reshape(-1, 3)
    far, k = tree.query(grid, distance_upper_bound=4.0)
    near = np.isfinite(far)
    hard = np.full(len(grid), 4.0)
    away = ((grid[near] - points[k[near]]) * normals[k[near]]).sum(axis=1)
    hard[near] = np.where(np.abs(away) > 0.5 * far[near], np.sign(away) * far[near], away)
    below = grid[:, 2] - scallop(grid, centres, heights)
    thick = np.where(below < 0, below, 0.9 * (1 - np.exp(-np.maximum(below, 0) / 0.8)) + 0.15 * np.maximum(below, 0))
    soft = hard - thick
    field = np.minimum(hard, soft).reshape([len(a) for a in axes])
    vertices, faces, _, _ = marching_cubes(field, 0.0, spacing=(GRID,) * 3)
    vertices = vertices + low
    # Open apically, as a scan is; and only the outside.
    kept = (vertices[:, 2] < top - 1.0)[faces].all(axis=1)
    mesh = trimesh.Trimesh(vertices, faces[kept][:, ::-1], process=True)
    mesh = max(mesh.split(only_watertight=False), key=lambda m: m.area)
    at = np.asarray(mesh.vertices)
    outward = np.asarray(mesh.vertex_normals)
    gum = at[:, 2] - scallop(at, centres, heights) > 0
    shade = np.where(gum[:, None], [0.85, 0.55, 0.53], [0.92, 0.89, 0.80]) + 0.012 * rng.standard_normal(at.shape)
    moved = at + noise * rng.standard_normal((len(at), 1)) * outward
    raw = RawMesh(moved, np.asarray(mesh.faces, dtype=np.int64), np.clip(shade, 0, 1) if colours else None)
    return RealMouth(clean(raw, "real.ply", "mm"), teeth, margin, centres)


def measured_directly(mesh: trimesh.Trimesh) -> tuple[float, float]:
    """Greatest mesiodistal extent at right angles to the axis, and facial length along it, in mm.

    The facial long axis, seen from the front, is the line through the midpoints of the outline between 30 and 70 % of
    the crown's height; edge point and zenith are taken within a slab at mid-width on the facial half.
    """
    points = np.asarray(mesh.vertices)
    # Across the arch: horizontal, at right angles to the mean facial direction of this crown.
    horizontal = points[:, [0, 2]] - points[:, [0, 2]].mean(axis=0)
    facial = horizontal[np.asarray(mesh.vertex_normals)[:, 2] > 0.5].mean(axis=0)
    facial /= np.linalg.norm(facial)
    across = horizontal @ np.array([facial[1], -facial[0]])
    outward = horizontal @ facial
    up = points[:, 1] - points[:, 1].min()
    height = np.ptp(up)
    levels = np.linspace(0.3, 0.7, 9) * height
    middles = [(band.min() + band.max()) / 2 for level in levels if (band := across[np.abs(up - level) < 0.3]).size]
    tilt = float(np.polyfit(levels, middles, 1)[0])
    cosine = 1 / np.hypot(1, tilt)
    along, width_axis = (up + tilt * across) * cosine, (across - tilt * up) * cosine
    middle = (width_axis.min() + width_axis.max()) / 2
    front = (outward > 0) & (np.abs(width_axis - middle) < SLAB_MM)
    return float(np.ptp(width_axis)), float(np.ptp(along[front]))

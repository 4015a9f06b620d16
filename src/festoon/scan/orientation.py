"""Which way an arch lies in its file: occlusal and anterior directions, and whether its faces are inside out.

An open scan of a jaw is a cap over the tissue: the sum of its area-weighted normals looks occlusally and forwards, and its
border lies apically. Edges and cusps, the sharpest convex places, lie near one plane, the occlusal plane.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import maximum_filter
from scipy.spatial import cKDTree

from festoon.scan.raw import Floats, Ints, refusal
from festoon.scan.smoothing import bulge
from festoon.scan.surface import Surface

NO_ARCH = "this is no dental arch"
_SHARPEST = 0.975
"""Quantile of the bulge above which a corner counts as sharp."""
_ABOVE, _CLEARLY = 1.0, 0.01
"""What stands this far above the occlusal plane, mm, is hardly more than the second share of a scan."""
_ON_CIRCLE = 5.0
"""Sharp places within this of the circle through the row belong to it, mm."""


@dataclass(frozen=True)
class Lie:
    """How the arch lies in the file."""

    rotation: Floats
    """Rows: across (as seen from the front, looker's right), anterior, occlusal; right-handed, shape (3, 3)."""
    centre: Floats
    """Middle of the circle through the ridge of the teeth, file coordinates, shape (3,)."""
    radius: float
    """Radius of that circle, mm."""
    ridge: Floats
    """Edge and cusp points in the turned frame, shape (K, 3)."""
    plane_se_deg: float
    """Standard error of the occlusal plane's pitch, degrees."""
    inside_out: bool
    """The file's faces look into the tissue; they were turned."""

    def turned(self, points: Floats) -> Floats:
        """File coordinates to (across, anterior, occlusal) from the centre."""
        return np.asarray((points - self.centre) @ self.rotation.T)

    def back(self, points: Floats) -> Floats:
        """The reverse of :meth:`turned`."""
        return np.asarray(points @ self.rotation + self.centre)


def find_lie(surface: Surface) -> tuple[Lie, Surface]:
    """How the arch lies, and the surface with its normals out of the tissue.

    Raises
    ------
    InputRefusedError
        If no row of edges and cusps is found that could be a dental arch.
    """
    border = np.unique(surface.boundary)
    area = float(np.linalg.norm(surface.face_normals, axis=1).sum())
    inside_out = False
    if len(border) > 50 and np.linalg.norm(surface.face_normals.sum(axis=0)) > 0.08 * area:
        # The border of a scan lies apically of its middle, whichever way its faces are wound.
        below = surface.vertices[border].mean(axis=0) - surface.vertices.mean(axis=0)
        inside_out = bool(below @ surface.face_normals.sum(axis=0) > 0)
    elif not len(border):
        p = surface.vertices[surface.faces]
        inside_out = bool(np.einsum("ij,ij->i", p[:, 0], np.cross(p[:, 1], p[:, 2])).sum() < 0)
    if inside_out:
        surface = replace(surface, faces=np.ascontiguousarray(surface.faces[:, ::-1]))
    points, normals = _sharp(surface, border)
    if len(points) < 30:
        raise refusal(
            surface.name, f"{len(points)} edge or cusp points: {NO_ARCH}", "a row of teeth", "Check the file."
        )
    occlusal, points, pitch_se = _best_plane(surface, points, normals, open_scan=len(border) > 0)
    return _with_circle(surface, points, occlusal, pitch_se, inside_out), surface


def _sharp(surface: Surface, border: Ints) -> tuple[Floats, Floats]:
    """The sharpest convex corners away from the border of the scan, and their normals."""
    height = bulge(surface)
    if len(border):
        near = cKDTree(surface.vertices[border]).query(surface.vertices, distance_upper_bound=1.5)[0]
        height = np.where(np.isfinite(near), -1.0, height)
    sharp = height > np.quantile(height, _SHARPEST)
    return surface.vertices[sharp], surface.normals[sharp]


def _best_plane(surface: Surface, points: Floats, normals: Floats, open_scan: bool) -> tuple[Floats, Floats, float]:
    """The occlusal plane as :func:`_plane` finds it from the directions that may be occlusal: the one with least of the surface above it.

    Edges and cusps look occlusally for the most part, and so does an open scan as a whole; a few teeth with a sharp gingival ridge can
    mislead the first, a long palate the second.
    """
    by_edges = normals.mean(axis=0) / np.linalg.norm(normals.mean(axis=0))
    starts = [by_edges]
    if open_scan:
        whole = surface.face_normals.sum(axis=0)
        whole /= max(float(np.linalg.norm(whole)), 1e-12)
        both = by_edges + whole
        starts += [both / max(float(np.linalg.norm(both)), 1e-12), whole]
    least, best = np.inf, _plane(points, by_edges)
    for start in starts:
        found = _plane(points, start)
        height = surface.vertices @ found[0]
        above = float((height > np.median(found[1] @ found[0]) + _ABOVE).mean())
        if above < least - _CLEARLY:
            least, best = above, found
        if least < _CLEARLY:
            break
    return best


def _plane(points: Floats, occlusal: Floats) -> tuple[Floats, Floats, float]:
    """The plane of the most occlusal sharp points, fitted again and again, and the standard error of its pitch in degrees."""
    normal, kept = occlusal, points
    for _ in range(30):
        height = points @ normal
        across = _frame(points, normal)
        top = _tops(across @ points.T, height)
        kept = points[top]
        middle = kept.mean(axis=0)
        flat = (kept - middle) @ across[:2].T
        off = height[top] - middle @ normal
        weight = np.ones(len(off))
        for _ in range(5):
            design = np.c_[flat, np.ones(len(off))] * weight[:, None]
            slope = np.linalg.lstsq(design, off * weight, rcond=None)[0]
            left = off - np.c_[flat, np.ones(len(off))] @ slope
            weight = 1 / (1 + (left / 0.7) ** 2)
        turned = normal - slope[0] * across[0] - slope[1] * across[1]
        turned /= np.linalg.norm(turned)
        # Half steps: the points that are on top change with the direction.
        turned = normal + 0.6 * (turned - normal)
        turned /= np.linalg.norm(turned)
        if float(turned @ normal) > 1 - 1e-8:
            break
        normal = turned
    spread = float(np.sqrt(np.average(left**2, weights=weight)))
    # Edges of one mouth lie off one plane by tooth, not by point: some ten teeth at most are independent.
    pitch = float(np.degrees(np.arctan2(max(spread, 0.3), np.std(flat[:, 1]) * np.sqrt(6))))
    return normal, kept, pitch


def _frame(points: Floats, normal: Floats) -> Floats:
    """Rows: the widest direction of the points in the plane, the direction square to it, the normal."""
    flat = points - points.mean(axis=0)
    flat = flat - (flat @ normal)[:, None] * normal
    across = np.linalg.svd(flat[:: max(1, len(flat) // 4000)], full_matrices=False)[2][0]
    return np.stack([across, np.cross(normal, across), normal])


def _tops(across: Floats, height: Floats) -> Floats:
    """Of every 3 mm square seen from above, the points within half a millimetre of its top, if no square near by is much higher."""
    # Squares lie round the middle of the points: they are the same in every pose of the file.
    cell = np.round((across[:2] - across[:2].mean(axis=1, keepdims=True)) / 3.0).astype(np.int64)
    cell -= cell.min(axis=1, keepdims=True)
    shape = cell.max(axis=1) + 1
    top = np.full(shape, -np.inf)
    np.maximum.at(top, (cell[0], cell[1]), height)
    beside, around = (
        maximum_filter(top, 3, mode="constant", cval=-np.inf),
        maximum_filter(top, 5, mode="constant", cval=-np.inf),
    )
    at = (cell[0], cell[1])
    return np.asarray((height > top[at] - 0.5) & (top[at] > beside[at] - 1.5) & (top[at] > around[at] - 2.5))


def _with_circle(surface: Surface, points: Floats, occlusal: Floats, pitch_se: float, inside_out: bool) -> Lie:
    across = _frame(points, occlusal)
    flat = points @ across[:2].T
    weight = np.ones(len(flat))
    for _ in range(10):
        design = np.c_[2 * flat, np.ones(len(flat))] * weight[:, None]
        solved = np.linalg.lstsq(design, (flat**2).sum(axis=1) * weight, rcond=None)[0]
        radius = float(np.sqrt(solved[2] + (solved[:2] ** 2).sum()))
        left = np.linalg.norm(flat - solved[:2], axis=1) - radius
        weight = 1 / (1 + (left / 2.0) ** 2)
    extent = float(np.ptp(flat, axis=0).max())
    if not 10.0 < radius < 80.0 or not 8.0 < extent < 90.0 or float(np.median(np.abs(left))) > 5.0:
        raise refusal(
            surface.name,
            f"sharp places that lie on no arch (radius {radius:.0f} mm): {NO_ARCH}",
            "a row of teeth on a curve",
            "Check the file.",
        )
    centre = solved[:2] @ across[:2] + np.median(points @ occlusal) * occlusal
    anterior = _open_behind(flat - solved[:2], np.abs(left)) @ across[:2]
    rotation = np.stack([np.cross(anterior, occlusal), anterior, occlusal])
    return Lie(rotation, centre, radius, (points - centre) @ rotation.T, pitch_se, inside_out)


def _open_behind(away: Floats, off: Floats) -> Floats:
    """Unit direction (2,) from the middle of the circle to the middle of the row: away from the largest gap in it.

    The mean of the points does for front teeth; in a whole arch it is only as sure as its cusps are alike on both sides.
    """
    angle = np.arctan2(away[:, 1], away[:, 0])[off < _ON_CIRCLE]
    count, borders = np.histogram(angle, bins=72, range=(-np.pi, np.pi))
    held = np.flatnonzero(count >= max(3, 0.003 * len(angle)))
    gap = np.diff(np.concatenate([held, [held[0] + 72]]))
    k = int(np.argmax(gap))
    if gap[k] > 36:
        return np.asarray(away.mean(axis=0) / np.linalg.norm(away.mean(axis=0)))
    behind = borders[0] + (held[k] + gap[k] / 2 + 0.5) * 2 * np.pi / 72
    return -np.array([np.cos(behind), np.sin(behind)])

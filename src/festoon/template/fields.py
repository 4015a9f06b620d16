"""Distances on a regular grid: to the teeth, with undercuts blocked out along the grid's own z, and from there outwards."""

from __future__ import annotations

from dataclasses import dataclass

import igl
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt
from scipy.spatial import cKDTree
from skimage.measure import marching_cubes

from festoon.template.inputs import RELIEF, Floats, Sheet
from festoon.template.prepare import Ground

Field = NDArray[np.float32]
_NEAR = 0.3
"""Half width of the band in which distances to the surface are exact, mm."""

_ALIKE = 0.15
"""Where filling would move the inner face by less, it stays where it is, and from twice that it is moved in full, mm."""


@dataclass(frozen=True)
class Grid:
    """Places of the samples."""

    low: Floats
    step: float
    shape: tuple[int, int, int]

    @classmethod
    def over(cls, low: Floats, high: Floats, step: float) -> Grid:
        """The grid that covers a box."""
        n = np.ceil((high - low) / step).astype(int) + 1
        return cls(np.asarray(low), step, (int(n[0]), int(n[1]), int(n[2])))

    def line(self, k: int) -> Floats:
        """Coordinates along one axis."""
        return np.asarray(self.low[k] + self.step * np.arange(self.shape[k]))

    def points(self, index: tuple[NDArray[np.intp], ...]) -> Floats:
        """Places of samples, shape (N, 3)."""
        return self.low + self.step * np.stack(index, axis=1)

    def holding(self, points: Floats) -> NDArray[np.bool_]:
        """True in every cell that holds a point."""
        index = np.round((points - self.low) / self.step).astype(int)
        inside = ((index >= 0) & (index < self.shape)).all(axis=1)
        out = np.zeros(self.shape, dtype=bool)
        out[tuple(index[inside].T)] = True
        return out

    def surface(self, field: Field) -> Sheet:
        """The zero surface of a field, in the grid's frame, wound so that the field rises outwards."""
        vertices, faces, _, _ = marching_cubes(field, 0.0, spacing=(self.step,) * 3)
        return Sheet(vertices.astype(np.float64) + self.low, np.ascontiguousarray(faces.astype(np.int64)))


def blocked(ground: Ground, grid: Grid, clearance: float, cleft: float) -> Field:
    """Distance from the inner face outwards, shape of the grid: negative where the part must not be.

    Clefts in which a ball of radius ``cleft`` does not fit are filled, as embrasures are blocked out before a splint is made: between two
    teeth the part would else run out into a fin that breaks, hinders seating, and makes a feather of a drain's side.
    The inner face keeps ``clearance`` from teeth and more from gingiva; the running minimum along the axis fills every place that
    a tooth would pass on its way out. Exact near the face, to the grid elsewhere.
    """
    sheet = ground.sheet
    low, high = grid.low - 3.0, grid.low + grid.step * np.array(grid.shape) + 3.0
    near_box: NDArray[np.bool_] = np.all((sheet.vertices > low) & (sheet.vertices < high), axis=1)
    used: NDArray[np.bool_] = np.any(near_box[sheet.faces], axis=1)
    hard = ground.faces_of_teeth()
    teeth = used & hard
    out = _to_teeth(Sheet(sheet.vertices, np.ascontiguousarray(sheet.faces[teeth])), sheet, grid) - np.float32(
        clearance
    )
    soft = np.unique(sheet.faces[used & ~hard])
    if len(soft):
        np.minimum(out, _to_gingiva(sheet.vertices[soft], grid), out=out)
    return np.asarray(np.minimum.accumulate(_without_clefts(out, grid, cleft), axis=2))


def _without_clefts(out: Field, grid: Grid, cleft: float) -> Field:
    """The same distances where a ball of radius ``cleft`` reaches, and less where it does not."""
    far = distance_transform_edt(out < cleft, sampling=grid.step).astype(np.float32)
    index = np.nonzero((far > 0) & (out > -_NEAR) & (far - cleft + out > _ALIKE))
    face = grid.surface(out - np.float32(cleft)).vertices
    near = cKDTree(face).query(grid.points(index), workers=2)[0].astype(np.float32)
    filled = out.copy()
    more = out[index] - np.float32(cleft) + near
    filled[index] -= np.clip(2 * (more - np.float32(_ALIKE)), 0, np.maximum(more, 0))
    return filled


def _dense(sheet: Sheet) -> Floats:
    """Corners and middles of the faces: no cell of the grid that the surface passes is far from one."""
    p = sheet.vertices[sheet.faces]
    return np.concatenate([p.reshape(-1, 3), p.mean(axis=1), (p[:, 0] + p[:, 1]) / 2, (p[:, 1] + p[:, 2]) / 2])


def _to_teeth(teeth: Sheet, whole: Sheet, grid: Grid) -> Field:
    far = distance_transform_edt(~grid.holding(_dense(teeth)), sampling=grid.step).astype(np.float32)
    index = np.nonzero(far < _NEAR)
    points = np.ascontiguousarray(grid.points(index))
    tree = igl.AABB()
    tree.init(teeth.vertices, teeth.faces)
    squared, _, _ = tree.squared_distance(teeth.vertices, teeth.faces, points)
    inside = np.asarray(igl.fast_winding_number(whole.vertices, whole.faces, points)) > 0.5
    exact = np.sqrt(np.asarray(squared))
    far[index] = np.where(inside, -exact, exact)
    return np.asarray(far)


def _to_gingiva(points: Floats, grid: Grid) -> Field:
    far = distance_transform_edt(~grid.holding(points), sampling=grid.step).astype(np.float32)
    index = np.nonzero((far > RELIEF - 0.4) & (far < RELIEF + 0.4))
    far[index] = cKDTree(points).query(grid.points(index), workers=2)[0]
    return np.asarray(far - np.float32(RELIEF))


def outwards(inner: Field, grid: Grid, exact_from: float, exact_to: float | Field, wanted: NDArray[np.bool_]) -> Field:
    """Distance from the inner face, outside of it; to a few microns between two distances where ``wanted``.

    ``exact_to`` may be given place by place, as far as it can be broadcast over the grid.
    """
    far = distance_transform_edt(inner > 0, sampling=grid.step).astype(np.float32)
    face = grid.surface(inner).vertices
    index = np.nonzero((far > exact_from) & (far < exact_to) & wanted)
    far[index] = cKDTree(face).query(grid.points(index), workers=2)[0]
    return np.asarray(far)


def rounded_max(a: Field, b: Field, radius: float) -> Field:
    """Intersection of two bodies given by distances, with its edge rounded."""
    r = np.float32(radius)
    corner = np.hypot(np.maximum(a + r, 0), np.maximum(b + r, 0))
    return np.asarray(np.minimum(np.maximum(a, b), -r) + corner, dtype=np.float32)

"""A surface made ready for rays and distances: what every check is measured with."""

from __future__ import annotations

from functools import cached_property
from typing import Any

import igl
import numpy as np

from festoon.template.inputs import Floats, Ints, Sheet


class Body:
    """A surface made ready for rays and distances."""

    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self._tree: Any = igl.AABB()
        self._tree.init(sheet.vertices, sheet.faces)

    def hits(self, start: Floats, direction: Floats) -> tuple[Ints, Floats]:
        """First face each ray hits (-1: none) and the distance to it (inf), shape (N,)."""
        along = np.broadcast_to(direction, start.shape)
        hit, t, _ = self._tree.intersect_ray_first(
            self.sheet.vertices, self.sheet.faces, np.ascontiguousarray(start), np.ascontiguousarray(along)
        )
        face = np.asarray(hit)
        return face, np.where(face >= 0, np.asarray(t), np.inf)

    def first(self, start: Floats, direction: Floats) -> Floats:
        """Distance to the first hit of each ray, inf where there is none, shape (N,)."""
        return self.hits(start, direction)[1]

    def nearest(self, points: Floats) -> Floats:
        """Distance to the surface, shape (N,)."""
        return np.sqrt(self.foot(points)[0])

    def foot(self, points: Floats) -> tuple[Floats, Ints, Floats]:
        """Squared distance to the surface, face and place of the nearest point, shapes (N,), (N,), (N, 3)."""
        squared, face, at = self._tree.squared_distance(
            self.sheet.vertices, self.sheet.faces, np.ascontiguousarray(points)
        )
        return np.asarray(squared), np.asarray(face), np.asarray(at)

    def depth(self, points: Floats) -> Floats:
        """How far within the body points lie, by the side of the nearest place they are on; negative outside. Shape (N,)."""
        signed, _, _, _ = igl.signed_distance(
            np.ascontiguousarray(points), self.sheet.vertices, self.sheet.faces, igl.SIGNED_DISTANCE_TYPE_PSEUDONORMAL
        )
        return -np.asarray(signed)

    @cached_property
    def normals(self) -> Floats:
        """Unit normals of the faces, shape (M, 3)."""
        p = self.sheet.vertices[self.sheet.faces]
        out = np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0])
        return np.asarray(out / np.maximum(np.linalg.norm(out, axis=1, keepdims=True), 1e-12))

    @cached_property
    def middles(self) -> Floats:
        """Middles of the faces, shape (M, 3)."""
        return np.asarray(self.sheet.vertices[self.sheet.faces].mean(axis=1))

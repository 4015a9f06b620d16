"""A tooth seen straight on: the visible surface as a map of depths and colours on a regular grid."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import igl
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from festoon.scan.colouring import Colouring
from festoon.scan.raw import Floats, Ints

CELL = 0.08
"""Size of a cell of the map, mm: finer than a scanner's triangles."""
_LARGEST_HOLE = 6.0
"""A hole in a scan no larger than this is closed from its rim, mm2."""
_BEFORE = 12.0
"""Rays begin this far before the origin, mm."""


@dataclass(frozen=True)
class Scene:
    """The surface in the arch frame, ready for rays."""

    vertices: Floats
    faces: Ints
    colouring: Colouring | None
    border: Ints
    """Edges that only one face has, shape (K, 2)."""
    tree: Any = field(init=False)
    normals: Floats = field(init=False)
    """Normals of the faces, length twice their area, shape (M, 3)."""
    rim: NDArray[np.bool_] = field(init=False)
    """Whether a face touches the border of the surface, shape (M,)."""

    def __post_init__(self) -> None:
        tree = igl.AABB()
        tree.init(self.vertices, self.faces)
        object.__setattr__(self, "tree", tree)
        a, b, c = (self.vertices[self.faces[:, k]] for k in range(3))
        object.__setattr__(self, "normals", np.cross(b - a, c - a))
        on_border = np.zeros(len(self.vertices), dtype=bool)
        on_border[np.unique(self.border)] = True
        object.__setattr__(self, "rim", on_border[self.faces].any(axis=1))

    def cast(self, start: Floats, direction: Floats) -> tuple[Ints, Floats, Floats]:
        """First face hit by each ray (-1: none), its distance, and the barycentric weights of the place, shape (N, 3)."""
        face, t, uv = self.tree.intersect_ray_first(
            self.vertices, self.faces, np.ascontiguousarray(start), np.ascontiguousarray(direction)
        )
        face, t = np.asarray(face), np.asarray(t)
        uv = np.where((face >= 0)[:, None], uv, 0.0)  # a miss leaves it unset
        return face, t, np.c_[1 - uv.sum(axis=1), uv]


@dataclass(frozen=True)
class View:
    """The visible surface from one side. Rows go apically, columns to ``across``."""

    origin: Floats
    """Point at across 0, down 0, depth 0, shape (3,)."""
    across: Floats
    down: Floats
    """Unit, apical."""
    towards: Floats
    """Unit, to the viewer."""
    x: Floats
    """Across coordinate of the columns, mm, shape (W,)."""
    w: Floats
    """Down coordinate of the rows, mm, shape (H,)."""
    depth: Floats
    """How far towards the viewer the surface stands, mm, shape (H, W); NaN where nothing is seen."""
    gum: Floats | None
    """How far the colour is that of gingiva, 0 to 1, shape (H, W); None without usable colours."""
    seen: NDArray[np.bool_]
    rim: NDArray[np.bool_]
    """Where the face that is seen touches the border of the surface, shape (H, W)."""

    def points(self, rows: Floats, columns: Floats, depth: Floats) -> Floats:
        """Points in space of places given in mm, shape (..., 3)."""
        return np.asarray(
            self.origin
            + np.asarray(columns)[..., None] * self.across
            + np.asarray(rows)[..., None] * self.down
            + np.asarray(depth)[..., None] * self.towards
        )

    @cached_property
    def holes(self) -> NDArray[np.bool_]:
        """Unseen cells of small holes in the surface, shape (H, W)."""
        label, count = ndimage.label(~self.seen)
        size = np.bincount(label.ravel(), minlength=count + 1)
        border = np.unique(np.concatenate([label[0], label[-1], label[:, 0], label[:, -1]]))
        small = size < _LARGEST_HOLE / CELL**2
        small[border] = False
        small[0] = False
        return np.asarray(small[label])

    @cached_property
    def filled(self) -> Floats:
        """Depths with small holes closed from their rims and the rest of the unseen as far behind."""
        if not self.seen.any():
            return np.zeros(self.depth.shape)
        out = np.where(self.seen, self.depth, np.nanmin(self.depth))
        if self.holes.any():
            nearest = ndimage.distance_transform_edt(~self.seen, return_distances=False, return_indices=True)
            out[self.holes] = out[tuple(nearest)][self.holes]
        return np.asarray(out)

    @property
    def surface(self) -> NDArray[np.bool_]:
        """Where there is surface, small holes closed, shape (H, W)."""
        return np.asarray(self.seen | self.holes)


def look(
    scene: Scene, origin: Floats, across: Floats, down: Floats, towards: Floats, half: float, rows: tuple[float, float]
) -> View:
    """Look at the surface along ``-towards``."""
    x = np.arange(-half, half + CELL / 2, CELL)
    w = np.arange(rows[0], rows[1] + CELL / 2, CELL)
    start = origin + x[None, :, None] * across + w[:, None, None] * down + _BEFORE * towards
    shape = start.shape[:2]
    start = start.reshape(-1, 3)
    face, t, weight = scene.cast(start, np.broadcast_to(-towards, start.shape))
    # A face seen from behind is the far wall behind a hole.
    facing = scene.normals[np.maximum(face, 0)] @ towards > 0
    seen = (face >= 0) & (t < 2 * _BEFORE) & facing
    depth = np.where(seen, _BEFORE - t, np.nan).reshape(shape)
    gum = None
    if scene.colouring is not None:
        values = np.zeros(len(start))
        values[seen] = (scene.colouring.gum[scene.faces[face[seen]]] * weight[seen]).sum(axis=1)
        gum = values.reshape(shape)
    return View(
        origin, across, down, towards, x, w, depth, gum, seen.reshape(shape), (seen & scene.rim[face]).reshape(shape)
    )

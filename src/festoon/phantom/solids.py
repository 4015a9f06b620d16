"""The finished solids of a jaw: every tooth's parts, its ligament, the bone and the gingiva, watertight, in one frame.

Teeth are meshed directly on their own lines; bone and gingiva by marching cubes on a narrow band of a grid, and what does not belong to
them is cut out by exact Boolean operations. So no margin is rounded to the grid.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import manifold3d
import numpy as np
from numpy.typing import NDArray
from skimage.measure import marching_cubes

from festoon.phantom import shells
from festoon.phantom.shells import Mesh, largest
from festoon.phantom.tissues import Collar, Tissues

Floats = NDArray[np.float64]
Field = Callable[[Floats], Floats]

_BLOCK, _REACH = 4, 0.5
"""Defaults of :func:`sampled`."""
_CHUNK = 20_000


@dataclass(frozen=True)
class ToothSolids:
    """The parts of one tooth, jaw coordinates."""

    whole: Mesh
    enamel: Mesh
    dentine: Mesh
    """With the pulp as a hollow."""
    pulp: Mesh
    ligament: Mesh


@dataclass(frozen=True)
class Solids:
    """All solids of one jaw, jaw coordinates."""

    teeth: dict[str, ToothSolids]
    """By ISO 3950 code."""
    bone: Mesh
    gingiva: Mesh

    def every(self) -> dict[str, Mesh]:
        """Name and mesh of each solid."""
        out = {"bone": self.bone, "gingiva": self.gingiva}
        for code, tooth in self.teeth.items():
            parts = {"enamel": tooth.enamel, "dentine": tooth.dentine, "pulp": tooth.pulp, "ligament": tooth.ligament}
            out |= {f"{code}-{name}": mesh for name, mesh in parts.items()}
        return out


def in_arch_frame(points: Floats, upper: bool) -> Floats:
    """Jaw coordinates (height apical) to the arch frame (z superior), and back."""
    return points if upper else points * np.array([1.0, 1.0, -1.0])


def mesh_in_arch_frame(mesh: Mesh, upper: bool) -> Mesh:
    """The mesh in the arch frame, still with its outside outside."""
    return mesh if upper else Mesh(in_arch_frame(mesh.vertices, upper), np.ascontiguousarray(mesh.faces[:, ::-1]))


def build_solids(tissues: Tissues, spacing: float = 0.15, around: int = 160) -> Solids:
    """The solids of a jaw.

    Parameters
    ----------
    tissues : Tissues
        The fields.
    spacing : float
        Grid of bone and gingiva, mm.
    around : int
        Lines round each tooth.
    """
    teeth = {collar.placed.tooth.fdi: _tooth(collar, around) for collar in tissues.collars}
    low, high = tissues.box()
    # One cut for roots, back and base: each Boolean operation goes over the whole of a large surface. What is done with is let go.
    away = _union([*(_manifold(_swollen(collar, around)) for collar in tissues.collars), *_beyond(low, high, tissues)])
    bone = _body(tissues.bone, low, high, spacing)
    bone_cut, away = _mesh(bone - away), _union([bone, away])
    del bone
    return Solids(teeth=teeth, bone=bone_cut, gingiva=_mesh(_body(tissues.gingiva, low, high, spacing) - away))


def _tooth(collar: Collar, around: int) -> ToothSolids:
    placed = collar.placed
    parts = {
        "whole": shells.whole(placed.body, around),
        "enamel": shells.enamel(placed.body, around),
        "dentine": shells.dentine(placed.body, around),
        "pulp": shells.pulp(placed.body),
        "ligament": shells.ligament(placed.body, collar.crest, collar.ligament_width, around),
    }
    return ToothSolids(**{name: mesh.moved(placed.matrix, placed.origin) for name, mesh in parts.items()})


def _swollen(collar: Collar, around: int) -> Mesh:
    """The tooth with the room that sulcus and ligament keep round it."""

    def outward(phi: Floats, w: Floats) -> Floats:
        return collar.sulcus_width(phi, w) + collar.ligament_width(phi, w)

    made = shells.swollen(collar.placed.body, collar.room_levels, outward, around)
    return made.moved(collar.placed.matrix, collar.placed.origin)


def in_chunks(field: Field, points: Floats) -> Floats:
    """The field at many points, in chunks that stay in the processor's cache."""
    return np.concatenate([field(points[i : i + _CHUNK]) for i in range(0, len(points), _CHUNK)])


def sampled(
    field: Field, low: Floats, high: Floats, spacing: float, block: int = _BLOCK, reach: float = _REACH
) -> NDArray[np.float32]:
    """The field on a grid whose first node is ``low``, worked out only near its surface; elsewhere its sign.

    Parameters
    ----------
    field : callable
    low, high : array (3,)
        Corners of the grid, mm; it reaches up to two blocks further.
    spacing : float
    block : int
        Cells a side of the blocks that are worked out or left out.
    reach : float
        A block is worked out when a corner is nearer to the surface than this share of its side.

    Returns
    -------
    values : array (nx, ny, nz)
    """
    step = spacing * block
    blocks = np.ceil((high - low) / step).astype(int) + 1
    axes = [low[k] + step * np.arange(blocks[k] + 1) for k in range(3)]
    coarse = in_chunks(field, np.stack(np.meshgrid(*axes, indexing="ij"), -1).reshape(-1, 3))
    coarse = coarse.reshape(tuple(blocks + 1))
    corners = [
        coarse[i : i + blocks[0], j : j + blocks[1], k : k + blocks[2]] for i in (0, 1) for j in (0, 1) for k in (0, 1)
    ]
    # The fields grow by about one mm a mm, and the surfaces are smooth at the size of a block.
    near = (np.minimum.reduce(corners) < reach * step) & (np.maximum.reduce(corners) > -reach * step)
    signs = np.where(np.sum(corners, axis=0) > 0, 1, -1).astype(np.float32)
    values = signs.repeat(block, axis=0).repeat(block, axis=1).repeat(block, axis=2)
    by_block = values.reshape(blocks[0], block, blocks[1], block, blocks[2], block)
    inside = np.stack(np.meshgrid(*[np.arange(block)] * 3, indexing="ij"), -1)
    index = np.argwhere(near)
    together = max(1, _CHUNK // block**3)
    for some in (index[i : i + together] for i in range(0, len(index), together)):
        cells = some[:, None, None, None, :] * block + inside
        found = field((low + spacing * cells).reshape(-1, 3)).reshape(cells.shape[:4])
        by_block[some[:, 0], :, some[:, 1], :, some[:, 2], :] = found
    return values


def surface_of(field: Field, low: Floats, high: Floats, spacing: float) -> Mesh:
    """The closed surface of ``field < 0`` within a box, by marching cubes; where the field goes on, it ends with the grid."""
    values = np.pad(sampled(field, low, high + 2 * spacing, spacing), 1, constant_values=np.float32(1))
    vertices, faces = contour(values, spacing)
    return Mesh(vertices + low - spacing, faces)


def contour(values: NDArray[np.float32], spacing: float) -> tuple[Floats, NDArray[np.int64]]:
    """Vertices (N, 3) and faces (M, 3) of the zero of a grid of values, mm from its first node, by marching cubes."""
    vertices, faces, _, _ = marching_cubes(values, 0.0, spacing=(spacing,) * 3)
    return vertices.astype(np.float64), faces.astype(np.int64)


def _body(field: Field, low: Floats, high: Floats, spacing: float) -> Any:
    """The same as one closed manifold."""
    return _manifold(largest(surface_of(field, low, high, spacing)))


def _beyond(low: Floats, high: Floats, tissues: Tissues) -> list[Any]:
    """Two blocks, behind the flat back and beyond the flat base."""
    size, edge = high - low + 40.0, low - 20.0
    back = (edge[0], tissues.back, edge[2])
    base = (edge[0], edge[1], tissues.base)
    return [manifold3d.Manifold.cube(tuple(size)).translate(corner) for corner in (back, base)]


def _manifold(mesh: Mesh) -> Any:
    """The mesh for exact Boolean operations.

    Raises
    ------
    ValueError
        If it is not closed, or inside out.
    """
    body = manifold3d.Manifold(
        manifold3d.Mesh64(np.ascontiguousarray(mesh.vertices), np.ascontiguousarray(mesh.faces.astype(np.uint64)))
    )
    if body.status() != manifold3d.Error.NoError or body.volume() <= 0:
        raise ValueError(f"a solid of the phantom is not closed: {body.status()}, volume {body.volume():.3f} mm3")
    return body


def _union(bodies: list[Any]) -> Any:
    return manifold3d.Manifold.batch_boolean(bodies, manifold3d.OpType.Add)


def _mesh(body: Any) -> Mesh:
    """The surface of the one body, without the crumbs that a cut may leave."""
    raw = body.to_mesh64()
    points = np.asarray(raw.vert_properties, dtype=np.float64)[:, :3]
    return largest(Mesh(points, np.asarray(raw.tri_verts, dtype=np.int64)))

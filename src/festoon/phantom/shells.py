"""Closed surfaces of the parts of a tooth, meshed directly on its angles and levels: no grid, no rounding of edges."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse import csgraph

from festoon.phantom.tooth import ToothBody

Floats = NDArray[np.float64]
Faces = NDArray[np.int64]
Curve = Callable[[Floats], Floats]
"""Level or levels by stretched angle."""
Curve2 = Callable[[Floats, Floats], Floats]
"""Thickness by stretched angle and level."""


@dataclass(frozen=True)
class Mesh:
    """Triangles, outward orientation."""

    vertices: Floats
    """Shape (N, 3), mm."""
    faces: Faces
    """Shape (M, 3)."""

    def moved(self, matrix: Floats, origin: Floats) -> Mesh:
        """Local to world: ``origin + p @ matrix``; the orientation is kept where the matrix mirrors."""
        faces = self.faces if np.linalg.det(matrix) > 0 else self.faces[:, ::-1]
        return Mesh(self.vertices @ matrix + origin, np.ascontiguousarray(faces))


def joined(*meshes: Mesh) -> Mesh:
    """Several shells as one mesh."""
    shift = np.cumsum([0] + [len(m.vertices) for m in meshes])
    return Mesh(
        np.vstack([m.vertices for m in meshes]),
        np.vstack([m.faces + s for m, s in zip(meshes, shift, strict=False)]),
    )


def of_vertices(mesh: Mesh, kept: NDArray[np.bool_]) -> Mesh:
    """The faces all of whose vertices are kept, without unused vertices."""
    faces = mesh.faces[kept[mesh.faces].all(axis=1)]
    used = np.zeros(len(mesh.vertices), dtype=bool)
    used[faces] = True
    renumbered = np.cumsum(used) - 1
    return Mesh(mesh.vertices[used], renumbered[faces])


def largest(mesh: Mesh) -> Mesh:
    """The connected piece with the most vertices."""
    # Two sides of a triangle tie its three corners.
    faces = mesh.faces.astype(np.int32)
    a, b = faces[:, :2].ravel(), faces[:, 1:].ravel()
    n = len(mesh.vertices)
    links = sparse.csr_matrix((np.ones(len(a), dtype=np.int8), (a, b)), shape=(n, n))
    count, label = csgraph.connected_components(links, directed=False)
    return mesh if count == 1 else of_vertices(mesh, label == np.bincount(label).argmax())


def reversed_(mesh: Mesh) -> Mesh:
    """The mesh turned inside out, as the wall of a hollow."""
    return Mesh(mesh.vertices, np.ascontiguousarray(mesh.faces[:, ::-1]))


def angles(around: int) -> Floats:
    """Stretched angles of the lines of a mesh, denser towards the mesial and distal where sections are sharp."""
    t = 2 * np.pi * np.arange(around) / around
    return t - 0.22 * np.sin(2 * t)


def closed(rings: Floats, first: Floats, last: Floats) -> Mesh:
    """A closed surface from rings (K, A, 3) of one sense and the points that close both ends."""
    k, around, _ = rings.shape
    index = np.arange(k * around).reshape(k, around)
    after = np.roll(index, -1, axis=1)
    a, b = index[:-1].ravel(), after[:-1].ravel()
    c, d = after[1:].ravel(), index[1:].ravel()
    sides = np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])
    top, bottom = k * around, k * around + 1
    start = np.stack([np.full(around, top), after[0], index[0]], 1)
    end = np.stack([np.full(around, bottom), index[-1], after[-1]], 1)
    vertices = np.vstack([rings.reshape(-1, 3), first, last])
    return Mesh(vertices, np.concatenate([sides, start, end]))


def _cap_rings(body: ToothBody, rim: Floats, inner: int) -> tuple[Floats, Floats]:
    """Rings from the middle of the cap to its rim (rim not included), and the middle."""
    centre = rim.mean(axis=0)
    shares = (np.arange(1, inner) / inner)[:, None, None]
    flat = centre + shares * (rim[None] - centre)
    flat[..., 2] = body.cap(flat[..., 0], flat[..., 1])
    centre = centre.copy()
    centre[2] = body.cap(centre[:1], centre[1:2])[0]
    return flat, centre


def _past(ring: Floats, by: float) -> Floats:
    """The middle of a ring, moved apically."""
    return np.asarray(ring.mean(axis=0) + np.array([0.0, 0.0, by]))


def _levels(top: Floats, middle: Floats, end: float, rows: tuple[int, int]) -> Floats:
    """Levels (rows, angles): from ``top`` to ``middle`` by angle, then to the common ``end``, denser at the apex."""
    crown = top + (middle - top) * (np.linspace(0, 1, rows[0]) ** 1.25)[:, None]
    t = np.sin(np.linspace(0, np.pi / 2, rows[1] + 1)[1:])[:, None]
    return np.vstack([crown, middle + (end - middle) * t])


def whole(body: ToothBody, around: int = 160, rows: tuple[int, int] = (90, 60)) -> Mesh:
    """The tooth as one shell."""
    phi = angles(around)
    return _shell(body, phi, _levels(body.rim(phi), body.cej(phi), body.end - 0.02, rows), None)


def swollen(body: ToothBody, corners: Curve, outward: Curve2, around: int = 160) -> Mesh:
    """The tooth swollen by ``outward(phi, w)`` outwards from the middle of its sections.

    ``corners(phi)`` are the levels at which that has corners, by angle, shape (K, around), rising: rows lie on them, so that no
    corner is cut off.
    """
    phi = angles(around)
    steps = [body.rim(phi), *corners(phi)]
    rows = [steps[0] + (steps[1] - steps[0]) * (np.linspace(0, 1, 60, endpoint=False) ** 1.25)[:, None]]
    rows += [a + (b - a) * np.linspace(0, 1, 8, endpoint=False)[:, None] for a, b in pairwise(steps[1:])]
    rows.append(steps[-1] + (body.end - 0.02 - steps[-1]) * np.sin(np.linspace(0, np.pi / 2, 50))[:, None])
    return _shell(body, phi, np.concatenate(rows), outward)


def _shell(body: ToothBody, phi: Floats, levels: Floats, outward: Curve2 | None) -> Mesh:
    p = np.broadcast_to(phi, levels.shape)
    lateral = body.surface(p, levels)
    cap, middle = _cap_rings(body, lateral[0], 40 if body.shape.form.cusps else 10)
    if outward is not None:
        lateral = lateral + outward(p, levels)[..., None] * body.spokes(p, levels)
    return closed(np.concatenate([cap, lateral]), middle, _past(lateral[-1], 0.02))


def enamel_thickness(body: ToothBody, share: Floats) -> Floats:
    """Thickness of the enamel at a share (0 rim, 1 CEJ) of the way from the edge: about 1 mm at mid-crown, 0 at the CEJ.

    From memory: 0.9 to 1.0 mm facially at mid-crown of a central; thicker at the edge.
    """
    most = 0.115 * body.shape.width
    return np.asarray(most * (1 - share**2.2) ** 0.6, dtype=np.float64)


def edge_enamel(body: ToothBody) -> float:
    """Thickness of the enamel over the edge or the cusps, mm (from memory: 1.5 to 2 mm at an unworn edge)."""
    return max(0.3, 0.14 * body.shape.crown - body.shape.worn)


def _dentine_rings(body: ToothBody, phi: Floats, rows: int) -> tuple[Floats, Floats, Floats]:
    """Outer enamel rings, dentine rings under them (the last ring of both is the CEJ), and levels of the outer ones."""
    top, neck = body.rim(phi), body.cej(phi)
    share = np.linspace(0, 1, rows)[:, None]
    levels = top + (neck - top) * share
    p = np.broadcast_to(phi, levels.shape)
    outer = body.surface(p, levels)
    edge = edge_enamel(body)
    deeper = levels + edge * (1 - share) ** 1.5
    wall = body.surface(p, deeper)
    _, _, u0, v0 = body.section(deeper)
    centre = np.stack([u0, v0, deeper], axis=-1)
    spoke = wall - centre
    reach = np.linalg.norm(spoke, axis=-1)
    thick = np.minimum(enamel_thickness(body, np.broadcast_to(share, levels.shape)), 0.45 * reach)
    inner = centre + spoke * ((reach - thick) / np.maximum(reach, 1e-9))[..., None]
    inner[-1] = outer[-1]
    return outer, inner, levels


def enamel(body: ToothBody, around: int = 160, rows: int = 90) -> Mesh:
    """The enamel cap: its rim is the CEJ."""
    phi = angles(around)
    outer, inner, _ = _dentine_rings(body, phi, rows)
    cap, middle = _cap_rings(body, outer[0], 40 if body.shape.form.cusps else 10)
    floor = inner[0].mean(axis=0)
    shares = (np.arange(1, 6) / 6)[:, None, None]
    inside = floor + shares * (inner[0][None] - floor)
    rings = np.concatenate([cap, outer, inner[-2::-1], inside[::-1]])
    return closed(rings, middle, floor)


def dentine(body: ToothBody, around: int = 160, rows: tuple[int, int] = (90, 60)) -> Mesh:
    """Dentine and root cementum, with the pulp as a hollow."""
    phi = angles(around)
    _, inner, _ = _dentine_rings(body, phi, rows[0])
    floor = inner[0].mean(axis=0)
    shares = (np.arange(1, 6) / 6)[:, None, None]
    inside = floor + shares * (inner[0][None] - floor)
    neck = body.cej(phi)
    # Denser at the apex and at the neck, where the ledge of the enamel ends.
    levels = neck + (body.end - 0.02 - neck) * (0.5 - 0.5 * np.cos(np.linspace(0, np.pi, rows[1] + 1)[1:]))[:, None]
    root = body.surface(np.broadcast_to(phi, levels.shape), levels)
    rings = np.concatenate([inside, inner, root])
    outside = closed(rings, floor, _past(root[-1], 0.02))
    return joined(outside, reversed_(pulp(body)))


def _pulp_size(body: ToothBody, t: Floats) -> tuple[Floats, Floats]:
    """Level and share of the section at a share ``t`` of the pulp's length."""
    start = 0.45 * body.shape.crown + 0.5 * body.shape.worn
    w = start + t * (body.end - 1.0 - start)
    return w, (0.26 - 0.12 * t) * np.sqrt(np.clip(1 - (2 * t - 1) ** 8, 0, None)) + 0.002


def in_pulp(body: ToothBody, points: Floats) -> NDArray[np.bool_]:
    """Whether local points (N, 3) lie in the pulp."""
    ends, _ = _pulp_size(body, np.array([0.0, 1.0]))
    t = (points[:, 2] - ends[0]) / (ends[1] - ends[0])
    _, scale = _pulp_size(body, np.clip(t, 0, 1))
    a, b, u0, v0 = body.section(points[:, 2])
    q = np.hypot((points[:, 0] - u0) / a, (points[:, 1] - v0) / b)
    return np.asarray((t > 0) & (t < 1) & (q < scale))


def pulp(body: ToothBody, around: int = 48, rows: int = 60) -> Mesh:
    """Pulp chamber and canal: a quarter of the section, from below the edge to short of the apex (from memory)."""
    phi = angles(around)
    t = np.linspace(0, 1, rows)
    w, scale = _pulp_size(body, t)
    a, b, u0, v0 = body.section(w)
    x = u0[:, None] + (scale * a)[:, None] * np.cos(phi)
    y = v0[:, None] + (scale * b)[:, None] * np.sin(phi)
    rings = np.stack([x, y, np.broadcast_to(w[:, None], x.shape)], axis=-1)
    return closed(rings, rings[0].mean(axis=0) - [0, 0, 0.02], _past(rings[-1], 0.02))


def ligament(body: ToothBody, crest: Curve, width: Curve2, around: int = 160, rows: int = 60) -> Mesh:
    """The ligament: the shell between root and socket, from the crest to the apex."""
    phi = angles(around)
    start = crest(phi)
    t = np.linspace(0, 1, rows)[:, None]
    levels = start + (body.end - 0.02 - start) * np.sin(t * np.pi / 2)
    p = np.broadcast_to(phi, levels.shape)
    root = body.surface(p, levels)
    socket = root + width(p, levels)[..., None] * body.spokes(p, levels)
    tip = _past(root[-1], 0.02)
    deep = _past(socket[-1], 0.2)
    # From the root's tip up to the crest, then down the socket.
    rings = np.concatenate([root[::-1], socket[1:]])
    return closed(rings, tip, deep)

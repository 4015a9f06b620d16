"""The scan made ready: turned into the seated pose, lightly smoothed, small holes closed, tooth told from gingiva."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, diags

from festoon.template.inputs import Floats, Ints, Sheet, ToothOnScan

SMALL_HOLE = 3.0
"""Holes whose rim is at most this far across are bridged, mm (no source)."""
_RINGS = (0.75, 0.5, 0.25)
"""Where the rings of a bridge lie between its middle and the rim."""


@dataclass(frozen=True)
class Hole:
    """A gap in the scan."""

    centre: Floats
    across: float
    """Largest extent of its rim, mm."""
    bridged: bool


@dataclass(frozen=True)
class Ground:
    """The surface a template is made over, in the seated pose: z along the insertion axis, apical positive."""

    sheet: Sheet
    tooth: Ints
    """By vertex: ISO 3950 number of its tooth, 0 for gingiva, shape (N,)."""
    holes: tuple[Hole, ...]

    def faces_of_teeth(self) -> NDArray[np.bool_]:
        """Faces all of whose corners are on a tooth, shape (M,)."""
        return np.asarray((self.tooth[self.sheet.faces] > 0).all(axis=1))


def smoothed(sheet: Sheet, rounds: int = 3) -> Sheet:
    """The surface without most of a scanner's noise, and without shrinking (pairs of a step in and a step out)."""
    n, f = len(sheet.vertices), sheet.faces
    a, b = f[:, [0, 1, 2, 1, 2, 0]].ravel(), f[:, [1, 2, 0, 0, 1, 2]].ravel()
    links = coo_matrix((np.ones(len(a)), (a, b)), shape=(n, n)).tocsr()
    links.data[:] = 1.0
    means = diags(1.0 / np.maximum(np.asarray(links.sum(axis=1)).ravel(), 1.0)) @ links
    points = sheet.vertices
    for step in (0.5, -0.53) * rounds:
        points = points + step * (means @ points - points)
    return Sheet(np.ascontiguousarray(points), f)


def closed(sheet: Sheet) -> tuple[Sheet, tuple[Hole, ...]]:
    """The surface with small holes closed by fans to their middle; the outer border and large holes stay open."""
    f, n = sheet.faces, len(sheet.vertices)
    edges = np.concatenate([f[:, [0, 1]], f[:, [1, 2]], f[:, [2, 0]]])
    key = edges.min(axis=1) * n + edges.max(axis=1)
    _, first, count = np.unique(key, return_index=True, return_counts=True)
    follows: dict[int, list[int]] = defaultdict(list)
    for a, b in edges[first[count == 1]].tolist():
        follows[b].append(a)  # the rim runs against the faces
    loops: list[Ints] = []
    while follows:
        start = next(iter(follows))
        loop, at = [start], start
        while follows.get(at):
            at = follows[at].pop()
            if at == start:
                break
            loop.append(at)
        for v in loop:
            if not follows.get(v):
                follows.pop(v, None)
        if len(loop) > 2 and at == start:
            loops.append(np.array(loop))
    points, faces, holes = [sheet.vertices], [f], []
    for rim_loop in sorted(loops, key=len, reverse=True)[1:]:
        rim = sheet.vertices[rim_loop]
        across = 2 * float(np.linalg.norm(rim - rim.mean(axis=0), axis=1).max())
        bridged = across <= SMALL_HOLE
        holes.append(Hole(rim.mean(axis=0), across, bridged))
        if bridged:
            inner, triangles = _patch(sheet.vertices, rim_loop, n)
            points.append(inner)
            faces.append(triangles)
            n += len(inner)
    return Sheet(np.concatenate(points), np.concatenate(faces)), tuple(holes)


def _patch(vertices: Floats, loop: Ints, first: int) -> tuple[Floats, Ints]:
    """Rings within a rim, bulging as the surface around does, and their faces; new points are numbered from ``first``."""
    rim = vertices[loop]
    centre = rim.mean(axis=0)
    reach = float(np.linalg.norm(rim - centre, axis=1).max())
    around = vertices[np.linalg.norm(vertices - centre, axis=1) < reach + 1.0] - centre
    _, _, frame = np.linalg.svd(rim - centre)
    u, v, w = (around @ frame.T).T

    def terms(a: Floats, b: Floats) -> Floats:
        return np.stack([np.ones_like(a), a, b, a * a, a * b, b * b], axis=1)

    bulge = np.linalg.lstsq(terms(u, v), w, rcond=None)[0]
    flat = (rim - centre) @ frame.T
    off = flat[:, 2] - terms(flat[:, 0], flat[:, 1]) @ bulge
    rings = []
    for share in _RINGS:
        a, b = share * flat[:, 0], share * flat[:, 1]
        rings.append(np.stack([a, b, terms(a, b) @ bulge + share * off], axis=1) @ frame + centre)
    middle = np.array([[0.0, 0.0, bulge[0]]]) @ frame + centre
    m = len(loop)
    numbers = [loop] + [first + k * m + np.arange(m) for k in range(len(_RINGS))]
    faces = []
    for outer, inner in pairwise(numbers):
        after, within = np.roll(outer, -1), np.roll(inner, -1)
        faces += [np.stack([outer, after, inner], axis=1), np.stack([after, within, inner], axis=1)]
    last = first + len(_RINGS) * m
    faces.append(np.stack([numbers[-1], np.roll(numbers[-1], -1), np.full(m, last)], axis=1))
    return np.concatenate([*rings, middle]), np.concatenate(faces)


def told_apart(sheet: Sheet, teeth: list[ToothOnScan]) -> Ints:
    """Tooth of every vertex: coronal to the margin, seen round the tooth's axis, and within its ring."""
    out = np.zeros(len(sheet.vertices), dtype=np.int64)
    best = np.full(len(sheet.vertices), np.inf)
    for tooth in teeth:
        ring = tooth.coordinates(tooth.margin)
        centre = ring.mean(axis=0)
        at = tooth.coordinates(sheet.vertices) - [centre[0], centre[1], 0.0]
        ring = ring - [centre[0], centre[1], 0.0]
        turn = np.arctan2(ring[:, 1], ring[:, 0])
        order = np.argsort(turn)
        phi = np.arctan2(at[:, 1], at[:, 0])
        level = np.interp(phi, turn[order], ring[order, 2], period=2 * np.pi)
        reach = np.interp(phi, turn[order], np.hypot(ring[order, 0], ring[order, 1]), period=2 * np.pi)
        share = np.hypot(at[:, 0], at[:, 1]) / np.maximum(reach, 0.5)
        own = (at[:, 2] < level - 0.05) & (share < 1.45) & (at[:, 2] > -1.5) & (share < best)
        out[own], best[own] = int(tooth.fdi), share[own]
    return out


def ground_of(sheet: Sheet, teeth: list[ToothOnScan]) -> Ground:
    """Everything at once, for a surface already in the seated pose."""
    whole, holes = closed(smoothed(sheet))
    return Ground(whole, told_apart(whole, teeth), holes)

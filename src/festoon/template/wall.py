"""The wall of a part: the largest ball that fits between its inner and its outer face, place by place."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from festoon.template.body import Body
from festoon.template.inputs import Floats, Ints, Sheet

LOOKS = 2.0
"""A face that sees the scan within so much is an inner one, mm."""
_CLOSE = 1.0
"""A face so near the scan is an inner one too, mm: more than the room that is left over gingiva and in filled clefts. A wall cannot hide
behind this: it would have to thin out to 1 mm, and is found too thin on the way there."""
_OPPOSITE = -0.94
"""Cosine between the inner face and the one that stops the ball. Faces within about 20 degrees of opposite are the two sides of a
wall; one that stands squarer is a rim or the side of a window, where every wall ends."""
_MOST = 4.0
"""Larger balls are not told apart, mm across."""
_SHRINKS = 12
"""Shrinking a ball to its second contact converges in a few rounds."""
_EVERY = 0.2
"""The wall is measured in every cell of this size that the inner face passes, mm."""
_FINEST = 8
"""Large faces are measured at places so finely divided."""


def inner_faces(body: Body, land: Body) -> NDArray[np.bool_]:
    """Faces of a part that look at the scan, lie against it, or look into what is blocked out, shape (M,).

    What is blocked out lies apical of a tooth along the insertion axis: from there a ray in the coronal direction meets the tooth.
    """
    looks = land.first(body.middles, body.normals) < LOOKS
    blocked = np.isfinite(land.first(body.middles + 0.1 * body.normals, np.array([0.0, 0.0, -1.0])))
    return np.asarray(looks | blocked | (land.nearest(body.middles) < _CLOSE))


def walls(body: Body, land: Body, inner: NDArray[np.bool_], wall: float) -> tuple[Floats, Floats]:
    """Places of the inner face and the wall there: the diameter of the largest ball that touches the place from within the material
    and no face beyond it.

    Two kinds of place are no wall and are left out: rims and windows (the ball rests on a face that is not opposite, or a rim is
    nearer than half the wall, so that a ball of the wall's size has no room), and fins between two teeth, where the material ends in another inner face.

    Parameters
    ----------
    body : Body
        The part.
    land : Body
        The scan.
    inner : bool array (M,)
        Its inner faces.
    wall : float
        The wall that is wanted, mm.

    Returns
    -------
    array (N, 3), array (N,)
        mm; the diameter is at most 4.
    """
    points, face = _samples(body, inner)
    normals = body.normals[face]
    clear = ~near_rim(body, inner, points, normals, wall / 2 + 0.1)
    points, normals = points[clear], normals[clear]
    beyond = Body(Sheet(body.sheet.vertices, np.ascontiguousarray(body.sheet.faces[~inner])))
    radius = np.full(len(points), _MOST / 2)
    rests = np.ones(len(points), dtype=bool)
    stop: Ints = np.zeros(len(points), dtype=np.int64)
    rest = points.copy()
    for _ in range(_SHRINKS):
        if not rests.any():
            break
        k = np.flatnonzero(rests)
        squared, at_face, at = beyond.foot(points[k] - radius[k, None] * normals[k])
        too_near = np.sqrt(squared) < radius[k] - 1e-4
        away = points[k] - at
        along = np.maximum((away * normals[k]).sum(axis=1), 1e-9)
        smaller = (away**2).sum(axis=1) / (2 * along)
        hit = k[too_near]
        radius[hit], rest[hit] = np.minimum(smaller[too_near], radius[hit]), at[too_near]
        stop[hit] = at_face[too_near]
        rests[k[~too_near]] = False
    stopped: NDArray[np.bool_] = radius < _MOST / 2
    # Where the ball rests and the face it rests on both say so: the normal of a sliver of a facet alone, or the border of a rim, would not.
    towards = (rest - points) / radius[:, None] + normals
    opposite = np.asarray((towards * normals).sum(axis=1) < _OPPOSITE)
    opposite &= (beyond.normals[stop] * normals).sum(axis=1) < _OPPOSITE
    through = _through(points, normals, 2 * radius, body, inner) & (land.nearest(rest) > _CLOSE)
    held: NDArray[np.bool_] = stopped & opposite & through
    return points[held], 2 * radius[held]


def _through(points: Floats, normals: Floats, far: Floats, body: Body, inner: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Where a ray from the inner face leaves the material through a face that is not another inner one."""
    face, distance = body.hits(points - 1e-3 * normals, -normals)
    return np.asarray((face >= 0) & ~(inner[face] & (distance < far)))


def _samples(body: Body, faces: NDArray[np.bool_]) -> tuple[Floats, Ints]:
    """Places over the whole of some faces and the face each is on: the middle of the largest face in each cell of a fine grid, and of larger
    faces places no further apart than that. Always the same ones.
    """
    own = np.flatnonzero(faces)
    p = body.sheet.vertices[body.sheet.faces[own]]
    long = np.linalg.norm(p - np.roll(p, 1, axis=1), axis=2).max(axis=1)
    points, face = [body.middles[own]], [own]
    for parts in range(2, _FINEST + 1):
        some = np.flatnonzero(
            (long > (parts - 1) * _EVERY) & (long <= parts * _EVERY) if parts < _FINEST else long > (parts - 1) * _EVERY
        )
        for i in range(parts):
            for j in range(parts - i):
                u, v = (i + 1 / 3) / parts, (j + 1 / 3) / parts
                points.append(p[some, 0] + u * (p[some, 1] - p[some, 0]) + v * (p[some, 2] - p[some, 0]))
                face.append(own[some])
    every, of = np.concatenate(points), np.concatenate(face)
    large = np.argsort(
        -np.linalg.norm(np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]), axis=1)[np.searchsorted(own, of)], kind="stable"
    )
    every, of = every[large], of[large]
    _, kept = np.unique(np.floor(every / _EVERY).astype(np.int64), axis=0, return_index=True)
    return every[kept], of[kept]


def near_rim(body: Body, inner: NDArray[np.bool_], points: Floats, normals: Floats, within: float) -> NDArray[np.bool_]:
    """Places of the inner face near a rim: near a face that does not look at the scan and is not the opposite side of the wall."""
    away = ~inner
    if not away.any() or not len(points):
        return np.zeros(len(points), dtype=bool)
    distance, k = cKDTree(body.middles[away]).query(points, k=24, distance_upper_bound=within, workers=2)
    beside = (body.normals[away][np.minimum(k, away.sum() - 1)] * normals[:, None, :]).sum(axis=2) > -0.8
    return np.asarray(((distance < within) & beside).any(axis=1))

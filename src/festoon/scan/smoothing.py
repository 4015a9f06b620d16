"""Smoothing over the edges of a mesh, and how far a surface bulges above its smooth self."""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_array, csr_array

from festoon.scan.raw import Floats
from festoon.scan.surface import Surface

BULGE_SCALE = 0.8
"""Edges and cusps stand out at this scale, mm: an incisal edge is sharper, a facial surface much flatter."""


def neighbour_means(surface: Surface) -> csr_array:
    """The matrix that takes values at corners to the mean over each corner's neighbours, shape (N, N)."""
    n = len(surface.vertices)
    ends = surface.faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    links = coo_array((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), shape=(n, n)).tocsr()
    links = links + links.T
    many = np.maximum(np.asarray(links.sum(axis=1)).ravel(), 1.0)
    links.data /= np.repeat(many, np.diff(links.indptr))
    return links


def smoothed(surface: Surface, scale: float, values: Floats | None = None, means: csr_array | None = None) -> Floats:
    """Values at the corners (the positions by default) after a diffusion of standard deviation ``scale`` mm."""
    means = neighbour_means(surface) if means is None else means
    out = surface.vertices if values is None else values
    # One half step spreads by half the mean square of the edges, shared by two directions of the surface.
    steps = int(np.clip(round(4 * (scale / surface.spacing) ** 2), 1, 200))
    for _ in range(steps):
        out = 0.5 * (out + means @ out)
    return np.asarray(out)


def bulge(surface: Surface, scale: float = BULGE_SCALE, means: csr_array | None = None) -> Floats:
    """How far each corner stands above the smoothed surface along its normal, mm, shape (N,). Edges and cusps are high."""
    flat = smoothed(surface, scale, means=means)
    return np.asarray(((surface.vertices - flat) * surface.normals).sum(axis=1))

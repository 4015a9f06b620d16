"""The outline of one tooth: the closed line round its middle that follows its edge best, found among all that do not turn back.

Rays from the middle cross the edge once. Dynamic programming over the rays finds the line with the least cost in all; closed, by being
held where a first, open run passes the opposite side.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from festoon.photo.edges import Floats, Points, dark_lines
from festoon.photo.enamel import Arch
from festoon.photo.snapping import cheapest_offsets

_RAYS = 360
_STEP = 1.0
"""Crop pixels between the samples of a ray, at the length of half a tooth."""
_NEAREST, _FARTHEST = 0.35, 1.75
"""Between which multiples of the expected half tooth the outline may run. A setting of ours."""

_CORNERS = 3.0
"""Exponent of the superellipse that the rays' reach follows below: a crown has corners at its edge. Above it is an ellipse."""
_BEND = 0.06
"""Cost of each sample of difference between neighbouring rays. A setting of ours."""
_PASSED = 0.12
"""Cost of each unit of clear evidence within the outline: a tooth ends at its first edge, not at that of the tooth behind it."""
_LENGTH_WEIGHT, _LENGTH_SPREAD = 0.2, 0.4
"""Pull towards the expected length, below alone: cost at so large a relative difference. Settings of ours."""
_SHIFT, _RISE = 10, 5.0
"""Samples by which the margin may move to the step of redness, and rise of a* across it that makes it a margin. Settings of ours."""


@dataclass(frozen=True)
class Evidence:
    """What speaks for an edge, by pixel of the crop."""

    enamel: Floats
    lightness: Floats
    """L*, what is lighter than tooth nearby cut off: only what is darker is an edge of a tooth."""
    dark: Floats
    """Depth of dark lines, L*."""
    red: Floats
    """a*."""
    sight: Floats
    """0 in mirrored light, where colour says nothing of edges, 1 elsewhere."""


@dataclass(frozen=True)
class Contour:
    """One tooth's outline."""

    points: Points
    """Closed, the first not repeated; clockwise as seen, from the right of the tooth in the picture; crop pixels (x, y), shape (n, 2)."""
    strength: NDArray[np.float64]
    """Evidence for the edge at each point, 0 to 1."""


def evidence_of(arch: Arch) -> Evidence:
    """What the outlines of all teeth are sought in."""
    lightness = ndimage.gaussian_filter(arch.lab[..., 0], 1.0)
    tooth = (arch.enamel > 0.5).astype(np.float32)
    near = ndimage.gaussian_filter(tooth, 25)
    usual = ndimage.gaussian_filter(lightness * tooth, 25) / np.maximum(near, 1e-3)
    cut = np.where(near > 0.02, np.minimum(lightness, usual), lightness)
    sight = ndimage.gaussian_filter(1 - ndimage.binary_dilation(arch.glare, iterations=3).astype(np.float32), 1.0)
    return Evidence(arch.enamel, cut, dark_lines(cut, 2.0), ndimage.gaussian_filter(arch.lab[..., 1], 1.0), sight)


def closed_line(
    evidence: Evidence, middle: tuple[float, float], half: tuple[float, float], reach: tuple[float, float]
) -> Contour:
    """Find one tooth's outline.

    Parameters
    ----------
    evidence : Evidence
    middle : (x, y)
        A point well inside the tooth, crop pixels.
    half : (x, y)
        Expected half width and half height; the outline may run from a third of it to nearly twice.
    reach : (left, right)
        Columns beyond which the tooth cannot reach.
    """
    angle = np.linspace(0, 2 * np.pi, _RAYS, endpoint=False)
    power = np.where(np.sin(angle) > 0, _CORNERS, 2.0)
    round_off = (np.abs(np.cos(angle)) ** power + np.abs(np.sin(angle)) ** power) ** (-1 / power)
    direction = round_off[:, None] * np.column_stack([half[0] * np.cos(angle), half[1] * np.sin(angle)])
    unit = np.arange(_NEAREST, _FARTHEST, _STEP / max(half))
    where = np.array(middle) + unit[None, :, None] * direction[:, None, :]
    strength, cost = _along_rays(evidence, where)
    outside = (where[..., 0] < reach[0]) | (where[..., 0] > reach[1])
    cost = cost + np.where(outside, 3.0, 0.0)
    downward = np.clip(np.sin(angle), 0, None)[:, None]
    cost = cost + _LENGTH_WEIGHT * downward * ((unit[None, :] - 1) / _LENGTH_SPREAD) ** 2
    per_ray = max(half) / _STEP * 2 * np.pi / _RAYS
    best = closed_offsets(cost, max(2, round(2.5 * per_ray)), _BEND)
    best = best + _to_gingiva(evidence, where, best)
    every = np.arange(_RAYS)
    radius = ndimage.gaussian_filter1d(unit[best], 1.0, mode="wrap")
    return Contour(np.array(middle) + radius[:, None] * direction, strength[every, best])


def _to_gingiva(evidence: Evidence, where: Points, best: NDArray[np.int64]) -> NDArray[np.int64]:
    """Shift, in samples, to where redness rises most, on rays that leave the tooth into gingiva; 0 on all others.

    Which side of the margin a pixel is on depends on what tooth nearby looks like, and the neck of a tooth is darker and yellower than
    its middle: the step itself does not depend on that.
    """
    span = np.arange(-2 * _SHIFT, 2 * _SHIFT + 1)
    index = np.clip(best[:, None] + span, 0, where.shape[1] - 1)
    near = where[np.arange(len(best))[:, None], index]
    red = ndimage.map_coordinates(evidence.red, [near[..., 1], near[..., 0]], order=1, mode="nearest")
    step = red[:, 2:] - red[:, :-2]
    step = np.clip(step[:, _SHIFT - 1 : -_SHIFT + 1], 0, None)
    rise = red[:, -_SHIFT:].mean(axis=1) - red[:, :_SHIFT].mean(axis=1)
    gingival = (rise > _RISE) & (step.max(axis=1) > 0)
    offsets = np.arange(-_SHIFT, _SHIFT + 1)
    cost = np.where(offsets == 0, 0.0, 2.0)[None, :].repeat(len(best), axis=0)
    cost[gingival] = 1 - step[gingival] / step[gingival].max(axis=1, keepdims=True) + 0.02 * np.abs(offsets)
    return np.asarray(closed_offsets(cost, 1, 0.3) - _SHIFT)


def _along_rays(evidence: Evidence, where: Points) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Evidence and cost at each sample of each ray."""

    def sampled(image: Floats) -> NDArray[np.float64]:
        return np.asarray(
            ndimage.map_coordinates(image, [where[..., 1], where[..., 0]], order=1, mode="nearest"), np.float64
        )

    def outward(values: NDArray[np.float64], over: int = 2) -> NDArray[np.float64]:
        ahead = np.concatenate([values[:, over:], np.repeat(values[:, -1:], over, axis=1)], axis=1)
        behind = np.concatenate([np.repeat(values[:, :1], over, axis=1), values[:, :-over]], axis=1)
        return np.asarray(ahead - behind)

    enamel, dark = sampled(evidence.enamel), sampled(evidence.dark)
    ends = np.clip(-outward(enamel), 0, 1)
    darker = np.clip(-outward(sampled(evidence.lightness)), 0, None)
    redder = np.clip(outward(sampled(evidence.red)), 0, None)
    within = dark / (dark + 2.0)
    shade = (darker + redder) / (darker + redder + 6.0)
    strength = np.maximum(ends, sampled(evidence.sight) * np.maximum(within, 0.8 * shade))
    clear = np.clip(strength - 0.25, 0, None)
    passed = np.cumsum(clear, axis=1) - clear  # the first clear edge from within, not one beyond it
    beyond = np.cumsum(np.clip(0.5 - enamel, 0, None), axis=1)
    return strength, 1 - strength + _PASSED * passed + 0.05 * beyond


def closed_offsets(cost: NDArray[np.float64], steepest: int, bend: float) -> NDArray[np.int64]:
    """Dynamic programming round a circle: one column per row, the last row beside the first."""
    rows = len(cost)
    turned = np.roll(cost, -rows // 2, axis=0)
    free = cheapest_offsets(np.concatenate([turned, turned[: rows // 4]]), steepest, bend)
    held = np.concatenate([cost, cost[:1]])
    start = int(free[rows - rows // 2])  # row 0 of the circle, well away from both ends of the free run
    held[0], held[-1] = np.inf, np.inf
    held[0, start] = held[-1, start] = 0
    return cheapest_offsets(held, steepest, bend)[:-1]

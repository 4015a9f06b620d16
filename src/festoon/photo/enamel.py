"""Which pixels are tooth: first by whiteness in the whole photograph, then by what tooth and gingiva look like nearby."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from skimage.filters import threshold_otsu

from festoon.photo.edges import Floats, Looks, Points, without

Mask = NDArray[np.bool_]

_COARSE_PX = 700
"""Longer side of the picture in which the arch is first sought."""
_REDNESS = 2.0
"""Whiteness is L* less this many times a*: gingiva is darker and redder than any tooth. A setting of ours."""
_CROP_WIDTH_PX = 1200
"""Width to which the arch is brought: a central incisor is then some 160 px wide, a pixel about 0.05 mm."""
_DARK = 0.35
"""What is darker than this part of the L* of tooth nearby is the dark of the mouth. A setting of ours."""
_NEARBY = 0.04
"""What tooth and gingiva look like is averaged over this part of the arch's width (one standard deviation), about half a tooth."""


@dataclass(frozen=True)
class Arch:
    """The part of a photograph in which teeth stand, brought to one size."""

    lab: Floats
    """Shape (h, w, 3); glare filled."""
    enamel: Floats
    """How likely a pixel is tooth, 0 to 1, shape (h, w)."""
    glare: Mask
    corner: tuple[float, float]
    """Grid pixel (x, y) of the looks where the crop begins."""
    scale: float
    """Crop pixels per grid pixel."""

    def to_grid(self, points: Points) -> Points:
        """Crop pixels (x, y) as grid pixels of the looks."""
        return np.asarray((np.asarray(points) + 0.5) / self.scale - 0.5 + np.array(self.corner), dtype=np.float64)


def find_arch(looks: Looks) -> Arch | None:
    """The row of teeth, cut out and brought to one size; None where nothing looks like one."""
    step = max(1, -(-max(looks.lab.shape[:2]) // _COARSE_PX))
    coarse = ndimage.uniform_filter(looks.lab, (step, step, 0))[::step, ::step]
    mask = whitest_row(coarse)
    if mask is None:
        return None
    ys, xs = np.nonzero(mask)
    wide, high = np.ptp(xs) + 1, np.ptp(ys) + 1
    left, right = max(0, xs.min() - 0.05 * wide), min(mask.shape[1], xs.max() + 1 + 0.05 * wide)
    top, bottom = max(0, ys.min() - 0.35 * high), min(mask.shape[0], ys.max() + 1 + 0.2 * high)
    x0, x1, y0, y1 = (round(float(v) * step) for v in (left, right, top, bottom))
    scale = _CROP_WIDTH_PX / (x1 - x0)
    part = looks.lab[y0:y1, x0:x1]
    if scale < 1:
        part = ndimage.gaussian_filter(part, (0.5 / scale, 0.5 / scale, 0))
    zoomed = [scale, scale]
    lab = np.stack([_zoom(part[..., c], zoomed) for c in range(3)], axis=-1)
    glare = _zoom(looks.glare[y0:y1, x0:x1].astype(np.float32), zoomed) > 0.3
    whole = np.asarray(np.kron(mask, np.ones((step, step))), dtype=np.float32)
    rough = _zoom(whole[y0:y1, x0:x1], zoomed, lab.shape[:2]) > 0.5
    return Arch(lab, likelihood(lab, rough), glare, (float(x0), float(y0)), scale)


def whitest_row(lab: Floats) -> Mask | None:
    """Pixels whiter than Otsu's threshold that form a row below the upper border of the picture, in red surroundings.

    Gloves, skin and retractors are white too, and are cut off by the upper or lower border; glare is white too, and small.
    """
    white = ndimage.gaussian_filter(lab[..., 0] - _REDNESS * lab[..., 1], 1)
    mask = ndimage.binary_opening(white > _otsu(white), iterations=1)
    labels, count = ndimage.label(mask)
    if not count:
        return None
    boxes = ndimage.find_objects(labels)
    areas = np.bincount(labels.ravel())[1:]
    red = lab[..., 1] > _otsu(lab[..., 1])
    inner = [i for i in range(count) if not _cut_off(labels == i + 1) and areas[i] > 0.002 * mask.size]
    if not inner:
        return None
    width = mask.shape[1]
    main = max(inner, key=lambda i: areas[i] * _redness_round(labels == i + 1, red) ** 2)
    rows, _ = boxes[main]
    tall = rows.stop - rows.start
    kept = _in_row(boxes, areas, inner, main)
    row = np.isin(labels, np.array(kept) + 1)
    across = np.nonzero(row.any(axis=0))[0]
    if np.ptp(across) < 0.12 * width or np.ptp(across) < 1.2 * tall:
        return None
    return np.asarray(row)


def _cut_off(piece: Mask) -> bool:
    """True where the picture's upper border, or the lower one along much of its width, cuts a piece: above teeth stands gingiva."""
    across = np.count_nonzero(piece.any(axis=0))
    return bool(piece[:2].any() or np.count_nonzero(piece[-2:].any(axis=0)) > 0.6 * across)


def _redness_round(piece: Mask, red: Mask) -> float:
    """Part of a piece's surroundings that is red."""
    ring = ndimage.binary_dilation(piece, iterations=4) & ~ndimage.binary_dilation(piece, iterations=2)
    return float(red[ring].mean()) if ring.any() else 0.0


def _otsu(values: Floats) -> float:
    return float(threshold_otsu(values))


def _in_row(boxes: list[tuple[slice, slice]], areas: NDArray[np.int64], inner: list[int], main: int) -> list[int]:
    """The main piece and those beside it at its height, near enough to stand in one row with it."""
    rows, columns = boxes[main]
    margin = 0.15 * (rows.stop - rows.start)
    start, stop = columns.start, columns.stop
    kept = [main]
    tallest = 1.3 * (rows.stop - rows.start)
    rest = [i for i in inner if i != main and areas[i] > 0.01 * areas[main]]
    rest = [i for i in rest if boxes[i][0].stop - boxes[i][0].start < tallest]
    rest = [i for i in rest if boxes[i][0].stop > rows.start + margin and boxes[i][0].start < rows.stop - margin]
    while rest:
        near = min(rest, key=lambda i: max(boxes[i][1].start - stop, start - boxes[i][1].stop))
        if max(boxes[near][1].start - stop, start - boxes[near][1].stop) > 0.2 * (stop - start):
            break
        kept.append(near)
        rest.remove(near)
        start, stop = min(start, boxes[near][1].start), max(stop, boxes[near][1].stop)
    return kept


def likelihood(lab: Floats, rough: Mask, rounds: int = 2) -> Floats:
    """How likely each pixel is tooth, from tooth and its surroundings nearby.

    Means of both follow the place, so that shade, a dark tooth or pigmented gingiva shift the border between the two where they are
    (linear discriminant with local means and one covariance; logistic of its score). The dark behind an edge is a third kind, by
    lightness alone: with gingiva in one, the middle between white and black would cut off a translucent or shaded edge.

    Parameters
    ----------
    lab : array, shape (h, w, 3)
    rough : array of bool, shape (h, w)
        A first idea of the teeth.
    rounds : int
        How often the idea is bettered.

    Returns
    -------
    array, shape (h, w)
        0 to 1.
    """
    unit = rough.shape[1] / 100
    mask = rough
    chance = rough.astype(np.float32)
    for _ in range(rounds):
        inside = ndimage.distance_transform_edt(mask)
        outside = ndimage.distance_transform_edt(~mask)
        tooth = inside > 0.4 * unit
        if not tooth.any():
            return chance
        middle_tooth = _local_mean(lab, tooth, unit)
        lit = lab[..., 0] - _DARK * middle_tooth[..., 0]
        other = (outside > 0.4 * unit) & (outside < 4 * unit) & (lit > 0)
        if not other.any():
            return chance
        middle_other = _local_mean(lab, other, unit)
        spread = (np.cov((lab - middle_tooth)[tooth].T) + np.cov((lab - middle_other)[other].T)) / 2 + 4 * np.eye(3)
        towards = (middle_tooth - middle_other) @ np.linalg.inv(spread).astype(np.float32)
        score = ((lab - (middle_tooth + middle_other) / 2) * towards).sum(axis=-1)
        chance = 1 / (1 + np.exp(-np.clip(np.minimum(score, lit / 2), -30, 30)))
        chance[outside > 4 * unit] = 0
        mask = _tidy(chance > 0.5, unit)
    return np.asarray(np.where(ndimage.binary_dilation(mask, iterations=3), chance, 0), dtype=np.float32)


def _local_mean(lab: Floats, where: Mask, unit: float) -> Floats:
    """Mean colour of some pixels near every pixel; filled from afar where there is none near."""
    small = max(1, int(unit / 2))
    weight = ndimage.uniform_filter(where.astype(np.float32), small)[::small, ::small]
    sigma = _NEARBY * 100 * unit / small
    near = ndimage.gaussian_filter(weight, sigma)
    out = np.empty_like(lab)
    for channel in range(3):
        total = ndimage.uniform_filter(np.where(where, lab[..., channel], 0), small)[::small, ::small]
        mean = ndimage.gaussian_filter(total, sigma) / np.maximum(near, 1e-6)
        filled = without(mean[..., None].astype(np.float32), near < 1e-3)[..., 0]
        grid = [np.arange(side, dtype=np.float32) / small for side in where.shape]
        out[..., channel] = ndimage.map_coordinates(filled, np.meshgrid(*grid, indexing="ij"), order=1, mode="nearest")
    return out


def _tidy(mask: Mask, unit: float) -> Mask:
    """Without specks, holes (glare, a dark filling) closed."""
    opened = ndimage.binary_opening(mask, iterations=max(1, round(unit / 6)))
    labels, count = ndimage.label(opened)
    areas = np.bincount(labels.ravel(), minlength=count + 1)
    areas[0] = 0
    kept = (areas > 0.01 * areas.max())[labels]
    holes, _ = ndimage.label(~kept)
    sizes = np.bincount(holes.ravel())
    return np.asarray(kept | (sizes < (2 * unit) ** 2)[holes] & ~kept)


def _zoom(image: Floats, zoom: list[float], shape: tuple[int, ...] | None = None) -> Floats:
    """Bring a channel to the size of the crop, middles of pixels kept in place."""
    height, width = shape or (round(image.shape[0] * zoom[0]), round(image.shape[1] * zoom[1]))
    ys = (np.arange(height) + 0.5) / zoom[0] - 0.5
    xs = (np.arange(width) + 0.5) / zoom[1] - 0.5
    return np.asarray(ndimage.map_coordinates(image, np.meshgrid(ys, xs, indexing="ij"), order=1, mode="nearest"))

"""Where the edges of a photograph are: colour and texture, with glare taken out, on one grid of moderate size.

A margin is a change from white to red, a contact a dark or reddish line between two white surfaces, an incisal edge a step
down to the dark or to a lower tooth in shade. A gradient of lightness alone follows glare and shadows instead.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from festoon.photo.reading import Photo

Floats = NDArray[np.float32]
Points = NDArray[np.float64]

LONGEST_PX = 2000
"""Edges are sought on a grid no longer than this: in a photograph of 12 megapixels a margin is blurred over more than the two
pixels that are then averaged. A setting of ours."""
_GLARE_SPAN = 0.02
"""Glare is sought in spots up to this part of the longer side. A setting of ours."""
_GLARE_STEP = 12.0
"""Lightness by which a spot stands above its surroundings to be glare. A setting of ours."""
_FAINTEST = 1.0
"""Change of colour per pixel below which nothing is an edge: noise. A setting of ours."""
_GLARE_LEAD = 0.5
"""Lightness by which it outshines whatever else is near. A setting of ours."""
_CHANNEL_WEIGHTS = (1.0, 2.0, 1.0, 1.5)
"""Weights of L*, a*, b* and texture: redness counts double, since shade changes it least. A setting of ours."""
_TO_XYZ = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]],
    dtype=np.float32,
)
"""Linear sRGB to XYZ, IEC 61966-2-1."""
_WHITE = np.array([0.95047, 1.0, 1.08883], dtype=np.float32)
"""Reference white D65."""


@dataclass(frozen=True)
class Looks:
    """A photograph as edges are sought in it."""

    lab: Floats
    """CIE L*a*b*, glare filled from its surroundings, shape (h, w, 3)."""
    glare: NDArray[np.bool_]
    """Where glare was, shape (h, w)."""
    factor: int
    """Photo pixels averaged to one of the grid, along a side."""

    def to_grid(self, points: Points) -> Points:
        """Photo pixels (x, y) as grid pixels."""
        return (np.asarray(points, dtype=np.float64) + 0.5) / self.factor - 0.5

    def to_photo(self, points: Points) -> Points:
        """Grid pixels (x, y) as photo pixels."""
        return (np.asarray(points, dtype=np.float64) + 0.5) * self.factor - 0.5


def looks_of(photo: Photo) -> Looks:
    """Bring a photograph to the grid, to L*a*b*, and take its glare out."""
    factor = -(-max(photo.pixels.shape[:2]) // LONGEST_PX)
    lab = lab_of(_averaged(photo.pixels, factor))
    glare = glare_in(lab)
    return Looks(without(lab, glare), glare, factor)


def lab_of(pixels: NDArray[np.uint8] | Floats) -> Floats:
    """sRGB (0 to 255, shape (..., 3)) as CIE L*a*b* for white D65 (CIE 15)."""
    level = np.arange(256 * 16, dtype=np.float32) / (255 * 16)
    linear = np.where(level <= 0.04045, level / 12.92, ((level + 0.055) / 1.055) ** 2.4).astype(np.float32)
    xyz = linear[(np.asarray(pixels, dtype=np.float32) * 16).astype(np.int32)] @ _TO_XYZ.T / _WHITE
    f = np.where(xyz > 216 / 24389, np.cbrt(xyz), (24389 / 27 * xyz + 16) / 116)
    return np.stack([116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], axis=-1)


def glare_in(lab: Floats) -> NDArray[np.bool_]:
    """Spots of mirrored light, with their rims: small, lighter than all that is round them, and paler or burnt out.

    A white corner of a tooth stands out from the gingiva too, and is no lighter than the tooth beside it.
    """
    lightness = ndimage.gaussian_filter(lab[..., 0], 0.8)  # grains of noise are no glare
    span = max(3, round(_GLARE_SPAN * max(lightness.shape)))
    small = max(1, span // 8)
    coarse = lightness[::small, ::small]
    opened = ndimage.grey_opening(coarse, size=(span // small + 1,) * 2)
    above = lightness - ndimage.gaussian_filter(_finer(opened, lightness.shape), span / 4)
    chroma = np.hypot(lab[..., 1], lab[..., 2])
    around = ndimage.gaussian_filter(chroma, span)
    spots = (above > _GLARE_STEP) & (lightness > 60) & ((chroma < 0.8 * around) | (lightness > 97))
    rest = np.where(spots[::small, ::small], 0, coarse)
    lightest = _finer(ndimage.grey_dilation(rest, size=(span // small + 1,) * 2), lightness.shape)
    spots &= lightness > lightest + _GLARE_LEAD
    return np.asarray(ndimage.binary_dilation(spots, iterations=max(2, span // 5)) & (above > 0))


def _finer(coarse: Floats, shape: tuple[int, ...]) -> Floats:
    return np.asarray(ndimage.zoom(coarse, np.array(shape) / coarse.shape, order=1))


def without(lab: Floats, holes: NDArray[np.bool_]) -> Floats:
    """Fill holes with the Gaussian-weighted mean of what lies round them, near first (normalised convolution)."""
    if not holes.any():
        return lab
    filled, left = lab.copy(), holes.copy()
    sigma = 2.0
    while left.any() and sigma < max(lab.shape[:2]):
        weight = ndimage.gaussian_filter((~left).astype(np.float32), sigma)
        now = left & (weight > 0.05)
        for channel in range(lab.shape[2]):
            known = np.where(left, np.float32(0), filled[..., channel])
            mean = ndimage.gaussian_filter(known, sigma)
            filled[..., channel][now] = mean[now] / weight[now]
        left &= ~now
        sigma *= 2
    return filled


def edge_strength(lab: Floats, sigma: float | None = None) -> Floats:
    """How much a pixel lies on an edge, 0 to 1, alike in light, shade and on dark pigment.

    The largest eigenvalue of the colour tensor (Di Zenzo 1986, from memory) over L*, a*, b* and texture, joined with dark
    lines, and divided by itself plus its mean in the neighbourhood: a faint margin in the shade counts like a strong one.

    Parameters
    ----------
    lab : array, shape (h, w, 3)
    sigma : float, optional
        Width of the derivative, px; without it a thousandth of the longer side, which blocks of JPEG do not outshout.
    """
    sigma = max(1.2, max(lab.shape) / 1000) if sigma is None else sigma
    lightness = lab[..., 0]
    fine = lightness - ndimage.gaussian_filter(lightness, 2 * sigma)
    texture = np.sqrt(ndimage.gaussian_filter(fine * fine, 3 * sigma))
    xx, yy, xy = (np.zeros(lightness.shape, np.float32) for _ in range(3))
    for weight, channel in zip(_CHANNEL_WEIGHTS, (lightness, lab[..., 1], lab[..., 2], texture), strict=True):
        dx = weight * ndimage.gaussian_filter(channel, sigma, order=(0, 1))
        dy = weight * ndimage.gaussian_filter(channel, sigma, order=(1, 0))
        xx, yy, xy = xx + dx * dx, yy + dy * dy, xy + dx * dy
    step2 = (xx + yy + np.sqrt((xx - yy) ** 2 + 4 * xy * xy)) / 2
    line = dark_lines(lightness, sigma)
    strength = np.sqrt(step2 + (line / (3 * sigma)) ** 2)
    around = ndimage.uniform_filter(strength, max(9, round(0.04 * max(strength.shape))))
    return np.asarray(strength / (strength + around + _FAINTEST), dtype=np.float32)


def dark_lines(lightness: Floats, sigma: float) -> Floats:
    """Depth of dark lines up to about 6 sigma wide: the black top-hat of lightness."""
    smooth = ndimage.gaussian_filter(lightness, sigma)
    return np.asarray(ndimage.grey_closing(smooth, size=(2 * round(3 * sigma) + 1,) * 2) - smooth, dtype=np.float32)


def _averaged(pixels: NDArray[np.uint8], factor: int) -> NDArray[np.uint8] | Floats:
    if factor == 1:
        return pixels
    height, width = (side // factor * factor for side in pixels.shape[:2])
    blocks = pixels[:height, :width].reshape(height // factor, factor, width // factor, factor, 3)
    return np.asarray(blocks.mean(axis=(1, 3), dtype=np.float32))

"""Edges of a photograph: alike in light and shade, and none where light is mirrored."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage
from skimage.color import rgb2lab

from festoon.photo.edges import edge_strength, glare_in, lab_of, looks_of, without
from festoon.photo.reading import Photo

WHITE, RED = (228, 214, 180), (190, 105, 100)


def halves(height: int = 120, width: int = 160) -> np.ndarray:
    """White above, red below, the edge between rows 59 and 60."""
    out = np.empty((height, width, 3))
    out[: height // 2], out[height // 2 :] = WHITE, RED
    return ndimage.gaussian_filter(out, (1, 1, 0))


def test_lab_agrees_with_a_general_library() -> None:
    """The same conversion as scikit-image for all corners and greys of the cube, to a twentieth of a unit."""
    levels = np.array([0, 1, 9, 11, 40, 128, 200, 254, 255], dtype=np.uint8)
    pixels = np.stack(np.meshgrid(levels, levels, levels), axis=-1).reshape(-1, 1, 3)
    assert np.abs(lab_of(pixels) - rgb2lab(pixels)).max() < 0.05


def test_an_edge_counts_alike_in_light_and_shade() -> None:
    """A shadow that takes two thirds of the light away leaves the edge where it was, and nearly as strong."""
    light = edge_strength(lab_of(halves()))
    shade = edge_strength(lab_of(halves() * 0.33))
    for strength in (light, shade):
        assert strength[20:-20, 80].argmax() + 20 in (59, 60)
    assert shade[59, 80] > 0.8 * light[59, 80]


def test_glare_is_found_and_filled() -> None:
    """A burnt-out spot goes; what is filled in looks like what is round it, and no edge is left there."""
    pixels = halves(240, 320)
    y, x = np.mgrid[:240, :320]
    spot = (y - 170) ** 2 + (x - 160) ** 2 < 3**2
    pixels[spot] = 255
    lab = lab_of(pixels)
    glare = glare_in(lab)
    assert glare[spot].all()
    assert glare.sum() < 6 * spot.sum()
    filled = without(lab, glare)
    assert np.abs(filled[spot] - lab_of(np.array(RED, dtype=float))).max() < 3
    assert edge_strength(filled)[spot].max() < 0.3


def test_the_corner_of_a_white_tooth_is_no_glare() -> None:
    """The round neck of a white tooth stands out from the gingiva like glare, and is no lighter than the rest of the tooth."""
    pixels = np.empty((300, 400, 3))
    pixels[:] = RED
    y, x = np.mgrid[:300, :400]
    pixels[y - 60 > (x - 200) ** 2 / 30] = (236, 234, 226)
    assert not glare_in(lab_of(ndimage.gaussian_filter(pixels, (1, 1, 0)))).any()


@pytest.mark.parametrize("factor", [1, 2])
def test_grid_and_photo_share_one_place(factor: int) -> None:
    """Pixels go to the grid of the edges and back, and the middle of a block of pixels is the middle of one of the grid."""
    looks = looks_of(Photo("p", np.full((60, 2000 * factor, 3), 120, dtype=np.uint8), ()))
    assert looks.factor == factor
    points = np.array([[0.0, 0.0], [17.3, 40.2]])
    assert np.allclose(looks.to_photo(looks.to_grid(points)), points)
    assert np.allclose(looks.to_photo(np.zeros((1, 2))), (factor - 1) / 2)

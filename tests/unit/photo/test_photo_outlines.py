"""Outlines of the upper front teeth: on the edge, numbered right, doubtful where they are wrong, refused where there is nothing to find."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage
from scipy.spatial import cKDTree

from drawn_mouths import DrawnMouth, drawn_mouth
from festoon.errors import InputRefusedError
from festoon.photo.outlines import FoundOutlines, found_outlines
from festoon.photo.outlines_contour import closed_offsets
from festoon.photo.reading import Photo

SIX = ("13", "12", "11", "21", "22", "23")


def apart(mouth: DrawnMouth, found: FoundOutlines, tooth: str) -> float:
    """Mean distance of the found from the true outline, both ways, px."""
    truth, line = mouth.outline(tooth), found.outlines[tooth]
    return float((cKDTree(truth).query(line)[0].mean() + cKDTree(line).query(truth)[0].mean()) / 2)


@pytest.fixture(scope="module")
def mouth() -> DrawnMouth:
    return drawn_mouth()


@pytest.fixture(scope="module")
def found(mouth: DrawnMouth) -> FoundOutlines:
    return found_outlines(mouth.photo())


def test_six_front_teeth_against_lower_teeth(mouth: DrawnMouth, found: FoundOutlines) -> None:
    """Teeth in contact, lower teeth behind their edges: each outline within a pixel and a half of the drawn one on average."""
    for tooth in SIX:
        assert apart(mouth, found, tooth) < 1.5, tooth
        assert found.quality[tooth] > 0.7


def test_the_margin_is_the_part_along_the_gingiva(found: FoundOutlines) -> None:
    """It runs from left to right, holds the zenith, and stays in the upper part of the tooth."""
    for tooth in SIX:
        margin, outline = found.margin[tooth], found.outlines[tooth]
        assert margin[0, 0] < margin[-1, 0]
        assert margin[:, 1].min() == outline[:, 1].min()
        assert margin[:, 1].max() < outline[:, 1].min() + 0.7 * np.ptp(outline[:, 1])


def test_an_outline_that_went_astray_is_not_called_sure(mouth: DrawnMouth, found: FoundOutlines) -> None:
    """Any drawn tooth whose outline is off by more than four pixels is doubtful, and a note says so."""
    for tooth in found.outlines:
        if apart(mouth, found, tooth) > 4:
            assert found.quality[tooth] < 0.5
            assert any(note.startswith(tooth) for note in found.notes)


def test_edges_against_the_dark_in_uneven_light() -> None:
    """Half the arch in shade, pigment on the gingiva, blood on a margin, a stained tooth: the same teeth, the same places."""
    mouth = drawn_mouth(lower=False)
    y, x = np.mgrid[:400, :640].astype(float)
    pixels = (
        mouth.pixels
        * np.array([0.8, 0.72, 0.5]) ** ndimage.gaussian_filter(mouth.teeth["21"].astype(float), 1)[..., None]
    )
    teeth = np.any(list(mouth.teeth.values()), axis=0)
    pigment = ndimage.gaussian_filter((~teeth & (y > 80) & (y < 190) & (np.abs(x - 250) < 60)).astype(float), 1.5)
    pixels = pixels * (1 - pigment[..., None] * np.array([0.5, 0.35, 0.35]))
    blood = ndimage.gaussian_filter(((x - 430) ** 2 / 100 + (y - 138) ** 2 / 9 < 1).astype(float), 1)[..., None]
    pixels = pixels * (1 - blood) + np.array([110, 10, 16]) * blood
    pixels *= (0.6 + 0.4 / (1 + np.exp(-(x - 300) / 60)))[..., None]
    found = found_outlines(mouth.photo(pixels))
    assert max(apart(mouth, found, tooth) for tooth in SIX) < 2.0


def test_only_wanted_teeth_and_the_other_side_in_a_mirror(mouth: DrawnMouth) -> None:
    """The tooth left of the midline in the picture is 11, and 21 in a mirror; a wanted tooth that is not there is named."""
    found = found_outlines(mouth.photo(), teeth=["21", "18"], mirrored=True)
    assert set(found.outlines) == {"21"}
    assert found.outlines["21"][:, 0].max() < 325
    assert any("18" in note and "not found" in note for note in found.notes)


def test_lower_and_unknown_teeth_are_refused(mouth: DrawnMouth) -> None:
    """Nobody gets an upper outline under a lower number."""
    with pytest.raises(ValueError, match="upper"):
        found_outlines(mouth.photo(), teeth=["31"])


@pytest.mark.parametrize("what", ["gingiva alone", "noise", "half an arch"])
def test_no_frontal_view_is_refused_in_words(mouth: DrawnMouth, what: str) -> None:
    """Where there is no row of teeth from the front, the file and what was expected are named."""
    plain = np.full((300, 480, 3), (190, 105, 100), dtype=np.uint8)
    pixels = {
        "gingiva alone": plain,
        "noise": np.random.default_rng(1).integers(0, 255, plain.shape, dtype=np.uint8),
        "half an arch": mouth.photo().pixels[:, 290:],
    }[what]
    with pytest.raises(InputRefusedError, match="frontal view"):
        found_outlines(Photo("x.jpg", pixels, ()))


def test_a_closed_line_ends_where_it_begins() -> None:
    """The last row lies beside the first: along a circle of low cost that climbs and falls the line closes without a jump."""
    cost = np.ones((60, 30))
    truth = np.round(15 + 6 * np.sin(np.linspace(0, 2 * np.pi, 60, endpoint=False))).astype(int)
    cost[np.arange(60), truth] = 0
    assert (closed_offsets(cost, 2, 0.05) == truth).all()


def test_blood_over_a_margin_is_told_and_its_error_widened() -> None:
    """Dark red on the margin of 11: that tooth is doubtful and the note says why; no other is accused of it."""
    mouth = drawn_mouth()
    pixels = mouth.photo().pixels.astype(float)
    margin = found_outlines(mouth.photo()).margin["11"]
    x, y = margin[len(margin) // 2]
    row, column = np.mgrid[0 : pixels.shape[0], 0 : pixels.shape[1]]
    blood = ndimage.gaussian_filter((((column - x) / 30) ** 2 + ((row - y) / 8) ** 2 < 1).astype(float), 1)[..., None]
    stained = pixels * (1 - blood) + np.array([120, 10, 18]) * blood
    found = found_outlines(Photo("bloody", stained.astype(np.uint8), ()))
    assert "11" in found.doubtful
    assert [note[:2] for note in found.notes if "dark red" in note] == ["11"]


def test_a_margin_in_shade_is_told() -> None:
    """One side of the mouth in light of two fifths: its teeth are doubtful; without the shade none is said to lie in one."""
    mouth = drawn_mouth()
    assert not any("shade" in note for note in found_outlines(mouth.photo()).notes)
    pixels = mouth.photo().pixels.astype(float)
    across = np.linspace(0, 1, pixels.shape[1])[None, :, None]
    dim = Photo("dim", (pixels * (0.4 + 0.6 * np.clip((across - 0.3) * 4, 0, 1))).astype(np.uint8), ())
    assert any("shade" in note and note.startswith(("13", "12")) for note in found_outlines(dim).notes)

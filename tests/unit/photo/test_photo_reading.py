"""A photograph is read upright once, in sRGB, or refused with a reason."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageCms

from festoon.errors import InputRefusedError
from festoon.photo import reading
from festoon.photo.framing import Framing
from festoon.photo.reading import read_photo


def _picture() -> Image.Image:
    pixels = np.full((40, 60, 3), 30, np.uint8)
    pixels[:20, :30] = (200, 60, 60)  # only the upper left is red
    return Image.fromarray(pixels)


def _corner(pixels: np.ndarray) -> tuple[bool, bool]:
    """Where the red is: (lower, right)."""
    red = pixels[..., 0] > 120
    row, column = (float(np.mean(axis)) for axis in np.nonzero(red))
    return row > pixels.shape[0] / 2, column > pixels.shape[1] / 2


@pytest.mark.parametrize("name", ["a.jpg", "a.png", "a.tif", "a.webp"])
def test_orientation_is_applied_exactly_once(tmp_path: Path, name: str) -> None:
    """Orientation 6 brings the upper left corner to the upper right, in every format with Exif alone."""
    exif = Image.Exif()
    exif[0x0112] = 6
    _picture().save(tmp_path / name, exif=exif)
    read = read_photo(tmp_path / name)
    assert read.pixels.shape == (60, 40, 3)
    assert _corner(read.pixels) == (False, True)


def test_heic_is_turned_by_its_container_alone(tmp_path: Path) -> None:
    """An Exif copy of the orientation turns nothing and is said; a mirroring one is refused."""
    exif = Image.Exif()
    exif[0x0112] = 6
    _picture().save(tmp_path / "a.heic", exif=exif)  # this writer stores no rotation in the container
    read = read_photo(tmp_path / "a.heic")
    assert _corner(read.pixels) == (False, False)
    assert any("Exif copy: 6" in note for note in read.notes)
    exif[0x0112] = 2
    _picture().save(tmp_path / "b.heic", exif=exif)
    with pytest.raises(InputRefusedError, match="mirrors"):
        read_photo(tmp_path / "b.heic", "as_tagged")


def test_a_mirrored_picture_is_asked_about(tmp_path: Path) -> None:
    """Orientation 2 swaps the patient's sides: nothing is assumed."""
    exif = Image.Exif()
    exif[0x0112] = 2
    _picture().save(tmp_path / "a.png", exif=exif)
    with pytest.raises(InputRefusedError, match="mirrors"):
        read_photo(tmp_path / "a.png")
    assert _corner(read_photo(tmp_path / "a.png", "as_tagged").pixels) == (False, True)
    assert _corner(read_photo(tmp_path / "a.png", "ignored").pixels) == (False, False)


def test_sixteen_bit_and_cmyk_become_eight_bit_colour(tmp_path: Path) -> None:
    """The middle of the scale stays the middle of the scale."""
    Image.fromarray(np.full((4, 5), 32896, np.uint16)).save(tmp_path / "a.png")
    assert (read_photo(tmp_path / "a.png").pixels == 128).all()
    _picture().convert("CMYK").save(tmp_path / "a.jpg")
    assert read_photo(tmp_path / "a.jpg").pixels.shape == (40, 60, 3)


def test_a_profile_is_used_and_said(tmp_path: Path) -> None:
    """An sRGB profile leaves the colours, and the note says it was used."""
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    _picture().save(tmp_path / "a.png", icc_profile=profile)
    read = read_photo(tmp_path / "a.png")
    assert any("sRGB" in note for note in read.notes)
    assert np.abs(read.pixels.astype(int) - np.asarray(_picture())).max() <= 1


def test_what_cannot_be_read_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Text, a cut-off file and a picture above the cap each get a message and no picture."""
    (tmp_path / "a.jpg").write_text("no picture")
    _picture().save(tmp_path / "whole.png")
    (tmp_path / "b.png").write_bytes((tmp_path / "whole.png").read_bytes()[:90])
    for name in ("a.jpg", "b.png"):
        with pytest.raises(InputRefusedError, match=name):
            read_photo(tmp_path / name)
    monkeypatch.setattr(reading, "LARGEST_PX", 1000)
    with pytest.raises(InputRefusedError, match="60 x 40 pixels"):
        read_photo(tmp_path / "whole.png")


def test_what_tells_of_person_place_and_time_is_listed_and_gone(tmp_path: Path) -> None:
    """Names of what was dropped, never their values; nothing of them is in the pixels."""
    exif = Image.Exif()
    exif[0x013B], exif[0x0132] = "Nobody", "2026:01:02 03:04:05"
    exif.get_ifd(0x8825)[1] = "N"
    exif.get_ifd(0x8769)[0xA431] = "123"
    exif.get_ifd(0x8769)[0xA405] = 100
    _picture().save(tmp_path / "a.jpg", exif=exif, comment=b"hello")
    read = read_photo(tmp_path / "a.jpg")
    assert {"artist", "date and time", "place (GPS)", "serial number of the camera", "comment"} <= set(read.removed)
    assert "Nobody" not in " ".join(read.removed)
    assert read.focal_px == pytest.approx(100 / 36 * 60)
    _picture().save(tmp_path / "b.png")
    plain = read_photo(tmp_path / "b.png")
    assert (plain.removed, plain.focal_px) == ((), None)


def test_dpi_changes_nothing(tmp_path: Path) -> None:
    """A density in the file is no scale on teeth: the photograph read is the same."""
    _picture().save(tmp_path / "a.png", dpi=(300, 300))
    _picture().save(tmp_path / "b.png")
    a, b = read_photo(tmp_path / "a.png"), read_photo(tmp_path / "b.png")
    assert (a.pixels == b.pixels).all()
    assert (a.notes, a.removed, a.focal_px) == (b.notes, b.removed, b.focal_px)


@pytest.mark.parametrize("kind", ["L", "LA", "P", "RGBA"])
def test_every_usual_kind_of_pixel_becomes_colour(tmp_path: Path, kind: str) -> None:
    """Grey, palette and transparency keep their size and their bright corner."""
    _picture().convert(kind).save(tmp_path / "a.png")
    pixels = read_photo(tmp_path / "a.png").pixels.astype(int)
    assert pixels.shape == (40, 60, 3)
    assert pixels[5, 5].sum() > pixels[35, 55].sum()


def _framed(tmp_path: Path, size: tuple[int, int], **said: float) -> tuple[Framing, str, float | None]:
    """What is found of a picture of a size whose file says so much of its frame."""
    exif = Image.Exif()
    tags = {
        "wide": 0xA002,
        "high": 0xA003,
        "focal": 0x920A,
        "focal_35": 0xA405,
        "per_x": 0xA20E,
        "per_y": 0xA20F,
        "unit": 0xA210,
    }
    for name, value in said.items():
        exif.get_ifd(0x8769)[tags[name]] = value
    Image.new("RGB", size, (90, 40, 40)).save(tmp_path / "a.jpg", exif=exif)
    photo = read_photo(tmp_path / "a.jpg")
    return photo.framed.framing, photo.framed.why, photo.focal_px


def test_a_cut_picture_is_noticed(tmp_path: Path) -> None:
    """By sizes in the file, by the sensor against both focal lengths, by odd sides; then its focal length is not believed."""
    framing, why, focal = _framed(tmp_path, (600, 300), wide=600, high=400, focal_35=100)
    assert (framing, focal) == (Framing.PART, None)
    assert "600 x 300 pixels where the file speaks of 600 x 400" in why
    # 600 pixels at 40 a mm are a sensor of 15 x 10 mm; 60 mm that act as 90 are one of 24 x 16.
    framing, why, _ = _framed(tmp_path, (600, 400), focal=60, focal_35=90, per_x=40, per_y=40, unit=4)
    assert framing is Framing.PART
    assert "62 %" in why
    assert _framed(tmp_path, (600, 330))[0] is Framing.PART


def test_a_whole_picture_keeps_its_focal_length(tmp_path: Path) -> None:
    """Sizes that agree: whole. Nothing said, or a copy of like sides: not known. Portrait is no cut."""
    assert _framed(tmp_path, (600, 400), wide=600, high=400, focal_35=90)[::2] == (Framing.WHOLE, pytest.approx(1500.0))
    assert _framed(tmp_path, (600, 400), focal=60, focal_35=90, per_x=25, per_y=25, unit=4)[0] is Framing.UNKNOWN
    assert _framed(tmp_path, (600, 400), wide=1200, high=800)[0] is Framing.UNKNOWN
    assert _framed(tmp_path, (400, 600))[0] is Framing.UNKNOWN

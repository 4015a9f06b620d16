"""Identity is taken out of photographs and volumes, and the picture stays as it is."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pydicom
import pytest
from PIL import Image, PngImagePlugin

from festoon.records.privacy.dicom import clean_dicom
from festoon.records.privacy.photograph import clean_photograph

NAME = "Vera Beispiel"
"""Invented."""


def _picture() -> Image.Image:
    rng = np.random.default_rng(1)
    return Image.fromarray(rng.integers(0, 255, (40, 60, 3), dtype=np.uint8), "RGB")


_PHONE_EXTRA = b"\xff\xd8 a further picture of " + NAME.encode() + b"\xff\xd9"


def _jpeg(orientation: int) -> bytes:
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x013B] = NAME
    exif[0x8825] = {1: "N", 2: (48.0, 12.0, 3.0)}
    out = io.BytesIO()
    _picture().save(out, "JPEG", exif=exif, comment=NAME.encode(), icc_profile=b"profile")
    return out.getvalue() + _PHONE_EXTRA


@pytest.mark.parametrize("orientation", [1, 6])
def test_a_photograph_loses_its_names_and_places_and_keeps_its_pixels(orientation: int) -> None:
    """Artist, position, comment and what hangs behind the end are gone; pixels, colours and orientation are not."""
    data = _jpeg(orientation)
    assert data.count(NAME.encode()) >= 3
    cleaned = clean_photograph(data)
    assert NAME.encode() not in cleaned.data
    assert {"Artist", "GPS position", "comment", "bytes after the end of the picture"} <= set(cleaned.removed)
    with Image.open(io.BytesIO(data)) as before, Image.open(io.BytesIO(cleaned.data)) as after:
        assert np.array_equal(np.asarray(before), np.asarray(after))
        assert after.getexif().get(0x0112, 1) == orientation
        assert set(after.getexif()) <= {0x0112}
        assert after.info.get("icc_profile") == b"profile"
    assert clean_photograph(cleaned.data).removed == ()


@pytest.mark.parametrize(
    "options", [{"progressive": True}, {"restart_marker_blocks": 2}, {"subsampling": 0, "quality": 100}]
)
def test_every_kind_of_coding_is_followed_to_its_end(options: dict[str, int]) -> None:
    """Several scans, restart marks, stuffed bytes: the end is found marker by marker, and what hangs behind it goes."""
    out = io.BytesIO()
    _picture().save(out, "JPEG", **options)
    cleaned = clean_photograph(out.getvalue() + _PHONE_EXTRA)
    assert NAME.encode() not in cleaned.data
    with Image.open(out) as before, Image.open(io.BytesIO(cleaned.data)) as after:
        assert np.array_equal(np.asarray(before), np.asarray(after))


def test_a_png_loses_its_texts() -> None:
    """Text chunks go, the picture stays."""
    info = PngImagePlugin.PngInfo()
    info.add_text("Author", NAME)
    info.add_itxt("Title", NAME)
    out = io.BytesIO()
    _picture().save(out, "PNG", pnginfo=info)
    cleaned = clean_photograph(out.getvalue())
    assert NAME.encode() not in cleaned.data
    assert cleaned.removed == ("PNG chunk tEXt", "PNG chunk iTXt")
    with Image.open(io.BytesIO(cleaned.data)) as after:
        assert np.array_equal(np.asarray(after), np.asarray(_picture()))


@pytest.mark.parametrize(
    "data", [b"", b"GIF89a", b"\xff\xd8\xff", b"\xff\xd8\xff\xe1\x00\x01", b"\x89PNG\r\n\x1a\n\0\0"]
)
def test_what_cannot_be_read_is_not_called_clean(data: bytes) -> None:
    """Neither a damaged picture nor another kind comes out."""
    with pytest.raises(ValueError, match=r"JPEG|PNG"):
        clean_photograph(data)


def test_a_cut_photograph_is_not_called_clean() -> None:
    """At every place it can be cut."""
    data = _jpeg(1)[: -len(_PHONE_EXTRA)]
    for end in range(2, len(data) - 2, 97):
        with pytest.raises(ValueError, match="JPEG"):
            clean_photograph(data[:end])


def test_a_real_photograph_keeps_its_pixels(shared_data: Path) -> None:
    """On real photographs, not only on made ones."""
    path = next(
        p
        for p in sorted((shared_data / "photos-retracted").rglob("*"))
        if p.suffix.lower() in (".jpg", ".jpeg", ".png")
    )
    data = path.read_bytes()
    with Image.open(io.BytesIO(data)) as before, Image.open(io.BytesIO(clean_photograph(data).data)) as after:
        assert np.array_equal(np.asarray(before), np.asarray(after))


def _dicom() -> bytes:
    dataset = pydicom.dataset.FileDataset(None, {}, preamble=b"\0" * 128)
    dataset.file_meta = pydicom.dataset.FileMetaDataset()
    dataset.file_meta.TransferSyntaxUID = pydicom.uid.ExplicitVRLittleEndian
    dataset.file_meta.MediaStorageSOPClassUID = dataset.SOPClassUID = pydicom.uid.CTImageStorage
    dataset.file_meta.MediaStorageSOPInstanceUID = dataset.SOPInstanceUID = "1.2.3.4"
    dataset.StudyInstanceUID, dataset.SeriesInstanceUID = "1.2.3", "1.2.3.1"
    dataset.PatientName, dataset.PatientID = NAME, NAME
    dataset.PatientBirthDate, dataset.PatientAge = "19900101", "036Y"
    dataset.InstitutionName = NAME
    dataset.PatientComments = NAME
    dataset.PixelSpacing, dataset.PatientPosition = [0.2, 0.2], "HFS"
    item = pydicom.Dataset()
    item.OperatorsName = NAME
    dataset.ReferencedImageSequence = [item]
    dataset.private_block(0x0051, "maker", create=True).add_new(1, "LO", NAME)
    out = io.BytesIO()
    dataset.save_as(out, enforce_file_format=True)
    return out.getvalue()


def test_a_volume_loses_its_names_and_keeps_its_geometry() -> None:
    """Names, dates, private tags and sequences; spacing and position stay, and slices of one series stay together."""
    cleaned = clean_dicom(_dicom())
    assert NAME.encode() not in cleaned.data
    assert b"19900101" not in cleaned.data
    assert {"PatientName", "PatientID", "PatientBirthDate", "InstitutionName", "OperatorsName"} <= set(cleaned.removed)
    after = pydicom.dcmread(io.BytesIO(cleaned.data))
    assert list(after.PixelSpacing) == [0.2, 0.2]
    assert after.PatientPosition == "HFS"
    assert after.PatientIdentityRemoved == "YES"
    assert after.StudyInstanceUID != "1.2.3"
    assert pydicom.dcmread(io.BytesIO(clean_dicom(_dicom()).data)).StudyInstanceUID == after.StudyInstanceUID
    with pytest.raises(ValueError, match="no DICOM"):
        clean_dicom(b"nothing")

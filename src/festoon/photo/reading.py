"""A picture file becomes one upright grid of sRGB pixels: the grid that clicks, computation and print share."""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
import pillow_heif
from numpy.typing import NDArray
from PIL import Image, ImageCms, ImageOps, UnidentifiedImageError

from festoon.errors import Fault, InputRefusedError

pillow_heif.register_heif_opener()

_ORIENTATION = 0x0112
_MIRRORED = frozenset({2, 4, 5, 7})
"""Exif orientations that turn left into right."""
LARGEST_PX = 80_000_000
"""Cap on the number of pixels: 240 MB as 8-bit colour. A setting of ours, no source."""
_FORMATS = ("JPEG", "PNG", "TIFF", "HEIF", "WEBP")


@dataclass(frozen=True)
class Photo:
    """An upright photograph."""

    name: str
    pixels: NDArray[np.uint8]
    """sRGB, shape (height, width, 3); (0, 0) is the middle of the upper left pixel."""
    notes: tuple[str, ...]
    """What was done to the file's picture, in words."""


def read_photo(file: Path, mirrored: Literal["as_tagged", "ignored"] | None = None) -> Photo:
    """Read a photograph; its dpi is never looked at, for it says nothing of the size of teeth.

    Parameters
    ----------
    file : Path
        JPEG, PNG, TIFF, HEIC or WebP.
    mirrored : {"as_tagged", "ignored"}, optional
        What to do where the file's orientation mirrors the picture; None: refuse and ask.

    Raises
    ------
    InputRefusedError
        If the file is no such picture, is damaged, is too large, has several pages, or mirrors and nobody said what to do.
    """
    try:
        with Image.open(io.BytesIO(file.read_bytes()), formats=_FORMATS) as opened:
            if opened.width * opened.height > LARGEST_PX:
                size = f"{opened.width} x {opened.height} pixels"
                raise _refused(file, size, f"at most {LARGEST_PX // 1_000_000} megapixels", "Export a smaller copy.")
            if opened.format == "TIFF" and getattr(opened, "n_frames", 1) > 1:
                raise _refused(file, f"{getattr(opened, 'n_frames', 1)} pages", "one picture", "Export the page alone.")
            if opened.format == "HEIF":
                return _upright_heif(file, opened)
            return _upright(file, opened, mirrored)
    except (UnidentifiedImageError, Image.DecompressionBombError, OSError, SyntaxError) as wrong:
        what = f"no picture that can be read ({type(wrong).__name__})"
        raise _refused(file, what, "JPEG, PNG, TIFF, HEIC or WebP", "Export the photograph again.") from wrong


def _upright_heif(file: Path, opened: Image.Image) -> Photo:
    """The container's own rotation holds and the library has applied it; the Exif orientation beside it is a copy."""
    copy = opened.info.get("original_orientation") or 1
    if copy in _MIRRORED:
        what = f"orientation {copy}, which mirrors the picture"
        raise _refused(file, what, "a HEIC picture that is not mirrored", "Export it as JPEG, left and right as seen.")
    photo = _upright(file, opened, None)
    if copy == 1:
        return photo
    return Photo(photo.name, photo.pixels, (*photo.notes, f"HEIC: turned as the container says (Exif copy: {copy})"))


def _upright(file: Path, opened: Image.Image, mirrored: str | None) -> Photo:
    notes = []
    orientation = opened.getexif().get(_ORIENTATION, 1)
    if orientation in _MIRRORED and mirrored is None:
        raise _refused(
            file,
            f"orientation {orientation}, which mirrors the picture",
            "to be told whether that is right: left and right of the patient depend on it",
            "Say whether the mirroring holds (as_tagged) or not (ignored).",
        )
    profile = opened.info.get("icc_profile")
    picture: Image.Image = opened
    if not (orientation in _MIRRORED and mirrored == "ignored"):
        picture = ImageOps.exif_transpose(opened)
        if orientation != 1:
            notes.append(f"turned upright once, by Exif orientation {orientation}")
    else:
        notes.append(f"Exif orientation {orientation} ignored, as was said")
    picture = _eight_bit(picture, notes)
    if profile:
        picture = _to_srgb(picture, profile, notes)
    elif picture.mode == "CMYK":
        notes.append("CMYK without a profile: colours are approximate")
    return Photo(file.name, np.array(picture.convert("RGB"), dtype=np.uint8), tuple(notes))


def _eight_bit(picture: Image.Image, notes: list[str]) -> Image.Image:
    if not picture.mode.startswith("I;16"):
        return picture
    notes.append("16 bit brought to 8 bit")
    return Image.fromarray((np.asarray(picture).astype(np.uint32) * 255 // 65535).astype(np.uint8))


def _to_srgb(picture: Image.Image, profile: bytes, notes: list[str]) -> Image.Image:
    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        made = ImageCms.profileToProfile(picture, source, ImageCms.createProfile("sRGB"), outputMode="RGB")
    except (ImageCms.PyCMSError, OSError, ValueError):
        notes.append("the colour profile does not fit the picture and was not used")
        return picture
    notes.append("colours brought to sRGB by the profile in the file")
    return picture if made is None else made


def _refused(file: Path, found: str, expected: str, do: str) -> InputRefusedError:
    return InputRefusedError([Fault(file.name, "", found, expected, do)])

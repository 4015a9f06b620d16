"""A picture file becomes one upright grid of sRGB pixels: the grid that clicks, computation and print share."""

from __future__ import annotations

import hashlib
import io
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import numpy as np
import pillow_heif
from numpy.typing import NDArray
from PIL import Image, ImageCms, ImageOps, UnidentifiedImageError

from festoon.errors import Fault, InputRefusedError
from festoon.photo.framing import UNREAD, Framed, Framing, framed

pillow_heif.register_heif_opener()

_ORIENTATION = 0x0112
_MIRRORED = frozenset({2, 4, 5, 7})
"""Exif orientations that turn left into right."""
LARGEST_PX = 80_000_000
"""Cap on the number of pixels: 240 MB as 8-bit colour. A setting of ours, no source."""
_FORMATS = ("JPEG", "PNG", "TIFF", "HEIF", "WEBP")
_EXIF_IFD, _GPS_IFD = 0x8769, 0x8825
_FOCAL_35 = 0xA405
_FILM_MM = 36.0
"""Width of the film to which the equivalent focal length refers (Exif 2.32, FocalLengthIn35mmFilm)."""
_TELLING = {
    0x010E: "description", 0x010F: "maker", 0x0110: "device", 0x0131: "software", 0x0132: "date and time", 0x013B: "artist",
    0x013C: "host computer", 0x8298: "copyright", 0x9003: "date and time", 0x9004: "date and time", 0x927C: "maker's notes",
    0x9286: "comment", 0xA420: "image id", 0xA430: "owner", 0xA431: "serial number of the camera",
    0xA433: "lens maker", 0xA434: "lens", 0xA435: "serial number of the lens",
}  # fmt: skip
"""Exif tags that tell of a person, a place, a time or a device."""
_BLOCKS = {"xmp": "XMP", "XML:com.adobe.xmp": "XMP", "photoshop": "IPTC", "comment": "comment", "Comment": "comment"}


@dataclass(frozen=True)
class Photo:
    """An upright photograph."""

    name: str
    pixels: NDArray[np.uint8]
    """sRGB, shape (height, width, 3); (0, 0) is the middle of the upper left pixel."""
    notes: tuple[str, ...]
    """What was done to the file's picture, in words."""
    sha256: str = ""
    """Of the file's bytes."""
    removed: tuple[str, ...] = ()
    """Names of what the file says of person, place, time and device and the pixels no longer carry."""
    focal_px: float | None = None
    """Focal length in pixels of this grid, where the file says one and nothing says that the picture is a part of its frame; None: unknown, never
    guessed here."""
    framed: Framed = UNREAD
    """Whether the picture is the whole frame of its camera."""


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
        data = file.read_bytes()
        with Image.open(io.BytesIO(data), formats=_FORMATS) as opened:
            if opened.width * opened.height > LARGEST_PX:
                size = f"{opened.width} x {opened.height} pixels"
                raise _refused(file, size, f"at most {LARGEST_PX // 1_000_000} megapixels", "Export a smaller copy.")
            if opened.format == "TIFF" and getattr(opened, "n_frames", 1) > 1:
                raise _refused(file, f"{getattr(opened, 'n_frames', 1)} pages", "one picture", "Export the page alone.")
            removed, frame = removed_from(opened), framed(opened)
            focal = None if frame.framing is Framing.PART else _focal_px(opened)
            photo = _upright_heif(file, opened) if opened.format == "HEIF" else _upright(file, opened, mirrored)
            return replace(
                photo, sha256=hashlib.sha256(data).hexdigest(), removed=removed, focal_px=focal, framed=frame
            )
    except (UnidentifiedImageError, Image.DecompressionBombError, OSError, SyntaxError) as wrong:
        what = f"no picture that can be read ({type(wrong).__name__})"
        raise _refused(file, what, "JPEG, PNG, TIFF, HEIC or WebP", "Export the photograph again.") from wrong


def linear_light(levels: NDArray[np.uint8]) -> NDArray[np.float64]:
    """Levels of sRGB as shares of the light of white (IEC 61966-2-1)."""
    share = np.arange(256) / 255
    return np.asarray(np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)[levels])


def is_other_photograph(data: bytes) -> bool:
    """True for the bytes of a TIFF, HEIC or WebP picture, by their first letters."""
    return data[:4] in (b"II*\0", b"MM\0*") or data[4:8] == b"ftyp" or (data[:4] == b"RIFF" and data[8:12] == b"WEBP")


def removed_from(opened: Image.Image) -> tuple[str, ...]:
    """Names of what an opened file says of person, place, time and device. Only pixels go on: all of it is dropped."""
    exif = opened.getexif()
    tags: dict[int, object] = {**exif, **exif.get_ifd(_EXIF_IFD)}
    found = [name for tag, name in _TELLING.items() if tags.get(tag)]
    if exif.get_ifd(_GPS_IFD):
        found.append("place (GPS)")
    found += [name for key, name in _BLOCKS.items() if opened.info.get(key)]
    if opened.format == "PNG":
        found += [f"text {key!r}" for key in getattr(opened, "text", {}) if key not in _BLOCKS]
    return tuple(dict.fromkeys(found))


def _focal_px(opened: Image.Image) -> float | None:
    """From the equivalent focal length alone, which counts the whole frame's width."""
    said = opened.getexif().get_ifd(_EXIF_IFD).get(_FOCAL_35)
    try:
        focal = float(said or 0)
    except (TypeError, ValueError):
        return None
    return focal / _FILM_MM * max(opened.size) if focal > 0 else None


def _upright_heif(file: Path, opened: Image.Image) -> Photo:
    """The container's own rotation holds and the library has applied it; the Exif orientation beside it is a copy."""
    copy = opened.info.get("original_orientation") or 1
    if copy in _MIRRORED:
        what = f"orientation {copy}, which mirrors the picture"
        raise _refused(file, what, "a HEIC picture that is not mirrored", "Export it as JPEG, left and right as seen.")
    photo = _upright(file, opened, None)
    if copy == 1:
        return photo
    return replace(photo, notes=(*photo.notes, f"HEIC: turned as the container says (Exif copy: {copy})"))


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
    if picture.mode in ("I", "F"):
        values = np.asarray(picture, dtype=np.float64)
        if not (np.isfinite(values).all() and values.min() >= 0 and 255 < values.max() <= 65535):
            raise OSError("numbers whose white is not known")
        notes.append("16 bit brought to 8 bit")
        return Image.fromarray((values * 255 / 65535).astype(np.uint8))
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

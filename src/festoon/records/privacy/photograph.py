"""JPEG and PNG without what says who, where and when. The picture itself is not touched, not one pixel of it.

Segments (JPEG) and chunks (PNG) that are needed to draw the picture are kept; everything else goes. The orientation
is kept, in a block of its own: without it a photograph from a phone lies on its side.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass

JPEG, PNG = b"\xff\xd8", b"\x89PNG\r\n\x1a\n"
_ORIENTATION = 0x0112
_TAGS = {
    0x010E: "ImageDescription", 0x010F: "Make", 0x0110: "Model", 0x0131: "Software", 0x0132: "DateTime",
    0x013B: "Artist", 0x013C: "HostComputer", 0x8298: "Copyright", 0x8769: "camera settings and times",
    0x8825: "GPS position", 0x9C9B: "title", 0x9C9C: "comment", 0x9C9D: "author", 0x9C9E: "keywords",
    0x9C9F: "subject",
}  # fmt: skip
"""Names of the tags of the first directory, Exif 2.32; the others are told by number."""
_DRAWN_CHUNKS = {
    b"IHDR",
    b"PLTE",
    b"IDAT",
    b"IEND",
    b"tRNS",
    b"gAMA",
    b"cHRM",
    b"sRGB",
    b"sBIT",
    b"bKGD",
    b"pHYs",
    b"iCCP",
}


@dataclass(frozen=True)
class Cleaned:
    """A file without identity."""

    data: bytes
    removed: tuple[str, ...]
    """What was taken out, in words; never its content."""


def clean_photograph(data: bytes) -> Cleaned:
    """A JPEG or PNG without its metadata.

    Raises
    ------
    ValueError
        If it is neither, or is damaged: what cannot be read cannot be cleaned, so it is not kept.
    """
    if data.startswith(JPEG):
        return _jpeg(data)
    if data.startswith(PNG):
        return _png(data)
    raise ValueError("neither JPEG nor PNG")


def _jpeg(data: bytes) -> Cleaned:
    out: list[bytes] = [JPEG]
    removed: list[str] = []
    orientation = 1
    at = 2
    has_picture = False
    while True:
        at, marker, segment = _segment(data, at)
        body = segment[4:]
        if marker == _END:
            if not has_picture:
                raise ValueError("a JPEG without a picture")
            out.append(segment)
            break
        if marker == 0xE1 and body.startswith(b"Exif\0\0"):
            orientation, names = _exif(body[6:])
            removed += names
        elif marker == 0xFE or (0xE1 <= marker <= 0xEF and not _needed(marker, body)):
            removed.append(_segment_name(marker, body))
        else:
            has_picture |= marker == _SCAN
            out.append(segment)
    if data[at:].strip(b"\0"):
        removed.append("bytes after the end of the picture")
    if orientation != 1:
        out.insert(1, _orientation_block(orientation))
    return Cleaned(b"".join(out), tuple(dict.fromkeys(removed)))


_SCAN, _END = 0xDA, 0xD9


def _segment(data: bytes, at: int) -> tuple[int, int, bytes]:
    """The segment that begins at ``at``, with the coded data behind it: its end, its marker, its bytes.

    A phone may hang further pictures behind the end of the first, so the end is looked for marker by marker.
    """
    while data[at : at + 2] == b"\xff\xff":  # fill bytes
        at += 1
    if at + 2 > len(data) or data[at] != 0xFF:
        raise ValueError("a JPEG that was cut short or damaged")
    marker = data[at + 1]
    if marker == _END:
        return at + 2, marker, data[at : at + 2]
    if at + 4 > len(data):
        raise ValueError("a JPEG that was cut short")
    (length,) = struct.unpack_from(">H", data, at + 2)
    end = at + 2 + length
    if length < 2 or end > len(data):
        raise ValueError("a JPEG that was cut short or damaged")
    if marker == _SCAN:
        end = _end_of_coded(data, end)
    return end, marker, data[at:end]


def _end_of_coded(data: bytes, at: int) -> int:
    """Where coded data end: at the first FF that is neither stuffed (FF 00) nor a restart (FF D0 to D7)."""
    while True:
        at = data.find(b"\xff", at)
        if at < 0 or at + 1 >= len(data):
            raise ValueError("a JPEG that was cut short")
        if data[at + 1] != 0x00 and not 0xD0 <= data[at + 1] <= 0xD7:
            return at
        at += 2


def _needed(marker: int, body: bytes) -> bool:
    """A colour profile, and the mark that says how colours are coded."""
    return (marker == 0xE2 and body.startswith(b"ICC_PROFILE\0")) or (marker == 0xEE and body.startswith(b"Adobe"))


def _segment_name(marker: int, body: bytes) -> str:
    if marker == 0xFE:
        return "comment"
    for start, name in ((b"http://ns.adobe.com/", "XMP"), (b"Photoshop 3.0", "IPTC"), (b"MPF\0", "further pictures")):
        if body.startswith(start):
            return name
    return f"application data {marker - 0xE0}"


def _exif(tiff: bytes) -> tuple[int, list[str]]:
    """The orientation, and the names of the tags of the first directory."""
    order = {b"II": "<", b"MM": ">"}.get(tiff[:2])
    if order is None:
        return 1, ["Exif block that cannot be read"]
    try:
        (first,) = struct.unpack_from(order + "I", tiff, 4)
        (count,) = struct.unpack_from(order + "H", tiff, first)
        names, orientation = [], 1
        for i in range(count):
            tag, kind, _, value = struct.unpack_from(order + "HHIH", tiff, first + 2 + 12 * i)
            if tag == _ORIENTATION and kind == 3 and 1 <= value <= 8:
                orientation = value
            else:
                names.append(_TAGS.get(tag, f"Exif tag 0x{tag:04X}"))
    except struct.error:
        return 1, ["Exif block that cannot be read"]
    return orientation, names


def _orientation_block(orientation: int) -> bytes:
    """The smallest Exif block: one directory with one entry."""
    tiff = b"MM\0*" + struct.pack(">IHHHIHHI", 8, 1, _ORIENTATION, 3, 1, orientation, 0, 0)
    body = b"Exif\0\0" + tiff
    return b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body


def _png(data: bytes) -> Cleaned:
    out, removed = [PNG], []
    for kind, chunk in _chunks(data):
        if kind in _DRAWN_CHUNKS:
            out.append(chunk)
        else:
            removed.append(f"PNG chunk {kind.decode('latin-1')}")
    return Cleaned(b"".join(out), tuple(dict.fromkeys(removed)))


def _chunks(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    at = len(PNG)
    kind = b""
    while kind != b"IEND":
        if at + 12 > len(data):
            raise ValueError("a PNG that was cut short")
        (length,) = struct.unpack_from(">I", data, at)
        kind, chunk = data[at + 4 : at + 8], data[at : at + 12 + length]
        if len(chunk) < 12 + length or zlib.crc32(chunk[4:-4]) != struct.unpack(">I", chunk[-4:])[0]:
            raise ValueError("a damaged PNG")
        yield kind, chunk
        at += 12 + length

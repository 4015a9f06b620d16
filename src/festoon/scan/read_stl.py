"""STL, binary or text. The first word "solid" proves nothing: many binary files begin with it."""

from __future__ import annotations

import re

import numpy as np

from festoon.scan.raw import EXPORT_AGAIN, RawMesh, refusal

_HEADER = 84
_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("extra", "<u2")])
_NUMBER = rb"[-+]?(?:\d+\.?\d*(?:[eE][-+]?\d+)?|\.\d+(?:[eE][-+]?\d+)?|nan|inf)"
_CORNER = re.compile(rb"vertex\s+(" + _NUMBER + rb")\s+(" + _NUMBER + rb")\s+(" + _NUMBER + rb")", re.IGNORECASE)


def read_stl(data: bytes, name: str) -> RawMesh:
    """The triangles of an STL file, corners not yet merged.

    A binary file that is shorter or longer than its count says is read as far as whole triangles go, with a note.

    Raises
    ------
    InputRefusedError
        If there is no triangle in it.
    """
    if _is_text(data):
        return _text(data, name)
    if len(data) < _HEADER + _RECORD.itemsize:
        raise refusal(name, f"{len(data)} bytes, no triangle", "an STL file with triangles", f"{EXPORT_AGAIN}.")
    said = int.from_bytes(data[80:84], "little")
    there = (len(data) - _HEADER) // _RECORD.itemsize
    spare = (len(data) - _HEADER) % _RECORD.itemsize
    count = min(said, there) if said else there
    notes = []
    if said > there:
        notes.append(f"the file says {said} triangles but ends after {there}: it was cut off, look at what is missing")
    elif said < there:
        notes.append(f"the file says {said} triangles and holds {there}: all that are there were read")
        count = there
    elif spare:
        notes.append(f"{spare} bytes after the last triangle were not read")
    corners = np.frombuffer(data, _RECORD, count, _HEADER)["corners"].reshape(-1, 3).astype(np.float64)
    return RawMesh(corners, np.arange(len(corners)).reshape(-1, 3), notes=tuple(notes))


def _is_text(data: bytes) -> bool:
    if not data[:512].lstrip().lower().startswith(b"solid"):
        return False
    if len(data) >= _HEADER and len(data) == _HEADER + 50 * int.from_bytes(data[80:84], "little"):
        return False
    head = data[:4096]
    return b"\0" not in head and (b"facet" in head.lower() or b"endsolid" in data[-512:].lower())


def _text(data: bytes, name: str) -> RawMesh:
    found = _CORNER.findall(data)
    whole = len(found) // 3 * 3
    if not whole:
        raise refusal(name, "a text STL without a triangle", "triangles", f"{EXPORT_AGAIN}.")
    corners = np.array(found[:whole], dtype="S32").astype(np.float64)
    notes = [] if whole == len(found) else ["the file ends in the middle of a triangle: it was cut off"]
    if len(found) != len(re.findall(rb"\bvertex\b", data, re.IGNORECASE)):
        notes.append("some corners could not be read as three numbers and were left out with their triangle")
        corners = _whole_facets(data)
    return RawMesh(corners, np.arange(len(corners)).reshape(-1, 3), notes=tuple(notes))


def _whole_facets(data: bytes) -> np.ndarray:
    """Corners of those facets whose three corners can be read."""
    kept = [_CORNER.findall(part) for part in re.split(rb"\bfacet\b", data, flags=re.IGNORECASE)]
    whole = [corner for facet in kept if len(facet) == 3 for corner in facet]
    return np.array(whole, dtype="S32").astype(np.float64).reshape(-1, 3)

"""3MF: the one format that says its unit. Objects, components and their transforms are brought into one frame."""

from __future__ import annotations

import io
import zipfile
import zlib
from array import array
from dataclasses import dataclass, field
from xml.parsers import expat

import numpy as np

from festoon.scan.raw import EXPORT_AGAIN, Floats, RawMesh, Unit, refusal

_UNITS: dict[str, tuple[Unit, float]] = {
    "micron": ("mm", 0.001), "millimeter": ("mm", 1.0), "centimeter": ("cm", 1.0), "inch": ("inch", 1.0),
    "foot": ("inch", 12.0), "meter": ("m", 1.0),
}  # fmt: skip
"""Unit and factor to it."""
_LARGEST = 1 << 30
"""A model part larger than this when unpacked is refused, bytes."""
_DEEPEST = 20


@dataclass
class _Object:
    points: array[float] = field(default_factory=lambda: array("d"))
    triangles: array[int] = field(default_factory=lambda: array("q"))
    parts: list[tuple[str, Floats]] = field(default_factory=list)


@dataclass
class _Model:
    unit: str = "millimeter"
    objects: dict[str, _Object] = field(default_factory=dict)
    built: list[tuple[str, Floats]] = field(default_factory=list)
    current: _Object | None = None


def read_3mf(data: bytes, name: str) -> RawMesh:
    """The triangles of all objects that a 3MF file builds.

    Raises
    ------
    InputRefusedError
        If the archive or its model cannot be read, is too large, or holds no triangle.
    """
    model = _parsed(_model_part(data, name), name)
    if model.unit not in _UNITS:
        raise refusal(name, f"unit {model.unit!r}", ", ".join(_UNITS), f"{EXPORT_AGAIN}.", where="model.unit")
    unit, factor = _UNITS[model.unit]
    points: list[Floats] = []
    faces = []
    stack = [(key, matrix, 0) for key, matrix in model.built or [(k, np.eye(4)) for k in model.objects]]
    while stack:
        key, matrix, depth = stack.pop()
        if key not in model.objects or depth > _DEEPEST:
            raise refusal(name, f"object {key} that is not there or holds itself", "whole objects", f"{EXPORT_AGAIN}.")
        found = model.objects[key]
        stack += [(child, inner @ matrix, depth + 1) for child, inner in found.parts]
        if len(found.triangles):
            at = np.frombuffer(found.points, np.float64).reshape(-1, 3)
            corner = np.frombuffer(found.triangles, np.int64).reshape(-1, 3) + sum(map(len, points))
            if np.linalg.det(matrix[:3, :3]) < 0:
                corner = corner[:, ::-1]
            points.append(at @ matrix[:3, :3] + matrix[3, :3])
            faces.append(corner)
    if not faces:
        raise refusal(name, "no triangle", "a 3MF file with a mesh that is built", f"{EXPORT_AGAIN}.")
    notes = (f"{len(faces)} objects of the file were taken together",) if len(faces) > 1 else ()
    return RawMesh(np.concatenate(points) * factor, np.concatenate(faces), unit=unit, notes=notes)


def _model_part(data: bytes, name: str) -> bytes:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = [info for info in archive.infolist() if info.filename.lower().endswith(".model")]
            if not parts:
                raise refusal(name, "no 3D model part", "a 3MF file", f"{EXPORT_AGAIN}.")
            part = min(parts, key=lambda info: info.filename.lower() != "3d/3dmodel.model")
            if part.file_size > _LARGEST:
                raise refusal(
                    name, f"{part.file_size >> 20} MB of model", "at most 1024 MB", "Decimate the scan first."
                )
            return archive.read(part)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError) as wrong:
        raise refusal(name, f"an archive that cannot be opened ({wrong})", "a 3MF file", f"{EXPORT_AGAIN}.") from None


def _matrix(text: str | None) -> Floats:
    """A 3MF transform (row vectors, 4 x 3) as 4 x 4."""
    out = np.eye(4)
    if text:
        out[:, :3] = np.array(text.split(), dtype=np.float64).reshape(4, 3)
    return out


def _parsed(xml: bytes, name: str) -> _Model:
    model = _Model()

    def start(tag: str, at: dict[str, str]) -> None:
        tag = tag.rpartition(":")[2]
        current = model.current
        if tag == "vertex" and current is not None:
            current.points.extend((float(at["x"]), float(at["y"]), float(at["z"])))
        elif tag == "triangle" and current is not None:
            current.triangles.extend((int(at["v1"]), int(at["v2"]), int(at["v3"])))
        elif tag == "object":
            model.current = model.objects.setdefault(at["id"], _Object())
        elif tag == "component" and current is not None:
            current.parts.append((at["objectid"], _matrix(at.get("transform"))))
        elif tag == "item":
            model.built.append((at["objectid"], _matrix(at.get("transform"))))
        elif tag == "model":
            model.unit = at.get("unit", "millimeter")

    def doctype(*_: object) -> None:
        raise ValueError("a document type, which 3MF does not have")

    parser = expat.ParserCreate()
    parser.StartElementHandler = start
    parser.StartDoctypeDeclHandler = doctype
    try:
        parser.Parse(xml, True)
    except (expat.ExpatError, KeyError, ValueError) as wrong:
        line = parser.CurrentLineNumber
        raise refusal(
            name,
            f"a model part that cannot be read ({wrong})",
            "XML of a 3MF model",
            f"{EXPORT_AGAIN}.",
            where=f"3dmodel.model:{line}",
        ) from None
    return model

"""OBJ: polygons, negative indices, colours on the ``v`` lines. Groups and materials do not matter here."""

from __future__ import annotations

import re

import numpy as np

from festoon.scan.raw import EXPORT_AGAIN, Floats, Ints, RawMesh, fans, refusal


def read_obj(data: bytes, name: str) -> RawMesh:
    """The triangles of an OBJ file, all its objects together.

    Raises
    ------
    InputRefusedError
        If a line cannot be read, or there are no faces.
    """
    data = data.replace(b"\\\r\n", b" ").replace(b"\\\n", b" ")
    lines = data.split(b"\n")
    vertices = [line[2:] for line in lines if line[:2] in (b"v ", b"v\t")]
    faces = [(number, line[2:]) for number, line in enumerate(lines) if line[:2] in (b"f ", b"f\t")]
    if not vertices or not faces:
        raise refusal(
            name, f"{len(vertices)} points and {len(faces)} faces", "a surface of triangles", f"{EXPORT_AGAIN}."
        )
    points, colours = _vertices(vertices, lines, name)
    return RawMesh(points, _faces(faces, lines, name), colours)


def _vertices(rows: list[bytes], lines: list[bytes], name: str) -> tuple[Floats, Floats | None]:
    try:
        table = np.array(b" ".join(rows).split(), dtype=np.float64).reshape(len(rows), -1)
    except ValueError:
        table = np.array([_row(row, lines, name) for row in rows])
    if table.shape[1] < 6:
        return table[:, :3], None
    colours = table[:, 3:6]
    most = 255.0 if np.nanmax(colours, initial=0.0) > 1.0 else 1.0
    return table[:, :3], colours / most


def _row(row: bytes, lines: list[bytes], name: str) -> list[float]:
    words = row.split()
    try:
        return [float(word) for word in words[:3]] + [0.0] * (3 - min(3, len(words)) if len(words) < 3 else 0)
    except ValueError:
        number = next((k for k, line in enumerate(lines, 1) if line[2:] == row), None)
        raise refusal(
            name, repr(row.decode("ascii", "replace").strip()), "three numbers after v", f"{EXPORT_AGAIN}.", line=number
        ) from None


def _faces(rows: list[tuple[int, bytes]], lines: list[bytes], name: str) -> Ints:
    text = b"\n".join(row for _, row in rows)
    bare = re.sub(rb"/[^\s]*", b"", text) if b"/" in text else text
    counts = np.array([len(row.split()) for row in bare.split(b"\n")])
    try:
        corners = np.array(bare.split(), dtype=np.int64)
    except ValueError:
        for number, row in rows:
            if re.search(rb"[^\s\d/+-]", row):
                raise refusal(
                    name,
                    repr(row.decode("ascii", "replace").strip()),
                    "indices after f",
                    f"{EXPORT_AGAIN}.",
                    line=number + 1,
                ) from None
        raise
    if (corners < 0).any():
        # A negative index counts back from the last vertex read before that line.
        seen = np.cumsum([line[:2] in (b"v ", b"v\t") for line in lines])
        before = np.repeat(seen[[number for number, _ in rows]], counts)
        corners = np.where(corners < 0, before + corners + 1, corners)
    triangles = fans(counts, corners - 1)
    if not len(triangles):
        raise refusal(name, "faces of fewer than three corners only", "triangles or polygons", f"{EXPORT_AGAIN}.")
    return triangles

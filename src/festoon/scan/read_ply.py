"""PLY, text or binary of either byte order, with either spelling of the index list, colours and any other properties."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from festoon.scan.raw import EXPORT_AGAIN, Floats, Ints, RawMesh, fans, refusal

_TYPES = {
    "char": "i1", "int8": "i1", "uchar": "u1", "uint8": "u1", "short": "i2", "int16": "i2", "ushort": "u2",
    "uint16": "u2", "int": "i4", "int32": "i4", "uint": "u4", "uint32": "u4", "float": "f4", "float32": "f4",
    "double": "f8", "float64": "f8",
}  # fmt: skip
_INDEX_NAMES = ("vertex_indices", "vertex_index")
_COLOURS = (("red", "green", "blue"), ("r", "g", "b"), ("diffuse_red", "diffuse_green", "diffuse_blue"))


@dataclass
class _Element:
    name: str
    count: int
    properties: list[tuple[str, str, str]] = field(default_factory=list)
    """(name, type, type of the list's count or "")."""


def read_ply(data: bytes, name: str) -> RawMesh:
    """The triangles of a PLY file.

    Raises
    ------
    InputRefusedError
        If the header makes no sense, the data end early, or there are no faces.
    """
    order, elements, start = _header(data, name)
    columns: dict[str, dict[str, np.ndarray]] = {}
    faces: Ints | None = None
    body = _TextBody(data[start:], name) if order == "" else _BinaryBody(data, start, order, name)
    for element in elements:
        indices, found = body.take(element)
        columns[element.name] = found
        if element.name == "face":
            faces = indices
    vertex = columns.get("vertex", {})
    if not {"x", "y", "z"} <= vertex.keys():
        raise refusal(name, "no vertex element with x, y and z", "a PLY surface", f"{EXPORT_AGAIN}.", where="header")
    if faces is None or not len(faces):
        raise refusal(
            name,
            f"{len(vertex['x'])} points and no face",
            "a surface of triangles, not a cloud of points",
            f"{EXPORT_AGAIN}.",
        )
    points = np.stack([vertex[axis].astype(np.float64) for axis in "xyz"], axis=1)
    return RawMesh(points, faces, _colours(vertex))


def _colours(vertex: dict[str, np.ndarray]) -> Floats | None:
    for names in _COLOURS:
        if set(names) <= vertex.keys():
            values = np.stack([vertex[n] for n in names], axis=1)
            most = float(np.iinfo(values.dtype).max) if values.dtype.kind in "iu" else 1.0
            # A text file has lost its types: whole numbers above one are bytes.
            if most == 1.0 and np.nanmax(values, initial=0.0) > 1.0:
                most = 255.0
            return np.asarray(values.astype(np.float64) / most)
    return None


def _header(data: bytes, name: str) -> tuple[str, list[_Element], int]:
    end = data.find(b"end_header")
    if not data.startswith(b"ply") or end < 0:
        raise refusal(name, "no PLY header", "a file that begins with 'ply' and has 'end_header'", f"{EXPORT_AGAIN}.")
    start = data.find(b"\n", end) + 1 or len(data)
    order: str | None = None
    elements: list[_Element] = []
    for number, text in enumerate(data[:end].decode("ascii", "replace").splitlines(), 1):
        words = text.split()
        try:
            if not words or words[0] in ("ply", "comment", "obj_info"):
                continue
            if words[0] == "format":
                order = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}[words[1]]
            elif words[0] == "element":
                elements.append(_Element(words[1], int(words[2])))
            elif words[0] == "property" and words[1] == "list":
                elements[-1].properties.append((words[4], _TYPES[words[3]], _TYPES[words[2]]))
            elif words[0] == "property":
                elements[-1].properties.append((words[2], _TYPES[words[1]], ""))
        except (KeyError, IndexError, ValueError):
            raise refusal(
                name, repr(text), "a line of a PLY header", f"{EXPORT_AGAIN}.", where="header", line=number
            ) from None
    if order is None:
        raise refusal(name, "no format line", "ascii or binary", f"{EXPORT_AGAIN}.", where="header")
    return order, elements, start


class _BinaryBody:
    """Walks through the bytes element by element."""

    def __init__(self, data: bytes, start: int, order: str, name: str) -> None:
        self.data, self.at, self.order, self.name = data, start, order, name

    def take(self, element: _Element) -> tuple[Ints | None, dict[str, np.ndarray]]:
        """Triangles (of a face element) and scalar columns; refused if the file ends before them."""
        if not any(kind for _, _, kind in element.properties):
            kind = np.dtype([(n, self.order + t) for n, t, _ in element.properties])
            rows = self._records(kind, element)
            return None, {n: rows[n] for n, _, _ in element.properties}
        return self._lists(element), {}

    def _records(self, kind: np.dtype, element: _Element) -> np.ndarray:
        if self.at + kind.itemsize * element.count > len(self.data):
            raise self._short(element, (len(self.data) - self.at) // max(kind.itemsize, 1))
        rows = np.frombuffer(self.data, kind, element.count, self.at)
        self.at += kind.itemsize * element.count
        return rows

    def _lists(self, element: _Element) -> Ints | None:
        """All lists triangles: one block. Else one by one."""
        parts: list[tuple[str, str] | tuple[str, str, tuple[int]]] = []
        for n, t, c in element.properties:
            wide = 3 if n in _INDEX_NAMES else 0
            parts += [(f"{n}#", self.order + c), (n, self.order + t, (wide,))] if c else [(n, self.order + t)]
        kind = np.dtype(parts)
        index = next((n for n, _, c in element.properties if c and n in _INDEX_NAMES), None)
        if index and self.at + kind.itemsize * element.count <= len(self.data):
            rows = np.frombuffer(self.data, kind, element.count, self.at)
            if all((rows[f"{n}#"] == (3 if n == index else 0)).all() for n, _, c in element.properties if c):
                self.at += kind.itemsize * element.count
                return rows[index].astype(np.int64)
        return self._one_by_one(element, index)

    def _one_by_one(self, element: _Element, index: str | None) -> Ints | None:
        counts, corners = [], []
        for row in range(element.count):
            for n, t, c in element.properties:
                many = int(self._scalars(c, 1, element, row)[0]) if c else 1
                if many < 0:
                    raise self._short(element, row)
                values = self._scalars(t, many, element, row)
                if n == index:
                    counts.append(many)
                    corners.append(values)
        if not index or not corners:
            return None
        return fans(np.array(counts), np.concatenate(corners).astype(np.int64))

    def _scalars(self, kind: str, count: int, element: _Element, row: int) -> np.ndarray:
        one = np.dtype(self.order + kind)
        if self.at + one.itemsize * count > len(self.data):
            raise self._short(element, row)
        values = np.frombuffer(self.data, one, count, self.at)
        self.at += one.itemsize * count
        return values

    def _short(self, element: _Element, got: int) -> Exception:
        return refusal(
            self.name, f"the data end after {got} of {element.count}", f"{element.count} rows of {element.name}",
            "The file was cut off: copy or export it again.", where=element.name,
        )  # fmt: skip


class _TextBody:
    """Walks through the words of a text file element by element."""

    def __init__(self, data: bytes, name: str) -> None:
        self.lines = [line for line in data.split(b"\n") if line.strip()]
        self.at, self.name = 0, name

    def take(self, element: _Element) -> tuple[Ints | None, dict[str, np.ndarray]]:
        """Triangles (of a face element) and scalar columns."""
        rows = self.lines[self.at : self.at + element.count]
        if len(rows) < element.count:
            raise refusal(
                self.name, f"the data end after {len(rows)} of {element.count}", f"{element.count} rows of {element.name}",
                "The file was cut off: copy or export it again.", where=element.name,
            )  # fmt: skip
        self.at += element.count
        if not rows:
            return None, {n: np.zeros(0) for n, _, c in element.properties if not c}
        try:
            if any(c for _, _, c in element.properties):
                return self._faces(element, rows), {}
            table = np.array(b" ".join(rows).split(), dtype=np.float64).reshape(element.count, -1)
            return None, {n: table[:, k] for k, (n, _, _) in enumerate(element.properties)}
        except (ValueError, IndexError):
            raise refusal(
                self.name, "rows that are not the numbers the header promises", f"{element.count} rows of numbers",
                f"{EXPORT_AGAIN}.", where=element.name,
            ) from None  # fmt: skip

    def _faces(self, element: _Element, rows: list[bytes]) -> Ints | None:
        counts, corners = [], []
        for row in rows:
            words = row.split()
            for n, _, c in element.properties:
                many = int(words[0]) if c else 1
                words = words[1:] if c else words
                if len(words) < many:
                    raise ValueError("a row that ends early")
                if n in _INDEX_NAMES:
                    counts.append(many)
                    corners += [int(float(word)) for word in words[:many]]
                words = words[many:]
        return fans(np.array(counts), np.array(corners, dtype=np.int64)) if counts else None

"""A scan as one clean surface in millimetres: what was merged and dropped is said, nothing is scaled in silence."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from festoon.scan.raw import EXPORT_AGAIN, MM_PER, Floats, Ints, RawMesh, Unit, refusal
from festoon.scan.read_3mf import read_3mf
from festoon.scan.read_obj import read_obj
from festoon.scan.read_ply import read_ply
from festoon.scan.read_stl import read_stl

_READERS: dict[str, Callable[[bytes, str], RawMesh]] = {
    ".stl": read_stl,
    ".ply": read_ply,
    ".obj": read_obj,
    ".3mf": read_3mf,
}
_LARGEST = 1 << 30
"""A file larger than this is refused, bytes."""
SMALLEST_DIAGONAL, LARGEST_DIAGONAL = 20.0, 140.0
"""Diagonal of the box round a scan with at least a few teeth, mm. A full upper arch with palate is about 65 x 55 x 25 (from
memory); the crowns of photos-and-crowns-a measure 64 x 48 x 11."""
_CRUMB = 0.1
"""A piece smaller than this share of the largest piece's area is no part of the arch."""


@dataclass(frozen=True)
class Surface:
    """A clean triangle surface."""

    name: str
    """File name, without its folder."""
    vertices: Floats
    """Shape (N, 3), mm, in the pose of the file."""
    faces: Ints
    """Shape (M, 3), wound so that normals point out of the tissue where the file does so."""
    colours: Floats | None
    """Shape (N, 3), 0 to 1; None where the file has none."""
    unit: Unit
    """Unit of the file's coordinates, as said by the user or by the file, or mm as it is plausible."""
    unit_said: bool
    """False when nobody said the unit and mm was taken because it is plausible."""
    report: tuple[str, ...]
    """What was read, merged and dropped, in words."""

    @cached_property
    def face_normals(self) -> Floats:
        """Area-weighted normals (length: twice the area), shape (M, 3)."""
        p = self.vertices[self.faces]
        return np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0])

    @cached_property
    def normals(self) -> Floats:
        """Unit vertex normals, area-weighted, shape (N, 3)."""
        out = np.stack(
            [
                np.bincount(self.faces.ravel(), np.repeat(self.face_normals[:, k], 3), len(self.vertices))
                for k in range(3)
            ],
            axis=1,
        )
        return np.asarray(out / np.maximum(np.linalg.norm(out, axis=1, keepdims=True), 1e-30))

    @cached_property
    def boundary(self) -> Ints:
        """Directed edges that only one face has, shape (K, 2)."""
        edges = self.faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
        key = edges.min(axis=1) * len(self.vertices) + edges.max(axis=1)
        _, first, count = np.unique(key, return_index=True, return_counts=True)
        return np.asarray(edges[first[count == 1]])

    @property
    def spacing(self) -> float:
        """Median length of an edge, mm."""
        p = self.vertices[self.faces[:: max(1, len(self.faces) // 20000)]]
        return float(np.median(np.linalg.norm(p[:, 1] - p[:, 0], axis=1)))


def read_surface(path: Path, unit: Unit | None = None) -> Surface:
    """Read a scan file and make one clean surface of it.

    Parameters
    ----------
    path : Path
        STL (text or binary), PLY, OBJ or 3MF; also one of them alone in a .zip.
    unit : {"mm", "cm", "m", "inch"}, optional
        Unit of the coordinates. None: as 3MF says, else mm if the size is plausible then.

    Raises
    ------
    InputRefusedError
        If the file cannot be read as a surface, is empty, or its size is that of no dental arch in the unit.
    """
    raw, name = _raw(path)
    if unit and raw.unit and unit != raw.unit:
        raise refusal(
            name, f"--unit {unit}, but the file says {raw.unit}", "one unit", f"Leave --unit out, or say {raw.unit}."
        )
    return clean(raw, name, unit)


def _raw(path: Path) -> tuple[RawMesh, str]:
    if path.stat().st_size > _LARGEST:
        raise refusal(path.name, f"{path.stat().st_size >> 20} MB", "at most 1024 MB", "Decimate the scan first.")
    data, name = path.read_bytes(), path.name
    if path.suffix.lower() == ".zip":
        try:
            with zipfile.ZipFile(path) as archive:
                # Some systems put a hidden twin "._name" beside every file.
                inside = [
                    i
                    for i in archive.infolist()
                    if Path(i.filename).suffix.lower() in _READERS and not Path(i.filename).name.startswith("._")
                ]
                if len(inside) != 1 or inside[0].file_size > _LARGEST:
                    raise refusal(
                        name,
                        f"{len(inside)} scans inside",
                        "one scan of at most 1024 MB",
                        "Unpack the file and name the scan.",
                    )
                data, name = archive.read(inside[0]), Path(inside[0].filename).name
        except zipfile.BadZipFile:
            raise refusal(name, "a broken archive", "a zip file", "Copy it again.") from None
    kind = Path(name).suffix.lower()
    if kind not in _READERS:
        raise refusal(path.name, f"a file named *{kind}", "*.stl, *.ply, *.obj or *.3mf", f"{EXPORT_AGAIN}.")
    return _READERS[kind](data, name), name


def clean(raw: RawMesh, name: str, unit: Unit | None = None) -> Surface:
    """Merge by position, drop what is degenerate, keep the arch and not the crumbs, and settle the unit.

    Raises
    ------
    InputRefusedError
        As :func:`read_surface`.
    """
    report = list(raw.notes)
    vertices, faces, colours = raw.vertices, raw.faces, raw.colours
    inside = np.asarray(((faces >= 0) & (faces < len(vertices))).all(axis=1))
    _drop(report, ~inside, "faces pointed at corners that are not there and were dropped")
    faces = faces[inside]
    finite = np.asarray(np.isfinite(vertices).all(axis=1))
    whole = np.asarray(finite[faces].all(axis=1))
    _drop(report, ~whole, "faces had corners that are no numbers and were dropped")
    faces = faces[whole]
    if not len(faces):
        raise refusal(name, "no usable face", "a surface of triangles", f"{EXPORT_AGAIN}.")
    vertices, index = merged(np.where(finite[:, None], vertices, 0.0))
    colours = None if colours is None else _mean_colours(colours, index, len(vertices))
    faces = index[faces]
    thin = (faces[:, 0] == faces[:, 1]) | (faces[:, 1] == faces[:, 2]) | (faces[:, 2] == faces[:, 0])
    _drop(report, thin, "faces without area were dropped")
    faces = faces[~thin]
    first = _once(faces, len(vertices))
    if len(first) < len(faces):
        report.append(f"{len(faces) - len(first)} faces were there twice and were kept once")
        faces = faces[np.sort(first)]
    unit, said, factor = _settled_unit(vertices, faces, raw.unit, unit, name)
    vertices = vertices * factor
    faces = _without_crumbs(vertices, faces, report)
    used = np.zeros(len(vertices), dtype=bool)
    used[faces] = True
    faces = (np.cumsum(used) - 1)[faces]
    vertices = vertices[used]
    colours = None if colours is None else colours[used]
    size = " x ".join(f"{v:.1f}" for v in np.ptp(vertices, axis=0))
    report.insert(
        0,
        f"{name}: {len(faces)} faces, {len(vertices)} corners, {size} mm, {'with' if colours is not None else 'without'} colours",
    )
    return Surface(name, vertices, faces, colours, unit, said, tuple(report))


def _drop(report: list[str], dropped: np.ndarray, words: str) -> None:
    if dropped.any():
        report.append(f"{int(dropped.sum())} {words}")


def _once(faces: Ints, count: int) -> Ints:
    """Index of the first face of every set of three corners."""
    ordered = np.sort(faces, axis=1)
    if count > 2_000_000:  # the cube of the count no longer fits into 63 bits
        return np.asarray(np.unique(ordered, axis=0, return_index=True)[1])
    return np.asarray(np.unique((ordered[:, 0] * count + ordered[:, 1]) * count + ordered[:, 2], return_index=True)[1])


def merged(points: Floats) -> tuple[Floats, Ints]:
    """Points that lie at exactly the same place once, and the new index of every old point."""
    bits = np.ascontiguousarray(points + 0.0).view(np.uint64)  # + 0.0: -0.0 is 0.0
    with np.errstate(over="ignore"):
        key = bits[:, 0] * np.uint64(0x9E3779B97F4A7C15) ^ (bits[:, 1] + np.uint64(1)) * np.uint64(0xC2B2AE3D27D4EB4F)
        key = (key ^ (key >> np.uint64(29))) * np.uint64(0x165667B19E3779F9) ^ bits[:, 2] * np.uint64(
            0xD6E8FEB86659FD93
        )
    _, first, index = np.unique(key, return_index=True, return_inverse=True)
    if not np.array_equal(points[first[index]], points):  # two places with one key: slow but sure
        unique, index = np.unique(points, axis=0, return_inverse=True)
        return unique, index.ravel().astype(np.int64)
    return points[first], index.ravel().astype(np.int64)


def _mean_colours(colours: Floats, index: Ints, count: int) -> Floats:
    usable = np.isfinite(colours).all(axis=1)
    many = np.bincount(index[usable], minlength=count)
    total = np.stack([np.bincount(index[usable], colours[usable, k], count) for k in range(3)], axis=1)
    return np.where(many[:, None] > 0, total / np.maximum(many, 1)[:, None], 0.5).clip(0.0, 1.0)


def _settled_unit(
    vertices: Floats, faces: Ints, in_file: Unit | None, asked: Unit | None, name: str
) -> tuple[Unit, bool, float]:
    extent = np.sort(np.ptp(vertices[np.unique(faces)], axis=0))
    diagonal = float(np.linalg.norm(extent))
    unit = asked or in_file or "mm"
    said = bool(asked or in_file)
    fits = [u for u, f in MM_PER.items() if SMALLEST_DIAGONAL <= diagonal * f <= LARGEST_DIAGONAL]
    if unit not in fits:
        size = f"{diagonal * MM_PER[unit]:.4g} mm across, taken in {unit}"
        other = "; it would be in " + " or ".join(fits) if fits else ""
        do = (
            f"Say --unit {fits[0]} if that is the unit of the file."
            if fits
            else "Check the unit, or whether this is the right file."
        )
        raise refusal(
            name, size, f"{SMALLEST_DIAGONAL:g} to {LARGEST_DIAGONAL:g} mm, the size of a dental arch{other}", do
        )
    return unit, said, MM_PER[unit]


def connected(count: int, faces: Ints) -> tuple[int, Ints]:
    """How many pieces the faces over ``count`` corners make, and the piece of each corner."""
    ends = (faces[:, :2].ravel(), faces[:, 1:].ravel())
    links = coo_matrix((np.ones(2 * len(faces), np.int8), ends), shape=(count, count))
    pieces, label = connected_components(links, directed=False)
    return int(pieces), np.asarray(label, dtype=np.int64)


def _without_crumbs(vertices: Floats, faces: Ints, report: list[str]) -> Ints:
    """Faces of the pieces that are at least a tenth of the largest by area."""
    pieces, label = connected(len(vertices), faces)
    if pieces == 1:
        return faces
    p = vertices[faces]
    area = np.linalg.norm(np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]), axis=1)
    of_face = label[faces[:, 0]]
    total = np.bincount(of_face, area, pieces)
    kept = total >= _CRUMB * total.max()
    dropped = int((total > 0).sum() - kept.sum())
    if dropped:
        report.append(
            f"{dropped} loose pieces beside the arch were left out ({100 * (1 - total[kept].sum() / total.sum()):.1f} % of the area)"
        )
    if kept.sum() > 1:
        report.append(f"{int(kept.sum())} separate pieces were kept")
    return np.asarray(faces[kept[of_face]])

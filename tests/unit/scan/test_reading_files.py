"""Scan files read robustly or refused in words."""

from __future__ import annotations

import io
import struct
import zipfile
from pathlib import Path

import numpy as np
import pytest

from festoon.errors import InputRefusedError
from festoon.scan.raw import RawMesh
from festoon.scan.surface import clean, read_surface


def sheet(n: int = 21, size: float = 40.0) -> tuple[np.ndarray, np.ndarray]:
    """A wavy open sheet of ``size`` mm."""
    x, y = np.meshgrid(np.linspace(0, size, n), np.linspace(0, size, n), indexing="ij")
    points = np.stack([x, y, np.sin(x / 5)], -1).reshape(-1, 3)
    k = np.arange(n * n).reshape(n, n)
    a, b, c, d = k[:-1, :-1].ravel(), k[1:, :-1].ravel(), k[1:, 1:].ravel(), k[:-1, 1:].ravel()
    return points, np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])


POINTS, FACES = sheet()


def binary_stl(header: bytes = b"solid made by a scanner", said: int | None = None, cut: int = 0) -> bytes:
    body = b"".join(struct.pack("<12fH", 0, 0, 0, *POINTS[f].ravel(), 0) for f in FACES)
    count = struct.pack("<I", len(FACES) if said is None else said)
    return header.ljust(80, b" ") + count + body[: len(body) - cut]


def text_stl() -> bytes:
    facets = "".join(
        "facet normal 0 0 0\nouter loop\n"
        + "".join(f"vertex {x:.9g} {y:.9g} {z:.9g}\n" for x, y, z in POINTS[f])
        + "endloop\nendfacet\n"
        for f in FACES
    )
    return f"solid sheet\n{facets}endsolid sheet\n".encode()


def ply(index: str = "vertex_indices", order: str = "<", colours: bool = True, bad: bool = False) -> bytes:
    kind = "binary_little_endian" if order == "<" else "binary_big_endian"
    shade = "property uchar red\nproperty uchar green\nproperty uchar blue\n" if colours else ""
    head = (
        f"ply\nformat {kind} 1.0\ncomment x\nelement vertex {len(POINTS)}\nproperty float x\nproperty float y\nproperty float z\n"
        f"{shade}element face {len(FACES)}\nproperty list uchar int {index}\nend_header\n"
    )
    rows = b""
    for k, p in enumerate(POINTS):
        xyz = (float("nan"),) * 3 if bad and k == 0 else tuple(p)
        rows += struct.pack(order + "3f", *xyz) + (bytes([200, 100, 50]) if colours else b"")
    faces = b"".join(struct.pack(order + "B3i", 3, *f) for f in FACES)
    return head.encode() + rows + faces


def obj() -> bytes:
    lines = [f"v {x:.9g} {y:.9g} {z:.9g} 0.8 0.4 0.2" for x, y, z in POINTS]
    n = 21
    quads = [
        (i * n + j, (i + 1) * n + j, (i + 1) * n + j + 1, i * n + j + 1) for i in range(n - 1) for j in range(n - 1)
    ]
    lines += ["f " + " ".join(f"{q + 1}/{q + 1}//1" for q in quad) for quad in quads]
    return "\n".join(lines).encode()


def three_mf(unit: str = "centimeter", scale: float = 0.1, transform: str = "1 0 0 0 1 0 0 0 1 1 0 0") -> bytes:
    vertices = "".join(f'<vertex x="{x}" y="{y}" z="{z}"/>' for x, y, z in POINTS * scale)
    triangles = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in FACES)
    model = (
        f'<?xml version="1.0"?><model unit="{unit}" xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"><resources>'
        f'<object id="1" type="model"><mesh><vertices>{vertices}</vertices><triangles>{triangles}</triangles></mesh></object>'
        f'<object id="2" type="model"><components><component objectid="1" transform="{transform}"/></components></object></resources>'
        '<build><item objectid="2"/></build></model>'
    )
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("3D/3dmodel.model", model)
    return out.getvalue()


def read(tmp_path: Path, name: str, data: bytes, unit: str | None = None):
    (tmp_path / name).write_bytes(data)
    return read_surface(tmp_path / name, unit)  # type: ignore[arg-type]  # the wrong ones are the test


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("a.stl", binary_stl()),
        ("b.stl", text_stl()),
        ("c.ply", ply()),
        ("d.ply", ply("vertex_index", ">", colours=False)),
        ("e.obj", obj()),
        ("f.3mf", three_mf()),
    ],
)
def test_every_format_gives_the_same_surface(tmp_path: Path, name: str, data: bytes) -> None:
    """Six spellings of one sheet have the same corners, faces and area."""
    surface = read(tmp_path, name, data)
    assert (len(surface.vertices), len(surface.faces)) == (len(POINTS), len(FACES))
    assert np.ptp(surface.vertices, axis=0) == pytest.approx(np.ptp(POINTS, axis=0), abs=1e-4)
    area = np.linalg.norm(surface.face_normals, axis=1).sum() / 2
    expected = (
        np.linalg.norm(
            np.cross(POINTS[FACES[:, 1]] - POINTS[FACES[:, 0]], POINTS[FACES[:, 2]] - POINTS[FACES[:, 0]]), axis=1
        ).sum()
        / 2
    )
    assert area == pytest.approx(expected, rel=1e-4)


def test_colours_of_ply_and_obj_are_kept(tmp_path: Path) -> None:
    """Bytes and floats both come out between 0 and 1."""
    assert read(tmp_path, "c.ply", ply()).colours[0] == pytest.approx([200 / 255, 100 / 255, 50 / 255])
    assert read(tmp_path, "e.obj", obj()).colours[0] == pytest.approx([0.8, 0.4, 0.2])
    assert read(tmp_path, "a.stl", binary_stl()).colours is None


def test_a_cut_off_stl_is_read_as_far_as_it_goes_and_said(tmp_path: Path) -> None:
    """Half a triangle missing at the end: one triangle fewer, and a note with both numbers."""
    surface = read(tmp_path, "cut.stl", binary_stl(cut=20))
    assert len(surface.faces) == len(FACES) - 1
    assert any(f"says {len(FACES)} triangles but ends after {len(FACES) - 1}" in line for line in surface.report)


def test_a_wrong_count_does_not_lose_triangles(tmp_path: Path) -> None:
    """The count says 5, all are there: all are read, and it is said."""
    surface = read(tmp_path, "count.stl", binary_stl(said=5))
    assert len(surface.faces) == len(FACES)
    assert any("says 5 triangles" in line for line in surface.report)


def test_a_cut_off_ply_is_refused_with_the_row(tmp_path: Path) -> None:
    """A PLY that ends early names the element and how many rows came."""
    with pytest.raises(InputRefusedError, match=r"face: found the data end after \d+ of"):
        read(tmp_path, "cut.ply", ply()[:-30])


def test_corners_that_are_no_numbers_are_dropped_and_said(tmp_path: Path) -> None:
    """NaN in one corner: its faces go, with a count."""
    surface = read(tmp_path, "nan.ply", ply(bad=True))
    assert np.isfinite(surface.vertices).all()
    assert any("no numbers" in line for line in surface.report)


def test_a_transform_and_unit_of_3mf_are_obeyed(tmp_path: Path) -> None:
    """4 cm of file are 40 mm, moved by 1 cm in x."""
    surface = read(tmp_path, "f.3mf", three_mf())
    assert (surface.unit, surface.unit_said) == ("cm", True)
    assert surface.vertices[:, 0].min() == pytest.approx(10.0)


def test_a_unit_is_never_guessed() -> None:
    """A file in metres is refused with the unit that would fit, and read when the user says it."""
    metres = clean(RawMesh(POINTS, FACES), "x.stl", "mm")
    assert metres.unit == "mm"
    with pytest.raises(InputRefusedError, match="it would be in m"):
        clean(RawMesh(POINTS / 1000, FACES), "x.stl")
    assert np.ptp(clean(RawMesh(POINTS / 1000, FACES), "x.stl", "m").vertices[:, 0]) == pytest.approx(40.0)


def test_a_unit_against_the_files_own_is_refused(tmp_path: Path) -> None:
    """3MF says centimetres, the user inches: one of them is wrong."""
    with pytest.raises(InputRefusedError, match="the file says cm"):
        read(tmp_path, "f.3mf", three_mf(), "inch")


def test_crumbs_twins_and_slivers_go_with_a_word() -> None:
    """A loose scrap, a face twice and a face without area are dropped and counted."""
    scrap = np.array([[60.0, 60, 0], [61, 60, 0], [60, 61, 0]])
    faces = np.concatenate([FACES, FACES[:1], [[0, 0, 1]], [[441, 442, 443]]])
    surface = clean(RawMesh(np.concatenate([POINTS, scrap]), faces), "x.stl")
    assert len(surface.faces) == len(FACES)
    words = " ".join(surface.report)
    assert "1 faces were there twice" in words
    assert "1 faces without area" in words
    assert "1 loose pieces" in words


@pytest.mark.parametrize(
    "name",
    [
        "empty.obj",
        "empty.ply",
        "empty.stl",
        "points_bin.ply",
        "points_ascii.ply",
        "emptyIO/obj_wireframe.obj",
        "emptyIO/ply_empty_header.ply",
    ],
)
def test_empty_and_point_files_are_refused(shared_data: Path, name: str) -> None:
    """Real awkward files without a face are refused with file, found, expected and what to do."""
    with pytest.raises(InputRefusedError) as refused:
        read_surface(shared_data / "mesh-awkward" / name)
    fault = refused.value.faults[0]
    assert fault.file == Path(name).name
    assert fault.found
    assert fault.do

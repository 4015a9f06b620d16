"""A phantom's scan traced: numbers, margins, corrections, refusals, invariances."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import igl
import numpy as np
import pytest
import trimesh
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation

from festoon.errors import InputRefusedError
from festoon.model.dentition import Site, Tooth
from festoon.model.quantities import Quantity
from festoon.model.reading import Datum, Method
from festoon.scan.picture import draw_picture
from festoon.scan.quantities import readings_of
from festoon.scan.raw import RawMesh
from festoon.scan.surface import Surface, clean
from festoon.scan.trace import TracedArch, trace_scan

SIX = ["13", "12", "11", "21", "22", "23"]


def test_the_six_teeth_are_found_and_numbered(traced: TracedArch) -> None:
    """Teeth, jaw and sides without being told."""
    assert [t.fdi for t in traced.teeth] == SIX
    assert traced.division.jaw == "upper"
    assert traced.teeth[Tooth("21")].frame.edge[0] > 3.0


def test_margins_lie_on_the_true_margins(traced: TracedArch, mouth) -> None:
    """Facial margin curves of the incisors within 0.15 mm RMS and 0.3 mm at the 95th percentile of the truth, 50 um noise."""
    for code in ("12", "11", "21", "22"):
        one = traced.teeth[Tooth(code)]
        ring = traced.frame.to_arch(mouth.to_file(mouth.truth.margins[code].points))
        dense = np.concatenate([np.linspace(a, b, 15) for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True)])
        inner = one.facial.curve[5:-5]
        off = cKDTree(dense).query(inner)[0]
        assert float(np.sqrt((off**2).mean())) < 0.15
        assert float(np.quantile(off, 0.95)) < 0.3


def test_lengths_and_widths_are_near_the_truth(traced: TracedArch, mouth) -> None:
    """Crown lengths within 0.2 mm, widths of teeth with two neighbours within 0.35 mm, and inside three standard errors."""
    for r in readings_of(traced):
        if (
            r.quantity in (Quantity.CROWN_LENGTH, Quantity.CROWN_WIDTH)
            and r.tooth in ("12", "11", "21", "22")
            and not r.flag
        ):
            off = r.value - mouth.truth.value(r.tooth, r.quantity, r.site)
            assert abs(off) < (0.2 if r.quantity is Quantity.CROWN_LENGTH else 0.35)
            assert abs(off) < 3 * r.se


def test_readings_say_where_they_come_from(traced: TracedArch) -> None:
    """Every reading has a standard error and the method; levels say the present edge."""
    every = readings_of(traced)
    assert {r.quantity for r in every} >= {
        Quantity.CROWN_WIDTH,
        Quantity.CROWN_LENGTH,
        Quantity.ZENITH_OFFSET,
        Quantity.PAPILLA_HEIGHT,
        Quantity.EDGE_HEIGHT,
    }
    assert all(r.se and r.method is Method.SCAN for r in every)
    assert all(r.datum is Datum.PRESENT_EDGE for r in every if r.quantity.is_level)


def test_the_arch_frame_rests_on_the_central_edges(traced: TracedArch) -> None:
    """Origin: mean of the 11 and 21 edges; right-handed."""
    edges = [traced.teeth[Tooth(c)].frame.edge for c in ("11", "21")]
    assert np.abs(np.mean(edges, axis=0)).max() < 0.02
    assert np.linalg.det(traced.frame.from_file[:3, :3]) == pytest.approx(1.0)


def test_labelled_faces_are_those_of_the_crown(traced: TracedArch) -> None:
    """Faces of 11 lie within its width and coronal to its zenith."""
    one = traced.teeth[Tooth("11")]
    at = one.frame.coordinates(traced.scene.vertices[traced.scene.faces[traced.labels == 11]].mean(axis=1))
    assert len(at) > 500
    assert np.abs(at[:, 0]).max() <= one.frame.width / 2 + 0.01


def test_teeth_can_be_renumbered_but_not_twice(traced: TracedArch) -> None:
    """A canine in a premolar's place gets that number and it is said; double, foreign, absent and disordered numbers are refused."""
    given = traced.division.renumbered({Tooth("13"): Tooth("14")})
    assert [s.tooth.fdi for s in given.stretches] == ["14", *SIX[1:]]
    assert given.notes[-1] == "13 numbered 14 by hand"
    for old, new, words in (
        ("13", "12", "same number"),
        ("13", "43", "other jaw"),
        ("15", "14", "not found"),
        ("13", "24", "order"),
    ):
        with pytest.raises(ValueError, match=words):
            traced.division.renumbered({Tooth(old): Tooth(new)})


@pytest.mark.slow
def test_a_number_set_by_hand_is_traced_as_such(mouth, traced: TracedArch) -> None:
    """All six a place to the patient's left: the tooth that was 11 is 21 then, its distal side is the other one. The arch frame
    lies through other centrals then, so the crown is looked at a few degrees askew and its width differs by some tenths.
    """
    order = [*SIX, "24"]
    shifted = trace_scan(mouth.surface, numbers={Tooth(a): Tooth(b) for a, b in pairwise(order)})
    assert [t.fdi for t in shifted.teeth] == order[1:]
    was, now = traced.teeth[Tooth("11")], shifted.teeth[Tooth("21")]
    assert now.frame.distal @ was.frame.distal < -0.9
    assert abs(now.frame.width - was.frame.width) < 0.25


def test_the_picture_is_a_png_of_the_arch(traced: TracedArch) -> None:
    """A PNG comes out, wide enough to read."""
    data = draw_picture(traced)
    assert data.startswith(b"\x89PNG")
    assert int.from_bytes(data[16:20], "big") > 700


@pytest.mark.parametrize("name", ["20mm-xyz-cube.stl", "7_8ths_cube.stl", "cube_and_sphere_same_name.3mf"])
def test_foreign_objects_of_the_right_size_are_refused(shared_data: Path, name: str) -> None:
    """Cubes and spheres as large as an arch are no arch, and it says so."""
    from festoon.scan.surface import read_surface

    with pytest.raises(InputRefusedError, match="no dental arch"):
        trace_scan(read_surface(shared_data / "mesh-awkward" / name))


def test_a_skull_is_no_arch(shared_data: Path) -> None:
    """The skull is refused by its size, and shrunk to an arch's size by its form."""
    skull = trimesh.load(shared_data / "skull-surface" / "derived" / "human_skull.ply", process=False)
    raw = RawMesh(np.asarray(skull.vertices), np.asarray(skull.faces, dtype=np.int64))
    with pytest.raises(InputRefusedError, match="size of a dental arch"):
        clean(raw, "skull.ply")
    with pytest.raises(InputRefusedError, match="no dental arch"):
        trace_scan(clean(replace(raw, vertices=raw.vertices * 0.45), "skull.ply"))


def _values(surface: Surface) -> dict[tuple[str | None, Quantity, Site | None], float]:
    return {
        (r.tooth, r.quantity, r.site): r.value
        for r in readings_of(trace_scan(surface))
        if r.quantity in (Quantity.CROWN_LENGTH, Quantity.CROWN_WIDTH) and r.tooth in ("12", "11", "21", "22")
    }


@pytest.mark.slow
def test_turning_and_moving_a_scan_changes_nothing(mouth) -> None:
    """Rotated, translated and inside out: lengths and widths of the incisors within 0.05 mm, 0.1 mm at worst."""
    turn = Rotation.from_rotvec([0.7, -1.9, 0.4]).as_matrix()
    surface = mouth.surface
    moved = replace(
        surface,
        vertices=surface.vertices @ turn.T + [31.0, -7.0, 55.0],
        faces=np.ascontiguousarray(surface.faces[:, ::-1]),
    )
    before, after = _values(surface), _values(moved)
    off = np.array([abs(after[k] - before[k]) for k in before])
    assert np.median(off) < 0.05
    assert off.max() < 0.1


@pytest.mark.slow
def test_a_third_of_the_faces_gives_nearly_the_same(mouth) -> None:
    """Decimated to a third: lengths of the incisors within 0.1 mm in the median."""
    surface = mouth.surface
    points, faces = igl.qslim(surface.vertices, surface.faces, len(surface.faces) // 3)[:2]
    colours = surface.colours[cKDTree(surface.vertices).query(points)[1]]
    thin = clean(RawMesh(np.asarray(points), np.asarray(faces, dtype=np.int64), colours), "thin.ply", "mm")
    assert len(thin.faces) < 0.35 * len(surface.faces)
    before, after = _values(surface), _values(thin)
    off = [abs(after[k] - before[k]) for k in before if k[1] is Quantity.CROWN_LENGTH]
    assert np.median(off) < 0.1

"""The pieces of the template's room, on shapes whose answers are known."""

from __future__ import annotations

import io
import zipfile
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
import trimesh

from festoon.template.build import build
from festoon.template.fields import Grid, blocked, outwards, rounded_max
from festoon.template.files import read_back_stl, stl_bytes, three_mf_bytes
from festoon.template.inputs import Sheet, ToothOnScan, Wish
from festoon.template.lettering import Words
from festoon.template.make import CannotBuildError, covered_teeth, kind_for, treated_teeth
from festoon.template.openings import Opening, _left_beside
from festoon.template.prepare import Ground, closed, told_apart
from festoon.template.targets import Target
from plans import make_plan

R = 4.0


def ball(radius: float = R) -> Sheet:
    mesh = trimesh.creation.icosphere(subdivisions=5, radius=radius)
    return Sheet(np.array(mesh.vertices), np.array(mesh.faces, dtype=np.int64))


def tooth(fdi: str, at: float = 0.0) -> ToothOnScan:
    turn = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    ring = np.stack([at + 3 * np.cos(turn), -3 * np.sin(turn), np.full(60, 8.0)], axis=1)
    edge = np.array([at, 0.0, 0.0])
    x, y, z = np.eye(3)
    return ToothOnScan(edge, z, -y, x, 0.0, 7.0, fdi, ring)


def test_tooth_coordinates_go_there_and_back() -> None:
    """A point keeps its place through the tooth's frame and through a move of the whole scan."""
    turn = trimesh.transformations.rotation_matrix(0.7, [1, 2, 3])[:3, :3]
    here, moved = tooth("11"), tooth("11").moved(turn, np.array([5.0, -2.0, 1.0]))
    p = np.array([[1.2, 0.7, 6.0]])
    at = here.coordinates(p)
    assert np.allclose(here.points(*at.T), p)
    assert np.allclose(moved.coordinates(p @ turn.T + [5.0, -2.0, 1.0]), at)


def test_clearance_and_block_out_round_a_ball() -> None:
    """Coronally the inner face lies 0.08 mm off a ball; apically of its equator everything in its shadow is blocked out."""
    sheet = ball()
    ground = Ground(sheet, np.full(len(sheet.vertices), 11), ())
    grid = Grid.over(np.full(3, -6.0), np.full(3, 6.0), 0.15)
    face = grid.surface(blocked(ground, grid, 0.08, 0.9)).vertices
    coronal = face[face[:, 2] < -1]
    assert np.median(np.linalg.norm(coronal, axis=1)) == pytest.approx(R + 0.08, abs=0.005)
    apical = face[face[:, 2] > 1]
    assert np.hypot(apical[:, 0], apical[:, 1]).min() > R + 0.05


def test_clefts_are_filled_and_plain_faces_left_alone() -> None:
    """Between two balls that nearly touch no gap is left that a ball of 0.9 mm does not fit; elsewhere the face stays within a hundredth."""
    one = ball(3.0)
    two = Sheet(one.vertices + np.array([6.2, 0, 0]), one.faces + len(one.vertices))
    sheet = Sheet(np.concatenate([one.vertices, two.vertices]), np.concatenate([one.faces, two.faces]))
    ground = Ground(sheet, np.full(len(sheet.vertices), 11), ())
    grid = Grid.over(np.array([-4.5, -4.5, -4.5]), np.array([10.7, 4.5, 4.5]), 0.15)
    face = grid.surface(blocked(ground, grid, 0.08, 0.9)).vertices
    plain = face[(face[:, 0] < 0) & (face[:, 2] < -0.5)]
    assert np.abs(np.linalg.norm(plain, axis=1) - 3.08).max() < 0.02
    # The ball that touches both rests with its middle (3.9^2 - 3.1^2)^0.5 from the line between them, and reaches 0.9 further in.
    middle = face[(np.abs(face[:, 0] - 3.1) < 0.2) & (face[:, 2] < 0)]
    wanted = np.sqrt((3.08 + 0.9) ** 2 - 3.1**2) - 0.9
    assert np.hypot(middle[:, 1], middle[:, 2]).min() == pytest.approx(wanted, abs=0.12)


def test_an_opening_keeps_off_a_face_that_runs_beside_it() -> None:
    """Through a wall that lies square to it a hole leaves the whole wall; beside an upright face it leaves what stands between."""
    grid = Grid.over(np.array([-5.0, -5.0, -6.0]), np.array([5.0, 5.0, 1.0]), 0.2)
    x, _, z = np.meshgrid(*(grid.line(k) for k in range(3)), indexing="ij")
    flat = np.maximum(-z, 0).astype(np.float32)
    beside = np.maximum(np.minimum(flat, x + 2.0), 0).astype(np.float32)
    hole = Opening(np.zeros(2), 0.5, 0.5)
    assert _left_beside(hole, flat, grid, 2.2) == 2.2
    assert _left_beside(hole, beside, grid, 2.2) == pytest.approx(1.5, abs=0.11)


def test_wall_is_as_thick_as_asked() -> None:
    """The outer face lies 2 mm beyond the inner one, to a hundredth."""
    sheet = ball()
    ground = Ground(sheet, np.full(len(sheet.vertices), 11), ())
    grid = Grid.over(np.full(3, -7.5), np.full(3, 7.5), 0.2)
    inner = blocked(ground, grid, 0.1, 0.9)
    thick = outwards(inner, grid, 1.4, 2.6, np.ones(grid.shape, dtype=bool))
    outer = grid.surface((thick - np.float32(2.0)).astype(np.float32)).vertices
    far = np.linalg.norm(outer[outer[:, 2] < -1], axis=1)
    assert np.abs(far - (R + 2.1)).max() < 0.02


def test_rounded_edges_only_take_away() -> None:
    """A rounded intersection never reaches beyond the sharp one and differs only near the edge."""
    a, b = np.meshgrid(np.linspace(-2, 1, 61), np.linspace(-2, 1, 61))
    both = rounded_max(a.astype(np.float32), b.astype(np.float32), 0.35)
    sharp = np.maximum(a, b)
    assert (both >= sharp - 1e-6).all()
    assert np.allclose(both[sharp < -0.36], np.maximum(sharp, both)[sharp < -0.36])
    assert both[40, 40] > sharp[40, 40]


def test_files_keep_every_facet_and_the_unit() -> None:
    """STL and 3MF give back the volume; the 3MF says millimetre and whose plan it is; the same part is the same bytes."""
    sheet = ball()
    data = stl_bytes(sheet, "festoon mm demo plan 0123")
    back = read_back_stl(data)
    volume = trimesh.Trimesh(back.vertices, back.faces).volume
    assert volume == pytest.approx(trimesh.Trimesh(sheet.vertices, sheet.faces).volume, rel=1e-5)
    assert len(back.faces) == len(sheet.faces)
    assert data.startswith(b"festoon mm demo plan 0123")
    packed = three_mf_bytes(sheet, {"Description": "plan <abc> & more"})
    assert packed == three_mf_bytes(sheet, {"Description": "plan <abc> & more"})
    model = zipfile.ZipFile(io.BytesIO(packed)).read("3D/3dmodel.model").decode()
    assert 'unit="millimeter"' in model
    assert "plan &lt;abc&gt; &amp; more" in model


def test_3mf_read_as_plain_xml_measures_the_same() -> None:
    """Unzipped and read by an XML parser alone, the 3MF is closed, in millimetres and has the volume of the body."""
    archive = zipfile.ZipFile(io.BytesIO(three_mf_bytes(ball(), {"Title": "ball"})))
    root = ElementTree.fromstring(archive.read("3D/3dmodel.model"))
    ns = {"c": "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"}
    assert root.get("unit") == "millimeter"
    points = np.array([[float(v.get(k)) for k in "xyz"] for v in root.findall(".//c:vertex", ns)])
    faces = np.array([[int(t.get(k)) for k in ("v1", "v2", "v3")] for t in root.findall(".//c:triangle", ns)])
    p = points[faces]
    volume = np.einsum("ij,ij->i", p[:, 0], np.cross(p[:, 1], p[:, 2])).sum() / 6
    assert volume == pytest.approx(4 / 3 * np.pi * R**3, rel=3e-3)
    edges = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    assert {tuple(e) for e in edges.tolist()} == {tuple(e) for e in edges[:, ::-1].tolist()}


def test_3mf_is_read_by_an_independent_reader() -> None:
    """A second implementation of 3MF reads the object as one manifold, oriented body."""
    lib3mf = pytest.importorskip("lib3mf", reason="the independent 3MF reader is not installed")
    wrapper = lib3mf.get_wrapper()
    model = wrapper.CreateModel()
    model.QueryReader("3mf").ReadFromBuffer(three_mf_bytes(ball(), {"Title": "ball"}))
    meshes = model.GetMeshObjects()
    assert meshes.MoveNext()
    mesh = meshes.GetCurrentMeshObject()
    assert mesh.IsManifoldAndOriented()
    assert mesh.GetTriangleCount() == len(ball().faces)


def test_small_holes_are_closed_with_the_bulge_around_and_large_ones_left() -> None:
    """A 2 mm hole in a ball is filled on the ball to a twentieth; a 5 mm one is left open and said."""
    sheet = ball(6.0)
    p = sheet.vertices[sheet.faces].mean(axis=1)
    small = np.linalg.norm(p - [6, 0, 0], axis=1) < 1.0
    large = np.linalg.norm(p - [-6, 0, 0], axis=1) < 2.5
    border = p[:, 2] > 5.0  # the outer border of an open scan, the longest rim
    bottom = Sheet(sheet.vertices, sheet.faces[~(small | large | border)])
    made, holes = closed(bottom)
    assert sorted(h.bridged for h in holes) == [False, True]
    new = made.vertices[len(sheet.vertices) :]
    assert np.abs(np.linalg.norm(new, axis=1) - 6.0).max() < 0.05


def test_tooth_is_told_from_gingiva_by_its_margin() -> None:
    """Inside the ring and coronal to it is tooth; apical to it is not."""
    cup = trimesh.creation.cylinder(radius=3.0, height=16.0, sections=64).subdivide().subdivide()
    sheet = Sheet(np.asarray(cup.vertices) + np.array([0, 0, 8.0]), np.array(cup.faces, dtype=np.int64))
    own = told_apart(sheet, [tooth("11")])
    z = sheet.vertices[:, 2]
    assert (own[z < 7.8] == 11).all()
    assert (own[z > 8.1] == 0).all()


def test_words_have_the_size_asked_for() -> None:
    """Capitals are as tall as said, and a place beside them is outside."""
    word = Words("H", 10.0, 0.0, 2.0)
    up = np.arange(-2, 2, 0.02)
    stem = np.array([word.distance(np.arange(9, 11, 0.02), np.full(100, u)).min() for u in up])
    assert np.ptp(up[stem < 0]) == pytest.approx(2.0, abs=0.12)
    assert word.distance(np.array([14.0]), np.array([0.0]))[0] > 0


def test_part_reaches_a_sound_tooth_beyond_each_end() -> None:
    """The field is covered to one sound tooth on either side; an unsound one is passed over; none at all is refused with the side."""
    plan = make_plan()
    field = treated_teeth(plan)
    order = ["15", "14", "13", "12", "11", "21", "22", "23", "24", "25"]
    scan = {fdi: tooth(fdi, 8.0 * k) for k, fdi in enumerate(order)}
    covered, supports = covered_teeth(plan, scan, frozenset())
    first, last = order.index(field[0]), order.index(field[-1])
    assert supports == (order[first - 1], order[last + 1])
    assert covered == order[first - 1 : last + 2]
    _, further = covered_teeth(plan, scan, frozenset({supports[0]}))
    assert further[0] == order[first - 2]
    short = {f: t for f, t in scan.items() if order.index(f) <= last}
    with pytest.raises(CannotBuildError, match="patient's left"):
        covered_teeth(plan, short, frozenset())


def test_nothing_treated_makes_no_part() -> None:
    """A plan without surgery is refused in words."""
    plan = make_plan()
    idle = replace_procedures(plan)
    with pytest.raises(CannotBuildError, match="treats no tooth"):
        covered_teeth(idle, {"11": tooth("11")}, frozenset())


def replace_procedures(plan):
    return plan.model_copy(
        update={"teeth": {f: t.model_copy(update={"procedure": "none"}) for f, t in plan.teeth.items()}}
    )


def test_kind_follows_the_bone() -> None:
    """Bone in the plan asks for the second part and names its teeth; none asks for the gingival line alone."""
    plan = make_plan()
    with_bone = any((s.bone_removal_mm or 0) > 0 for s in plan.sites)
    kind, why = kind_for(plan)
    assert (kind == "two-piece") == with_bone
    dry = plan.model_copy(update={"sites": tuple(s.model_copy(update={"bone_removal_mm": 0.0}) for s in plan.sites)})
    assert kind_for(dry)[0] == "gingival-line"
    assert "ERR-036" in why or not with_bone


def test_tooth_moves_whole() -> None:
    """Width and middle do not change when a scan is moved."""
    moved = replace(tooth("11"), middle=0.4).moved(np.eye(3), np.ones(3))
    assert (moved.width, moved.middle) == (7.0, 0.4)


def target(fdi: str, at: float) -> Target:
    one = tooth(fdi, at)
    across = np.arange(-2.8, 2.8, 0.15)
    level = np.full(len(across), 7.0)
    return Target(one, False, across, level + 1.0, level, None, np.full(len(across), 5.0), 0.0)


def test_a_missing_tooth_is_spanned_by_a_bar_with_nothing_over_the_ridge() -> None:
    """Between two posts 8 mm apart runs one bar 4 mm thick and 5 mm tall; what stands apically of it there is nothing."""
    posts = [
        trimesh.creation.cylinder(radius=3.0, height=10.0, sections=64).apply_translation([x, 0, 5.0])
        for x in (-7.0, 7.0)
    ]
    whole = trimesh.util.concatenate([p.subdivide().subdivide() for p in posts])
    sheet = Sheet(np.array(whole.vertices), np.array(whole.faces, dtype=np.int64))
    owner = np.where(sheet.vertices[:, 2] > 8.0, 0, np.where(sheet.vertices[:, 0] < 0, 13, 11))
    wish = Wish(grid=0.3, label="GAP")
    part = build("gap", Ground(sheet, owner, ()), [target("13", -7.0), target("11", 7.0)], wish, line="margin")
    assert part.pieces == 1
    middle = trimesh.Trimesh(part.sheet.vertices, part.sheet.faces).section([1, 0, 0], [0, 0, 0]).bounds
    assert np.ptp(middle[:, 1]) == pytest.approx(4.0, abs=0.1)
    assert middle[:, 2] == pytest.approx([-2.0, 3.0], abs=0.1)

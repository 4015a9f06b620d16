"""A phantom is whole, its truth is in its geometry, and its files are what they say."""

from __future__ import annotations

import json
import sys
import zipfile
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from click.testing import CliRunner

sys.path.insert(0, str(Path(__file__).parents[2] / "reference"))

from phantoms import crossings, differences, solid_faults

from festoon.cli.main import cli
from festoon.model.dentition import Site, Tooth
from festoon.model.quantities import Quantity, Readings
from festoon.phantom.arch import build_arch
from festoon.phantom.camera import looking
from festoon.phantom.mouth import Wishes, draw_mouth
from festoon.phantom.photo import PhotoSettings
from festoon.phantom.scan import ScanSettings
from festoon.phantom.solids import Solids, build_solids
from festoon.phantom.tissues import build_tissues
from festoon.phantom.truth import Truth
from festoon.phantom.volume import Label, make_volume, volume_nrrd
from festoon.workflow.phantom import PhantomOrder, make_phantom
from festoon.workflow.planning import plan_case


def truth_of(seed: int, wishes: Wishes | None = None, upper: bool = True) -> Truth:
    return Truth(build_tissues(build_arch(draw_mouth(seed, upper=upper, per_side=3, wishes=wishes))))


@pytest.fixture(scope="module")
def truth() -> Truth:
    return truth_of(1)


@pytest.fixture(scope="module")
def solids(truth: Truth) -> Solids:
    return build_solids(truth.tissues, 0.15)


def test_solids_are_watertight(solids: Solids) -> None:
    """Every solid is closed and outside out, by a library that did not make it."""
    assert solid_faults(solids) == []


def test_solids_do_not_cross_themselves(solids: Solids, tmp_path: Path) -> None:
    """No triangle of a solid passes through another of it."""
    assert crossings(solids, tmp_path, only=("gingiva", "bone", "11-enamel", "11-ligament")) == []


def test_truth_is_in_the_triangles(truth: Truth, solids: Solids) -> None:
    """Independent code finds every true value again, to 0.02 mm for all but a few."""
    found = differences(truth, solids, only=("11", "21"))
    assert len(found) > 45
    off = {key: round(value, 4) for key, value in found.items() if abs(value) > 0.02}
    assert len(off) <= 0.05 * len(found), off
    assert all(abs(value) < 0.04 for value in off.values()), off


@pytest.mark.parametrize("upper", [True, False])
def test_margin_lies_as_planned(upper: bool) -> None:
    """What the mouth was to be, its measured truth is: width, length, CEJ."""
    made = truth_of(2, upper=upper)
    for plan in made.tissues.arch.mouth.teeth:
        code = plan.tooth.fdi
        assert made.value(code, Quantity.CROWN_WIDTH) == pytest.approx(plan.width, abs=0.15)
        assert made.value(code, Quantity.CROWN_LENGTH) == pytest.approx(plan.length, abs=0.06)
        assert made.value(code, Quantity.CEJ_LEVEL, Site.MIDFACIAL) == pytest.approx(plan.cej, abs=0.15)
        crest = made.value(code, Quantity.CREST_LEVEL, Site.MIDFACIAL)
        margin = made.value(code, Quantity.MARGIN_LEVEL, Site.MIDFACIAL)
        assert crest is not None
        assert margin is not None
        assert crest - margin == pytest.approx(plan.margin_to_crest, abs=0.25)


@pytest.mark.slow
def test_wishes_are_granted() -> None:
    """Wear, cover, diastema, dehiscence and a missing tooth show in the truth by what was asked."""
    plain = truth_of(4)
    changed = truth_of(4, Wishes(worn_mm=1.0, diastema_mm=1.0, dehisced=(("11", 2.0),), missing=("12",)))

    def shift(tooth: str, quantity: Quantity, site: Site | None = None) -> float:
        before, after = plain.value(tooth, quantity, site), changed.value(tooth, quantity, site)
        assert before is not None
        assert after is not None
        return after - before

    assert shift("21", Quantity.CROWN_LENGTH) == pytest.approx(-1.0, abs=0.1)
    assert shift("21", Quantity.EDGE_HEIGHT) == pytest.approx(1.0, abs=0.1)
    assert shift("11", Quantity.SOUNDING, Site.MIDFACIAL) == pytest.approx(2.0, abs=0.25)
    assert changed.value("12", Quantity.CROWN_WIDTH) is None
    assert changed.value("11", Quantity.CONTACT_LEVEL, Site.MESIAL) is None
    assert plain.value("11", Quantity.CONTACT_LEVEL, Site.MESIAL) is not None
    covered = truth_of(4, Wishes(covered_mm=1.5))
    before, after = plain.value("11", Quantity.CROWN_LENGTH), covered.value("11", Quantity.CROWN_LENGTH)
    assert before is not None
    assert after == pytest.approx(before - 1.5, abs=0.08)


SMALL = PhantomOrder(
    seed=5,
    per_side=3,
    scan=ScanSettings(spacing=0.45),
    scan_kinds=("ply", "stl", "obj", "3mf"),
    photos=PhotoSettings(width=120, height=80, views=("front",)),
    voxel=0.8,
)


def test_same_seed_same_bytes(tmp_path: Path) -> None:
    """The whole patient, twice: every file alike, and another seed another mouth."""
    first = make_phantom(SMALL, tmp_path / "a")
    second = make_phantom(SMALL, tmp_path / "b")
    assert [p.name for p in first] == [p.name for p in second]
    for a, b in zip(first, second, strict=True):
        assert a.read_bytes() == b.read_bytes(), a.name
    make_phantom(replace(SMALL, seed=6, parts=()), tmp_path / "c")
    assert (tmp_path / "c" / "case.yaml").read_bytes() != (tmp_path / "a" / "case.yaml").read_bytes()
    # The chart can be planned; the truth is a file of readings; the scan goes back into the arch frame.
    assert plan_case(tmp_path / "a" / "case.yaml").plan.teeth
    readings = Readings.model_validate_json((tmp_path / "a" / "truth.json").read_text("utf-8"))
    assert {r.quantity for r in readings.readings} >= {Quantity.CROWN_LENGTH, Quantity.SOUNDING, Quantity.ROOT_DISTANCE}
    about = json.loads((tmp_path / "a" / "truth-about-files.json").read_text("utf-8"))
    assert_scan_goes_back(tmp_path / "a", about)


def assert_scan_goes_back(folder: Path, about: dict) -> None:
    import igl
    import trimesh

    kinds = [trimesh.load(folder / f"scan.{kind}", process=False, force="mesh") for kind in ("ply", "stl", "obj")]
    assert {len(mesh.faces) for mesh in kinds} == {about["scan"]["faces"]}
    with zipfile.ZipFile(folder / "scan.3mf") as archive:
        model = ElementTree.fromstring(archive.read("3D/3dmodel.model"))
    space = "{http://schemas.microsoft.com/3dmanufacturing/core/2015/02}"
    assert model.get("unit") == "millimeter"
    assert len(model.findall(f".//{space}triangle")) == about["scan"]["faces"]
    scan = kinds[0]
    assert not scan.is_watertight
    matrix = np.array(about["scan"]["arch_frame_to_file"])
    points = (np.asarray(scan.vertices) - matrix[:3, 3]) @ np.linalg.inv(matrix[:3, :3]).T
    margin = np.array(about["truth"]["teeth"]["11"]["margin_curve"])[15:46]  # facial: between teeth a scan bridges it
    away, _, _ = igl.point_mesh_squared_distance(
        margin, np.ascontiguousarray(points), np.asarray(scan.faces, dtype=np.int64)
    )
    # Triangles of 0.45 mm, noise of 0.03 mm, and holes: the margin lies on the scan all the same, to a third of a triangle.
    assert np.median(np.sqrt(away)) < 0.15


def test_camera_knows_its_pixels() -> None:
    """A point on the ray of a pixel is projected to that pixel, lens distortion included."""
    camera = looking(
        np.array([0.0, 4.0, 5.0]),
        20.0,
        -5.0,
        3.0,
        380.0,
        focal_mm=105,
        sensor_mm=22.3,
        width=90,
        height=60,
        k1=5.0,
        k2=-40.0,
    )
    rays = camera.rays()
    pixels = camera.project(camera.position + 300.0 * rays)
    column, row = np.meshgrid(np.arange(90), np.arange(60))
    assert np.abs(pixels - np.stack([column, row], -1).reshape(-1, 2)).max() < 1e-6


def test_volume_holds_what_the_solids_hold(truth: Truth, solids: Solids) -> None:
    """Voxels of bone and gingiva add up to the volumes of the solids, and the file says its labels."""
    import trimesh

    labels, affine = make_volume(truth.tissues, 0.5)
    for label, mesh in ((Label.BONE, solids.bone), (Label.GINGIVA, solids.gingiva)):
        body = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
        assert (labels == label).sum() * 0.5**3 == pytest.approx(body.volume, rel=0.03)
    enamel = sum(
        trimesh.Trimesh(t.enamel.vertices, t.enamel.faces, process=False).volume for t in solids.teeth.values()
    )
    assert (labels == Label.ENAMEL).sum() * 0.5**3 == pytest.approx(enamel, rel=0.12)
    head = volume_nrrd(labels, affine).split(b"\n\n", 1)[0].decode()
    assert "space: left-posterior-superior" in head
    assert "label 5:=bone" in head


@pytest.mark.slow
def test_second_process_makes_the_same_bytes(tmp_path: Path) -> None:
    """A phantom made by two processes is the phantom made by one."""
    order = PhantomOrder(
        4, per_side=3, scan_kinds=("ply",), photos=PhotoSettings(width=90, height=60, views=("front",)), voxel=0.8
    )
    one = make_phantom(order, tmp_path / "one")
    two = make_phantom(order, tmp_path / "two", processes=2)
    assert [path.name for path in one] == [path.name for path in two]
    assert [path.read_bytes() for path in one] == [path.read_bytes() for path in two]


def test_command_refuses_what_is_no_tooth(tmp_path: Path) -> None:
    """A wrong tooth is named, and nothing is written."""
    run = CliRunner().invoke(cli, ["phantom", "--seed", "1", "-o", str(tmp_path / "x"), "--missing", "19"])
    assert run.exit_code == 2
    assert "19" in run.output
    assert not (tmp_path / "x").exists()


@pytest.mark.parametrize(
    ("asked", "named"),
    [
        (["--missing", "36"], "36"),
        (["--per-side", "3", "--rotated", "14=20"], "14"),
        (["--rotated", "12=nan"], "rotated"),
        (["--rotated", "12=120"], "90"),
        (["--dehiscence", "13=12"], "8 mm"),
        (["--missing", "12", "--crowned", "12"], "12"),
        (["--diastema", "1", "--missing", "11"], "diastema"),
        (["--per-side", "3", "--missing", "11", "--missing", "12", "--missing", "13"], "quadrant 1"),
        (["--practice", "2", "--worn", "1"], "--worn"),
    ],
)
def test_command_refuses_wishes_that_cannot_be_granted(asked: list[str], named: str, tmp_path: Path) -> None:
    """A wish for a tooth that is not there, or against another wish, is refused in words; nothing is written."""
    run = CliRunner().invoke(cli, ["phantom", "--seed", "1", "-o", str(tmp_path / "x"), *asked])
    assert run.exit_code == 2
    assert named in run.output
    assert not (tmp_path / "x").exists()


@pytest.mark.parametrize("upper", [True, False])
def test_roots_keep_apart_and_stand_in_bone_up_to_their_crest(upper: bool) -> None:
    """Roots of neighbours are half a millimetre apart, and along every root bone begins once: just at the crest that is told."""
    made = truth_of(8 if upper else 4, upper=upper)
    teeth = made.tissues.arch.teeth
    for a, b in pairwise(teeth):
        root = a.lines.points[a.lines.levels > a.body.shape.crown]
        assert b.body.distance(b.to_local(a.to_jaw(root))).min() > 0.5, (a.tooth, b.tooth)
    for placed in teeth:
        ring = made.crests[placed.tooth.fdi]
        steps = np.arange(-2.35, 0.6, 0.1)[:, None]
        along = placed.body.surface(np.broadcast_to(ring.phi, (30, len(ring.phi))), ring.levels + steps)
        bone = made.tissues.bone(placed.to_jaw(along).reshape(-1, 3)).reshape(30, -1) < 0
        assert (bone == (steps > 0)).mean() > 0.99, placed.tooth


def test_a_crowded_chart_can_be_planned(tmp_path: Path) -> None:
    """Where a neighbour's root stands under a papilla no crest is told; what is written can be read and planned (it once could not)."""
    make_phantom(PhantomOrder(207, per_side=3, wishes=Wishes(crowding_mm=1.0), parts=()), tmp_path)
    assert plan_case(tmp_path / "case.yaml").plan.teeth
    readings = Readings.model_validate_json((tmp_path / "truth.json").read_text("utf-8")).readings
    assert max(r.value for r in readings if r.quantity is Quantity.SOUNDING) < 8


def test_every_tooth_of_both_jaws_can_be_built() -> None:
    """Fourteen teeth in either jaw stand in contact, without touching wrongly."""
    for upper in (True, False):
        arch = build_arch(draw_mouth(3, upper=upper))
        assert len(arch.teeth) == 14
        for a, b in zip(arch.teeth, arch.teeth[1:], strict=False):
            points = a.to_jaw(a.lines.points.reshape(-1, 3))
            assert b.body.distance(b.to_local(points)).min() > 0.0, (a.tooth, b.tooth)
    assert {t.tooth for t in arch.teeth} == {Tooth(f"{q}{p}") for q in "34" for p in range(1, 8)}

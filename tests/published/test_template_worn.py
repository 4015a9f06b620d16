"""A phantom's part, worn: what a surgeon who follows the edges would cut, read in the phantom's true frames, against the plan."""

from __future__ import annotations

import json
from pathlib import Path

import igl
import numpy as np
import pytest

from festoon.phantom.mouth import Wishes
from festoon.phantom.scan import ScanSettings
from festoon.template.files import read_back_stl, stl_bytes
from festoon.template.inputs import Floats, Sheet
from festoon.workflow.phantom import PhantomOrder, make_phantom
from festoon.workflow.templating import TemplateOrder, TemplateResult, template_of_case

WITHIN = 0.15
"""Agreement that was asked for, mm."""


def levels_cut(folder: Path, stl: bytes, result: TemplateResult, part_no: int) -> dict[str, tuple[float, float]]:
    """By tooth: planned midfacial level of margin (first part) or crest (second), and that of the edge of the written part, read
    along the true axis from the true edge.
    """
    about = json.loads((folder / "truth-about-files.json").read_text())
    to_file = np.array(about["scan"]["arch_frame_to_file"])
    part = read_back_stl(stl)
    tree = igl.AABB()
    tree.init(part.vertices, part.faces)

    def first(start: Floats, along: Floats) -> float:
        _, t, _ = tree.intersect_ray_first(part.vertices, part.faces, start[None], along[None])
        return float(np.asarray(t).ravel()[0])

    out = {}
    for site in result.plan.sites:
        planned = site.crest_planned_from_present_edge_mm if part_no else site.margin_planned_from_present_edge_mm
        if (
            site.site.value != "midfacial"
            or site.tooth not in result.template.parts[part_no].part.edges
            or planned is None
        ):
            continue
        tooth = about["truth"]["teeth"][site.tooth]
        axis, facial, distal = (to_file[:3, :3] @ np.array(tooth[k]) for k in ("axis", "facial", "distal"))
        edge = to_file[:3, :3] @ np.array(tooth["edge"]) + to_file[:3, 3]
        foot = edge + tooth["mid_width_mm"] * distal
        outside = foot + 15 * facial + (planned - 0.5) * axis
        within = outside - (first(np.ascontiguousarray(outside), np.ascontiguousarray(-facial)) + 1.0) * facial
        from_above = within + 1.7 * axis
        out[site.tooth] = planned, planned + 1.2 - first(np.ascontiguousarray(from_above), np.ascontiguousarray(-axis))
    return out


def true_frames(folder: Path) -> dict[str, object]:
    """The phantom's frames and margins as a frames.json."""
    about = json.loads((folder / "truth-about-files.json").read_text())
    teeth = {}
    for fdi, t in about["truth"]["teeth"].items():
        matrix = np.eye(4)
        for k, name in enumerate(("distal", "facial", "axis", "edge")):
            matrix[:3, k] = t[name]
        teeth[fdi] = {
            "tooth_to_arch": matrix.tolist(), "margin_mm": t["margin_curve"], "mid_width_mm": t["mid_width_mm"]
        }  # fmt: skip
    return {"file_mm_to_arch": np.linalg.inv(np.array(about["scan"]["arch_frame_to_file"])).tolist(), "teeth": teeth}


@pytest.mark.slow
@pytest.mark.parametrize(("seed", "per_side"), [(11, 4), (24, 5)])
def test_levels_cut_along_the_edges_agree_with_the_plan(seed: int, per_side: int, tmp_path: Path) -> None:
    """Given where the teeth stand, two pieces pass every check and carry each midfacial margin and each crest to within 0.15 mm of the
    plan; tracing adds its own error.
    """
    order = PhantomOrder(
        seed,
        per_side=per_side,
        wishes=Wishes(covered_mm=1.5),
        scan=ScanSettings(holes=0),
        scan_kinds=("ply",),
        parts=("scan",),
    )
    make_phantom(order, tmp_path)
    frames = tmp_path / "frames.json"
    frames.write_text(json.dumps(true_frames(tmp_path)))
    result = template_of_case(tmp_path / "case.yaml", tmp_path / "scan.ply", TemplateOrder("two-piece", frames=frames))
    assert [made.part.name for made in result.template.parts] == ["gingival-line", "crest-line"]
    for part_no, made in enumerate(result.template.parts):
        assert not [c for c in made.checks if c.passed is False]
        in_file = Sheet(result.template.seating.back(made.part.sheet.vertices), made.part.sheet.faces)
        cut = levels_cut(tmp_path, stl_bytes(in_file, "worn"), result, part_no)
        assert len(cut) >= 2
        off = {fdi: round(got - wanted, 3) for fdi, (wanted, got) in cut.items()}
        print(made.part.name, off)
        assert max(abs(v) for v in off.values()) <= WITHIN, off

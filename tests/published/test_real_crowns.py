"""A real person's crowns: measured by a general-purpose mesh library, planned by festoon, nothing made up.

Data: photos-and-crowns-a (MIT; github SJTUzhou/3D-Teeth-Reconstruction-from-Five-Intra-oral-Images), one closed shell
a tooth in millimetres; x towards the patient's left, y vertical with the edge at −y, z towards the lips. Crowns are
cut near the gingival margin, so their rim only approximates it.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from festoon.evidence.table import published
from festoon.model.plan import Answer, Procedure
from festoon.planning.make import Context, make_plan
from festoon.records.reconcile import resolve
from mouths import case
from real_mouths import measured_directly

trimesh = pytest.importorskip("trimesh", reason="the mesh library of the development set is not installed")
FRONT = ("13", "12", "11", "21", "22", "23")


@pytest.fixture(scope="module")
def crowns(shared_data: Path) -> dict[str, tuple[float, float]]:
    """Width and length of the six upper front crowns, mm, each along its own axes."""
    folder = shared_data / "photos-and-crowns-a" / "mesh-by-tooth"
    return {code: measured_directly(trimesh.load_mesh(folder / f"Ref_Mesh_Tag=0_FDI={code}.obj")) for code in FRONT}


def _chart(width: float, length: float) -> dict[str, object]:
    return {
        "status": "natural",
        "width_mm": {"value": round(width, 2), "method": "scan"},
        "sites": {"midfacial": {"margin_mm": {"value": round(length, 2), "method": "scan", "datum": "present_edge"}}},
    }


def test_the_measured_crowns_are_crowns(crowns: dict[str, tuple[float, float]]) -> None:
    """The width of 11 is what the data's own page prints (8.43 in x); all lie where adult crowns lie."""
    assert crowns["11"][0] == pytest.approx(8.43, abs=0.25)
    for code, rows in (("11", ("CRN-019", "CRN-020")), ("12", ("CRN-022", "CRN-023")), ("13", ("CRN-025", "CRN-026"))):
        for measured, row in zip(crowns[code], rows, strict=True):
            # Orozco-Varo 2015 prints means without spread; 2.5 mm is several times any printed spread.
            assert measured == pytest.approx(published(row).value, abs=2.5)


def test_what_was_never_measured_is_missing_and_nothing_is_made_up(crowns: dict[str, tuple[float, float]]) -> None:
    """Widths and lengths alone: targets can be given, cuts cannot, and every lacking reading is named."""
    charted = case({code: _chart(*sizes) for code, sizes in crowns.items()}, subject={})
    made = make_plan(resolve(charted), Context())
    assert made.answer is Answer.UNDETERMINED
    assert not made.for_surgery
    assert not made.signable
    for code, (width, length) in crowns.items():
        whole = made.teeth[code]
        assert whole.procedure is Procedure.UNDETERMINED
        # What can be said: present length, ratio, aesthetic target.
        assert whole.present_length_mm == pytest.approx(length, abs=0.005)
        assert whole.ratio_present == pytest.approx(width / length, abs=0.005)
        ratio = {"1": 0.85, "2": 0.79, "3": 0.79}[code[1]]  # Orozco-Varo 2015, sex unknown
        assert whole.target_length_mm == pytest.approx(round(width, 2) / ratio, abs=1e-4)
        # What cannot: no planned level, no cut, no ratio after.
        assert whole.planned_length_mm is None
        assert whole.margin_move_mm is None
        assert whole.root_to_crown_before is None
        lacking = {m.what for m in made.missing if m.tooth == code and m.hard}
        assert {"sounding_mm", "cej_mm", "mucogingival_mm", "incisal_extension_mm"} <= lacking
    for site in made.sites:
        assert site.bone_removal_mm is None
        assert site.crest_present_mm is None
        assert site.crest_planned_mm is None
        assert site.cej_mm is None
        assert site.arithmetic == ()
    assert all(difference is None for difference in made.arch.pair_differences_mm.values())
    assert made.arch.residual_display_mm is None
    assert "smile.gingival_display_mm" in {m.what for m in made.missing}
    for missing in made.missing:
        assert missing.prevents

"""The arithmetic a surgeon must be able to follow, against numbers worked by hand."""

from __future__ import annotations

import pytest

from festoon.kernels.levels import axis_cosine, planned_edge_level, present_edge_level
from festoon.model.plan import Procedure
from mouths import plan, site, tooth


def test_extension_of_plus_half_a_millimetre_moves_every_level() -> None:
    """Design: margin 8.1, CEJ 10.3, extension 0.5, target 10.75 gives margin 8.6, CEJ 10.8, move 2.15 (not 2.65)."""
    made = plan({"11": tooth("11", margin=8.1, cej=10.3, incisal_extension_mm=0.5, target_length_mm=10.75)})
    middle = site(made, "11")
    assert middle.margin_present_mm == pytest.approx(8.6)
    assert middle.cej_mm == pytest.approx(10.8)
    assert made.teeth["11"].margin_move_mm == pytest.approx(2.15)
    assert made.teeth["11"].planned_length_mm == pytest.approx(10.75)
    assert middle.margin_planned_from_present_edge_mm == pytest.approx(10.25)


def test_extension_of_minus_half_a_millimetre_moves_every_level() -> None:
    """The edge is shortened: margin 8.1 and CEJ 10.3 count 7.6 and 9.8; target 9.75 asks for a move of 2.15."""
    made = plan({"11": tooth("11", margin=8.1, cej=10.3, incisal_extension_mm=-0.5, target_length_mm=9.75)})
    middle = site(made, "11")
    assert middle.margin_present_mm == pytest.approx(7.6)
    assert middle.cej_mm == pytest.approx(9.8)
    assert made.teeth["11"].margin_move_mm == pytest.approx(2.15)
    assert middle.margin_planned_from_present_edge_mm == pytest.approx(10.25)


@pytest.mark.parametrize("extension", [0.5, -0.5])
def test_every_kind_of_level_is_converted(extension: float) -> None:
    """Margin, CEJ, crest, mucogingival junction, furcation, apex and contact all move with the edge."""
    charted = tooth("16", incisal_extension_mm=extension, furcation_mm={"facial": 12.0})
    made = plan({"16": charted})
    still = plan({"16": charted | {"incisal_extension_mm": 0.0}})
    for name in ("margin_present_mm", "cej_mm", "crest_present_mm", "mucogingival_mm"):
        assert getattr(site(made, "16"), name) == pytest.approx(getattr(site(still, "16"), name) + extension)
    contacts = (site(made, "16", "mesial").contact_mm, site(still, "16", "mesial").contact_mm)
    assert contacts[0] == pytest.approx((contacts[1] or 0.0) + extension)
    # (apex − crest) / (crest − edge): before from the present edge, so unchanged by the extension.
    assert made.teeth["16"].root_to_crown_before == pytest.approx(still.teeth["16"].root_to_crown_before)


def test_the_example_of_the_field_notes() -> None:
    """Sounding 3.5, move 2.0: left 1.5; need 3.0: take 1.5. Keratinised 4.0 with excision: 2.0 left, on the line."""
    made = plan({"11": tooth("11", margin=8.0, sounding=3.5, cej=10.5, mucogingival=12.0, target_length_mm=10.0)})
    middle, whole = site(made, "11"), made.teeth["11"]
    assert middle.left_if_soft_only_mm == pytest.approx(1.5)
    assert middle.bone_removal_mm == pytest.approx(1.5)
    assert whole.keratinised_after_mm == pytest.approx(2.0)
    assert whole.procedure is Procedure.GINGIVECTOMY_WITH_OSTECTOMY
    assert any(caution.code == "keratinised" for caution in whole.cautions)
    assert "bone = max(0, need − left) = max(0, 3.00 − 1.50) = 1.50 mm" in middle.arithmetic
    assert "keratinised after = present − excised collar = 4.00 − 2.00 = 2.00 mm" in middle.arithmetic


def test_the_restorative_example() -> None:
    """Design: sound tooth 3.0 + ferrule 1.5 + need 3.0 = 7.5; crest at 6.0, so 1.5 mm of bone."""
    middle = {
        "margin_mm": 3.0, "sounding_mm": 3.0, "cej_mm": 5.0, "mucogingival_mm": 9.0,
        "sound_tooth_mm": 3.0, "ferrule_mm": 1.5,
    }  # fmt: skip
    charted = tooth("45", sites={"midfacial": middle, "mesial": {}, "distal": {}}, restoration="planned")
    made = plan({"45": charted}, purpose="restorative")
    cut = site(made, "45")
    assert cut.finish_line_mm == pytest.approx(4.5)
    assert cut.crest_planned_mm == pytest.approx(7.5)
    assert cut.bone_removal_mm == pytest.approx(1.5)
    assert "restorative_margin" in cut.binding


def test_root_to_crown_is_counted_from_each_edge() -> None:
    """(apex − crest) / (crest − edge): 23.5, crest 10.4 gives 1.26 from the present edge; worked by hand."""
    made = plan(
        {"11": tooth("11", margin=8.1, sounding=2.3, cej=10.3, incisal_extension_mm=0.5, target_length_mm=10.75,
                     root_apex_mm=23.5)}
    )  # fmt: skip
    whole = made.teeth["11"]
    assert whole.root_to_crown_before == pytest.approx((23.5 - 10.4) / 10.4)
    # Planned crest 10.75 + 3.0 = 13.75 from the planned edge, apex 24.0.
    assert whole.root_to_crown_after == pytest.approx((24.0 - 13.75) / 13.75)


def test_twenty_degrees_over_ten_millimetres() -> None:
    """Design: 20 degrees over 10 mm is 0.6 mm of height."""
    assert 10 - 10 * axis_cosine(20.0, 0.0) == pytest.approx(0.6, abs=0.01)


def test_levels_convert_there_and_back() -> None:
    """The conversion to the visible edge undoes the conversion to the planned one."""
    assert present_edge_level(planned_edge_level(8.1, -0.3), -0.3) == pytest.approx(8.1)

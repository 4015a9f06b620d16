"""Each cause: found where it is, ruled out where it is not, unknown where nothing was charted."""

from __future__ import annotations

from typing import Any

import pytest
from finding_cases import COVERED, every, findings, mouth, tooth

from festoon.findings.causes.jaw import degree
from festoon.model.case import ToothChart


def test_ordinary_mouth_has_nothing_to_explain() -> None:
    """Ordinary crowns, little display, everything charted: no cause, and it is said."""
    found = findings(mouth())
    assert found["none_found"].rank == 1
    assert found["none_found"].title.startswith("Nothing to explain")
    assert not any(f.withholds_surgery for f in found.values())


def test_hidden_enamel_is_altered_passive_eruption_with_its_class() -> None:
    """Wide keratinised band (junction apical to the crest) and crest 0.4 mm from the CEJ: type 1B, strong, not withheld."""
    ape = findings(mouth(COVERED, smile={"gingival_display_mm": 4.0}))["altered_passive_eruption"]
    assert (ape.rank, ape.support, ape.withholds_surgery) == (1, "strong", False)
    assert "type 1B (13, 12, 11, 21, 22, 23)" in ape.title
    assert set(ape.teeth) == {"13", "12", "11", "21", "22", "23"}
    assert "bone must move with the margin" in ape.surgery_can
    assert "at most 2.7 mm goes, 1.3 mm stays" in ape.surgery_can
    assert "posed smile under-shows" in ape.surgery_can


@pytest.mark.parametrize(
    ("room", "junction", "label"),
    [
        (1.5, 6.0, "type 1A"),  # CC = 1.5 is A; junction 6.0 under the margin, crest 4.3
        (1.0, 6.0, "type 1B"),  # CC = 1.0 is B
        (1.2, 6.0, "type 1A/B"),  # between: borderline, decided on B
        (1.2, 3.0, "type 2A/B"),  # junction 0.2 mm past the CEJ lies at it
        (1.5, 4.0, "type 1/2A"),  # between CEJ and crest: neither class
    ],
)
def test_classes_of_altered_passive_eruption(room: float, junction: float, label: str) -> None:
    """DX-001 to DX-004 and rule 3: type by the mucogingival junction, subgroup by CEJ to crest."""
    one = {"margin": 7.8, "cej": 10.6, "crest": 10.6 + room, "mucogingival": 7.8 + junction}
    ape = findings(mouth({"11": one}))["altered_passive_eruption"]
    assert f"{label} (11)" in ape.title
    assert ("bone must move" in ape.surgery_can) == ("B" in label)


def test_other_teeth_join_but_never_make_the_cause() -> None:
    """2 mm of cover is ordinary in health (STA-037): a premolar's 2.4 mm counts only beside short front crowns."""
    premolar = tooth("13") | {"width_mm": 7.0}
    premolar["sites"] = {"midfacial": {"margin_mm": 6.4, "cej_mm": 8.8, "crest_mm": 9.2}}
    alone, beside = mouth(), mouth(COVERED)
    with_14 = [
        c.model_copy(update={"teeth": {**c.teeth, "14": ToothChart.model_validate(premolar)}}) for c in (alone, beside)
    ]
    without, joined = (findings(case)["altered_passive_eruption"] for case in with_14)
    assert without.support == "against"
    assert "14" in joined.teeth


def test_worn_short_crowns_are_not_called_altered_passive_eruption() -> None:
    """Rule 2 asks for an unworn edge."""
    teeth = {code: change | {"edge_worn": True, "cej": None, "crest": None} for code, change in COVERED.items()}
    assert findings(mouth(teeth))["altered_passive_eruption"].support == "against"


def test_missing_cej_is_asked_for_and_not_held_against_it() -> None:
    """Unknown is unknown: without CEJs the suspicion stays, and the CEJ is first on the list."""
    teeth = {code: change | {"cej": None, "crest": None} for code, change in COVERED.items()}
    ape = findings(mouth(teeth))["altered_passive_eruption"]
    assert ape.support == "moderate"
    assert ape.evidence_against == ()
    assert ape.missing[0] == "teeth.{13,12,11,21,22,23}.sites.midfacial.cej_mm"
    assert "cannot be said before the CEJ" in ape.surgery_can


def test_crest_at_the_cej_of_a_low_tooth_is_altered_active_eruption() -> None:
    """Crest at the CEJ, unworn edge 1.2 mm apical to its partner: strong; an ordinary crest rules it out."""
    low = findings(mouth({"11": COVERED["11"] | {"edge_height_mm": 1.2}}))["altered_active_eruption"]
    assert (low.support, low.teeth) == ("strong", ("11",))
    assert findings(mouth({"11": {"margin": 7.8, "cej": 10.6}}))["altered_active_eruption"].support == "against"


# Wear ------------------------------------------------------------------------------------------------------------


def test_wear_with_over_eruption_withholds_surgery() -> None:
    """11 worn 1.5 mm and erupted by as much: margin and CEJ came along, their relation is ordinary."""
    worn = {"edge_worn": True, "margin": 8.1, "cej": 9.3, "edge_height_mm": 0.0}
    found = findings(mouth({"11": worn}))
    over = found["wear_with_over_eruption"]
    assert (over.rank, over.support, over.teeth, over.withholds_surgery) == (1, "strong", ("11",), True)
    assert "+1.5 against 21" in over.evidence_for[1].text
    assert "orthodontist" in over.ask
    assert found["incisal_wear"].support == "against"


def test_wear_with_the_margin_in_place_is_told_apart() -> None:
    """11 worn 1.5 mm, edge apical, margin level with 21: restore the edge; nothing to withhold."""
    worn = {"edge_worn": True, "margin": 8.1, "cej": 9.3, "edge_height_mm": 1.5}
    found = findings(mouth({"11": worn}))
    assert found["incisal_wear"].support == "strong"
    assert found["wear_with_over_eruption"].support == "against"
    assert not found["incisal_wear"].withholds_surgery


def test_planned_edge_is_not_taken_for_the_present_one() -> None:
    """A planned extension of 1.5 mm puts the planned edge at height 0; the worn edge of today still stands at 1.5."""
    worn = {"edge_worn": True, "margin": 8.1, "cej": 9.3, "edge_height_mm": 0.0, "incisal_extension_mm": 1.5}
    assert findings(mouth({"11": worn}))["incisal_wear"].support == "strong"


def test_both_centrals_worn_are_compared_with_the_canines() -> None:
    """No unworn partner: the canines' margins serve, and the CEJ relation keeps its say."""
    worn = {"edge_worn": True, "margin": 8.1, "cej": 9.3}
    over = findings(mouth({"11": worn, "21": worn}))["wear_with_over_eruption"]
    assert over.support == "strong"
    assert over.withholds_surgery
    assert "against 13" in " ".join(line.text for line in over.evidence_for)


def test_over_eruption_with_hidden_enamel_is_not_withheld() -> None:
    """Wear and altered passive eruption together: surgery keeps its place, with reservations."""
    worn = {"edge_worn": True, "margin": 7.0, "cej": 9.6, "crest": 10.4}
    over = findings(mouth({"11": worn}))["wear_with_over_eruption"]
    assert over.evidence_against
    assert not over.withholds_surgery


def test_comparison_that_cannot_be_made_is_asked_for() -> None:
    """Without edge heights nothing can be compared: asked for, no verdict on over-eruption."""
    teeth = every(edge_height_mm=None)
    teeth["11"] |= {"edge_worn": True, "margin": 8.1, "cej": 9.3}
    over = findings(mouth(teeth))["wear_with_over_eruption"]
    assert over.support == "weak"
    assert "teeth.{11,21}.edge_height_mm" in over.missing


# Lip and jaw -----------------------------------------------------------------------------------------------------

LONG_JAW: dict[str, Any] = {
    "smile": {"gingival_display_mm": 6.0, "rest_display_mm": 6.0},
    "face": {"middle_third_mm": 62, "lower_third_mm": 70},
}


def test_long_jaw_with_ordinary_crowns_withholds_surgery() -> None:
    """Rule 10: large display with ordinary crowns is no case for crown lengthening."""
    found = findings(mouth(**LONG_JAW))["vertical_maxillary_excess"]
    assert (found.rank, found.support, found.withholds_surgery) == (1, "strong", True)
    assert "degree II" in found.title
    assert "oral and maxillofacial surgeon" in found.ask


def test_long_jaw_with_hidden_enamel_keeps_surgery_with_reservations() -> None:
    """Both stand; neither withholds, and what remains after lengthening is said."""
    found = findings(mouth(COVERED, **LONG_JAW))
    jaw, ape = found["vertical_maxillary_excess"], found["altered_passive_eruption"]
    assert jaw.support == ape.support == "strong"
    assert not jaw.withholds_surgery
    assert not ape.withholds_surgery
    assert "3.3 mm stays" in jaw.surgery_can


@pytest.mark.parametrize(
    ("display", "expected"), [(1.9, None), (2.0, "I"), (3.9, "I"), (4.0, "II"), (7.9, "II"), (8.0, "III")]
)
def test_degree_by_display(display: float, expected: str | None) -> None:
    """DX-021 to DX-023."""
    assert degree(display) == expected


@pytest.mark.parametrize(
    ("travel", "support", "withholds"), [(7.5, "against", False), (8.5, "moderate", False), (10.0, "strong", True)]
)
def test_lip_travel(travel: float, support: str, withholds: bool) -> None:
    """DX-024: above 8-9 mm; ordinary crowns and 4 mm of display."""
    found = findings(mouth(smile={"lip_travel_mm": travel, "gingival_display_mm": 4.0}))["hypermobile_lip"]
    assert (found.support, found.withholds_surgery) == (support, withholds)
    assert any("relapsing, in another" in alternative for alternative in found.alternatives)


def test_hypermobile_lip_with_short_crowns_is_a_reservation() -> None:
    """A mouth in which altered passive eruption and a lip cause stand together keeps surgery."""
    found = findings(mouth(COVERED, smile={"lip_travel_mm": 10.0, "gingival_display_mm": 6.0}))
    assert found["hypermobile_lip"].support == "strong"
    assert found["altered_passive_eruption"].support == "strong"
    assert not any(f.withholds_surgery for f in found.values())


@pytest.mark.parametrize(
    ("sex", "length", "support"),
    [
        ("female", 18.0, "strong"),  # under 21.2 - 2.4
        ("female", 19.5, "moderate"),
        ("female", 21.5, "against"),
        ("male", 21.5, "moderate"),  # the same lip is short in a man: 22-24
        ("unknown", 18.0, "moderate"),  # display alone; the lip cannot be judged without the sex
    ],
)
def test_lip_length_by_sex(sex: str, length: float, support: str) -> None:
    """AES-025 (memory): 20-22 mm in women, 22-24 in men."""
    crowns = {
        "11": {"margin": 10.2}, "21": {"margin": 10.2}, "12": {"margin": 8.7}, "22": {"margin": 8.7},
        "13": {"margin": 9.9}, "23": {"margin": 9.9},
    }  # fmt: skip
    case = mouth(crowns, smile={"lip_length_mm": length, "gingival_display_mm": 4.0}, subject={"sex": sex})
    found = findings(case)["short_upper_lip"]
    assert found.support == support
    assert ("subject.sex" in found.missing) == (sex == "unknown")


# Gingiva, growth, position ---------------------------------------------------------------------------------------


def test_drug_with_pseudo_pockets_withholds_surgery() -> None:
    """5 mm probing that ends on enamel, and a drug that enlarges gingiva."""
    teeth = {code: change | {"probing": 2.5} for code, change in COVERED.items()}
    teeth["11"]["probing"] = teeth["21"]["probing"] = 3.7
    quiet = findings(mouth(teeth, health={"overgrowth_drug": True}))["drug_overgrowth"]
    assert not quiet.withholds_surgery
    teeth["11"] |= {"cej": 12.0, "crest": 13.5, "probing": 5.0}
    enlarged = findings(mouth(teeth, health={"overgrowth_drug": True}))["drug_overgrowth"]
    assert enlarged.withholds_surgery
    assert (enlarged.support, enlarged.teeth) == ("strong", ())
    assert "11 5.0 mm" in enlarged.evidence_for[1].text
    assert "prescrib" in " ".join(enlarged.ask)


def test_true_pocket_is_no_pseudo_pocket() -> None:
    """6 mm probing past a CEJ 2.5 mm under the margin is lost attachment, not hidden enamel."""
    deep = COVERED["11"] | {"probing": 6.0}
    found = findings(mouth({"11": deep}, health={"overgrowth_drug": True}))["drug_overgrowth"]
    assert not found.withholds_surgery


def test_inflamed_gingiva_withholds_surgery() -> None:
    """Treat, wait, measure anew; it also weakens altered passive eruption."""
    swollen = {code: change | {"inflamed": True} for code, change in COVERED.items()}
    found = findings(mouth(swollen))
    assert found["inflammatory_enlargement"].withholds_surgery
    assert any("not to be told" in line.text for line in found["altered_passive_eruption"].evidence_against)


def test_active_periodontitis_withholds_surgery_for_the_whole_mouth() -> None:
    found = findings(mouth(health={"active_periodontitis": True}))["inflammatory_enlargement"]
    assert found.withholds_surgery
    assert found.teeth == ()


@pytest.mark.parametrize(
    ("age", "grown", "withholds", "support"),
    [
        (15, False, True, "strong"),
        (25, False, True, "weak"),
        (15, None, True, "moderate"),
        (15, True, False, "against"),
        (34, None, False, "against"),
        (None, None, False, "unknown"),
    ],
)
def test_growth(age: float | None, grown: bool | None, withholds: bool, support: str) -> None:
    """Crowns lengthen up to 18-19 years; the clinician's word on growth comes first."""
    found = findings(mouth(subject={"age_years": age, "growth_complete": grown}))["incomplete_growth"]
    assert (found.withholds_surgery, found.support) == (withholds, support)


def test_ankylosed_tooth_withholds_only_itself() -> None:
    found = findings(mouth({"11": {"ankylosed": True, "edge_height_mm": 2.0}}))["ankylosis"]
    assert (found.support, found.teeth, found.withholds_surgery) == ("strong", ("11",), True)


def test_low_edge_raises_the_question_of_ankylosis_only() -> None:
    found = findings(mouth({"11": {"ankylosed": None, "edge_height_mm": 1.5}}))["ankylosis"]
    assert (found.support, found.withholds_surgery) == ("weak", False)
    assert found.missing[0] == "teeth.11.ankylosed"


def test_cant_is_measured_across_the_front_teeth() -> None:
    """3 degrees over 35 mm is 1.8 mm, seen by dentists; half a degree is not."""
    seen = findings(mouth(face={"occlusal_cant_deg": -3.0}))["occlusal_cant"]
    assert seen.support == "moderate"
    assert "right higher: 1.8 mm" in seen.evidence_for[0].text
    assert "copies the slope" in seen.surgery_can
    assert findings(mouth(face={"occlusal_cant_deg": 0.5}))["occlusal_cant"].support == "against"


def test_sloping_cejs_speak_for_a_cant() -> None:
    """All three right CEJs lie 1.2 mm further apically than their partners'."""
    teeth = {code: {"edge_height_mm": height} for code, height in (("11", 1.2), ("12", 1.8), ("13", 1.6))}
    found = findings(mouth(teeth, face={"occlusal_cant_deg": None}))["occlusal_cant"]
    assert found.support == "weak"
    assert "right side lie 1.2 mm" in found.evidence_for[0].text
    assert found.missing[0] == "face.occlusal_cant_deg"


def test_recurrence_suspects_the_bone_that_was_left() -> None:
    found = findings(mouth(COVERED, health={"previous_surgery": True}))["recurrence"]
    assert found.support == "strong"
    assert any("the bone was left" in line.text for line in found.evidence_for)
    assert not found.withholds_surgery


def test_small_teeth_are_short_and_narrow_alike() -> None:
    small = {"11": {"margin": 8.2, "width_mm": 7.0}, "21": {"margin": 8.2, "width_mm": 7.0}}
    found = findings(mouth(small))
    assert (found["small_teeth"].support, found["small_teeth"].teeth) == ("strong", ("11", "21"))
    assert "cannot add width" in found["small_teeth"].surgery_cannot


def test_crowding_and_rotation() -> None:
    found = findings(mouth({"12": {"crowded": True}, "22": {"rotation_deg": -20}}))["tooth_position"]
    assert (found.support, found.teeth) == ("strong", ("12", "22"))


def test_restoration_margin_near_the_crest() -> None:
    """DX-018 (memory): 3 mm from margin to crest."""
    crowned = {"status": "crowned", "restoration": "present", "inflamed": True, "finish_line": 10.4}
    found = findings(mouth({"11": crowned}))["restoration_margin"]
    assert (found.support, found.teeth) == ("strong", ("11",))
    assert "11 2.2 mm" in found.evidence_for[0].text


def test_crowned_tooth_never_counts_as_hidden_enamel() -> None:
    """Its CEJ is hidden by a crown; a guess from the crown must not make a cause."""
    found = findings(mouth({"11": COVERED["11"] | {"status": "crowned", "restoration": "present"}}))
    assert "11" not in found["altered_passive_eruption"].teeth

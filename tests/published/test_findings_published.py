"""The findings against what was published: diagnosis rules DX-001 to DX-032 and the worked examples W6 and W8."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import festoon.findings
from festoon.evidence.table import all_published, published
from festoon.findings import assess, thresholds
from festoon.findings.causes.eruption import subgroup
from festoon.findings.mouth import Mouth
from festoon.model.case import Case
from festoon.model.plan import Finding
from festoon.records.reconcile import resolve


def case(teeth: dict[str, dict[str, float]], **more: object) -> Case:
    """Teeth by width, margin and, where given, CEJ and crest; edges unworn; nothing else charted."""
    return Case.model_validate(
        {
            "case": "published",
            "notation": "fdi",
            "teeth": {
                code: {
                    "status": "natural",
                    "edge_worn": False,
                    "width_mm": numbers["width"],
                    "sites": {"midfacial": {f"{name}_mm": value for name, value in numbers.items() if name != "width"}},
                }
                for code, numbers in teeth.items()
            },
        }
        | more
    )


def passive_eruption(of: Case) -> Finding:
    return next(f for f in assess(resolve(of)) if f.cause == "altered_passive_eruption")


@pytest.mark.parametrize(("code", "row"), [("11", "DX-007"), ("12", "DX-008"), ("13", "DX-009")])
def test_w8_rule_2_flags_all_three_kinds_of_teeth(code: str, row: str) -> None:
    """Truong 2022, 38 adults: width/length 1.06, 1.02, 1.03 for central, lateral, canine."""
    ratio = published(row).value
    found = passive_eruption(case({code: {"width": ratio * 8.0, "margin": 8.0}}))
    assert found.teeth == (code,)
    assert any(f"{code} {ratio:.2f}" in line.text for line in found.evidence_for)


def test_w8_rule_3_does_not_call_the_group_a() -> None:
    """Truong 2022: the mean from CEJ to crest lay under 1.5 mm, so no mean below it may be subgroup A."""
    for room in (1.49, 1.2, 1.0, 0.5):
        mouth = Mouth(resolve(case({"11": {"width": 8.5, "margin": 8.0, "cej": 10.5, "crest": 10.5 + room}})))
        assert subgroup(mouth.teeth[0]) in ("B", "A/B")
    assert thresholds.ROOM_A.value == published("DX-010").high == 1.5


def test_w6_ratio_of_the_printed_case_raises_the_flag() -> None:
    """Woman of 21, width to height 121 %, display 5 mm; the width of 8.5 is an assumption, not from the paper."""
    printed = case(
        {"11": {"width": 8.5, "margin": 8.5 / 1.21}, "21": {"width": 8.5, "margin": 8.5 / 1.21}},
        smile={"gingival_display_mm": 5.0},
        subject={"age_years": 21, "sex": "female"},
    )
    found = passive_eruption(printed)
    assert found.rank == 1
    assert any("11 1.21, 21 1.21" in line.text for line in found.evidence_for)
    assert found.missing[0] == "teeth.{11,21}.sites.midfacial.cej_mm"


@pytest.mark.parametrize(("code", "row"), [("11", "CRN-021"), ("12", "CRN-024"), ("13", "CRN-027")])
def test_published_mean_proportions_are_not_short(code: str, row: str) -> None:
    """Orozco-Varo 2015, 412 adults: 0.85, 0.79, 0.79 at the mean length must not raise the flag."""
    length = {"11": "CRN-020", "12": "CRN-023", "13": "CRN-026"}[code]
    margin = published(length).value
    mouth = Mouth(resolve(case({code: {"width": published(row).value * margin, "margin": margin}})))
    assert mouth.teeth[0].is_short is False


@pytest.mark.parametrize(
    ("threshold", "row", "part"),
    [
        (thresholds.ROOM_A, "DX-003", "low"),
        (thresholds.ROOM_B, "DX-004", "high"),
        (thresholds.VME_I, "DX-021", "low"),
        (thresholds.VME_II, "DX-022", "low"),
        (thresholds.VME_III, "DX-023", "low"),
        (thresholds.TRAVEL_HIGH, "DX-024", "low"),
        (thresholds.TRAVEL_VERY_HIGH, "DX-024", "high"),
        (thresholds.LIP_MEAN_FEMALE, "AES-025", "mean"),
        (thresholds.LIP_SPREAD, "AES-025", "sd"),
        (thresholds.DISPLAY, "AES-015", "mean"),
        (thresholds.COVERED_CROWN, "STA-037", "mean"),
        (thresholds.RESTORATION_ROOM, "DX-018", "mean"),
        (thresholds.STEP, "CP-008", "mean"),
        (thresholds.CLEAR_STEP, "AES-010", "mean"),
    ],
)
def test_thresholds_are_the_printed_numbers(threshold: thresholds.Threshold, row: str, part: str) -> None:
    assert threshold.value == getattr(published(row), part)
    assert row in threshold.source


def test_men_have_longer_lips_by_what_was_measured() -> None:
    """Peck 1992 (AES-025 note): 23.4 in men; Miron 2012 (AES-022) measured 3.1 mm between the sexes."""
    assert "23.4" in published("AES-025").note
    assert thresholds.LIP_MEAN_MALE.value == 23.4
    difference = thresholds.LIP_MEAN_MALE.value - thresholds.LIP_MEAN_FEMALE.value
    assert 0 < difference < published("AES-022").value


def test_lip_repositioning_is_quoted_with_both_meta_analyses() -> None:
    """DX-025, DX-027 hold (3.06 to 2.76); DX-029, DX-030 relapse (2.71 to 2.10): both must be told."""
    found = assess(resolve(case({"11": {"width": 8.5, "margin": 10.2}}, smile={"lip_travel_mm": 10})))
    lip = next(f for f in found if f.cause == "hypermobile_lip")
    text = " ".join(lip.alternatives)
    for number in ("3.1 mm less at 6", "2.8 at 36", "2.7 at 6", "2.1 at 12 months, relapsing"):
        assert number in text


def test_no_id_in_the_room_is_invented() -> None:
    """Every evidence id written in the findings exists in the table."""
    ids = {row.id for row in all_published()}
    room = Path(festoon.findings.__file__).parent
    written = {
        match
        for source in room.rglob("*.py")
        for match in re.findall(r"\b(?:CRN|AES|DX|HEAL|GIN|STA|CP|ERR|ROOT)-\d{3}\b", source.read_text("utf-8"))
    }
    assert len(written) > 30
    assert written <= ids

"""The report to the colleague and the page for the patient, before surgery: the plan's numbers with their errors, plain words, no promise."""

from __future__ import annotations

import re

import pypdfium2
import pytest

from festoon.drawings.plain_teeth import draw_plain_teeth
from festoon.model.dentition import Site
from festoon.model.plan import Plan
from festoon.records.casefile import parse_case
from festoon.records.demo import TITLES, demo_case
from festoon.workflow.papers import patient_page, report_before
from festoon.workflow.planning import plan_of


@pytest.fixture(scope="module")
def plans() -> dict[str, Plan]:
    return {name: plan_of(parse_case(demo_case(name), f"{name}.yaml")) for name in TITLES}


def text_of(data: bytes) -> str:
    return " ".join(" ".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(data)).split())


@pytest.mark.parametrize("name", TITLES)
def test_every_tooth_stands_in_the_report_under_two_names_with_its_length_and_error(
    plans: dict[str, Plan], name: str
) -> None:
    """Planned length of every tooth that is cut, as the plan has it, beside one standard error."""
    plan, said = plans[name], text_of(report_before(plans[name]))
    for code, tooth in plan.teeth.items():
        assert re.search(rf"\b{code} / \w+", said)
        if tooth.procedure.cuts:
            middle = next(s for s in plan.sites if s.tooth == code and s.site is Site.MIDFACIAL)
            assert f"{tooth.planned_length_mm:.1f} ± {middle.se_mm['margin_planned_mm']:.1f}" in said
    assert plan.fingerprint[:12] in said
    assert "What is asked of you" in said


def test_a_report_of_what_is_no_case_for_surgery_says_so_first(plans: dict[str, Plan]) -> None:
    """The stamp stands before every number, and no time of healing is given for what is not cut."""
    said = text_of(report_before(plans["sandbar-31"]))
    assert said.index("NOT FOR SURGERY") < said.index("What is planned, tooth by tooth")
    assert "When crowns may follow" not in said


def test_what_was_not_measured_is_said_and_never_a_zero(plans: dict[str, Plan]) -> None:
    """The smile of this case was not recorded."""
    assert "gingiva shown in the smile: NOT MEASURED" in text_of(report_before(plans["kiln-45"]))


def test_the_patient_reads_plain_words_and_no_promise(plans: dict[str, Plan]) -> None:
    """No trade term, no evidence id, no code of a tooth; the amount is that of the plan; consent is for local law."""
    plan = plans["linden-04"]
    said = text_of(patient_page(plan))
    words = said.split("case linden-04")[0]
    assert not re.search(r"ostectomy|gingiv|apical|crest|CEJ|[A-Z]{2,4}-\d{3}|\b[1-4][1-8]\b", words)
    moves = [t.margin_move_mm for t in plan.teeth.values() if t.margin_move_mm]
    assert f"about {min(moves):.1f} to {max(moves):.1f} mm" in words
    assert "no promise" in words
    assert "adapted to local law" in said


def test_where_surgery_is_no_answer_the_patient_is_shown_no_drawing_and_no_consent(plans: dict[str, Plan]) -> None:
    """A picture of what is not to be done would be a promise, and points of consent an invitation."""
    said = text_of(patient_page(plans["sandbar-31"]))
    assert "not the answer" in said
    assert "Points to talk over" not in said
    assert "the operation" not in said


def test_a_tooth_that_is_not_known_well_enough_is_left_out_of_the_drawing_and_named(plans: dict[str, Plan]) -> None:
    """47 was charted without lengths; the patient's right stands on the left."""
    svg, left_out = draw_plain_teeth(plans["kiln-45"], ("today", "planned"), ("your RIGHT", "your LEFT"))
    assert left_out == ("47",)
    assert svg is not None
    assert svg.count("<path") == 2 * 3
    assert svg.index("your RIGHT") < svg.index("your LEFT")

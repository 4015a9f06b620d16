"""The blank form: the order of dictation, the rule about blanks, every health question, boxes wide enough."""

from __future__ import annotations

import pypdfium2
import pytest

from festoon.model.case import Health
from festoon.reports import PAPERS, Paper, write_blank_form
from festoon.reports.form import teeth_between


def _pages(pdf: bytes) -> list[str]:
    return [" ".join(p.get_textpage().get_text_bounded().split()) for p in pypdfium2.PdfDocument(pdf)]


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize(("teeth", "pages"), [("13-23", 2), ("43-33", 2), ("17-27", 3), ("11-11", 2)])
def test_the_form_has_one_chart_page_for_eight_teeth_and_one_for_the_person(
    teeth: str, pages: int, paper: Paper
) -> None:
    assert len(_pages(write_blank_form(teeth, paper=paper))) == pages


def test_it_says_that_a_blank_is_not_measured_and_asks_for_the_datum() -> None:
    page = _pages(write_blank_form())[0]
    assert "Blank = NOT MEASURED. Never write 0 for it." in page
    assert all(datum in page for datum in ("present edge", "planned edge", "template", "bonded mark"))


def test_it_follows_the_order_in_which_a_clinician_dictates() -> None:
    whole = " ".join(_pages(write_blank_form()))
    order = ["case code", "incisal extension", "width, mm", "margin, mm", "probing", "sounding", "CEJ", "mucogingival",
             "contact, mm", "bone thickness", "SMILE", "HEALTH", "APPROVAL"]  # fmt: skip
    places = [whole.index(words) for words in order]
    assert places == sorted(places)


def test_every_health_question_of_the_case_file_is_asked() -> None:
    page = _pages(write_blank_form())[-1]
    assert page.count("yes no") == len(Health.model_fields) - 2  # diabetes and allergy are written, not ticked


def test_the_patients_right_comes_first() -> None:
    page = _pages(write_blank_form())[0]
    assert page.index("upper right canine") < page.index("upper right central") < page.index("upper left canine")


def test_the_same_form_is_the_same_bytes() -> None:
    assert write_blank_form("14-24") == write_blank_form("14-24")


@pytest.mark.parametrize("span", ["23-13", "13-33", "13-12-11", "19-21", "", "13,23"])
def test_a_span_that_is_no_range_of_one_jaw_is_refused(span: str) -> None:
    with pytest.raises(ValueError, match=r"ISO 3950|range|jaws|left to the right"):
        teeth_between(span)


def test_a_range_crosses_the_midline_in_the_order_seen() -> None:
    assert [t.fdi for t in teeth_between("12-22")] == ["12", "11", "21", "22"]
    assert [t.fdi for t in teeth_between("42-32")] == ["42", "41", "31", "32"]

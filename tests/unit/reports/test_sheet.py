"""The chairside sheet: true size, fonts inside, only numbers of the plan, unknowns in words, nothing executed."""

from __future__ import annotations

import re
import zlib
from itertools import pairwise

import numpy as np
import pypdfium2
import pytest

from festoon.drawings import draw_profile, profile_pages
from festoon.model.dentition import Site
from festoon.model.plan import Plan
from festoon.reports import PAPERS, Paper, profile_room, write_sheet
from plans import PLANS, Wish, make_plan

HOSTILE = ' #eval("40+2") #read("/etc/hostname") $x^2$ *bold* `code` @ref <label> \\n ]#panic() </svg>'
POINTS_PER_MM = 72 / 25.4


def _pages(pdf: bytes) -> list[str]:
    document = pypdfium2.PdfDocument(pdf)
    return [page.get_textpage().get_text_bounded().replace("\r\n", "\n") for page in document]


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _printed(plan: Plan, paper: Paper = "a4") -> bytes:
    return write_sheet(plan, profile_pages(plan, profile_room(paper)), paper=paper)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", PLANS)
def test_the_sheet_is_landscape_of_the_asked_paper_and_its_first_page_is_one_page(name: str, paper: Paper) -> None:
    pdf = _printed(make_plan(PLANS[name]), paper)
    document = pypdfium2.PdfDocument(pdf)
    width, height = (size / POINTS_PER_MM for size in document[0].get_size())
    assert (width, height) == pytest.approx(PAPERS[paper], abs=0.1)
    words = _pages(pdf)
    assert f"page 1 of {len(document)}" in words[0]
    assert "STOP, cut no further, if" in words[0]
    assert "MEASURE ME" in words[0]
    assert words[1].startswith("Behind the sheet")


@pytest.mark.parametrize("name", PLANS)
def test_the_same_plan_gives_the_same_bytes(name: str) -> None:
    assert _printed(make_plan(PLANS[name])) == _printed(make_plan(PLANS[name]))


def _rules(pdf: bytes, page: int) -> list[float]:
    """Lengths in mm of the horizontal black rules of a page, from its rendering at 300 dpi."""
    bitmap = pypdfium2.PdfDocument(pdf)[page].render(scale=300 / 72, grayscale=True)
    black = bitmap.to_numpy().reshape(bitmap.height, -1) < 90
    found = []
    for row in black:
        changes = np.flatnonzero(np.diff(row.astype(np.int8)))
        found += [float(b - a) * 25.4 / 300 for a, b in pairwise(changes) if row[a + 1]]
    return found


@pytest.mark.parametrize("page", [0, 2])
def test_the_check_line_measures_fifty_millimetres_on_the_print(page: int) -> None:
    lengths = [length for length in _rules(_printed(make_plan()), page) if 45 < length < 55]
    assert lengths
    # Half a pixel at either end of the line, and its ticks' width, is 0.3 mm at most.
    assert min(abs(length - 50.0) for length in lengths) < 0.3


def test_all_fonts_are_inside_the_file_and_of_one_family() -> None:
    pdf = _printed(make_plan(PLANS["mixed"]))
    names = set(re.findall(rb"/BaseFont\s*/[A-Z]{6}\+([A-Za-z-]+)", _raw(pdf)))
    assert names
    assert all(name.startswith(b"SourceSansPro") for name in names)
    assert len(re.findall(rb"/FontFile[23]?\s", _raw(pdf))) >= 2


def _raw(pdf: bytes) -> bytes:
    """The file with its object streams unpacked."""
    parts = [pdf]
    for match in re.finditer(rb"stream\r?\n(.*?)endstream", pdf, re.S):
        try:
            parts.append(zlib.decompress(match[1]))
        except zlib.error:
            continue
    return b"\n".join(parts)


def _numbers_of(value: object, places: str) -> set[str]:
    if isinstance(value, dict):
        return set().union(*(_numbers_of(inner, places) for inner in value.values()), set())
    if isinstance(value, list | tuple):
        return set().union(*(_numbers_of(inner, places) for inner in value), set())
    if isinstance(value, int | float) and not isinstance(value, bool):
        return {format(abs(value), places)}
    if isinstance(value, str):
        return set(re.findall(r"\d+\.\d+", value))
    return set()


@pytest.mark.parametrize("name", PLANS)
def test_no_number_is_printed_at_the_chair_that_is_not_on_the_plans_paper(name: str) -> None:
    plan = make_plan(PLANS[name])
    page = _pages(write_sheet(plan))[0]
    on_paper = _numbers_of(plan.paper.model_dump(), ".1f")
    elsewhere = {
        "1.0",
        "0.5",  # stop and recheck of the evidence room
        "0.1",  # version 0.1.0
        f"{plan.healing.suture_at_least_mm:.1f}" if plan.healing else "",
    } | _numbers_of([site.se_mm for site in plan.sites], ".1f")
    texts = _numbers_of([c.text for t in plan.teeth.values() for c in t.cautions], "")
    printed = set(re.findall(r"\d+\.\d+", page.replace(plan.fingerprint[:12], "").replace("0.1.0", "")))
    assert printed - on_paper - elsewhere - texts == set()
    assert len(printed) > 10


def test_the_numbers_of_a_tooth_are_those_of_the_plans_paper() -> None:
    plan = make_plan(Wish(n=2))
    page = _one_line(_pages(write_sheet(plan))[0])
    tooth = plan.paper.teeth["11"]
    assert f"{tooth.planned_length_mm:.1f} mm, planned" in page
    assert f"today's edge {tooth.planned_length_from_present_edge_mm:.1f}" in page
    assert f"take up to {tooth.excised_collar_mm:.1f} mm" in page
    assert f"then flap {tooth.apical_shift_mm:.1f} mm" in page
    assert f"in all {tooth.margin_move_mm:.1f} mm" in page


def test_an_unknown_is_printed_in_words_and_never_as_zero_or_blank() -> None:
    plan = make_plan(Wish(n=2, crest_unknown=(("11", Site.DISTAL), ("11", Site.MIDFACIAL), ("11", Site.MESIAL))))
    page = _one_line(_pages(write_sheet(plan))[0])
    assert page.count("NOT MEASURED") >= 2
    whole = _one_line(_pages(write_sheet(make_plan(Wish(n=2))))[0])
    assert "NOT MEASURED" not in whole


def test_a_plan_that_is_not_for_surgery_is_stamped_with_its_reasons() -> None:
    plan = make_plan(PLANS["holes"])
    page = _one_line(_pages(write_sheet(plan))[0])
    assert page.count("NOT FOR SURGERY") >= 2  # the bar and the watermark
    assert "sounding not measured" in page
    assert "NOT FOR SURGERY" not in _pages(write_sheet(make_plan()))[0]


def test_no_cut_is_printed_for_a_tooth_whose_plan_is_undetermined() -> None:
    teeth = make_plan(Wish(n=2, undetermined=("11", "21")))
    page = _one_line(_pages(write_sheet(teeth))[0])
    assert "NOT GIVEN" in page
    assert "take" not in page.split("STOP, cut")[0].replace("BONE: TAKE", "").replace("height to take", "")


@pytest.mark.parametrize("status", ["implant", "pontic", "absent", "excluded"])
def test_a_place_that_is_not_cut_says_so(status: str) -> None:
    page = _one_line(_pages(write_sheet(make_plan(Wish(status={"12": status}))))[0])
    assert f"12 / 7: {status}" in page


def test_the_time_out_names_only_the_teeth_that_are_cut_in_words_and_two_notations() -> None:
    page = _one_line(_pages(write_sheet(make_plan(Wish(status={"12": "implant"}))))[0])
    said = page.split("TIME-OUT")[1].split("CAUTIONS")[0]
    assert "11 / 8 upper right central incisor" in said
    assert "12 / 7" not in said


def test_a_caution_that_stops_comes_first_and_those_without_room_are_counted() -> None:
    page, behind = _pages(write_sheet(make_plan(Wish(cautions=40))))[:2]
    boxed = _one_line(page).split("CAUTIONS (42)")[1]
    assert boxed.strip().startswith("STOP Anticoagulant")
    assert re.search(r"and \d+ more: see the pages behind", boxed)
    assert "(39)" in _one_line(behind)


def test_the_sums_of_every_cut_site_stand_behind_the_sheet() -> None:
    plan = make_plan()
    behind = _one_line(" ".join(_pages(write_sheet(plan))[1:]))
    for site in plan.sites:
        if site.bone_removal_mm:
            assert all(line in behind for line in site.arithmetic)


def test_text_from_outside_is_printed_and_never_evaluated() -> None:
    plan = make_plan(Wish(text=HOSTILE, undetermined=("21",)))
    pages = _pages(write_sheet(plan.model_copy(update={"case": "c" + HOSTILE, "design_version": HOSTILE})))
    assert '#eval("40+2")' in _one_line(pages[0])
    assert "*bold*" in _one_line(pages[0])
    assert not re.search(r"\b42\b", pages[0])


def test_each_jaw_has_a_page_of_its_own() -> None:
    upper, lower = make_plan(), make_plan(Wish(upper=False))
    both = upper.model_copy(update={"teeth": {**upper.teeth, **lower.teeth}, "sites": upper.sites + lower.sites})
    pages = _pages(write_sheet(both))
    assert "UPPER JAW" in pages[0]
    assert "LOWER JAW" in pages[1]


def test_bone_at_a_site_outside_the_grid_is_not_left_out() -> None:
    plan = make_plan(Wish(n=2))
    mid = next(s for s in plan.paper.sites if s.tooth == "11" and s.site is Site.MIDFACIAL)
    levels = {"margin_present_mm": 6.0, "margin_planned_mm": 6.5, "margin_planned_from_present_edge_mm": 6.0}
    crest = {"bone_removal_mm": 1.5, "crest_planned_mm": 9.5, "crest_planned_from_present_edge_mm": 9.0}
    lingual = mid.model_copy(update={"site": Site.MIDLINGUAL, **levels, **crest})
    more = plan.model_copy(update={"paper": plan.paper.model_copy(update={"sites": (*plan.paper.sites, lingual)})})
    page = _one_line(_pages(write_sheet(more))[0])
    assert "midlingual gingiva to 6.5 mm (today's edge 6.0 mm); " in page
    assert "bone: up to 1.5 mm, crest to 9.5 mm (today's edge 9.0 mm)" in page
    # "F only" would deny the cut on the other side of the tooth.
    assert "D M: none; see ALSO CUT" in page


def test_a_profile_too_large_for_the_paper_is_reduced_and_says_so() -> None:
    plan = make_plan(Wish(n=14))
    words = _pages(write_sheet(plan, [draw_profile(plan, scale=4.0, theme="print")]))[-1]
    assert "NOT TRUE SCALE" in words
    assert "NOT TRUE SCALE" not in _pages(_printed(plan))[-1]


def test_an_unknown_paper_or_a_drawing_without_a_size_is_refused() -> None:
    with pytest.raises(ValueError, match="not known"):
        write_sheet(make_plan(), paper="a5")  # type: ignore[arg-type] # on purpose
    with pytest.raises(ValueError, match="width and height"):
        write_sheet(make_plan(), ["<svg/>"])

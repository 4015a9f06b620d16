"""The chairside sheet: true size, fonts inside, only numbers of the plan, unknowns in words, nothing executed."""

from __future__ import annotations

import re
import zlib
from collections import Counter
from itertools import pairwise
from typing import Any

import numpy as np
import pypdfium2
import pypdfium2.raw as raw
import pytest

from festoon.drawings import draw_profile, profile_pages
from festoon.model.dentition import Notation, Site, Tooth
from festoon.model.plan import Plan
from festoon.reports import PAPERS, Paper, profile_room, write_sheet
from festoon.reports.cells import read_by
from festoon.reports.content import sheet_content
from festoon.reports.details import assumed_methods
from festoon.reports.view import VIEWS
from mouths import front, tooth
from mouths import plan as planned
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


def _numbers(pdf: bytes) -> list[tuple[str, float]]:
    """Numbers with one decimal on the first page, with their type size in points."""
    text = pypdfium2.PdfDocument(pdf)[0].get_textpage()
    found: list[tuple[str, float]] = []
    word, size, before = "", 0.0, 0.0
    for k in range(text.count_chars() + 1):
        character = text.get_text_range(k, 1) if k < text.count_chars() else ""
        if character and character in "0123456789.":
            matrix = raw.FS_MATRIX()
            raw.FPDFText_GetMatrix(text, k, matrix)
            size = raw.FPDFText_GetFontSize(text, k) * max(abs(matrix.d), abs(matrix.b))
            if word and abs(size - before) < 0.05:
                word += character
                continue
        if re.fullmatch(r"\d+\.\d", word):
            found.append((word, before))
        word, before = (character if character and character in "0123456789." else ""), size
    return found


def _mouth(teeth: int, cut: int) -> Plan:
    """Teeth of one jaw of which the first ``cut`` beside the midline are cut."""
    plan = make_plan(Wish(n=teeth))
    stay = [code for code in plan.teeth if int(code[1]) > cut // 2]
    return make_plan(Wish(n=teeth, not_advised=tuple(stay)))


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize(("cut", "points"), [(6, 24.0), (10, 22.0), (14, 17.0)])
def test_what_decides_is_set_in_the_largest_numbers(cut: int, points: float, paper: Paper) -> None:
    """Lengths and midfacial crests of fourteen teeth, and septa that stay clearly smaller."""
    plan = _mouth(14, cut)
    tooth = plan.paper.teeth["11"]
    numbers = _numbers(write_sheet(plan, paper=paper))
    mid, septum = (
        next(s for s in plan.paper.sites if s.tooth == "11" and s.site is site)
        for site in (Site.MIDFACIAL, Site.MESIAL)
    )
    largest = {
        name: max(size for word, size in numbers if word == f"{value:.1f}")
        for name, value in (("length", tooth.planned_length_mm), ("crest", mid.crest_planned_mm))
    }
    assert min(largest.values()) > points
    stays = [size for word, size in numbers if word == f"{septum.crest_planned_mm:.1f}"]
    assert 5.5 < min(stays) < 0.5 * largest["crest"]


def test_teeth_that_stay_leave_their_width_to_those_that_are_cut() -> None:
    sizes = [max(size for _, size in _numbers(write_sheet(_mouth(14, cut)))) for cut in (6, 10, 14)]
    assert sizes == sorted(sizes, reverse=True)
    assert sizes[0] > 1.2 * sizes[-1]


@pytest.mark.parametrize("upper", [True, False])
def test_seen_from_behind_sides_teeth_and_sites_are_exchanged_and_nothing_else(upper: bool) -> None:
    plan = make_plan(Wish(n=10, upper=upper, status={"15": "pontic", "32": "implant"}, not_advised=("13", "43")))
    front_page, behind = (sheet_content(plan, (Notation.FDI, Notation.UNIVERSAL), view) for view in VIEWS)
    turned = _turned(front_page)
    assert turned.pop("view") != behind.pop("view")
    assert turned == behind


def _turned(page: dict[str, Any]) -> dict[str, Any]:
    """The page facing the patient with left and right exchanged by hand."""
    jaws = []
    for jaw in page["jaws"]:
        columns = [
            {**column, "sites": column["sites"][::-1]} if "sites" in column else column for column in jaw["teeth"][::-1]
        ]
        jaws.append(
            {
                **jaw,
                "teeth": columns,
                "apical_up": not jaw["apical_up"],
                "midline_after": len(columns) - jaw["midline_after"],
                "time_out": [{**part, "teeth": part["teeth"][::-1]} for part in jaw["time_out"][::-1]],
            }
        )
    return {**page, "jaws": jaws}


def test_from_behind_the_patients_right_stands_on_the_right_of_the_print() -> None:
    """And every number that is printed is printed as often as on the ordinary page."""
    plan = make_plan()
    places, numbers = {}, {}
    for view in VIEWS:
        pdf = write_sheet(plan, view=view)
        text = pypdfium2.PdfDocument(pdf)[0].get_textpage()
        names = [text.get_text_range(k, 4) for k in range(text.count_chars())]
        # The grid's head comes after the time-out, which says "13 / 6".
        heads = {code: max(k for k, words in enumerate(names) if words == f"{code} U") for code in ("13", "23")}
        places[view] = {code: text.get_charbox(k)[0] for code, k in heads.items()}
        numbers[view] = Counter(word for word, _ in _numbers(pdf))
    assert places["front"]["13"] < places["front"]["23"]
    assert places["behind"]["23"] < places["behind"]["13"]
    assert numbers["front"] == numbers["behind"]


def test_the_turned_page_cannot_be_mistaken_for_the_ordinary_one() -> None:
    plan = make_plan()
    ordinary, turned = (write_sheet(plan, profile_pages(plan, profile_room("a4")), view=view) for view in VIEWS)
    said = [_one_line(" ".join(_pages(pdf))) for pdf in (ordinary, turned)]
    assert "SEEN FROM BEHIND THE PATIENT'S HEAD" in said[1]
    assert "patient's RIGHT is on the RIGHT of this sheet" in said[1]
    assert "patient's RIGHT is on the LEFT of this sheet" not in said[1]
    assert "viewed as you face the patient" not in said[1]
    assert "seated behind the head" in said[1]
    assert "NOT TURNED: drawn facing the patient" in said[1]
    assert not any(words in said[0] for words in ("BEHIND", "TURNED", "on the RIGHT of this sheet"))
    # A heavy frame, white paper on the ordinary page: 4.7 mm from the edge, half way down.
    for pdf, is_black in ((ordinary, False), (turned, True)):
        bitmap = pypdfium2.PdfDocument(pdf)[0].render(scale=300 / 72, grayscale=True)
        strip = bitmap.to_numpy().reshape(bitmap.height, -1)[bitmap.height // 2, : int(6.2 * 300 / 25.4)]
        assert bool((strip < 60).sum() > 10) is is_black


def test_a_view_that_is_not_known_is_refused() -> None:
    with pytest.raises(ValueError, match="view 'side' is not known"):
        write_sheet(make_plan(), view="side")  # type: ignore[arg-type] # on purpose


def test_the_charted_sounding_is_the_reading_to_its_nearest_step() -> None:
    """A difference of rounded levels may lie a step off: today's probe is held against the reading."""
    plan = planned(front(t13={"margin": 7.9, "sounding": 2.6}))
    printed = next(s for s in plan.paper.sites if s.tooth == "13" and s.site is Site.MIDFACIAL)
    assert (printed.crest_present_mm or 0) - (printed.margin_present_mm or 0) != 2.5
    assert printed.sounding_present_mm == 2.5
    column = next(
        c for c in sheet_content(plan, (Notation.FDI, Notation.UNIVERSAL))["jaws"][0]["teeth"] if c["first"] == "13"
    )
    assert next(s for s in column["sites"] if s["letter"] == "F")["sounding"] == "2.5"


def test_how_margin_and_crest_were_read_is_said_once_where_alike_and_by_tooth_where_not() -> None:
    plan = planned(front())
    assert read_by(plan, Tooth("11")) == ["margin probed", "crest sounded"]
    assert "charted: margin probed, crest sounded" in _one_line(_pages(write_sheet(plan))[0])
    scanned = {"midfacial": {"margin_mm": {"value": 8.2, "method": "scan", "datum": "present_edge"}, "sounding_mm": 2.5,
                             "cej_mm": 10.4, "mucogingival_mm": 14.0}}  # fmt: skip
    mixed = planned({**front(), "11": tooth("11", sites=scanned)})
    assert read_by(mixed, Tooth("11")) == ["margin M D probed, F from scan", "crest sounded"]
    page = _one_line(_pages(write_sheet(mixed))[0])
    assert "margin M D probed, F from scan" in page
    assert page.count("margin probed") == 5


def test_an_assumed_method_is_named_behind_the_sheet_only() -> None:
    scanned = {"midfacial": {"margin_mm": {"value": 8.2, "method": "probe", "datum": "present_edge"}, "sounding_mm": 2.5,
                             "cej_mm": 10.4, "mucogingival_mm": 14.0}, "mesial": {}, "distal": {}}  # fmt: skip
    plan = planned({**front(), "11": tooth("11", sites=scanned)})
    assumed = assumed_methods(plan)
    by_quantity = {
        what: next(line.split(":")[0] for line in assumed if what in line)
        for what in ("margin probed", "sounding sounded")
    }
    assert by_quantity["margin probed"] == "13, 12, 21, 22, 23"
    assert by_quantity["sounding sounded"] == "13, 12, 11, 21, 22, 23"
    first, behind = _pages(write_sheet(plan))[:2]
    assert "usual one was taken" in _one_line(behind)
    assert "usual" not in first


def test_the_suture_level_is_given_from_both_edges() -> None:
    plan = make_plan(Wish(n=2, extension=0.5))
    columns = sheet_content(plan, (Notation.FDI, Notation.UNIVERSAL))["jaws"][0]["teeth"]
    assert [float(c["suture"]) - float(c["suture_today"]) for c in columns] == [0.5, 0.5]
    unknown = sheet_content(make_plan(Wish(n=2, extension=None)), (Notation.FDI, Notation.UNIVERSAL))
    assert [c["suture_today"] for c in unknown["jaws"][0]["teeth"]] == ["NOT KNOWN"] * 2

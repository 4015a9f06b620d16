"""The level profile shows what the plan says, the right way round, at true scale, without colour and without inventing."""

from __future__ import annotations

import re
from collections.abc import Iterator
from xml.etree import ElementTree

import pytest

from festoon.drawings import draw_profile, profile_pages
from festoon.drawings.palette import THEMES, ThemeName
from festoon.drawings.profile import profile_size
from festoon.drawings.series import SERIES
from festoon.model.dentition import Notation, Site
from festoon.model.plan import Plan
from plans import PLANS, Wish, make_plan

SVG = "{http://www.w3.org/2000/svg}"
HOSTILE = "</text><script>alert(1)</script> & \" ' ]]> \x00\x07"


def _root(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(svg)


def _texts(svg: str) -> Iterator[ElementTree.Element]:
    return _root(svg).iter(f"{SVG}text")


def _words(svg: str) -> list[str]:
    return [element.text or "" for element in _texts(svg)]


def _at(svg: str, words: str) -> tuple[float, float]:
    """Where a text stands."""
    found = next(element for element in _texts(svg) if element.text == words)
    return float(found.attrib["x"]), float(found.attrib["y"])


def _group(svg: str, name: str, value: str) -> ElementTree.Element:
    return next(g for g in _root(svg).iter(f"{SVG}g") if g.attrib.get(name) == value)


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("name", PLANS)
def test_every_mouth_gives_one_well_formed_drawing_named_for_a_screen_reader(name: str, theme: ThemeName) -> None:
    root = _root(draw_profile(make_plan(PLANS[name]), theme=theme))
    assert root.find(f"{SVG}title") is not None
    described = root.findtext(f"{SVG}desc") or ""
    assert all(tooth.name in described for tooth in make_plan(PLANS[name]).teeth.values())


@pytest.mark.parametrize("name", PLANS)
def test_the_same_plan_gives_the_same_bytes(name: str) -> None:
    assert draw_profile(make_plan(PLANS[name])) == draw_profile(make_plan(PLANS[name]))


def _allowed(plan: Plan) -> set[str]:
    """Every number of the plan as the drawing may print it."""
    found = set()

    def walk(value: object) -> None:
        if isinstance(value, dict):
            for inner in value.values():
                walk(inner)
        elif isinstance(value, list | tuple):
            for inner in value:
                walk(inner)
        elif isinstance(value, int | float) and not isinstance(value, bool):
            shown = f"{value:.1f}".replace("-", "−")
            found.update({shown, "+" + shown, shown.replace("−0.0", "0.0")})

    walk(plan.model_dump())
    return found


@pytest.mark.parametrize("name", PLANS)
def test_no_millimetre_is_printed_that_is_not_in_the_plan(name: str) -> None:
    plan = make_plan(PLANS[name])
    printed = {number for words in _words(draw_profile(plan)) for number in re.findall(r"[+−]?\d+\.\d+", words)}
    # "Rounded to 0.1 mm" states the step.
    assert printed - _allowed(plan) - {"0.1"} == set()
    assert len(printed) > 15


@pytest.mark.parametrize(("upper", "apical"), [(True, -1), (False, +1)])
def test_apical_is_up_in_the_upper_jaw_and_down_in_the_lower(upper: bool, apical: int) -> None:
    svg = draw_profile(make_plan(Wish(upper=upper)))
    assert (_at(svg, "10")[1] - _at(svg, "5")[1]) * apical > 0


def test_the_patients_right_stands_on_the_left_and_is_named() -> None:
    svg = draw_profile(make_plan())
    assert _at(svg, "13")[0] < _at(svg, "12")[0] < _at(svg, "21")[0] < _at(svg, "23")[0]
    assert _at(svg, "patient's RIGHT")[0] < _at(svg, "patient's LEFT")[0]
    assert any("Viewed facing the patient" in words for words in _words(svg))


@pytest.mark.parametrize("scale", [1.0, 2.0, 3.0])
def test_levels_and_widths_are_drawn_to_one_scale(scale: float) -> None:
    plan = make_plan()
    svg = draw_profile(plan, scale=scale)
    # Ruler labels five levels apart, centres of neighbouring columns half their widths apart.
    assert _at(svg, "5")[1] - _at(svg, "10")[1] == pytest.approx(5 * scale, abs=0.02)
    widths = [plan.teeth[code].width_mm or 0.0 for code in ("13", "12")]
    assert _at(svg, "12")[0] - _at(svg, "13")[0] == pytest.approx(sum(widths) / 2 * scale, abs=0.02)
    width, height = profile_size(svg)
    assert _root(svg).attrib["viewBox"] == f"0 0 {width:g} {height:g}"


def test_the_check_line_is_fifty_millimetres() -> None:
    lengths = [
        abs(float(e.attrib["x2"]) - float(e.attrib["x1"])) for e in _root(draw_profile(make_plan())).iter(f"{SVG}line")
    ]
    assert any(length == pytest.approx(50.0) for length in lengths)


def test_a_missing_site_is_named_and_no_line_runs_across_it() -> None:
    wish = Wish(crest_unknown=(("12", Site.MIDFACIAL),))
    whole, holed = draw_profile(make_plan()), draw_profile(make_plan(wish))
    assert not any(words == "measured" for words in _words(whole))
    assert "measured" in _words(holed)
    assert any(words.startswith("crest F") for words in _words(holed))
    # With its middle unknown tooth 12 has two single crest sites left: short ticks, no curve through the gap.
    counted = [len(list(_group(svg, "data-line", "present crest").iter(f"{SVG}path"))) for svg in (whole, holed)]
    assert counted == [6, 5]


def test_an_undetermined_tooth_shows_its_target_and_no_planned_line() -> None:
    plan = make_plan(Wish(undetermined=("21",)))
    svg = draw_profile(plan)
    assert f"target {plan.teeth['21'].target_length_mm:.1f}" in _words(svg)
    assert "not given" in _words(svg)
    assert len(list(_group(svg, "data-line", "planned margin").iter(f"{SVG}path"))) == 5
    assert _group(draw_profile(make_plan()), "data-cuts", "21") is not None
    with pytest.raises(StopIteration):
        _group(svg, "data-cuts", "21")


@pytest.mark.parametrize(("status", "words"), [("implant", "IMPLANT"), ("pontic", "PONTIC"), ("absent", "ABSENT")])
def test_a_place_that_is_no_tooth_says_so_in_words(status: str, words: str) -> None:
    svg = draw_profile(make_plan(Wish(status={"12": status})))
    assert words in _words(svg)
    assert any("do not cut" in w or "nothing here" in w for w in _words(svg))


def test_the_stamp_stands_only_where_the_plan_is_not_for_surgery() -> None:
    assert "NOT FOR SURGERY" not in draw_profile(make_plan())
    assert _words(draw_profile(make_plan(PLANS["holes"]))).count("NOT FOR SURGERY") == 3


def test_hostile_text_is_shown_and_never_becomes_markup() -> None:
    plan = make_plan(Wish(undetermined=("21",))).model_copy(
        update={"not_for_surgery_because": (HOSTILE,), "case": HOSTILE, "design_version": HOSTILE}
    )
    root = _root(draw_profile(plan))
    assert not list(root.iter(f"{SVG}script"))
    assert "<script>alert(1)</script>" in " ".join(element.text or "" for element in root.iter(f"{SVG}text"))


def test_the_drawing_reaches_for_nothing_outside_itself() -> None:
    svg = draw_profile(make_plan(PLANS["mixed"]))
    assert svg.count("http") == 1  # the namespace
    assert not re.search(r"href|url\(|@import|<style|<image|<script", svg)


def test_the_printed_theme_is_grey() -> None:
    colours = set(re.findall(r"#([0-9a-f]{6})", draw_profile(make_plan(PLANS["mixed"]), theme="print")))
    assert colours
    assert all(c[0:2] == c[2:4] == c[4:6] for c in colours)


def test_no_two_lines_look_alike_without_their_colour() -> None:
    looks = {(series.dash, series.weight, series.is_measured) for series in SERIES}
    assert len(looks) == len(SERIES)
    assert len({series.label for series in SERIES}) == len(SERIES)


def _with_finish_line(level: float | None) -> Plan:
    plan = make_plan()
    sites = tuple(
        s.model_copy(update={"finish_line_mm": level}) if (s.tooth, s.site) == ("11", Site.MIDFACIAL) else s
        for s in plan.sites
    )
    return plan.model_copy(update={"sites": sites})


def test_a_finish_line_is_drawn_named_and_numbered_only_where_one_is_asked_for() -> None:
    svg = draw_profile(_with_finish_line(9.7))
    words = " ".join(_words(svg))
    assert "finish line F 9.7" in words
    assert "restoration's" in words
    diamond = next(iter(_group(svg, "data-finish", "11").iter(f"{SVG}polygon")))
    heights = [float(point.split(",")[1]) for point in diamond.attrib["points"].split()]
    five, ten = _at(svg, "5")[1] - 0.8, _at(svg, "10")[1] - 0.8
    assert sum(heights) / 4 == pytest.approx(ten + (five - ten) * 0.3 / 5, abs=0.02)
    assert "finish line" not in " ".join(_words(draw_profile(_with_finish_line(None))))


def _with_lingual(bone: float) -> Plan:
    plan = make_plan()
    mid = next(s for s in plan.sites if s.tooth == "11" and s.site is Site.MIDFACIAL)
    levels = {"crest_present_mm": 9.0, "crest_planned_mm": 9.0 + bone, "bone_removal_mm": bone}
    lingual = mid.model_copy(update={"site": Site.MIDLINGUAL, "incision_level_mm": None, **levels})
    return plan.model_copy(update={"sites": (*plan.sites, lingual)})


def test_the_lingual_side_is_drawn_where_it_is_cut_and_only_there() -> None:
    for bone, drawn in ((1.3, True), (0.0, False)):
        svg = draw_profile(_with_lingual(bone))
        panels = [
            g.attrib["data-aspect"] for g in ElementTree.fromstring(svg).iter(f"{SVG}g") if "data-aspect" in g.attrib
        ]
        assert panels == (["facial", "lingual"] if drawn else ["facial"])
        words = _words(svg)
        assert ("+1.3" in words) is drawn
        assert ("Lingual sites are not drawn; none is cut." in " ".join(words)) is not drawn


def test_rows_of_a_whole_tooth_stand_on_the_facial_side_only() -> None:
    words = _words(draw_profile(_with_lingual(1.3)))
    assert words.count("target length") == 1
    assert words.count("planned crest") == 2 + 2  # row and label, on both sides


def test_a_side_drawn_alone_names_what_is_cut_on_the_other() -> None:
    words = " ".join(_words(draw_profile(_with_lingual(1.3), aspect="facial")))
    assert "ALSO CUT on the lingual side, which is drawn apart: 11." in words


def _luminance(colour: str) -> float:
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("name", [name for name in THEMES if name != "screen"])
def test_every_text_colour_is_legible_on_its_paper(name: ThemeName) -> None:
    theme = THEMES[name]
    paper = _luminance(theme.paper)
    for colour in (
        theme.ink,
        theme.quiet,
        theme.margin,
        theme.crest,
        theme.cej,
        theme.mucogingival,
        theme.finish,
        theme.target,
    ):
        light, dark = sorted((_luminance(colour), paper), reverse=True)
        # 4.5 : 1 is the contrast of normal text in WCAG 2.1, criterion 1.4.3.
        assert (light + 0.05) / (dark + 0.05) >= 4.5


def test_both_jaws_are_drawn_where_both_are_charted() -> None:
    svg = draw_profile(_both_jaws())
    assert _at(svg, "11")[1] < _at(svg, "41")[1]
    assert _words(svg).count("midline") == 2


def test_two_names_stand_at_every_tooth() -> None:
    svg = draw_profile(make_plan(), notations=(Notation.FDI, Notation.PALMER))
    assert {"11", "UR1", "23", "UL3"} <= set(_words(svg))


def test_places_that_are_no_neighbours_are_parted_by_a_break() -> None:
    plan = make_plan()
    parted = plan.model_copy(update={"teeth": {c: t for c, t in plan.teeth.items() if c not in ("11", "21")}})
    assert _words(draw_profile(parted)).count("not charted") == 1


def test_a_tooth_without_a_width_gets_the_neutral_column_and_says_so() -> None:
    plan = make_plan()
    teeth = {**plan.teeth, "12": plan.teeth["12"].model_copy(update={"width_mm": None})}
    words = _words(draw_profile(plan.model_copy(update={"teeth": teeth})))
    assert any("drawn 8 mm wide" in w for w in words)


def _both_jaws() -> Plan:
    upper, lower = make_plan(), make_plan(Wish(upper=False))
    return upper.model_copy(update={"teeth": {**upper.teeth, **lower.teeth}, "sites": upper.sites + lower.sites})


@pytest.mark.parametrize(("room", "scale"), [((287.0, 200.0), "2:1"), ((150.0, 120.0), "1:1")])
def test_on_paper_the_larger_true_scale_that_fits_is_chosen(room: tuple[float, float], scale: str) -> None:
    (page,) = profile_pages(make_plan(Wish(n=10)), room)
    assert f"drawn {scale}." in page


def test_both_jaws_share_a_page_only_where_both_fit_at_the_larger_scale() -> None:
    a4, letter = (287.0, 200.0), (269.4, 205.9)
    assert len(profile_pages(_both_jaws(), a4)) == 1
    assert ["drawn 2:1." in page for page in profile_pages(_both_jaws(), letter)] == [True, True]


def test_fourteen_teeth_fit_both_papers_at_two_to_one() -> None:
    for room in ((287.0, 200.0), (269.4, 205.9)):
        assert "drawn 2:1." in profile_pages(make_plan(PLANS["fourteen"]), room)[0]


def test_a_jaw_without_teeth_cannot_be_drawn() -> None:
    with pytest.raises(ValueError, match="lower jaw"):
        draw_profile(make_plan(), jaw="lower")


@pytest.mark.parametrize("name", ["six", "ten", "fourteen"])
def test_every_text_lies_within_the_drawing(name: str) -> None:
    svg = draw_profile(make_plan(PLANS[name]))
    width, height = profile_size(svg)
    for element in _texts(svg):
        assert 0 <= float(element.attrib["x"]) <= width
        assert 0 <= float(element.attrib["y"]) <= height


@pytest.mark.parametrize("scale", [0.0, -1.0, float("nan")])
def test_a_scale_that_is_not_positive_is_refused(scale: float) -> None:
    with pytest.raises(ValueError, match="positive"):
        draw_profile(make_plan(), scale=scale)

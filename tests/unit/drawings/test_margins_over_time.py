"""The margins over time: every visit is drawn where it was read, the band stays readable, nothing is drawn from nothing."""

from __future__ import annotations

import datetime as dt
import re
from xml.etree import ElementTree

import pytest

from festoon.drawings.margins_over_time import draw_margins_over_time
from festoon.model.dentition import Notation, Site
from festoon.model.recall import RecallState
from festoon.model.verification import ExpectedMargin, Moment, SutureCheck, Verdict, Verification, VisitCheck

DAY = dt.date(2026, 6, 1)
SVG = "{http://www.w3.org/2000/svg}"


def state(*visits: VisitCheck) -> RecallState:
    """A recall with these visits."""
    verification = Verification(
        case="c-1",
        moment=Moment.RECALL,
        surgery_at=DAY,
        against="sheet",
        recheck_mm=0.5,
        stop_mm=1.0,
        for_surgery=True,
        plan_sha256="0" * 64,
        readings_sha256="",
        visits=visits,
    )
    return RecallState(
        case="c-1", surgery=1, plan=1, surgery_at=DAY, verification=verification, keratinised=(), complications=(),
        entries=(), stale=(), notes=(),
    )  # fmt: skip


def visit(tooth: str, weeks: int, level: float) -> VisitCheck:
    """One midfacial margin."""
    return VisitCheck(
        tooth=tooth, site=Site.MIDFACIAL, at=DAY + dt.timedelta(weeks=weeks), weeks=weeks, margin_mm=level, se_mm=0.2,
        sutured_from="read", verdict=Verdict.INSIDE, text="",
    )  # fmt: skip


def sutured(tooth: str, level: float) -> SutureCheck:
    """A flap sutured at a level, half a millimetre expected back."""
    band = tuple(
        ExpectedMargin(time="t", weeks=w, level_mm=level - 0.5, low_mm=level - 0.9, high_mm=level - 0.1)
        for w in (6, 13, 26, 52)
    )
    return SutureCheck(
        tooth=tooth, site=Site.MIDFACIAL, margin_mm=level, crest_from="sounded", expected=band, verdict=Verdict.INSIDE,
        text="",
    )  # fmt: skip


def circles(svg: str) -> list[tuple[float, float]]:
    """Where the visits were drawn."""
    return [(float(c.attrib["cx"]), float(c.attrib["cy"])) for c in ElementTree.fromstring(svg).iter(f"{SVG}circle")]


@pytest.mark.parametrize(("tooth", "sign"), [("11", -1), ("41", 1)])
def test_apical_lies_as_in_the_mouth(tooth: str, sign: int) -> None:
    """A more apical margin is drawn higher in the upper jaw and lower in the lower, and time runs to the right."""
    (x0, y0), (x1, y1) = circles(draw_margins_over_time(state(visit(tooth, 6, 9.0), visit(tooth, 26, 10.0)), ()))
    assert x1 > x0
    assert sign * (y1 - y0) > 0


def test_half_a_millimetre_is_as_tall_at_every_tooth() -> None:
    """The panels share one scale, whatever their own spread."""
    visits = [
        visit("11", 6, 9.0),
        visit("11", 26, 9.5),
        visit("21", 6, 9.0),
        visit("21", 26, 9.5),
        visit("21", 52, 13.0),
    ]
    drawn = circles(draw_margins_over_time(state(*visits), (sutured("11", 10.0),)))
    assert drawn[1][1] - drawn[0][1] == pytest.approx(drawn[3][1] - drawn[2][1], abs=0.02)


def test_without_a_distance_to_bone_there_is_no_band() -> None:
    """It is said instead."""
    assert "no band" in draw_margins_over_time(state(visit("11", 6, 9.0)), ())
    assert "no band" not in draw_margins_over_time(state(visit("11", 6, 9.0)), (sutured("11", 10.0),))


def test_nothing_read_is_nothing_drawn() -> None:
    """An empty drawing would look like a result."""
    with pytest.raises(ValueError, match="nothing to draw"):
        draw_margins_over_time(state(), ())


def test_one_tooth_has_room_for_head_and_foot_and_both_names() -> None:
    """As wide as many teeth, so that no sentence runs out of the paper; named as the reader names it first."""
    one = draw_margins_over_time(state(visit("11", 6, 9.0)), (), notations=(Notation.UNIVERSAL, Notation.FDI))
    many = draw_margins_over_time(state(*(visit(code, 6, 9.0) for code in ("13", "12", "11"))), ())
    width = re.compile(r'width="([0-9.]+)mm"')
    assert width.search(one)[1] == width.search(many)[1]
    assert "8 / 11" in one

"""The sums of docs/method/verification.md, worked by hand there, against the code."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from festoon.model.verification import Verification
from verify_worked import entry_at, worked

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "method" / "verification.md").read_text("utf-8")
ROWS = [
    [cell.strip() for cell in line.strip("|").split("|")]
    for line in PAGE.splitlines()
    if re.match(r"\| \d+ \| (before|bone)", line)
]


def number(text: str) -> float:
    """The result of a sum: what stands after the last equals sign."""
    return float(text.split("=")[-1].strip().replace("−", "-"))


def test_the_page_works_ten_sites() -> None:
    """Ten at least, and no site twice in one moment."""
    assert len(ROWS) >= 10
    assert len({(row[1], row[2], row[3]) for row in ROWS}) == len(ROWS)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row[1]} {row[2]} {row[3]}")
def test_every_worked_row_is_what_the_code_says(row: list[str]) -> None:
    """As read, from the planned edge, wanted, difference and verdict; and each sum of the page is right."""
    _, moment, place, quantity, as_read, datum, planned, wanted, difference, verdict = row
    tooth, site = place.split()
    found = entry_at(worked(moment).checks, tooth, site, quantity=quantity)
    assert found.reading_mm == float(as_read)
    assert (found.datum or "–") == datum
    assert found.reading_planned_edge_mm == pytest.approx(number(planned))
    assert found.wanted_mm == pytest.approx(float(wanted))
    assert found.difference_mm == pytest.approx(number(difference))
    assert found.verdict == verdict
    for said in (planned, difference):
        terms, _, result = said.replace("−", "-").partition("=")
        if result:
            summed = sum(float(term.replace(" ", "")) for term in re.findall(r"[-+]?\s*\d+\.?\d*", terms))
            assert summed == pytest.approx(float(result))


def texts(found: Verification, tooth: str) -> str:
    return next(c.text for c in found.checks if c.tooth == tooth)


def test_words_of_the_page() -> None:
    """What remains, in the words the page quotes."""
    bone = worked("bone")
    assert texts(bone, "11").endswith("12.5 mm from the edge visible today: 0.8 mm of bone still to remove (±0.2 mm)")
    assert "(before it in this file: 11.4)" in texts(bone, "11")
    assert texts(bone, "21").endswith("13.5 mm from the edge visible today: reached, as far as ±0.2 mm can tell")
    assert texts(bone, "12").endswith("9 mm from where this was read: too far: 0.4 mm beyond plan (±0.2 mm)")
    assert "DEHISCENCE" in texts(bone, "13")
    assert "NO bone is to be removed here" in texts(bone, "23")
    assert "Perhaps a dehiscence" in texts(worked("before"), "12")


def test_space_actually_reached() -> None:
    """11: 12.2 - 10.0 = 2.2 of 3.0; 21: 2.9, less than the error can tell; 12: 12.4 - 9.0 = 3.4."""
    spaces = worked("bone").spaces
    reached = {c.tooth: (c.reached_mm, c.verdict.value) for c in spaces}
    assert reached["11"] == (pytest.approx(2.2), "short")
    assert reached["21"] == (pytest.approx(2.9), "cannot_tell")
    assert reached["12"] == (pytest.approx(3.4), "enough")


def test_sutured() -> None:
    """11: 9.4 + 0.5 = 9.9, bone at 12.9, 3.0 apart; 21: 0.4 apical of plan and 2.4 as sounded; left-right -0.5."""
    found = worked("suture")
    right, left = entry_at(found.sutures, "11"), entry_at(found.sutures, "21")
    assert (right.margin_mm, right.crest_mm, right.distance_mm, right.crest_from) == (9.9, 12.9, 3.0, "read")
    assert right.verdict == "reached"
    assert (left.margin_mm, left.distance_mm, left.crest_from, left.verdict) == (10.4, 2.4, "sounded", "apical")
    assert entry_at(found.spaces, "21").verdict == "cannot_tell"
    assert found.crowns[0].ratio == pytest.approx(8.6 / 9.9, abs=1e-4)
    (pair,) = found.pairs
    assert (pair.difference_mm, pair.verdict) == (-0.5, "symmetric")


def test_recall() -> None:
    """11 from a crown 0.2 mm longer than planned: 9.6 and 9.7, stable; 21 creeps 0.7; right minus left 0.6."""
    found = worked("recall")
    levels = [(v.tooth, v.margin_mm, v.rebound_mm) for v in found.visits]
    assert levels == [("11", 9.6, 0.3), ("21", 9.8, 0.2), ("11", 9.7, 0.2), ("21", 9.1, 0.9)]
    assert {v.sutured_from for v in found.visits} == {"read"}
    courses = {c.tooth: (c.change_mm, c.verdict.value) for c in found.courses}
    assert courses == {"11": (0.1, "stable"), "21": (-0.7, "creeping")}
    (pair,) = found.pairs
    assert (pair.difference_mm, pair.verdict) == (0.6, "asymmetric")
    provisional, final = found.readiness
    assert provisional.may
    assert not final.may
    assert any("creeping" in why for why in final.why_not)

"""What was never measured is said, and never made up."""

from __future__ import annotations

import pytest

from festoon.model.plan import Answer, Procedure
from mouths import front, plan, site, tooth


@pytest.mark.parametrize(
    ("change", "what"),
    [
        ({"sounding": None}, "sounding_mm"),
        ({"cej": None}, "cej_mm"),
        ({"mucogingival": None}, "mucogingival_mm"),
        ({"incisal_extension_mm": None}, "incisal_extension_mm"),
    ],
)
def test_an_unknown_that_a_hard_limit_needs(change: dict[str, object], what: str) -> None:
    """Undetermined, no cut, only the aesthetic target; the sheet is not for surgery and says which reading lacks."""
    made = plan(front(t11=change))
    whole = made.teeth["11"]
    assert whole.procedure is Procedure.UNDETERMINED
    assert site(made, "11").bone_removal_mm is None
    assert site(made, "11").margin_planned_mm is None
    assert whole.margin_move_mm is None
    assert whole.target_length_mm == pytest.approx(8.6 / (8.06 / 9.39))
    assert what in [missing.what for missing in made.missing if missing.hard and missing.tooth == "11"]
    assert made.answer is Answer.UNDETERMINED
    assert not made.for_surgery
    assert not made.signable


def test_a_tooth_within_tolerance_needs_no_reading() -> None:
    """Nothing is cut there, so nothing is undetermined."""
    made = plan({"11": tooth("11", margin=10.0, sounding=None, cej=None, mucogingival=None)})
    assert made.teeth["11"].procedure is Procedure.NONE


def test_a_septum_without_sounding_stops_the_sheet_not_the_sums() -> None:
    """The contour cannot be checked there: the numbers stand, the sheet is not for surgery."""
    made = plan({"11": tooth("11", sites={"mesial": {"margin_mm": 4.6}})})
    assert (site(made, "11").bone_removal_mm or 0) > 0
    assert not made.for_surgery
    assert "11 mesial" in made.not_for_surgery_because[0]


def test_without_edge_heights_sides_are_not_compared() -> None:
    """Left-right differences are heights; without them they are unknown, not zero."""
    made = plan({code: tooth(code, edge_height_mm=None) for code in ("11", "21")})
    assert made.arch.pair_differences_mm == {"11-21": None}
    assert "edge_height_mm" in [missing.what for missing in made.missing]


def test_readings_of_two_visits_are_not_added() -> None:
    """Margin and sounding of different days: a conflict to settle, no crest, no cut."""
    middle = {
        "margin_mm": {"value": 8.0, "datum": "present_edge", "at": "2026-01-10"},
        "sounding_mm": {"value": 2.5, "at": "2026-03-02"},
        "cej_mm": 10.2,
        "mucogingival_mm": 13.8,
    }
    made = plan({"11": tooth("11", sites={"midfacial": middle})})
    assert made.teeth["11"].procedure is Procedure.UNDETERMINED
    assert "same_visit" in [conflict.limit for conflict in made.conflicts]


def test_an_unsaid_status_is_planned_aloud() -> None:
    """A place without a status is planned as a natural tooth, and the plan says that nobody said so."""
    made = plan({"11": tooth("11", status=None)})
    assert "status" in [missing.what for missing in made.missing]


def test_a_tooth_of_which_nothing_is_known() -> None:
    """It is undetermined; nothing is invented for it."""
    made = plan({"11": {"status": "natural"}})
    assert made.teeth["11"].procedure is Procedure.UNDETERMINED
    assert made.sites == ()
    assert made.teeth["11"].target_length_mm is None

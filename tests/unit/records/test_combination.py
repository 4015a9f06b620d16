"""Readings combined: against a statistics library and the textbook formula, and robust to one gross error."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.meta_analysis import combine_effects

from festoon.errors import InputRefusedError
from festoon.model.case import Case
from festoon.model.dentition import Pair, Site, Tooth
from festoon.records.combination import combine
from festoon.records.papilla_tip import papilla_tip
from festoon.records.plausible import concerns
from festoon.records.reconcile import resolve

VALUES = st.lists(
    st.tuples(st.floats(-20, 40, allow_nan=False), st.floats(0.02, 3, allow_nan=False)), min_size=2, max_size=8
)


@pytest.mark.filterwarnings("ignore:divide by zero")  # of the library's measure of heterogeneity, where two are equal
@given(VALUES)
def test_mean_and_error_match_a_statistics_library(readings: list[tuple[float, float]]) -> None:
    """The fixed-effect mean of a meta-analysis is the same inverse-variance mean."""
    values, errors = (np.array(column) for column in zip(*readings, strict=True))
    library = combine_effects(values, errors**2)
    ours = combine(list(values), list(errors))
    assert ours.mean == pytest.approx(library.mean_effect_fe, abs=1e-9)
    assert ours.se == pytest.approx(sqrt(library.var_eff_w_fe), rel=1e-9)
    assert ours.chi_square == pytest.approx(library.q, abs=1e-6, rel=1e-6)


def test_worked_example_of_the_textbook_formula() -> None:
    """8.1 ± 0.3 and 8.4 ± 0.1: weights 11.11 and 100 (Bevington and Robinson, equations 4.17 and 4.19, from memory)."""
    ours = combine([8.1, 8.4], [0.3, 0.1])
    assert ours.mean == pytest.approx((8.1 / 0.09 + 8.4 / 0.01) / (1 / 0.09 + 1 / 0.01))
    assert ours.se == pytest.approx(1 / sqrt(1 / 0.09 + 1 / 0.01))
    assert ours.value == ours.mean


def test_beyond_two_combined_errors_there_is_no_value() -> None:
    """0.2 mm each: 0.56 mm apart agree, 0.57 mm apart do not (2 x 0.2828)."""
    assert combine([8.0, 8.56], [0.2, 0.2]).value is not None
    apart = combine([8.0, 8.57], [0.2, 0.2])
    assert apart.value is None
    assert apart.odd_one is None  # of two nobody can say which


@given(
    st.lists(st.floats(-0.6, 0.6), min_size=2, max_size=6),
    st.floats(3, 500),
    st.booleans(),
    st.integers(0, 6),
)
def test_one_gross_error_is_named_and_does_not_move_the_offer(
    scatter: list[float], by: float, upwards: bool, place: int
) -> None:
    """However far one reading is off, it is named, and what is offered stays within the scatter of the rest."""
    good = [8.0 + 0.3 * z for z in scatter]
    place %= len(good) + 1
    values = [*good[:place], 8.0 + (by if upwards else -by), *good[place:]]
    together = combine(values, [0.3] * len(values))
    assert together.value is None
    assert together.odd_one == place
    assert together.others is not None
    assert min(good) - 1e-9 <= together.others[0] <= max(good) + 1e-9


def test_no_odd_one_where_two_could_be_it() -> None:
    """The middle reading agrees with both ends: either end may be the wrong one."""
    assert combine([8.0, 8.5, 9.0], [0.3, 0.3, 0.3]).odd_one is None
    assert combine([8.0, 8.5, 9.0], [0.3, 0.3, 0.3]).is_conflict


def _case(**changes: object) -> Case:
    tooth = {"edge_height_mm": 0.0, "incisal_extension_mm": 0.5, "status": "natural"}
    eleven = tooth | {"width_mm": 8.5, "sites": {"mesial": {"margin_mm": 4.4}}}
    twenty_one = tooth | {"edge_height_mm": 0.2, "width_mm": 8.6, "sites": {"mesial": {"margin_mm": 4.3}}}
    data: dict[str, object] = {"case": "t", "notation": "fdi", "teeth": {"11": eleven, "21": twenty_one}}
    return Case.model_validate(data | changes)


def test_the_papilla_seen_from_two_teeth_is_one_papilla() -> None:
    """Heights 4.9 and 5.0 from teeth with equal errors: one tip at 4.95, sqrt(2) better known."""
    tip = papilla_tip(_case(), Pair(Tooth("11"), Tooth("21")))
    assert tip is not None
    assert [tooth.fdi for tooth in tip.seen_from] == ["11", "21"]
    assert tip.combined.mean == pytest.approx(4.95)
    one = papilla_tip(_case(), Pair(Tooth("12"), Tooth("11")))
    assert one is None  # not charted there: unknown, not zero


def test_sides_that_differ_too_much_are_noted_and_kept() -> None:
    """A central 2 mm narrower than the other is more often a wrong tooth number than a real one."""
    case = _case()
    narrow = case.teeth["21"].model_validate(case.teeth["21"].model_dump(mode="json") | {"width_mm": 6.4})
    notes = concerns(case.model_copy(update={"teeth": {**case.teeth, "21": narrow}}))
    assert [(c.path, c.is_refused) for c in notes if "apart" in c.found] == [(("teeth", "21", "width_mm"), False)]
    assert not [c for c in concerns(case) if "apart" in c.found]


@pytest.mark.parametrize(("age", "told"), [(5, True), (6.5, False), (40, False)])
def test_a_tooth_before_its_age_is_noted(age: float, told: bool) -> None:
    """Upper centrals come at about 7 (Logan and Kronfeld 1933, from memory)."""
    case = _case(subject={"age_years": age})
    assert any("at the age of" in concern.found for concern in concerns(case)) is told


def test_a_crest_coronal_to_the_cej_is_a_caution_never_a_refusal() -> None:
    """It happens in altered passive eruption."""
    teeth = {"11": {"sites": {"midfacial": {"margin_mm": 7.0, "sounding_mm": 2.0, "cej_mm": 10.0}}}}
    found = [c for c in concerns(_case(teeth=teeth)) if "CEJ" in c.found]
    assert found
    assert not any(concern.is_refused for concern in found)


def test_the_last_door_averages_no_contradiction_either() -> None:
    """A case that did not come through the reader: 8.0 and 9.5 mm wide, 0.1 each, are refused."""
    teeth = {"11": {"width_mm": [{"value": 8.0, "se": 0.1}, {"value": 9.5, "se": 0.1}]}}
    with pytest.raises(InputRefusedError, match="contradict each other"):
        resolve(_case(teeth=teeth))


def test_a_crest_sounded_and_read_directly_is_averaged_only_where_they_agree() -> None:
    """On different days nothing compared the two: where they contradict each other the crest is unknown, and why is said."""
    sites = {
        "margin_mm": {"value": 8.0, "se": 0.1, "datum": "present_edge", "at": "2026-03-02"},
        "sounding_mm": {"value": 3.0, "se": 0.2, "at": "2026-03-02"},
        "crest_mm": {"value": 12.0, "se": 0.2, "datum": "present_edge", "at": "2026-03-09"},
    }
    site = resolve(_case(teeth={"11": {"sites": {"midfacial": sites}}})).teeth[Tooth("11")].site(Site.MIDFACIAL)
    assert site.crest is None
    assert site.crest_conflict is not None
    assert "contradict" in site.crest_conflict
    sites["crest_mm"] = sites["crest_mm"] | {"value": 11.2}
    site = resolve(_case(teeth={"11": {"sites": {"midfacial": sites}}})).teeth[Tooth("11")].site(Site.MIDFACIAL)
    assert site.crest is not None
    assert 11.0 < site.crest.value < 11.2

"""Chances of a plan against closed forms, the value of a second reading, and what must always hold."""

from __future__ import annotations

from math import exp, sqrt

import numpy as np
import pytest

from festoon.model.dentition import Site, Tooth
from festoon.model.plan import Risk
from festoon.planning.risk.drawn_mouth import DrawnMouth, Quantity
from festoon.planning.risk.outlook import risk_of
from mouths import FRONT, front, tooth
from risk_forms import (
    agrees,
    beyond_gaussian_and_hand,
    chance,
    gaussian_tooth,
    level,
    normal_cdf,
    planned,
    rereading,
    sounding_cdf,
)

DRAWS = 100_000


def risk(teeth: dict, draws: int = DRAWS, **more: object) -> Risk | None:
    problem, solution = planned(teeth)
    return risk_of(problem, solution, seed=3, draws=draws, **more)  # type: ignore[arg-type]  # hand and probability only


def test_nothing_operated_has_no_risk() -> None:
    """A tooth at its target is not cut, so there is nothing to say."""
    assert risk({"11": gaussian_tooth(margin_mm=10.5)}) is None


@pytest.mark.parametrize("se", [0.15, 0.3, 0.6])
def test_root_shown_agrees_with_the_closed_form(se: float) -> None:
    """Margin 10.5, CEJ 10.7: more than 0.5 mm of root shows where CEJ error plus hand exceed 0.7 mm."""
    found = risk({"11": gaussian_tooth(cej_mm=level(10.7, se))})
    assert agrees(chance(found, "more than 0.5 mm of root"), beyond_gaussian_and_hand(0.7, se), DRAWS)
    assert agrees(chance(found, "root shown at all"), beyond_gaussian_and_hand(0.2, se), DRAWS)


@pytest.mark.parametrize("se", [0.2, 0.4])
def test_margin_near_bone_agrees_with_the_closed_form(se: float) -> None:
    """Margin 10.5, crest 13.7 left alone: nearer than 2.5 mm where crest error plus hand exceed 0.7 mm."""
    found = risk({"11": gaussian_tooth(crest_mm=level(13.7, se, "direct"))})
    assert agrees(chance(found, "closer to bone than 2.5 mm"), beyond_gaussian_and_hand(0.7, se), DRAWS)


def test_margin_near_bone_by_sounding_agrees_with_the_exact_mixture() -> None:
    """The same 0.7 mm by a sounding in whole millimetres: its mixture, averaged exactly over the hand."""
    sounded = gaussian_tooth(crest_mm=None, margin_mm=level(9.0, 1e-4), sounding_mm={"value": 4.7})
    hand = (np.arange(4000) + 0.5) / 4000 * 0.5 - 0.25
    exact = float(np.mean([1 - sounding_cdf(0.7 - h) for h in hand]))
    assert agrees(chance(risk({"11": sounded}), "closer to bone than 2.5 mm"), exact, DRAWS)


def test_keratinised_tissue_agrees_with_the_closed_form() -> None:
    """Incision 10.5, junction 12.7: less than 1.5 mm is left where junction error plus hand exceed 0.7 mm."""
    found = risk({"11": gaussian_tooth(mucogingival_mm=level(12.7, 0.3))})
    assert agrees(chance(found, "keratinised"), beyond_gaussian_and_hand(0.7, 0.3), DRAWS)


def test_left_right_difference_agrees_with_the_closed_form() -> None:
    """11 cut to 10.5 beside 21 read at 9.9 and left: 0.6 mm apart, seen beyond 1.0 mm (AES-010)."""
    found = risk({"11": gaussian_tooth(), "21": gaussian_tooth("21", se=0.3, margin_mm=9.9, target=9.9)})
    exact = beyond_gaussian_and_hand(0.4, 0.3) + beyond_gaussian_and_hand(1.6, 0.3)
    assert agrees(chance(found, "left-right"), exact, DRAWS)


def test_needless_bone_agrees_with_the_closed_form() -> None:
    """Crest read at 13.2 where 13.5 is wanted: none need go where the crest truly lies 0.3 mm deeper."""
    found = risk({"11": gaussian_tooth(crest_mm=level(13.2, 0.3, "direct"))})
    assert agrees(chance(found, "none is needed"), beyond_gaussian_and_hand(0.3, 0.3), DRAWS)


def test_budget_of_the_hand_agrees_with_the_closed_form() -> None:
    """Bone cut to margin + need, both within 0.5 mm (ERR-042): 0.5 mm short in the tail of a Gaussian of 0.707."""
    found = risk({"11": gaussian_tooth(crest_mm=level(11.0, 0.05, "direct"))}, hand="budget")
    assert agrees(chance(found, "closer to bone than 2.5 mm"), normal_cdf(-0.5 / sqrt(0.5)), DRAWS)


def test_any_bad_of_independent_harms_agrees_with_the_closed_form() -> None:
    """CEJ of two teeth, read apart and cut apart: one minus the chance that neither goes wrong."""
    teeth = {code: gaussian_tooth(code, cej_mm=level(10.7, 0.4)) for code in ("11", "13")}
    found = risk(teeth)
    assert found is not None
    assert found.any_bad is not None
    none = (1 - beyond_gaussian_and_hand(0.7, 0.4)) ** 2
    assert agrees(found.any_bad, 1 - none, DRAWS)


def test_margin_error_moves_the_sounded_crest_with_it() -> None:
    """Readings are drawn, not derived values: crest minus margin carries the sounding's error alone."""
    problem, _ = planned({"11": tooth("11")})
    mouth = DrawnMouth(problem, seed=1, draws=1000)
    place = (Tooth("11"), Site.MIDFACIAL)
    crest, margin = mouth.crest_error(*place), mouth.error(Quantity(*place, "margin_mm"))
    assert np.allclose(crest - margin, mouth.error(Quantity(*place, "sounding_mm")))


def test_one_tooth_draws_the_same_beside_others() -> None:
    """Every reading has its own stream: charting another tooth changes no draw of this one."""
    alone, beside = (risk(teeth) for teeth in ({"13": tooth("13")}, {"13": tooth("13"), "11": tooth("11")}))
    assert alone is not None
    for item in alone.chances:
        assert chance(beside, item.what) == item


def test_same_seed_same_bytes() -> None:
    """Reproducible to the last digit; another seed is another sample."""
    problem, solution = planned(front())
    made = [risk_of(problem, solution, seed=seed) for seed in (5, 5, 6)]
    texts = [item.model_dump_json() for item in made if item is not None]
    assert texts[0] == texts[1] != texts[2]


def test_chances_are_sorted_and_bound_the_chance_of_any() -> None:
    """Largest first; any bad outcome is no rarer than the commonest that counts and no commoner than their sum."""
    found = risk(front(t12={"cej": 8.0}, t22={"mucogingival": 10.2}), draws=20_000)
    assert found is not None
    assert found.any_bad is not None
    values = [item.chance for item in found.chances]
    assert values == sorted(values, reverse=True)
    counted = [item.chance for item in found.chances if "at all" not in item.what and "none is needed" not in item.what]
    assert max(counted) <= found.any_bad.chance <= sum(counted) + 1e-9
    assert all(item.mc_se > 0 for item in found.chances)


def test_every_operated_tooth_has_its_chances() -> None:
    """Bone, root, tissue and needless bone at each tooth; the three pairs once each."""
    found = risk(front(), draws=2000)
    assert found is not None
    for code in FRONT:
        assert {item.site for item in found.chances if item.tooth == code} >= {Site.MIDFACIAL}
        assert sum(f"{code} midfacial" in item.what for item in found.chances) == 5
    assert sum("left-right" in item.what for item in found.chances) == 3


def test_notes_say_what_is_not_measured_and_that_bone_is_probed() -> None:
    """The bias of sounding, the models from memory, and the bone level as a hypothesis stand beside the numbers."""
    found = risk(front(), draws=2000)
    assert found is not None
    notes = " ".join(found.notes)
    for words in ("hypothesis", "0.28 mm too little", "one sounding in eight", "ERR-010", "common practice", "healing"):
        assert words in notes


def test_thin_plate_in_a_volume_is_warned_of() -> None:
    """A crest from a volume under a plate thinner than two voxels may read too low (ERR-016)."""
    thin = gaussian_tooth(crest_mm=level(13.7, 0.4, "cbct"), bone_thickness_mm={"value": 0.4})
    thick = gaussian_tooth(crest_mm=level(13.7, 0.4, "cbct"), bone_thickness_mm={"value": 1.4})
    warned = [" ".join(found.notes) if (found := risk({"11": t}, draws=500)) else "" for t in (thin, thick)]
    assert "false dehiscence" in warned[0]
    assert "false dehiscence" not in warned[1]


def test_what_was_not_measured_is_named_and_not_counted_as_safe() -> None:
    """With the space held as a caution a tooth may be cut without a sounding: then no chance is given, and it is said."""
    space = {"supracrestal_space": {"force": "caution", "reason": "flap is opened anyway"}}
    problem, solution = planned({"11": tooth("11", sounding=None)}, limits=space)
    assert solution.operated
    found = risk_of(problem, solution, seed=1, draws=500)
    assert found is not None
    assert not any("closer to bone" in item.what for item in found.chances)
    assert any("for lack of a reading: 11 midfacial: distance to bone" in note for note in found.notes)


# The value of a second reading ------------------------------------------------------------------------------------


@pytest.mark.parametrize("key", ["margin_mm", "crest_mm", "mucogingival_mm"])
def test_a_reading_without_influence_is_worth_nothing(key: str) -> None:
    """Only the CEJ lies near here: reading anything else again changes nothing."""
    asked = rereading(*planned({"11": gaussian_tooth(cej_mm=10.6)}))
    assert asked.value(Quantity(Tooth("11"), Site.MIDFACIAL, key)).value == 0.0


@pytest.mark.parametrize(("key", "value"), [("cej_mm", 10.5), ("crest_mm", 13.6), ("mucogingival_mm", 12.5)])
def test_doubling_an_error_raises_the_worth_of_reading_again(key: str, value: float) -> None:
    """The worse a reading that a limit hangs on, the more a second one is worth."""
    worth = [
        rereading(*planned({"11": gaussian_tooth(**{key: level(value, se, "direct")})}))
        .value(Quantity(Tooth("11"), Site.MIDFACIAL, key))
        .value
        for se in (0.3, 0.6)
    ]
    assert 0 < worth[0] < worth[1]


def test_second_cej_reading_is_worth_what_the_closed_form_says() -> None:
    """Plan held by the CEJ: the error of one reading gives way to the mean of two, or the middle of three."""
    asked = rereading(*planned({"11": gaussian_tooth(cej_mm=level(10.4, 0.4))}), draws=DRAWS)
    found = asked.value(Quantity(Tooth("11"), Site.MIDFACIAL, "cej_mm"))
    before = beyond_gaussian_and_hand(0.5, 0.4)
    assert found.before == pytest.approx(before, abs=4 * sqrt(before / DRAWS))
    # The margin stops at its wish, 0.1 mm further: the mean of two may not carry it beyond.
    sd = 0.4 / sqrt(2)
    unbound, bound = beyond_gaussian_and_hand(0.5, sd), beyond_gaussian_and_hand(0.7, sd)
    assert bound < found.after < unbound + 4 * sqrt(unbound / DRAWS)


def test_no_second_reading_is_worth_less_than_nothing() -> None:
    """Nobody has to act on a reading: the worth is never negative, and never more than the whole chance."""
    asked = rereading(*planned(front(t11={"cej": 9.6}, t12={"sounding": 5.0}, t23={"mucogingival": 11.0})))
    values = list(asked.values())
    assert len(values) == 6 * 4
    assert all(0 <= item.value <= item.before == asked.chance for item in values)
    assert any(item.value > 0.01 for item in values)


def test_open_flap_beats_a_second_sounding() -> None:
    """Bone seen directly is the better method: it leaves no more risk than sounding again."""
    teeth = {"11": gaussian_tooth(crest_mm=None, sounding_mm={"value": 4.6})}
    found = rereading(*planned(teeth)).value(Quantity(Tooth("11"), Site.MIDFACIAL, "sounding_mm"))
    assert found.after_open is not None
    assert found.after_open < found.after < found.before


def test_measure_again_names_the_reading_that_matters_first() -> None:
    """The CEJ that holds the margin comes first, with both chances in words; the list is short and sorted."""
    found = risk(front(t11={"cej": level(9.6, 0.6)}), draws=20_000)
    assert found is not None
    assert found.any_bad is not None
    first = found.measure_again[0]
    assert (first.reading, first.tooth, first.site) == ("CEJ", "11", Site.MIDFACIAL)
    assert f"from {found.any_bad.chance * 100:.0f} % to " in first.text
    falls = [item.lowers_chance_by for item in found.measure_again]
    assert falls == sorted(falls, reverse=True)
    assert len(falls) <= 5


def test_misread_far_soundings_follow_an_exponential() -> None:
    """A crest left 3 mm clear is too near only by a misread sounding: over-reading beyond 1 mm, exactly."""
    sounded = gaussian_tooth(crest_mm=None, margin_mm=level(9.0, 1e-4), sounding_mm={"value": 7.5})
    found = chance(risk({"11": sounded}, draws=400_000), "closer to bone than 2.5 mm")
    hand = (np.arange(2000) + 0.5) / 2000 * 0.5 - 0.25
    exact = float(np.mean([1 - sounding_cdf(3.5 - h) for h in hand]))
    assert exact == pytest.approx(0.121 * 0.026 / 0.168 * exp(-2.5 / 1.963), rel=0.05)
    assert agrees(found, exact, 400_000)

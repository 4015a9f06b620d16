"""A practice's own rebound: never applied in silence, and where it is set it moves the expectation and nothing else."""

from __future__ import annotations

import pytest

from festoon.audit.estimates import Estimate
from festoon.audit.feedback import offers
from festoon.planning.healing.forecast import WEEKS, expected_shift, suture_level
from festoon.records.casefile import parse_case
from festoon.records.demo import demo_case
from festoon.workflow.auditing import expected_rebound
from festoon.workflow.planning import plan_of


def test_the_expected_margin_moves_by_the_offset_and_the_cut_does_not() -> None:
    """0.2 mm more rebound: margins at 6 months lie 0.2 mm further coronal of where they are sutured, bone is cut as before."""
    text = demo_case("linden-04")
    usual = plan_of(parse_case(text, "case.yaml"))
    own_text = text.decode().replace("\nteeth:", "\npolicy: {rebound_offset_mm: 0.2}\nteeth:", 1).encode()
    own = plan_of(parse_case(own_text, "case.yaml"))
    assert "chosen for this case" in own.provenance.settings["rebound_offset_mm"]
    for before, after in zip(usual.sites, own.sites, strict=True):
        assert before.bone_removal_mm == after.bone_removal_mm
        if before.suture_level_mm is None or before.margin_expected_6m_mm is None:
            continue
        assert after.suture_level_mm is not None
        assert after.margin_expected_6m_mm is not None
        assert after.suture_level_mm >= before.suture_level_mm
        if after.suture_level_mm == before.suture_level_mm:
            assert before.margin_expected_6m_mm - after.margin_expected_6m_mm == pytest.approx(0.2, abs=1e-3)


def test_suturing_makes_up_for_the_own_rebound_where_there_is_room() -> None:
    """By hand: crest 13, margin 9, CEJ far: the healed margin comes to lie on the planned one, with and without offset."""
    for offset in (0.0, 0.3):
        found = suture_level(9.0, 13.0, 20.0, own_offset_mm=offset)
        healed = found.level_mm - expected_shift(found.distance_mm, WEEKS["6 months"], own_offset_mm=offset).mean_mm
        if found.distance_mm > 3.001:
            assert healed >= 9.0 - 1e-6


def test_the_audit_offers_one_number_with_its_evidence_and_applies_nothing() -> None:
    """Two bands, 0.3 mm over the expectation in both: the offer is 0.3 under its key; a band with few patients says nothing."""
    expected = expected_rebound()

    def seen(band: str, few: bool = False) -> Estimate:
        mean = expected[band] + 0.3
        return Estimate(
            90, 40, mean, (mean - 0.1, mean + 0.1), 0.4, (0.3, 0.5), None, None, None, None, 0.7, (0.6, 0.8), None, few
        )

    found = offers(None, {"2.5 to 3.5": seen("2.5 to 3.5"), "3.5 and more": seen("3.5 and more")}, expected)
    own = [offer for offer in found if offer.key == "policy.rebound_offset_mm"]
    assert [(offer.value, offer.applied) for offer in own] == [(0.3, False)]
    low, high = own[0].interval or (0.0, 0.0)
    assert (low, high) == pytest.approx((0.2, 0.4), abs=0.006)  # bands share patients: no narrower than one band alone
    assert offers(None, {"2.5 to 3.5": seen("2.5 to 3.5", few=True)}, expected) == ()

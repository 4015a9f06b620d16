"""Each moment, at its edges: what is unknown, too early, beyond the figures, impossible."""

from __future__ import annotations

import datetime as dt

import pytest

from festoon.errors import InputRefusedError
from festoon.model.dentition import Site
from festoon.model.quantities import Quantity
from festoon.model.reading import Datum
from festoon.model.verification import Moment, PlacedReading, Verdict
from festoon.records.casefile import parse_case, read_case
from festoon.records.demo import demo_case
from festoon.records.readings import read_readings
from festoon.records.reconcile import resolve
from festoon.records.todays_case import with_todays
from festoon.verify.before import before_checks
from festoon.verify.bone import bone_checks
from festoon.verify.make import verify
from festoon.verify.recall import course_checks, readiness, visit_checks
from festoon.verify.session import Limits, Session, Shift
from festoon.verify.suture import suture_checks
from festoon.workflow.planning import plan_of
from festoon.workflow.verifying import VerifyOptions, verify_files
from verify_worked import FILES, SURGERY, entry_at, planned, reading, session

MARGIN = Quantity.MARGIN_LEVEL


def half_back(_tooth: str, _distance: float, _weeks: float) -> Shift:
    """A forecast of one's own: half a millimetre comes back, give or take 0.4."""
    return Shift(0.5, 0.1, 0.9)


def after(weeks: int) -> dt.date:
    """A day so many weeks after surgery."""
    return SURGERY + dt.timedelta(weeks=weeks)


def test_a_dehiscence_is_recognised_before_bone_is_cut() -> None:
    """Seen 2.2 mm apical of the charted crest: named, and no bone is to be removed."""
    (check,) = before_checks(session(reading(13.2)))
    assert check.verdict is Verdict.STOP
    assert "DEHISCENCE" in check.text
    assert "remove no bone here" in check.text


def test_sounded_bone_is_only_perhaps_a_dehiscence() -> None:
    """A probe that met bone late is no proof."""
    (check,) = before_checks(session(reading(12.6, method="sounding")))
    assert "Perhaps a dehiscence" in check.text


def test_a_crest_coronal_of_the_chart_asks_for_a_new_plan_before_cutting() -> None:
    """10.2 read where 11.0 was charted and 13.0 is planned: not simply 2.8 mm to remove."""
    check = entry_at(bone_checks(session(reading(10.2))), "11")
    assert check.verdict is Verdict.RECOMPUTE
    assert "0.8 mm coronal of the charted one" in check.text


def test_an_error_larger_than_the_limit_cannot_tell() -> None:
    """0.4 mm short by a sounding of ±0.8 is neither reached nor to be removed."""
    check = entry_at(bone_checks(session(reading(12.6, se=0.8))), "11")
    assert check.verdict is Verdict.CANNOT_TELL


def test_every_planned_cut_that_nobody_read_is_listed() -> None:
    """Six sites lose bone; one was read."""
    checks = bone_checks(session(reading(12.0)))
    assert {c.tooth for c in checks if c.verdict is Verdict.NOT_READ} == {"13", "12", "21", "22", "23"}
    assert entry_at(checks, "21").wanted_present_edge_mm == 13.5


def test_a_crest_is_sounded_from_the_margin_of_the_same_file() -> None:
    """Margin 10.0 and sounding 2.0: crest at 12.0, one millimetre to remove, with both errors."""
    found = bone_checks(session(reading(10.0, MARGIN), reading(2.0, Quantity.SOUNDING, se=0.3)))
    check = entry_at(found, "11", quantity=Quantity.CREST_LEVEL)
    assert check.reading_planned_edge_mm == 12.0
    assert check.difference_mm == -1.0
    assert check.se_mm == pytest.approx((0.2**2 + 0.3**2) ** 0.5)


def test_a_margin_sutured_apical_to_bone_is_stopped_and_not_forecast() -> None:
    """No cohort speaks for a bare crest."""
    (check,) = suture_checks(session(reading(10.0, MARGIN), reading(9.0)), half_back)
    assert check.verdict is Verdict.STOP
    assert check.expected == ()


def test_a_planned_crest_is_said_to_be_planned() -> None:
    """Without a reading of bone the distance has no error to give, and is not measured."""
    (check,) = suture_checks(session(reading(10.0, MARGIN)), half_back)
    assert (check.crest_from, check.distance_mm, check.distance_se_mm) == ("planned", 3.0, None)
    assert "not measured: sound it" in check.text


def test_sutured_too_near_to_bone() -> None:
    """2 mm from bone, by readings that can tell."""
    (check,) = suture_checks(session(reading(10.0, MARGIN), reading(12.0)), half_back)
    assert check.verdict is Verdict.SHORT


def test_expected_margin_is_coronal_of_the_sutured_one() -> None:
    """Sutured at 10.0 and half a millimetre back: 9.5, band 9.1 to 9.9."""
    (check,) = suture_checks(session(reading(10.0, MARGIN)), half_back)
    assert {(e.level_mm, e.low_mm, e.high_mm) for e in check.expected} == {(9.5, 9.1, 9.9)}


@pytest.mark.parametrize(
    ("level", "verdict"),
    [(9.5, "inside"), (9.0, "inside"), (8.8, "coronal"), (10.0, "inside"), (10.2, "apical")],
)
def test_visits_against_the_band(level: float, verdict: str) -> None:
    """Band 9.1 to 9.9: outside it only by more than the 0.2 mm the reading can tell."""
    visits = visit_checks(session(reading(10.0, MARGIN), reading(level, MARGIN, at=after(26))), SURGERY, half_back)
    (visit,) = visits
    assert visit.verdict == verdict
    assert visit.rebound_mm == pytest.approx(10.0 - level)


def test_before_six_weeks_nothing_is_judged() -> None:
    """Two weeks after surgery a line says nothing."""
    (visit,) = visit_checks(session(reading(8.0, MARGIN, at=after(2))), SURGERY, half_back)
    assert visit.verdict is Verdict.TOO_EARLY
    assert visit.expected is None


def test_without_the_day_of_surgery_the_start_is_the_plan_and_said() -> None:
    """The planned suture level, 10.0, not measured."""
    (visit,) = visit_checks(session(reading(9.5, MARGIN, at=after(26))), SURGERY, half_back)
    assert (visit.sutured_mm, visit.sutured_from) == (10.0, "planned")
    assert "PLANNED suture level" in visit.text


def test_after_a_year_the_band_of_a_year_is_shown() -> None:
    """Nothing is extrapolated."""
    (visit,) = visit_checks(session(reading(9.5, MARGIN, at=after(80))), SURGERY, half_back)
    assert visit.expected is not None
    assert visit.expected.weeks == 52
    assert "figures end at 12 months" in visit.text


def course(*readings: PlacedReading) -> Verdict:
    """What the course of 11 is called."""
    (check,) = course_checks(session(*readings), SURGERY)
    return check.verdict


@pytest.mark.parametrize(
    ("later", "verdict"), [(9.5, "stable"), (9.9, "stable"), (10.1, "receding"), (9.1, "stable"), (8.9, "creeping")]
)
def test_stable_creeping_receding(later: float, verdict: str) -> None:
    """From 9.5: half a millimetre is the limit in both directions."""
    assert course(reading(9.5, MARGIN, at=after(13)), reading(later, MARGIN, at=after(26))) == verdict


def test_small_errors_make_a_small_change_a_change() -> None:
    """0.3 mm between readings of ±0.05 is no rest."""
    one, two = reading(9.5, MARGIN, at=after(13), se=0.05), reading(9.2, MARGIN, at=after(26), se=0.05)
    assert course(one, two) is Verdict.CREEPING


@pytest.mark.parametrize("weeks", [(13,), (13, 15), (3, 13)])
def test_one_visit_or_two_that_are_too_near_or_too_early_prove_nothing(weeks: tuple[int, ...]) -> None:
    """Two visits, from 6 weeks on, 4 weeks apart."""
    assert course(*(reading(9.5, MARGIN, at=after(week)) for week in weeks)) is Verdict.UNKNOWN


def test_two_datums_prove_nothing() -> None:
    """The place of a datum has an error of its own."""
    one = reading(9.5, MARGIN, at=after(13))
    two = reading(9.5, MARGIN, at=after(26), datum=Datum.BONDED_MARK)
    assert course(one, two) is Verdict.UNKNOWN


def final(*readings: PlacedReading) -> tuple[bool, tuple[str, ...]]:
    """Whether final restorations may be made, and why not."""
    found = session(*readings)
    _, last = readiness(found, SURGERY, course_checks(found, SURGERY))
    return last.may, last.why_not


def rested(*weeks: int) -> list[PlacedReading]:
    """All six teeth at rest on these visits."""
    return [reading(9.5, MARGIN, tooth=t, at=after(w)) for w in weeks for t in ("13", "12", "11", "21", "22", "23")]


def test_final_restorations_need_time_and_two_visits_of_every_tooth() -> None:
    """Six months in the visible zone (HEAL-043) and rest at every operated tooth."""
    assert final(*rested(20, 28)) == (True, ())
    may, why = final(*rested(13, 20))
    assert not may
    assert why == ("not before 2026-09-10 (HEAL-043: 6 months in the visible zone, 4 to 12 by tissue and demand "
                   "(from memory))",)  # fmt: skip
    may, why = final(*rested(20, 28)[:-1])
    assert not may
    assert why[0].startswith("23 (11) midfacial: not known yet")


def test_a_recall_without_the_day_of_surgery_is_refused() -> None:
    """Nothing can be counted from nothing."""
    with pytest.raises(ValueError, match="day of surgery"):
        verify(session(reading(9.5, MARGIN)), Moment.RECALL, half_back)
    with pytest.raises(ValueError, match="day of surgery"):
        VerifyOptions(Moment.RECALL)


@pytest.mark.parametrize("limits", [(0.0, 1.0), (1.0, 0.5), (-1.0, 1.0)])
def test_limits_that_are_none_are_refused(limits: tuple[float, float]) -> None:
    """Recheck above zero, stop no smaller."""
    with pytest.raises(ValueError, match="recheck"):
        Limits(*limits)


@pytest.mark.parametrize("name", ["linden-04", "millrace-12", "kiln-45"])
def test_whoever_follows_the_sheet_is_told_reached(name: str) -> None:
    """The printed target is the one held against: no surgeon is told "too far" for doing what the paper says."""
    file = parse_case(demo_case(name), f"{name}.yaml")
    plan, mouth = plan_of(file), resolve(file.case)
    printed = [site for site in plan.paper.sites if site.bone_removal_mm]
    crests = tuple(reading(s.crest_planned_mm or 0.0, tooth=s.tooth, site=s.site) for s in printed)
    checks = bone_checks(Session(plan, mouth, crests))
    assert printed
    assert {check.verdict for check in checks} == {Verdict.REACHED}
    by_place = {(s.tooth, s.site): s for s in printed}
    for check in checks:
        assert check.wanted_present_edge_mm == by_place[check.tooth, check.site].crest_planned_from_present_edge_mm


# Solved anew --------------------------------------------------------------------------------------------------------


def todays(moment: Moment, *readings: PlacedReading) -> dict[str, float | None]:
    """Margin, crest and sounding of 11, from the planned edge, in the case of today."""
    known = resolve(with_todays(planned()[1], readings, moment).case).teeth
    tooth = next(entry for code, entry in known.items() if code.fdi == "11").planned
    assert tooth is not None
    site = tooth.site(Site.MIDFACIAL)
    return {name: getattr(site, name) and getattr(site, name).value for name in ("margin", "crest", "sounding")}


def test_an_opened_site_overrides_its_sounding() -> None:
    """Charted: margin 8.5, crest 11.0. Seen at 11.6: that alone counts, and the sounding follows."""
    found = todays(Moment.BONE, reading(11.6))
    assert found == {"margin": pytest.approx(8.5), "crest": pytest.approx(11.6), "sounding": pytest.approx(3.1)}


def test_another_margin_alone_does_not_move_bone() -> None:
    """The margin swelled by 0.5; the crest stays at 11.0."""
    found = todays(Moment.BEFORE, reading(8.0, MARGIN, method="probe"))
    assert found == {"margin": pytest.approx(8.0), "crest": pytest.approx(11.0), "sounding": pytest.approx(3.0)}


def test_a_sounding_without_its_margin_is_not_taken_over() -> None:
    """It counts from a margin nobody read today."""
    today = with_todays(planned()[1], [reading(3.4, Quantity.SOUNDING, method="sounding")], Moment.BEFORE)
    assert today.case == planned()[1].case
    assert "NOT taken over" in today.replaced[0]


def test_margin_and_sounding_of_today_are_added() -> None:
    """8.0 + 3.4 = 11.4."""
    found = todays(
        Moment.BEFORE,
        reading(8.0, MARGIN, method="probe"),
        reading(3.4, Quantity.SOUNDING, method="sounding"),
    )
    assert found["crest"] == pytest.approx(11.4)


def test_an_impossible_mouth_is_not_solved() -> None:
    """Bone coronal to the margin."""
    with pytest.raises(InputRefusedError, match="alveolar crest"):
        with_todays(planned()[1], [reading(7.0)], Moment.BONE)


def test_the_new_plan_removes_what_is_left() -> None:
    """The remaining bone of the new plan is the remaining bone of the check: 0.8 at 11, 1.0 at 22, none at 12 and 13."""
    options = VerifyOptions(Moment.BONE, resolve=True)
    found = verify_files(read_case(FILES / "case.yaml"), read_readings(FILES / "bone.yaml"), options)
    assert found.replan is not None
    left = {change.tooth: round(change.bone_after_mm or 0.0, 3) for change in found.replan.teeth}
    assert left == {"13": 0.0, "12": 0.0, "11": 0.8, "21": 0.1, "22": 1.0}


def test_after_suturing_nothing_is_solved_anew() -> None:
    """There is nothing left to cut."""
    with pytest.raises(ValueError, match="before suturing"):
        VerifyOptions(Moment.SUTURE, resolve=True)

"""Recalls: every margin against its expected band, the course over two visits, and whether restorations may be made."""

from __future__ import annotations

import calendar
import datetime as dt
from collections.abc import Iterable, Sequence
from math import hypot

from festoon.evidence.table import published
from festoon.model.dentition import Site, Tooth
from festoon.model.quantities import Quantity
from festoon.model.verification import (
    CourseCheck,
    ExpectedMargin,
    PairCheck,
    PlacedReading,
    Readiness,
    Verdict,
    VisitCheck,
)
from festoon.verify.session import TWO, Forecast, Notations, Session, error_words, kept, mm, place_words, read_words
from festoon.verify.suture import expected_at, pair_checks, sutured_distance

FIRST_LOOK_WEEKS = 6.0
"""Earlier than this a line is not judged (42 days, HEAL-014), and no cohort speaks."""
LAST_WEEKS = 52.0
"""The cohorts end at 12 months."""
APART_DAYS = 28
"""Two visits that prove a margin stable lie at least this far apart: common practice, no source."""
UNCHANGED_MM = 0.5
"""A margin that moved further between them is not stable, whatever the errors: common practice, no source."""
SE_LIMIT = 2.0
"""A change of more than this many combined standard errors is a change: as for readings that contradict each other."""
_VISIBLE_TO = 5
"""Teeth to this position count as the visible zone: common practice, no source."""


def visit_checks(session: Session, surgery_at: dt.date, forecast: Forecast) -> tuple[VisitCheck, ...]:
    """Every margin read after the day of surgery, in the order of the days."""
    margins = [r for r in session.readings if r.quantity is Quantity.MARGIN_LEVEL and _is_later(r, surgery_at)]
    return tuple(_visit(session, margin, surgery_at, forecast) for margin in sorted(margins, key=_day))


def _is_later(reading: PlacedReading, surgery_at: dt.date) -> bool:
    return reading.at is not None and reading.at > surgery_at


def _day(reading: PlacedReading) -> dt.date:
    if reading.at is None:
        raise ValueError("a recall reading without its day")
    return reading.at


def _visit(session: Session, margin: PlacedReading, surgery_at: dt.date, forecast: Forecast) -> VisitCheck:
    at = _day(margin)
    weeks = kept((at - surgery_at).days / 7)
    start = session.last(margin.tooth, margin.site, Quantity.MARGIN_LEVEL, surgery_at)
    planned = session.site(margin.tooth, margin.site)
    if start is not None:
        sutured: float | None = kept(start.mm)
        distance = sutured_distance(session, start, surgery_at)[0]
    else:
        targets = None if planned is None else session.targets(planned)
        sutured = None if targets is None else targets.suture_mm
        crest = None if targets is None else targets.crest_mm
        distance = None if sutured is None or crest is None else kept(crest - sutured)
    is_cut = planned is not None and planned.suture_level_mm is not None
    expected = None
    if is_cut and sutured is not None and distance is not None and distance >= 0 and weeks >= FIRST_LOOK_WEEKS:
        known = min(weeks, LAST_WEEKS)
        expected = expected_at(sutured, margin.tooth, distance, known, f"{known:.0f} weeks", forecast)
    verdict, words = _judged(margin, weeks, expected, is_cut=is_cut)
    came_back = None if sutured is None else kept(sutured - margin.mm)
    parts = [f"margin {read_words(margin)}, {weeks:.0f} weeks after surgery", words]
    if start is None and sutured is not None:
        parts.append("counted from the PLANNED suture level: no reading of the day of surgery in this file")
    if at > months_on(surgery_at, 12) and expected is not None:
        parts.append("the figures end at 12 months: that band is shown")
    sums = []
    if sutured is not None and came_back is not None:
        sums.append(f"sutured {mm(sutured)} - today {mm(margin.mm)} = {mm(came_back)} mm of rebound, coronal positive")
    return VisitCheck(
        tooth=margin.tooth,
        site=margin.site,
        at=at,
        weeks=weeks,
        margin_mm=kept(margin.mm),
        se_mm=margin.se_mm,
        sutured_mm=sutured,
        sutured_from="read" if start is not None else "unknown" if sutured is None else "planned",
        rebound_mm=came_back,
        expected=expected,
        verdict=verdict,
        text="; ".join(parts),
        sums=tuple(sums),
    )


def _judged(
    margin: PlacedReading, weeks: float, expected: ExpectedMargin | None, *, is_cut: bool
) -> tuple[Verdict, str]:
    if weeks < FIRST_LOOK_WEEKS:
        return Verdict.TOO_EARLY, "too early to judge: not before 6 weeks (HEAL-014)"
    if expected is None:
        why = "the distance to bone at suturing is unknown" if is_cut else "nothing was to be cut here"
        return Verdict.UNKNOWN, f"no expected band: {why}"
    band = f"{expected.low_mm:.1f} to {expected.high_mm:.1f} mm expected"
    over = max(kept(expected.low_mm - margin.mm), kept(margin.mm - expected.high_mm))
    if over <= 0:
        return Verdict.INSIDE, f"inside the band, {band}"
    if over <= margin.se_mm:
        return Verdict.INSIDE, f"at the edge of the band, as far as {error_words(margin.se_mm)} can tell, {band}"
    if margin.mm < expected.low_mm:
        return Verdict.CORONAL, f"{mm(over)} mm coronal of the band ({error_words(margin.se_mm)}), {band}"
    return Verdict.APICAL, f"{mm(over)} mm apical of the band ({error_words(margin.se_mm)}), {band}"


def course_checks(session: Session, surgery_at: dt.date) -> tuple[CourseCheck, ...]:
    """The latest visit of every site against the one before it that lies far enough back."""
    first = surgery_at + dt.timedelta(weeks=FIRST_LOOK_WEEKS)
    checks = []
    for tooth, site in session.places(Quantity.MARGIN_LEVEL):
        read = sorted(
            (r for r in session.all(tooth, site, Quantity.MARGIN_LEVEL) if _is_later(r, surgery_at)), key=_day
        )
        if read:
            checks.append(_course(tooth, site, [r for r in read if _day(r) >= first]))
    return tuple(checks)


def _course(tooth: str, site: Site, read: Sequence[PlacedReading]) -> CourseCheck:
    pair = [r for r in read[:-1] if _day(read[-1]) - _day(r) >= dt.timedelta(days=APART_DAYS)] if read else []
    if not pair:
        return CourseCheck(
            tooth=tooth,
            site=site,
            visits=tuple(_day(r) for r in read),
            verdict=Verdict.UNKNOWN,
            text=(
                f"not known yet: two visits from 6 weeks on, at least {APART_DAYS // 7} weeks apart, are needed; "
                f"there {'is' if len(read) == 1 else 'are'} {len(read)}"
            ),
        )
    early, late = pair[-1], read[-1]
    change, se = kept(late.mm - early.mm), hypot(early.se_mm, late.se_mm)
    verdict, words = _moved(change, se)
    if early.datum is not late.datum:
        verdict = Verdict.UNKNOWN
        words = (
            f"read from {early.datum} and from {late.datum}: read both visits from one datum before it is called stable"
        )
    return CourseCheck(
        tooth=tooth,
        site=site,
        visits=(_day(early), _day(late)),
        change_mm=change,
        se_mm=se,
        verdict=verdict,
        text=f"{_day(early)} to {_day(late)}: {mm(early.mm)} to {mm(late.mm)} mm, {words}",
    )


def _moved(change: float, se: float) -> tuple[Verdict, str]:
    limit = min(UNCHANGED_MM, SE_LIMIT * se)
    if abs(change) <= limit + 1e-9:
        return Verdict.STABLE, f"stable: {mm(abs(change))} mm apart, no more than {mm(limit)} mm ({error_words(se)})"
    doubt = "; the error of the two readings could explain it: read it again" if abs(change) <= SE_LIMIT * se else ""
    if change < 0:
        return Verdict.CREEPING, f"creeping: {mm(-change)} mm coronally ({error_words(se)}){doubt}"
    return Verdict.RECEDING, f"receding: {mm(change)} mm apically ({error_words(se)}){doubt}"


def latest_day(readings: Iterable[PlacedReading]) -> dt.date | None:
    """The day of the latest margin reading; None where there is none."""
    return max((r.at for r in readings if r.quantity is Quantity.MARGIN_LEVEL and r.at is not None), default=None)


def recall_pairs(session: Session, surgery_at: dt.date, tolerance_mm: float) -> tuple[PairCheck, ...]:
    """Left-right differences, each pair at the latest visit at which both its sides were read."""
    days = sorted({_day(r) for r in session.readings if _is_later(r, surgery_at)}, reverse=True)
    found: dict[str, PairCheck] = {}
    for day in days:
        for check in pair_checks(session, tolerance_mm, day):
            found.setdefault(check.pair, check)
    return tuple(found[name] for name in session.pair_differences if name in found)


def readiness(
    session: Session, surgery_at: dt.date, courses: Sequence[CourseCheck], notations: Notations = TWO
) -> tuple[Readiness, ...]:
    """Whether provisional and final restorations may be made on the day of the latest reading, and why not yet."""
    day = latest_day(session.readings)
    cut = [code for code, whole in session.plan.teeth.items() if whole.procedure.cuts]
    if day is None or not cut:
        return ()
    has_bone_work = any((entry.bone_removal_mm or 0.0) > 0 for entry in session.plan.sites)
    is_visible = any(Tooth(code).position <= _VISIBLE_TO for code in cut)
    provisional, final = published("CP-012"), published("HEAL-043" if is_visible else "HEAL-042")
    months = final.value if is_visible or has_bone_work else provisional.value
    source = (
        f"HEAL-043: {final.value:g} months in the visible zone, {final.low:g} to {final.high:g} by tissue and demand "
        "(from memory)"
        if is_visible
        else f"HEAL-042: {final.value:g} months after bone work"
    )
    moments = (
        ("provisional", months_on(surgery_at, provisional.value), "CP-012: common practice, no source", ()),
        ("final", months_on(surgery_at, months), source, tuple(_unproved(cut, courses, notations))),
    )
    return tuple(
        Readiness.model_validate(
            {
                "what": what,
                "earliest": earliest,
                "may": day >= earliest and not open_,
                "why_not": (*([f"not before {earliest} ({said})"] if day < earliest else []), *open_),
                "source": said,
            }
        )
        for what, earliest, said, open_ in moments
    )


def _unproved(cut: Sequence[str], courses: Sequence[CourseCheck], notations: Notations) -> Iterable[str]:
    """Operated teeth whose midfacial margin two visits have not shown to be stable."""
    midfacial = {course.tooth: course for course in courses if course.site is Site.MIDFACIAL}
    for code in cut:
        course = midfacial.get(code)
        if course is None:
            yield f"{place_words(code, Site.MIDFACIAL, notations)}: no recall reading"
    for course in courses:
        if course.tooth in cut and course.verdict is not Verdict.STABLE:
            yield f"{place_words(course.tooth, course.site, notations)}: {course.text}"


def months_on(day: dt.date, months: float) -> dt.date:
    """The same day of a later month, or its last day where that month is shorter."""
    count = day.month - 1 + round(months)
    year, month = day.year + count // 12, count % 12 + 1
    return dt.date(year, month, min(day.day, calendar.monthrange(year, month)[1]))

"""After suturing: where the flap margin lies, how far from bone, what is expected of it, the new crowns, the two sides."""

from __future__ import annotations

import datetime as dt
from math import hypot
from typing import Literal

from festoon.evidence.table import published
from festoon.model.dentition import Site, Tooth
from festoon.model.quantities import Quantity
from festoon.model.verification import (
    CrownCheck,
    ExpectedMargin,
    PairCheck,
    PlacedReading,
    SpaceCheck,
    SutureCheck,
    Verdict,
)
from festoon.verify.bone import space
from festoon.verify.session import Forecast, Session, error_words, kept, mm, read_words

TIMES = {"6 weeks": 6.0, "3 months": 13.0, "6 months": 26.0, "12 months": 52.0}
"""The visits of the published cohorts, in weeks."""
CrestFrom = Literal["read", "sounded", "planned", "unknown"]


def suture_checks(session: Session, forecast: Forecast) -> tuple[SutureCheck, ...]:
    """Every margin read after suturing, against the planned suture level, with its distance from bone."""
    return tuple(
        _check(session, margin, forecast)
        for tooth, site in session.places(Quantity.MARGIN_LEVEL)
        if (margin := session.last(tooth, site, Quantity.MARGIN_LEVEL)) is not None
    )


def sutured_distance(
    session: Session, margin: PlacedReading, at: dt.date | None = None
) -> tuple[float | None, float | None, CrestFrom]:
    """Margin to crest in mm, its standard error, and where the crest is from.

    A crest read with the same file is taken first, then a sounding from the sutured margin, then the planned crest,
    which nobody measured: it has no error to give.
    """
    crest = session.last(margin.tooth, margin.site, Quantity.CREST_LEVEL, at)
    if crest is not None:
        return kept(crest.mm - margin.mm), hypot(crest.se_mm, margin.se_mm), "read"
    sounding = session.last(margin.tooth, margin.site, Quantity.SOUNDING, at)
    if sounding is not None:
        return sounding.value_mm, sounding.se_mm, "sounded"
    planned = session.site(margin.tooth, margin.site)
    crest_mm = None if planned is None else session.targets(planned).crest_mm
    return (None, None, "unknown") if crest_mm is None else (kept(crest_mm - margin.mm), None, "planned")


def expected_at(
    level_mm: float, tooth: str, distance_mm: float, weeks: float, time: str, forecast: Forecast
) -> ExpectedMargin:
    """Where a margin sutured at ``level_mm`` is expected: a coronal shift makes the level smaller."""
    shift = forecast(tooth, distance_mm, weeks)
    return ExpectedMargin(
        time=time,
        weeks=weeks,
        level_mm=kept(level_mm - shift.mean_mm),
        low_mm=kept(level_mm - shift.high_mm),
        high_mm=kept(level_mm - shift.low_mm),
    )


def _check(session: Session, margin: PlacedReading, forecast: Forecast) -> SutureCheck:
    tooth, site = margin.tooth, margin.site
    planned = session.site(tooth, site)
    suture = None if planned is None else session.targets(planned).suture_mm
    distance, se, crest_from = sutured_distance(session, margin)
    earlier = session.all(tooth, site, Quantity.MARGIN_LEVEL)[:-1]
    parts, sums = [f"flap margin {read_words(margin, earlier)}"], []
    verdict = Verdict.UNKNOWN
    if suture is not None:
        verdict, words = _place(kept(margin.mm - suture), margin.se_mm)
        parts.append(words)
        sums.append(f"sutured {mm(margin.mm)} - planned {mm(suture)} = {mm(kept(margin.mm - suture))} mm")
    expected: tuple[ExpectedMargin, ...] = ()
    if distance is None:
        parts.append("crest NOT MEASURED: the distance to bone is unknown")
    else:
        parts.append(_distance_words(distance, se, crest_from))
        sums.append(f"margin to crest {mm(distance)} mm ({crest_from})")
        safe = published("HEAL-020").value
        if distance < 0:
            verdict = Verdict.STOP
            parts.append("STOP: the margin lies apical to the crest, so bone is bare or a reading is wrong")
        elif suture is not None:
            if distance < safe - (se or 0.0):
                verdict = Verdict.SHORT
            if distance < safe:
                parts.append(f"nearer than {mm(safe)} mm to bone: more rebound is to be expected (HEAL-020, HEAL-011)")
            expected = tuple(
                expected_at(margin.mm, tooth, distance, weeks, time, forecast) for time, weeks in TIMES.items()
            )
            parts.append(_expected_words(expected))
    return SutureCheck(
        tooth=tooth,
        site=site,
        margin_mm=kept(margin.mm),
        suture_planned_mm=suture,
        crest_mm=None if distance is None else kept(margin.mm + distance),
        crest_from=crest_from,
        distance_mm=distance,
        distance_se_mm=se,
        expected=expected,
        verdict=verdict,
        text="; ".join(parts),
        sums=tuple(sums),
    )


def _place(off: float, se: float) -> tuple[Verdict, str]:
    """The flap margin against the planned suture level; ``off`` is apical positive."""
    if abs(off) <= se:
        return Verdict.REACHED, f"at the planned suture level, as far as {error_words(se)} can tell"
    if off < 0:
        return Verdict.CORONAL, f"{mm(-off)} mm coronal of the planned suture level ({error_words(se)})"
    return Verdict.APICAL, f"{mm(off)} mm apical of the planned suture level ({error_words(se)})"


def _distance_words(distance: float, se: float | None, crest_from: CrestFrom) -> str:
    how = {
        "read": "crest as read",
        "sounded": "as sounded",
        "planned": "crest as PLANNED, not measured: sound it",
        "unknown": "unknown",
    }[crest_from]
    return f"{mm(distance)} mm from bone ({how}{'' if se is None else f', {error_words(se)}'})"


def _expected_words(expected: tuple[ExpectedMargin, ...]) -> str:
    listed = ", ".join(f"{e.time} {e.level_mm:.1f} ({e.low_mm:.1f} to {e.high_mm:.1f})" for e in expected)
    return f"expected margin, mm from the planned edge: {listed}; a band, never a promise"


def suture_spaces(session: Session) -> tuple[SpaceCheck, ...]:
    """Final margin-to-crest distance against the need, where it was measured."""
    checks = []
    for tooth, site in session.places(Quantity.MARGIN_LEVEL, Quantity.SOUNDING):
        planned = session.site(tooth, site)
        need = None if planned is None else session.targets(planned).need_mm
        sounding = session.last(tooth, site, Quantity.SOUNDING)
        margin = session.last(tooth, site, Quantity.MARGIN_LEVEL)
        crest = session.last(tooth, site, Quantity.CREST_LEVEL)
        if need is None:
            continue
        if margin is not None and crest is not None:
            reached = kept(crest.mm - margin.mm)
            line = f"crest {mm(crest.mm)} - margin {mm(margin.mm)} = {mm(reached)} mm"
            se = hypot(crest.se_mm, margin.se_mm)
            checks.append(space(tooth, site, reached, need, se, "margin to crest", line))
        if sounding is not None:
            line = f"sounded {mm(sounding.value_mm)} mm"
            checks.append(space(tooth, site, sounding.value_mm, need, sounding.se_mm, "final sounding", line))
    return tuple(checks)


def crown_checks(session: Session) -> tuple[CrownCheck, ...]:
    """Width over length of every crown whose midfacial margin was read and whose width is known."""
    checks = []
    for tooth, site in session.places(Quantity.MARGIN_LEVEL):
        margin = session.last(tooth, site, Quantity.MARGIN_LEVEL)
        whole = session.plan.teeth[tooth]
        if site is not Site.MIDFACIAL or margin is None or whole.width_mm is None or margin.mm <= 0:
            continue
        ratio = kept(whole.width_mm / margin.mm)
        planned = "" if whole.ratio_planned is None else f", planned {whole.ratio_planned:.0%}"
        checks.append(
            CrownCheck(
                tooth=tooth,
                width_mm=whole.width_mm,
                length_mm=kept(margin.mm),
                ratio=ratio,
                ratio_planned=whole.ratio_planned,
                text=f"{mm(whole.width_mm)} mm wide as charted, {mm(margin.mm)} mm long from the planned edge: {ratio:.0%}{planned}",
            )
        )
    return tuple(checks)


def pair_checks(session: Session, tolerance_mm: float, at: dt.date | None = None) -> tuple[PairCheck, ...]:
    """Left-right differences of the midfacial margins' heights, right minus left; of one day where one is named."""
    checks = []
    for name, planned in session.pair_differences.items():
        sides = [_height(session, code, at) for code in name.split("-")]
        if sides[0] is None or sides[1] is None:
            continue
        (right, right_se), (left, left_se) = sides[0], sides[1]
        difference, se = kept(right - left), hypot(right_se, left_se)
        is_even = abs(difference) <= tolerance_mm
        side = (
            "no difference"
            if mm(difference) == "0"
            else (f"{mm(abs(difference))} mm further apical on the patient's {'right' if difference > 0 else 'left'}")
        )
        wanted = "" if planned is None else f", planned {mm(planned)}"
        checks.append(
            PairCheck(
                pair=name,
                at=at,
                difference_mm=difference,
                planned_mm=planned,
                se_mm=se,
                verdict=Verdict.SYMMETRIC if is_even else Verdict.ASYMMETRIC,
                text=f"{side} ({error_words(se)}){wanted}; tolerance {mm(tolerance_mm)} mm",
                sums=(f"height right {mm(right)} - left {mm(left)} = {mm(difference)} mm",),
            )
        )
    return tuple(checks)


def _height(session: Session, code: str, at: dt.date | None) -> tuple[float, float] | None:
    """Height of a midfacial margin in the arch frame and its error; None where margin or edge height is unknown."""
    margin = session.last(code, Site.MIDFACIAL, Quantity.MARGIN_LEVEL, at)
    tooth = session.anatomy.tooth(Tooth(code))
    if margin is None or tooth is None:
        return None
    height = tooth.height_of(margin.mm)
    return None if height is None else (height, margin.se_mm * tooth.cosine)

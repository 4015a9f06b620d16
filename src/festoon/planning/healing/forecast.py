"""Where the margin is expected to be after healing, and where the flap should therefore be sutured.

An explicit meta-model over published cohorts (:mod:`festoon.planning.healing.cohorts`). The expected shift is a broken line
through five sutured distances; its band holds the spread between sites, the disagreement between cohorts, the
phenotype and the time. A *distance* is sutured margin to crest in mm; a *shift* is coronal positive; levels are
apical positive. Method, weights and limits: ``docs/method/healing.md``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from math import sqrt
from statistics import NormalDist

from festoon.evidence.table import published
from festoon.model.case import Phenotype
from festoon.model.plan import Healing, HealingPoint, HealingStudy
from festoon.planning.healing.cohorts import COHORTS, HALF, SAFE_DISTANCE_MM, THICK, THIN, Cohort
from festoon.planning.healing.words import disagreement_text, milestones, notes_on, suture_text

COVERAGE = 0.90
"""Share of new sites the band is meant to hold. Setting of festoon, no published source."""
KNOTS_MM = (0.0, 1.0, 2.0, 3.0, 4.0)
"""Sutured distances at which cohorts stand; 4 stands for 4 and more, as printed."""
WEEKS = {"6 weeks": 6.0, "3 months": 13.0, "6 months": 26.0, "12 months": 52.0}
"""The times of the trials' visits."""

_DRIFT_MM = published("HEAL-014").value - published("HEAL-016").value
"""Margin change from 42 to 180 days in the series that measured both: 0.06 mm, coronal."""
_PHENOTYPE_HALF_MM = (THICK.value - THIN.value) / 2
_Z = NormalDist().inv_cdf(0.5 + COVERAGE / 2)


@dataclass(frozen=True)
class Shift:
    """Expected shift of the margin after suturing, in mm, coronal positive, with its 90 % band for a new site."""

    mean_mm: float
    low_mm: float
    high_mm: float
    sd_mm: float
    """Standard deviation behind the band."""


@dataclass(frozen=True)
class Pooled:
    """One sutured distance at 6 months: expected shift, spread between sites and between cohorts (SD), in mm."""

    mean_mm: float
    within_mm: float
    between_mm: float

    @property
    def variance(self) -> float:
        """Of a new site in a new clinic."""
        return self.within_mm**2 + self.between_mm**2


def disagreement(mean_mm: float, cohorts: Iterable[Cohort]) -> float:
    """Weighted standard deviation of the cohorts' printed means about the expected shift.

    ``sqrt(n / (n - 1) * sum(w (mean - expected)²) / sum(w))``: moving cohorts further from the expected value never
    narrows it. One cohort alone says nothing about disagreement; its own distance from the expected value is taken.
    """
    stated = tuple(cohorts)
    squares = sum(cohort.weight * (cohort.mean_mm - mean_mm) ** 2 for cohort in stated)
    share = squares / sum(cohort.weight for cohort in stated)
    return sqrt(share * len(stated) / max(len(stated) - 1, 1))


def pool(cohorts: Iterable[Cohort]) -> dict[float, Pooled]:
    """The model's five knots from the cohorts.

    The expected shift at 2, 3 and 4 mm is the weighted mean of the seen cohorts there. Nearer the crest no seen
    cohort stands: the level at 2 mm is carried on with the slope of the one series that has both 1 and 2 mm, which is
    from memory (HEAL-036, HEAL-037).

    Raises
    ------
    ValueError
        If no seen cohort stands at one of 2, 3 and 4 mm.
    """
    stated = tuple(cohorts)
    means: dict[float, float] = {}
    for knot in (2.0, 3.0, 4.0):
        here = [cohort for cohort in stated if cohort.centre_at_mm == knot]
        if not here:
            raise ValueError(f"no seen cohort stands at {knot:g} mm")
        means[knot] = sum(c.weight * c.mean_mm for c in here) / sum(c.weight for c in here)
    slope = published("HEAL-036").value - published("HEAL-037").value
    means[1.0] = means[2.0] + slope
    means[0.0] = means[1.0] + slope
    widest = max(c.sd_mm for c in stated if c.sd_mm is not None and c.row.how_known == "seen")
    pooled = {}
    for knot in KNOTS_MM:
        here = [cohort for cohort in stated if knot in cohort.spread_at_mm]
        printed = [(c.weight, c.sd_mm) for c in here if c.sd_mm is not None]
        within = sqrt(sum(w * sd**2 for w, sd in printed) / sum(w for w, _ in printed)) if printed else widest
        pooled[knot] = Pooled(means[knot], within, disagreement(means[knot], here))
    return pooled


_POOLED = pool(COHORTS)


def expected_shift(
    distance_mm: float, weeks: float, phenotype: Phenotype = Phenotype.UNKNOWN, own_offset_mm: float = 0.0
) -> Shift:
    """Expected shift of the margin after suturing, with a 90 % band for a new site.

    Parameters
    ----------
    distance_mm : float [mm]
        Sutured margin to crest. Beyond 4 mm the figures of "4 mm or more" stand.
    weeks : float
        Time after suturing, 6 to 52. Between 6 weeks and 12 months the visits are joined by straight lines.
    phenotype : Phenotype
        Thick rebounds a little more than thin; unknown stands between and has a wider band.
    own_offset_mm : float [mm]
        What the practice's own margins rebound more, by its audit (setting ``rebound_offset_mm``).

    Raises
    ------
    ValueError
        If the distance is negative or the time lies outside 6 to 52 weeks: no cohort speaks for it.
    """
    if distance_mm < 0:
        raise ValueError(f"a margin cannot be sutured apical to the crest: {distance_mm:g} mm")
    if not WEEKS["6 weeks"] <= weeks <= WEEKS["12 months"]:
        raise ValueError(f"no cohort speaks for {weeks:g} weeks; there are figures from 6 to 52 weeks")
    mean, variance = _at_six_months(distance_mm)
    ahead, unsettled = _time(weeks)
    mean += _phenotype_shift(phenotype) - ahead + own_offset_mm
    sd = sqrt(variance + unsettled**2 + _phenotype_doubt(phenotype) ** 2)
    # A margin does not heal apical to the crest, so it cannot recede by more than the distance itself.
    return Shift(mean, max(mean - _Z * sd, 0.0 - distance_mm), mean + _Z * sd, sd)


def suture_distance_for(
    target_shift_mm: float = 0.0, months: float = 6, phenotype: Phenotype = Phenotype.UNKNOWN
) -> float:
    """Margin-to-crest distance at suturing from which the expected shift is ``target_shift_mm``.

    With the default target: the distance at which the margin is expected to stay where it was sutured.

    Raises
    ------
    ValueError
        If no distance gives that shift, with the range that can be had; or as :func:`expected_shift`.
    """
    weeks = months * 52 / 12
    shifts = [expected_shift(knot, weeks, phenotype).mean_mm for knot in KNOTS_MM]
    for (near, more), (far, less) in pairwise(zip(KNOTS_MM, shifts, strict=True)):
        if less <= target_shift_mm <= more:
            return near + (far - near) * (more - target_shift_mm) / (more - less)
    raise ValueError(
        f"no sutured distance gives a shift of {target_shift_mm:+.2f} mm; from {shifts[-1]:+.2f} (4 mm or more) "
        f"to {shifts[0]:+.2f} (at the crest) can be expected"
    )


@dataclass(frozen=True)
class SutureLevel:
    """Where the flap margin goes, and why not further."""

    level_mm: float
    distance_mm: float
    """Margin to crest once sutured."""
    compensation_mm: float
    """How far apical to the planned margin it is sutured, so that the rebound brings it there."""
    text: str


def suture_level(
    margin_planned_mm: float,
    crest_planned_mm: float,
    cej_limit_mm: float | None,
    phenotype: Phenotype = Phenotype.UNKNOWN,
    own_offset_mm: float = 0.0,
) -> SutureLevel:
    """Level at which to suture so that the 6-month margin comes to lie where it is planned, as far as that is safe.

    The flap goes apical to the planned margin by the rebound expected from there, but

    - never beyond ``cej_limit_mm`` (CEJ plus what a restoration will cover): the root would be shown until, and
      unless, the rebound comes; where the limit is unknown nothing is compensated;
    - never nearer the crest than 3 mm: nearer, rebound and its spread grow, and compensation defeats itself;
    - never coronal to the planned margin, although at 4 mm or more a slight recession is expected: the collar there
      has been excised, the band holds zero, and a margin left coronal is the common failure.

    What cannot be compensated here can be bought with a larger margin-to-crest distance: see
    :func:`suture_distance_for`.

    Parameters
    ----------
    margin_planned_mm, crest_planned_mm, cej_limit_mm : float [mm]
        Levels from one edge, apical positive.
    own_offset_mm : float [mm]
        As in :func:`expected_shift`.

    Raises
    ------
    ValueError
        If the planned crest lies coronal to the planned margin.
    """
    if crest_planned_mm < margin_planned_mm:
        raise ValueError(f"planned crest {crest_planned_mm:g} lies coronal to the planned margin {margin_planned_mm:g}")
    cej_room = float("-inf") if cej_limit_mm is None else cej_limit_mm
    furthest = max(margin_planned_mm, min(cej_room, crest_planned_mm - SAFE_DISTANCE_MM))

    def healed(level: float) -> float:
        return level - expected_shift(crest_planned_mm - level, WEEKS["6 months"], phenotype, own_offset_mm).mean_mm

    level = _first_reaching(margin_planned_mm, healed, margin_planned_mm, furthest)
    return SutureLevel(
        level_mm=level,
        distance_mm=crest_planned_mm - level,
        compensation_mm=level - margin_planned_mm,
        text=suture_text(margin_planned_mm, level, crest_planned_mm, cej_limit_mm, margin_planned_mm - healed(level)),
    )


def healing_summary(
    distances_mm: Mapping[str, float], phenotype: Phenotype, *, has_bone_work: bool, own_offset_mm: float = 0.0
) -> Healing:
    """What the plan says about healing: expected shifts, studies, disagreement, milestones.

    Parameters
    ----------
    distances_mm : mapping of tooth to float [mm]
        Midfacial margin-to-crest distance at suturing. Each distinct distance (to 0.1 mm) is given at every visit;
        without teeth the distances of the cohorts, 2, 3 and 4 mm, are.
    has_bone_work : bool
        True when bone is lowered anywhere: the milestones are later.
    own_offset_mm : float [mm]
        As in :func:`expected_shift`.

    Raises
    ------
    ValueError
        As :func:`expected_shift`.
    """
    rounded = {tooth: round(distance, 1) for tooth, distance in distances_mm.items()}
    shown = sorted(set(rounded.values())) or [2.0, 3.0, 4.0]
    points = tuple(
        HealingPoint(
            time=time,
            sutured_distance_mm=distance,
            shift_mm=round(shift.mean_mm, 2),
            low_mm=round(shift.low_mm, 2),
            high_mm=round(shift.high_mm, 2),
        )
        for distance in shown
        for time, weeks in WEEKS.items()
        for shift in [expected_shift(distance, weeks, phenotype, own_offset_mm)]
    )
    return Healing(
        points=points,
        suture_at_least_mm=published("HEAL-020").value,
        studies=tuple(
            HealingStudy(id=c.row.id, source=c.row.citation, how_known=c.row.how_known, text=c.text) for c in COHORTS
        ),
        disagreement=disagreement_text(),
        milestones=milestones(has_bone_work=has_bone_work),
        notes=notes_on(rounded, has_bone_work=has_bone_work, coverage=COVERAGE),
    )


def _first_reaching(wanted: float, function: Callable[[float], float], low: float, high: float) -> float:
    """First argument from ``low`` at which a rising function reaches ``wanted``; ``high`` if it never does."""
    if function(low) >= wanted:
        return low
    if function(high) <= wanted:
        return high
    for _ in range(60):  # halves the interval below the last bit
        middle = (low + high) / 2
        low, high = (middle, high) if function(middle) < wanted else (low, middle)
    return high


def _at_six_months(distance_mm: float) -> tuple[float, float]:
    """Expected shift and variance of a new site at 6 months; straight lines between the knots, level beyond."""
    capped = min(distance_mm, KNOTS_MM[-1])
    low = min(int(capped), len(KNOTS_MM) - 2)
    share = capped - KNOTS_MM[low]
    near, far = _POOLED[KNOTS_MM[low]], _POOLED[KNOTS_MM[low + 1]]
    return (
        near.mean_mm + share * (far.mean_mm - near.mean_mm),
        near.variance + share * (far.variance - near.variance),
    )


def _time(weeks: float) -> tuple[float, float]:
    """How much of the 6-month shift is still to come, and the doubt that time adds (SD, mm).

    The one series that measured both moved 0.06 mm from 6 weeks to 6 months. Nobody printed 6 and 12 months of one
    series by distance: the 12-month value is the 6-month one, and as much doubt again is added.
    """
    six_weeks, half_year, year = WEEKS["6 weeks"], WEEKS["6 months"], WEEKS["12 months"]
    if weeks <= half_year:
        ahead = _DRIFT_MM * (half_year - weeks) / (half_year - six_weeks)
        return ahead, ahead
    return 0.0, _DRIFT_MM * (weeks - half_year) / (year - half_year)


def _phenotype_shift(phenotype: Phenotype) -> float:
    """Half of the printed half-difference: a secondary summary, against a trial that found no link."""
    sign = {Phenotype.THICK: 1.0, Phenotype.THIN: -1.0, Phenotype.UNKNOWN: 0.0}[phenotype]
    return sign * HALF * _PHENOTYPE_HALF_MM


def _phenotype_doubt(phenotype: Phenotype) -> float:
    """Doubt about the phenotype's effect (SD, mm): the half not believed, or all of it where it was not assessed."""
    return _PHENOTYPE_HALF_MM * (1.0 if phenotype is Phenotype.UNKNOWN else HALF)

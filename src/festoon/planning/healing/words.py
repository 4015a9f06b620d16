"""What the plan says about healing, in words: every number in them comes from the evidence tables or the model."""

from __future__ import annotations

from collections.abc import Mapping

from festoon.evidence.table import published
from festoon.planning.healing.cohorts import SAFE_DISTANCE_MM, THICK, THIN, cohort_shift


def suture_text(margin: float, level: float, crest: float, cej_limit: float | None, expected_mm: float) -> str:
    """The suture level in words; ``expected_mm`` is where the margin then comes to lie, coronal of plan positive."""
    where = (
        "at the planned margin" if level - margin < 0.05 else f"{level - margin:.1f} mm apical to the planned margin"
    )
    text = f"Suture {where}, {crest - level:.1f} mm from the crest."
    if expected_mm < -0.05:
        return f"{text} About {-expected_mm:.1f} mm of further recession is expected (HEAL-013); it is not compensated."
    if expected_mm <= 0.05:
        return f"{text} The margin is then expected where it was planned at 6 months."
    room = crest - SAFE_DISTANCE_MM
    if room <= margin or (cej_limit is not None and room <= cej_limit):
        stop = f"nearer than {SAFE_DISTANCE_MM:g} mm to the crest more comes back (HEAL-011, HEAL-020)"
    elif cej_limit is None:
        stop = "the CEJ is unknown"
    else:
        stop = "the CEJ stops it"
    return f"{text} About {expected_mm:.1f} mm of rebound is then left uncompensated: {stop}."


def neighbour_share() -> float:
    """How far a non-adjacent tooth of the flap moved against the treated one, at 3 months (HEAL-024, HEAL-026)."""
    return published("HEAL-026").value / published("HEAL-024").value


def disagreement_text() -> str:
    """Where the cohorts do not agree, in words."""
    at = {row: cohort_shift(row).mean_mm for row in ("HEAL-012", "HEAL-038", "HEAL-007", "HEAL-010", "HEAL-017")}
    pooled = cohort_shift("HEAL-022")
    return (
        "Cohorts agree that the margin rebounds less the further from the crest it is sutured; they do not agree "
        f"how much. At 3 mm one series (seen) saw {at['HEAL-012']:.2f} mm, one (from memory) {at['HEAL-038']:.2f}; a "
        f"2022 trial lost {at['HEAL-007']:.2f} and {at['HEAL-010']:.2f} mm by 12 months and a 2013 series "
        f"{at['HEAL-017']:.2f} mm at 6 months, neither printing the sutured distance; a review pooled "
        f"{pooled.mean_mm:.2f} ({pooled.row.low} to {pooled.row.high}). With the flap at the crest and little bone "
        f"removed about 3 mm came back (2001, from memory). Thick tissue {THICK.value:.2f} against thin "
        f"{THIN.value:.2f} mm (secondary summary; both lie below the {at['HEAL-017']:.2f} of the whole series, so "
        "one figure is off), while the 2022 trial found no link: half of it is believed. Stable from 1 month "
        "(HEAL-044), 42 days (HEAL-014) or 3 months (HEAL-042), by author."
    )


def milestones(*, has_bone_work: bool) -> tuple[str, ...]:
    """When to judge, restore and scan."""
    finals = published("HEAL-043")
    bone_months = published("HEAL-042").value
    after_bone = (
        f"Final restorations: not before {bone_months:g} months after bone work (HEAL-042)"
        if has_bone_work
        else f"Soft tissue only: stable from {published('HEAL-044').value:g} month in one trial (HEAL-044); "
        "6 weeks is kept as the first look. Final restorations"
    )
    return (
        "6 weeks: first look at the line; do not judge or trim it earlier (42 days, HEAL-014; common practice).",
        f"{published('CP-012').value:g} months at the earliest: provisional margins may be moved "
        "(CP-012, common practice, no source).",
        f"{after_bone}; in the visible zone {finals.value:g} months, {finals.low:g} to {finals.high:g} by tissue "
        "and demand, later for thick tissue (HEAL-043, from memory).",
        "Two visits, at least 4 weeks apart, must show every margin unchanged within 0.5 mm from the same datum "
        "before the final scan (common practice, no source).",
        "12 months: final result; compare with the day of surgery from the same datum, not from a restored edge.",
    )


def notes_on(distances: Mapping[str, float], *, has_bone_work: bool, coverage: float) -> tuple[str, ...]:
    """What the figures hold for, and what they do not."""
    recession = published("HEAL-041")
    notes = []
    if distances:
        listed = ", ".join(f"{tooth} {distance:.1f}" for tooth, distance in distances.items())
        notes.append(f"Midfacial margin to crest at suturing, mm: {listed}. Measure and write it down after suturing.")
    near = [tooth for tooth, distance in distances.items() if distance < SAFE_DISTANCE_MM]
    if near:
        notes.append(
            f"{', '.join(near)}: sutured nearer than {SAFE_DISTANCE_MM:g} mm to the crest; about "
            f"{published('HEAL-011').value:.1f} mm came back at 2 mm or less (HEAL-011)."
        )
    if not has_bone_work:
        notes.append(
            "The cohorts are of flaps with bone work. For an excision without a flap no series by distance was "
            "found: the figures stand for comparison only."
        )
    notes.append(
        f"The band is meant to hold {coverage:.0%} of new sites; it is a forecast from few patients, never a promise."
    )
    notes.append(
        f"It does not hold rare large recession: {recession.value:g} % of sites receded 2-4 mm more between 6 weeks "
        "and 6 months in one series (HEAL-041, from memory)."
    )
    exposed = published("HEAL-040")
    notes.append(
        f"Operators tend to lower less bone than they mean to: {exposed.value:g} ± {exposed.sd:g} mm where 3 was "
        "meant (HEAL-040, from memory). Sound from the planned margin before closing (CP-006)."
    )
    notes.append(
        f"Other teeth of the flap move too: non-adjacent ones by {neighbour_share():.0%} of the treated teeth's "
        "shift in a restorative series (HEAL-024, HEAL-026)."
    )
    return tuple(notes)

"""The audit of the rows an engine holds, format ``festoon-audit-report/1``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import duckdb

from festoon.audit.engine import BANDS, DIMENSIONS, MEASURES, counts, estimates, gather, sides
from festoon.audit.estimates import Estimate, wilson
from festoon.audit.feedback import Offer, offers
from festoon.audit.learning import Course, courses
from festoon.audit.mixed import MixedFit, fit_healed
from festoon.evidence.table import published

FORMAT = "festoon-audit-report/1"
COHORTS = (
    ("HEAL-011", "1.5 to 2.5"),
    ("HEAL-012", "2.5 to 3.5"),
    ("HEAL-013", "3.5 and more"),
    ("HEAL-036", "under 1.5"),
)
"""Published rebound beside the practice's own, by the band that holds its sutured distance."""


@dataclass(frozen=True)
class Audit:
    """Everything the audit found."""

    counts: dict[str, Any]
    estimates: dict[str, dict[tuple[str, str], Estimate]]
    """By dimension, then by measure and value."""
    sides: Estimate | None
    redo: tuple[float, tuple[float, float]] | None
    """Share of cases operated again, with Wilson's interval; None where no case says."""
    courses: tuple[Course, ...]
    mixed: MixedFit | str
    offers: tuple[Offer, ...]
    notes: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """For ``audit.json``."""
        return {
            "format": FORMAT,
            "counts": self.counts,
            "estimates": [
                {"dimension": dimension, "measure": measure, "value": value, **found.as_dict()}
                for dimension, by in self.estimates.items()
                for (measure, value), found in by.items()
            ],
            "published_rebound": [
                {"id": row, "distance": band, "mean_mm": published(row).value, "sd_mm": published(row).sd, "source": published(row).citation}
                for row, band in COHORTS
            ],
            "left_right": None if self.sides is None else self.sides.as_dict(),
            "redo": None if self.redo is None else {"share": self.redo[0], "ci": self.redo[1]},
            "learning": [course.as_dict() for course in self.courses],
            "mixed_model": self.mixed if isinstance(self.mixed, str) else self.mixed.as_dict(),
            "offers": [offer.as_dict() for offer in self.offers],
            "notes": list(self.notes),
        }  # fmt: skip


def make_audit(engine: duckdb.DuckDBPyConnection, *, expected_rebound: Mapping[str, float], seed: int = 1) -> Audit:
    """The audit of the view ``rows``; ``seed`` draws the patients of the mixed model.

    Parameters
    ----------
    expected_rebound : mapping of distance band to float [mm]
        What festoon expects of a margin sutured in that band, at about 6 months.
    """
    about = counts(engine)
    gather(engine)
    by = {dimension: estimates(engine, dimension) for dimension in DIMENSIONS}
    known = about["redo_known"]
    redo = (about["redone"] / known, wilson(about["redone"] / known, known)) if known else None
    notes = [
        "It informs a licensed clinician; it does not decide. Intervals are 95 %; the patient is the cluster.",
        "Operators are listed by code, in no order of merit. Patients are not dealt to operators at random: a difference between operators is not a difference in skill.",
        "Visits missed are left out; whether those patients healed alike is unknown.",
    ]
    few = sorted(
        {f"{dimension} {value}" for dimension, found in by.items() for (_, value), e in found.items() if e.few}
    )
    if few:
        notes.append("Few patients (under 20), intervals wide and themselves uncertain: " + ", ".join(few) + ".")
    absent = [words for name, words in MEASURES.items() if (name, "all") not in by["all"]]
    if absent:
        notes.append("Nothing to compare for: " + "; ".join(absent) + ".")
    return Audit(
        about, by, sides(engine), redo, courses(engine), fit_healed(engine, seed),
        _offers(engine, by, expected_rebound), tuple(notes),
    )  # fmt: skip


def _offers(
    engine: duckdb.DuckDBPyConnection,
    by: Mapping[str, Mapping[tuple[str, str], Estimate]],
    expected: Mapping[str, float],
) -> tuple[Offer, ...]:
    """What each practice's own figures offer: those of several together are no practice's own."""
    practices = sorted({value for _, value in by["practice"]})
    found: list[Offer] = []
    for practice in practices:
        alone = len(practices) == 1
        bands = by["distance"] if alone else estimates(engine, "distance", practice)
        rebound = {band: bands["rebound", band] for band in BANDS if ("rebound", band) in bands}
        sounding = by["practice"].get(("sounding", practice))
        found += offers(sounding, rebound, expected, None if alone else practice)
    return tuple(found)

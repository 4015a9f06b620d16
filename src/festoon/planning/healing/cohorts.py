"""The published cohorts behind the healing model: what each printed, at which sutured distance, and how it counts.

A *shift* is how far the margin moved after suturing, coronal positive. Weights, stated once:

======================================  =========  =========
cohort                                  in centre  in spread
======================================  =========  =========
seen, sutured distance printed          1          1
seen, sutured distance not printed      1/2        1/2
review of other series                  0          1/2
from memory                             0          1/2
======================================  =========  =========

A figure from memory never moves the expected value where a seen one exists; it can only widen the band. A cohort that
does not print its distance is put at 3 mm, the distance its protocol aimed at, with half weight because flaps come to
lie short of the aim. Two arms of one trial, or two sites of one series, share one weight.
"""

from __future__ import annotations

from dataclasses import dataclass

from festoon.evidence.table import Published, published

SEEN, HALF, SHARED = 1.0, 0.5, 0.25
"""Weight of a whole cohort, of a weaker one, and of one of the two arms of a weaker one."""
AIMED_AT_MM = 3.0
"""Where a cohort without a printed distance is put: the margin-to-crest distance practice aims at (CP-001)."""

SAFE_DISTANCE_MM = published("HEAL-020").value
"""A flap is never compensated to nearer than this: nearer, rebound and its spread both grow (HEAL-011, HEAL-020)."""


@dataclass(frozen=True)
class Cohort:
    """One group of sites as printed: shift after suturing in mm, coronal positive."""

    row: Published
    """The row that names it in the evidence tables."""
    mean_mm: float
    sd_mm: float | None
    """Between sites, as printed; None where it was not printed or cannot be derived."""
    months: int
    distance: str
    """Sutured margin-to-crest distance, in words."""
    centre_at_mm: float | None = None
    """The knot whose expected value it helps to set."""
    spread_at_mm: tuple[float, ...] = ()
    """The knots whose band it helps to set."""
    weight: float = HALF
    derivation: str = ""
    """How the mean follows from the printed figures, where it was not printed itself."""

    @property
    def text(self) -> str:
        """The cohort in one line, as printed."""
        spread = "" if self.sd_mm is None else f" ± {self.sd_mm:.2f}"
        size = "" if self.row.n is None else f", n = {self.row.n}"
        derived = f" ({self.derivation})" if self.derivation else ""
        return f"{self.distance}: {self.mean_mm:+.2f}{spread} mm at {self.months} months{size}{derived}"


def _printed(
    row_id: str,
    distance: str,
    *,
    months: int = 6,
    centre: float | None = None,
    spread: tuple[float, ...] = (),
    weight: float = HALF,
) -> Cohort:
    row = published(row_id)
    return Cohort(row, row.value, row.sd, months, distance, centre, spread, weight)


def _arm(after_id: str, later_id: str, name: str) -> Cohort:
    """An arm that printed crown lengths: the shift is what was lost between suturing and 12 months."""
    after, later = published(after_id), published(later_id)
    return Cohort(
        row=later,
        mean_mm=after.value - later.value,
        sd_mm=None,
        months=12,
        distance=f"{name} arm, distance not printed",
        centre_at_mm=AIMED_AT_MM,
        spread_at_mm=(AIMED_AT_MM,),
        weight=SHARED,
        derivation=f"crown length {after.value:.2f} at suturing, {later.value:.2f} at 12 months",
    )


COHORTS: tuple[Cohort, ...] = (
    _printed("HEAL-011", "sutured 2 mm or less from the crest", centre=2.0, spread=(1.0, 2.0), weight=SEEN),
    _printed("HEAL-012", "sutured 3 mm from the crest", centre=3.0, spread=(3.0,), weight=SEEN),
    _printed("HEAL-013", "sutured 4 mm or more from the crest", centre=4.0, spread=(4.0,), weight=SEEN),
    _arm("HEAL-006", "HEAL-007", "conventional"),
    _arm("HEAL-009", "HEAL-010", "guided"),
    _printed("HEAL-017", "bone lowered to the individual height, distance not printed", centre=3.0, spread=(3.0,)),
    _printed("HEAL-022", "five series pooled, distance not printed", spread=(3.0,)),
    _printed("HEAL-036", "sutured 1 mm or less from the crest", spread=(0.0, 1.0)),
    _printed("HEAL-037", "sutured 2 mm from the crest", spread=(2.0,)),
    _printed("HEAL-038", "sutured 3 mm from the crest", spread=(3.0,)),
    _printed("HEAL-039", "sutured 4 mm or more from the crest", spread=(4.0,)),
    _printed(
        "HEAL-030", "flap at the crest, little bone removed, interproximal", months=12, spread=(0.0,), weight=SHARED
    ),
    _printed("HEAL-031", "flap at the crest, little bone removed, facial", months=12, spread=(0.0,), weight=SHARED),
)
"""Every cohort used."""

THICK, THIN = published("HEAL-018"), published("HEAL-019")
"""Thick-flat and thin-scalloped subgroups of HEAL-017, from a secondary summary."""


def cohort_shift(row_id: str) -> Cohort:
    """The cohort named by its evidence row, with the mean and spread it printed.

    The arms of the 2022 trial are named by their 12-month row (``HEAL-007``, ``HEAL-010``).

    Raises
    ------
    LookupError
        If that row is no cohort of the healing model.
    """
    for cohort in COHORTS:
        if cohort.row.id == row_id:
            return cohort
    names = ", ".join(cohort.row.id for cohort in COHORTS)
    raise LookupError(f"{row_id} is no cohort of the healing model; there are {names}")

"""Learning curve: an operator's cases in order, with control limits.

Individuals chart (Shewhart) and tabular CUSUM; constants from Montgomery, Introduction to Statistical Quality Control,
from memory: d2 = 1.128 for moving ranges of two, allowance k = 0.5, decision limit h = 5 standard deviations.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from itertools import pairwise

import duckdb

D2, ALLOWANCE, DECISION = 1.128, 0.5, 5.0
LEAST_CASES = 8
"""Fewer cases have no limits: their spread is not known. Setting of festoon, no published source."""


@dataclass(frozen=True)
class Course:
    """One operator's cases in order; mm, apical positive."""

    operator: str
    case_order: tuple[int, ...]
    mean_mm: tuple[float, ...]
    """Mean over the sites of each case: margin after the cut less planned."""
    centre_mm: float | None
    lower_mm: float | None
    upper_mm: float | None
    outside: tuple[int, ...]
    """Order numbers of cases outside the limits."""
    signals: tuple[int, ...]
    """Order numbers at which a cumulative sum about zero (the plan) passes its decision limit, first of each run."""
    words: str

    def as_dict(self) -> dict[str, object]:
        """For JSON."""
        return asdict(self)


def course(operator: str, orders: tuple[int, ...], means: tuple[float, ...]) -> Course:
    """The chart of one operator."""
    if len(means) < LEAST_CASES:
        words = f"{len(means)} cases: too few for control limits"
        return Course(operator, orders, means, None, None, None, (), (), words)
    ranges = [abs(late - early) for early, late in pairwise(means)]
    sigma = sum(ranges) / len(ranges) / D2
    centre = sum(means) / len(means)
    lower, upper = centre - 3 * sigma, centre + 3 * sigma
    outside = tuple(k for k, x in zip(orders, means, strict=True) if not lower <= x <= upper)
    high = low = 0.0
    signals: list[int] = []
    for k, x in zip(orders, means, strict=True):
        high, low = max(0.0, high + x - ALLOWANCE * sigma), max(0.0, low - x - ALLOWANCE * sigma)
        if sigma > 0 and max(high, low) > DECISION * sigma:
            signals.append(k)
            high = low = 0.0
    words = f"{len(means)} cases; {len(outside)} outside the limits; cumulative sum off the plan {len(signals)} times"
    return Course(operator, orders, means, centre, lower, upper, outside, tuple(signals), words)


def courses(engine: duckdb.DuckDBPyConnection) -> tuple[Course, ...]:
    """One chart an operator, of the margin after the cut."""
    rows = engine.execute("""
        WITH p AS (SELECT operator, patient, any_value(surgery_order) AS k, sum(a) / sum(n) AS m FROM clusters
            WHERE measure = 'margin_cut' AND surgery_order IS NOT NULL GROUP BY operator, patient)
        SELECT operator, list(k ORDER BY k, patient), list(m ORDER BY k, patient) FROM p GROUP BY operator ORDER BY operator
        """).fetchall()
    return tuple(course(operator, tuple(orders), tuple(means)) for operator, orders, means in rows)

"""Several readings of one quantity: their inverse-variance mean, and whether they agree at all.

The mean is Bevington and Robinson, *Data Reduction and Error Analysis for the Physical Sciences*, equations 4.17 and
4.19 (from memory). Readings further apart than two combined standard errors are a conflict for a person to settle:
the mean is then not to be used, and nothing is dropped. With three readings or more it is said which one stands alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from festoon.kernels.combine import disagreeing_pairs, inverse_variance_mean

ALLOWED_SE = 2.0
"""A pair that differs by more than this many combined standard errors is a contradiction."""


@dataclass(frozen=True)
class Combination:
    """What several readings of one quantity say together, in mm."""

    mean: float
    """Inverse-variance mean of all of them; no value to use while there is a conflict."""
    se: float
    """Standard error of the mean."""
    chi_square: float
    """Sum of squared deviations over variances, with one degree of freedom less than readings."""
    disagreeing: tuple[tuple[int, int], ...] = ()
    """Pairs of readings, by index, that contradict each other."""
    odd_one: int | None = None
    """The one reading without which the others agree; None where there is none, or more than one could be it."""
    others: tuple[float, float] | None = None
    """Mean and standard error without the odd one: offered to the person who settles it, never taken unasked."""

    @property
    def is_conflict(self) -> bool:
        """True where a person has to settle it before the value is used."""
        return bool(self.disagreeing)

    @property
    def value(self) -> float | None:
        """The mean, or None while there is a conflict: a contradiction is not averaged in silence."""
        return None if self.is_conflict else self.mean


def combine(values: Sequence[float], standard_errors: Sequence[float]) -> Combination:
    """Combine readings of one quantity.

    Parameters
    ----------
    values : sequence of float, length n
        In mm, levels all from one datum.
    standard_errors : sequence of float, length n
        In mm, positive.

    Raises
    ------
    ValueError
        If there is no value, the lengths differ or a standard error is not positive.
    """
    mean, se = inverse_variance_mean(values, standard_errors)
    if len(values) == 1:
        return Combination(values[0], standard_errors[0], 0.0)  # unchanged to the last bit
    chi_square = sum(((v - mean) / s) ** 2 for v, s in zip(values, standard_errors, strict=True))
    pairs = disagreeing_pairs(values, standard_errors, limit=ALLOWED_SE)
    odd = _odd_one(len(values), pairs)
    others = None
    if odd is not None:
        kept = [i for i in range(len(values)) if i != odd]
        others = inverse_variance_mean([values[i] for i in kept], [standard_errors[i] for i in kept])
    return Combination(mean, se, chi_square, tuple(pairs), odd, others)


def _odd_one(n_readings: int, pairs: Sequence[tuple[int, int]]) -> int | None:
    """The one reading that is part of every disagreement, where exactly one is and at least two others agree."""
    if n_readings < 3 or not pairs:
        return None
    shared = set(pairs[0]).intersection(*pairs[1:])
    return shared.pop() if len(shared) == 1 else None

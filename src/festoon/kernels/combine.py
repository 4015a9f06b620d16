"""Several readings of one quantity as one value.

The inverse-variance weighted mean and its standard error, as in any textbook of measurement (for example Bevington
and Robinson, *Data Reduction and Error Analysis*, section 4.1: from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from math import hypot, sqrt


def inverse_variance_mean(values: Sequence[float], standard_errors: Sequence[float]) -> tuple[float, float]:
    """Weighted mean with weights 1/se², and its standard error ``1/sqrt(sum of weights)``.

    Raises
    ------
    ValueError
        If there is no value, the lengths differ or a standard error is not positive.
    """
    if not values or len(values) != len(standard_errors) or min(standard_errors) <= 0:
        raise ValueError("needs as many positive standard errors as values, and at least one")
    weights = [1 / se**2 for se in standard_errors]
    total = sum(weights)
    return sum(w * v for w, v in zip(weights, values, strict=True)) / total, 1 / sqrt(total)


def disagreeing_pairs(
    values: Sequence[float], standard_errors: Sequence[float], *, limit: float = 2.0
) -> list[tuple[int, int]]:
    """Index pairs that differ by more than ``limit`` combined standard errors."""
    return [
        (i, j)
        for i, j in combinations(range(len(values)), 2)
        if abs(values[i] - values[j]) > limit * hypot(standard_errors[i], standard_errors[j])
    ]

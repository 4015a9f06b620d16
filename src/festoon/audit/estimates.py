"""Bias, limits of agreement and shares with intervals, for sites that stand together in patients.

The patient is the cluster. Everything comes from nine sums over patients (``docs/method/audit.md``), so that the sums can be
made wherever the rows lie.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from math import exp, sqrt

from scipy.stats import norm, t

FEW_PATIENTS = 20
"""Fewer patients than this are said to be few. Setting of festoon, no published source: sandwich intervals run short below."""
Z = float(norm.ppf(0.975))
Interval = tuple[float, float] | None


@dataclass(frozen=True)
class Estimate:
    """What a set of differences says, in mm; intervals are 95 %. None where it cannot be said."""

    sites: int
    patients: int
    bias_mm: float
    bias_ci_mm: Interval
    sd_mm: float | None
    sd_ci_mm: Interval
    lower_loa_mm: float | None
    lower_loa_ci_mm: Interval
    upper_loa_mm: float | None
    upper_loa_ci_mm: Interval
    within_half_mm: float
    within_half_ci: tuple[float, float]
    reader_sd_mm: float | None
    """Root mean square of the readings' standard errors, where each row gives one."""
    few: bool

    def as_dict(self) -> dict[str, object]:
        """For JSON."""
        return asdict(self)


def wilson(share: float, size: float) -> tuple[float, float]:
    """Wilson's 95 % interval (1927) of a share, ``size`` being the effective number."""
    middle = (share + Z**2 / (2 * size)) / (1 + Z**2 / size)
    half = Z / (1 + Z**2 / size) * sqrt(share * (1 - share) / size + Z**2 / (4 * size**2))
    return max(0.0, middle - half), min(1.0, middle + half)


def estimate(sums: Mapping[str, float]) -> Estimate:
    """From sums over patients.

    Parameters
    ----------
    sums : mapping
        ``patients``; with n, a, b, w the patient's number of sites, sum, sum of squares and number within half a millimetre:
        ``n a b w nn na nb aa ab bb nw ww``, products summed over patients; ``se2`` the mean squared standard error or None.
    """
    sites, patients = sums["n"], int(sums["patients"])
    mean = sums["a"] / sites
    variance = max(sums["b"] / sites - mean**2, 0.0)
    share = sums["w"] / sites
    reader = None if sums["se2"] is None else sqrt(sums["se2"])
    spread = None
    bias_ci = sd_ci = low_ci = high_ci = None
    low = high = None
    if patients > 1:
        factor, quantile = patients / (patients - 1), float(t.ppf(0.975, patients - 1))

        def error(n: float, a: float, b: float) -> float:
            """Standard error of a statistic whose influence in a patient is ``n·N + a·A + b·B``."""
            square = (
                n * n * sums["nn"] + a * a * sums["aa"] + b * b * sums["bb"]
                + 2 * (n * a * sums["na"] + n * b * sums["nb"] + a * b * sums["ab"])
            )  # fmt: skip
            return sqrt(factor * max(square, 0.0)) / sites

        half = quantile * error(-mean, 1.0, 0.0)
        bias_ci = (mean - half, mean + half)
        # The mean was estimated from the same patients: its own variance is given back.
        spread = sqrt(variance + error(-mean, 1.0, 0.0) ** 2)
        if spread > 0:
            of_variance = (mean**2 - variance, -2 * mean, 1.0)
            relative = quantile * error(*of_variance) / (2 * spread**2)
            sd_ci = (spread * exp(-relative), spread * exp(relative))
            limits = []
            for sign in (-1.0, 1.0):
                k = sign * Z / (2 * spread)
                half = quantile * error(-mean + k * of_variance[0], 1.0 + k * of_variance[1], k)
                at = mean + sign * Z * spread
                limits.append((at, (at - half, at + half)))
            (low, low_ci), (high, high_ci) = limits
    binomial = share * (1 - share) / sites
    effective = float(patients)  # nothing varies: only the number of patients is sure to be independent
    if patients > 1 and binomial > 0:
        square = sums["ww"] - 2 * share * sums["nw"] + share**2 * sums["nn"]
        clustered = patients / (patients - 1) * max(square, 0.0) / sites**2
        effective = min(sites, sites * binomial / clustered) if clustered > 0 else sites
    return Estimate(
        int(sites), patients, mean, bias_ci, spread, sd_ci, low, low_ci, high, high_ci,
        share, wilson(share, max(effective, 1.0)), reader, patients < FEW_PATIENTS,
    )  # fmt: skip


def own_error(found: Estimate) -> tuple[float, Interval] | None:
    """Standard error of soundings alone: the spread against the opened site less the error of the direct reading.

    None where the direct reading's error is not given, or explains the whole spread.
    """
    if found.sd_mm is None or found.sd_ci_mm is None or found.reader_sd_mm is None:
        return None
    squares = [sd**2 - found.reader_sd_mm**2 for sd in (found.sd_mm, *found.sd_ci_mm)]
    if squares[0] <= 0:
        return None
    middle, low, high = (sqrt(max(square, 0.0)) for square in squares)
    return middle, (low, high)

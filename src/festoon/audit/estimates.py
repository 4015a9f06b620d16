"""Bias, limits of agreement and shares with intervals, for sites that stand together in patients.

The patient is the cluster and the operator the stratum: patients are taken as a sample of each operator's patients, the
operators as they are. Everything comes from sums over the patients of each operator (``docs/method/audit.md``), so that the
sums can be made wherever the rows lie.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from math import exp, sqrt

from scipy.stats import norm, t

FEW_PATIENTS = 20
"""Fewer patients than this are said to be few. Setting of festoon, no published source: sandwich intervals run short below."""
Z = float(norm.ppf(0.975))
_PRODUCT = {frozenset(name): name for name in ("nn", "na", "nb", "aa", "ab", "bb", "nw", "ww")}
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


Sums = Mapping[str, float | None]
"""Of the patients of one operator: ``patients``; with n, a, b, w a patient's number of sites, sum, sum of squares and number
within half a millimetre: ``n a b w nn na nb aa ab bb nw ww``, products summed over patients; ``se2`` the sum of squared standard
errors or None where a row gives none."""


def estimate(strata: Sequence[Sums]) -> Estimate:
    """From the sums of each operator's patients."""

    def total(name: str) -> float:
        return sum(float(one[name] or 0.0) for one in strata)

    sites, patients = total("n"), int(total("patients"))
    mean = total("a") / sites
    variance = max(total("b") / sites - mean**2, 0.0)
    share = total("w") / sites
    reader = None if any(one["se2"] is None for one in strata) else sqrt(total("se2") / sites)
    freedom = patients - len(strata)
    spread = None
    bias_ci = sd_ci = low_ci = high_ci = None
    low = high = None
    if freedom > 0:
        quantile = float(t.ppf(0.975, freedom))

        def error(**influence: float) -> float:
            """Standard error of a statistic whose influence in a patient is ``n·N + a·A + b·B + w·W``."""
            return sqrt(sum(_square(one, influence) for one in strata)) / sites

        half = quantile * error(n=-mean, a=1.0)
        bias_ci = (mean - half, mean + half)
        # The mean was estimated from the same patients: its own variance is given back.
        spread = sqrt(variance + error(n=-mean, a=1.0) ** 2)
        if spread > 0:
            n, a = mean**2 - variance, -2 * mean
            relative = quantile * error(n=n, a=a, b=1.0) / (2 * spread**2)
            sd_ci = (spread * exp(-relative), spread * exp(relative))
            limits = []
            for sign in (-1.0, 1.0):
                k = sign * Z / (2 * spread)
                half = quantile * error(n=-mean + k * n, a=1.0 + k * a, b=k)
                at = mean + sign * Z * spread
                limits.append((at, (at - half, at + half)))
            (low, low_ci), (high, high_ci) = limits
    binomial = share * (1 - share) / sites
    effective = float(patients)  # nothing varies: only the number of patients is sure to be independent
    if freedom > 0 and binomial > 0:
        clustered = error(n=-share, w=1.0) ** 2
        effective = min(sites, sites * binomial / clustered) if clustered > 0 else sites
    return Estimate(
        int(sites), patients, mean, bias_ci, spread, sd_ci, low, low_ci, high, high_ci,
        share, wilson(share, max(effective, 1.0)), reader, patients < FEW_PATIENTS,
    )  # fmt: skip


def _square(one: Sums, influence: Mapping[str, float]) -> float:
    """C/(C-1) times the sum over one operator's patients of the squared influence about its mean.

    A single patient tells nothing of the spread about their own mean: there it is taken about the mean of all.
    """
    names = list(influence)
    patients = float(one["patients"] or 0.0)
    square = sum(
        influence[i] * influence[j] * float(one[_PRODUCT[frozenset((i, j))]] or 0.0) for i in names for j in names
    )
    if patients == 1:
        return max(square, 0.0)
    plain = sum(influence[i] * float(one[i] or 0.0) for i in names)
    return patients / (patients - 1) * max(square - plain**2 / patients, 0.0)


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

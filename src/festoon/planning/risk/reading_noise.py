"""How a reading errs, as a distribution that can be drawn.

``error = reading − truth``, in mm. The *spread* of a reading comes from :mod:`festoon.evidence.errors` and nowhere
else; this module only gives it a *shape*, because a rounded probe and a probe that missed the bone do not err like a
bell curve. The shapes:

``given with the reading``
    Gaussian with the reading's own ``se``. It wins over every published core. A sounding keeps its misreadings (below)
    beside it: no reader knows that the probe stopped on the wrong place.
``probe``, ``direct``
    Uniform ±0.25 mm, the probe read to half millimetres (ERR-010), plus uniform ±0.25 mm for the choice of axis. What
    a landmark adds (mucogingival junction, CEJ) is Gaussian.
``calliper``, ``scan``
    Uniform ±0.25 mm for the choice of axis where the quantity is a level; the rest Gaussian (ERR-029 for scans).
``photo``, ``film``, ``cbct``, ``design``
    Gaussian (ERR-035; ERR-019; the limits of agreement of ERR-014). A thin facial plate that a volume does not show
    ("false dehiscence", ERR-016, ERR-022 to ERR-028) has no published frequency and is not drawn: a note says so.
``sounding``
    A mixture, from 190 teeth opened after sounding (ERR-001 to ERR-004), read in whole millimetres:

    * 83.2 % right, 4.7 % off by 1 mm, 12.1 % off by ``1 mm + an exponential``;
    * under to over as 14.2 to 2.6 (note of ERR-004), taken alike for both kinds of misreading;
    * the mean of the exponential is set so that the mean error is the printed −0.28 mm: 1.96 mm. Nothing else is
      fitted. Check: the standard deviation that comes out, 1.26 mm, lies near the 1.32 mm that the printed spreads and
      correlation imply (STA-026, STA-027, r = 0.238);
    * plus uniform ±0.5 mm, the rounding to whole millimetres (ERR-009), or the Gaussian of the reading's own ``se``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np
from numpy.typing import NDArray

from festoon.evidence.errors import default_method, reading_error
from festoon.evidence.table import published
from festoon.kernels.combine import inverse_variance_mean
from festoon.model.case import SiteChart
from festoon.model.reading import Method, Reading

Array = NDArray[np.float64]

WITHIN = published("ERR-002").value / 100
"""Share of soundings off by 1 mm."""
BEYOND = published("ERR-003").value / 100
"""Share of soundings off by more than 1 mm."""
SOUNDING_BIAS_MM = published("ERR-004").value
_UNDER, _OVER = 0.142, 0.026
"""Shares that read too little and too much: note of ERR-004."""
UNDER_SHARE = _UNDER / (_UNDER + _OVER)
"""Of the misread soundings, those that read too little."""
BEYOND_EXCESS_MM = (-SOUNDING_BIAS_MM / (2 * UNDER_SHARE - 1) - WITHIN) / BEYOND - 1
"""Mean of the exponential beyond 1 mm."""

_HALF_MM, _WHOLE_MM, _AXIS_MM = 0.5, 1.0, 0.5
_UNIFORM_WIDTHS: dict[Method, tuple[float, ...]] = {
    Method.PROBE: (_HALF_MM, _AXIS_MM),
    Method.DIRECT: (_HALF_MM, _AXIS_MM),
    Method.CALLIPER: (_AXIS_MM,),
    Method.SCAN: (_AXIS_MM,),
}


@dataclass(frozen=True)
class Noise:
    """The error of one reading: uniform parts, a Gaussian part, and whether it may be a misread sounding."""

    widths: tuple[float, ...] = ()
    """Whole widths of the uniform parts, mm."""
    sd: float = 0.0
    """Of the Gaussian part, mm."""
    misreads: bool = False
    source: str = ""

    @property
    def mean(self) -> float:
        """Mean error, mm: zero but for soundings."""
        return SOUNDING_BIAS_MM if self.misreads else 0.0

    @property
    def spread(self) -> float:
        """Standard deviation of the error, mm."""
        variance = self.sd**2 + sum(width**2 for width in self.widths) / 12
        if self.misreads:
            beyond = 1 + 2 * BEYOND_EXCESS_MM + 2 * BEYOND_EXCESS_MM**2
            variance += WITHIN + BEYOND * beyond - SOUNDING_BIAS_MM**2
        return sqrt(variance)

    def draw(self, generator: np.random.Generator, draws: int) -> Array:
        """Errors, shape (draws,), mm."""
        error = np.zeros(draws)
        for width in self.widths:
            part = generator.random(draws)
            part -= 0.5
            part *= width
            error += part
        if self.sd > 0:
            part = generator.standard_normal(draws)
            part *= self.sd
            error += part
        if self.misreads:
            fate = generator.random(draws)
            wrong = np.flatnonzero(fate < WITHIN + BEYOND)
            size = np.ones(len(wrong))
            size[fate[wrong] < BEYOND] += generator.standard_exponential(int((fate < BEYOND).sum())) * BEYOND_EXCESS_MM
            error[wrong] += np.where(generator.random(len(wrong)) < UNDER_SHARE, -size, size)
        return error


def noise_of(key: str, reading: Reading) -> Noise:
    """How one reading of the quantity with this case-file key errs."""
    error = reading_error(key, reading)
    method = reading.method or default_method(key)
    misreads = method is Method.SOUNDING or (key == "sounding_mm" and method is Method.PROBE)
    if reading.se is not None:
        return Noise(sd=reading.se, misreads=misreads, source=error.source)
    if misreads:
        return Noise(widths=(_WHOLE_MM,), misreads=True, source="ERR-001 to ERR-004, ERR-009")
    widths = _UNIFORM_WIDTHS.get(method, ())
    rest = error.se_mm**2 - sum(width**2 for width in widths) / 12
    # The table prints 0.14 where 0.5 / sqrt(12) is 0.144: what is left then is no variance of its own.
    return Noise(widths, sqrt(rest) if rest > 0 else 0.0, source=error.source)


def weights_of(key: str, readings: Sequence[Reading]) -> tuple[float, ...]:
    """How much of each reading's error enters the combined value: the weights of the inverse-variance mean."""
    precisions = [1 / reading_error(key, reading).se_mm ** 2 for reading in readings]
    return tuple(precision / sum(precisions) for precision in precisions)


def combined_se(key: str, readings: Sequence[Reading]) -> float:
    """Standard error of the combined value, mm."""
    return inverse_variance_mean([0.0] * len(readings), [reading_error(key, r).se_mm for r in readings])[1]


def crest_weights(chart: SiteChart) -> dict[str, float]:
    """How much the error of each quantity enters the crest level, by case-file key; empty where it is not known.

    A sounded crest is margin plus sounding of one visit, so an error of the margin moves both together. A crest read
    directly is combined with a sounded one by inverse variance.
    """
    sounded = chart.margin_mm and chart.sounding_mm and _one_visit(chart.margin_mm, chart.sounding_mm)
    if not sounded:
        return {"crest_mm": 1.0} if chart.crest_mm else {}
    if not chart.crest_mm:
        return {"margin_mm": 1.0, "sounding_mm": 1.0}
    of_sounded = hypot(combined_se("margin_mm", chart.margin_mm), combined_se("sounding_mm", chart.sounding_mm))
    of_direct = combined_se("crest_mm", chart.crest_mm)
    share = of_direct**2 / (of_direct**2 + of_sounded**2)
    return {"margin_mm": share, "sounding_mm": share, "crest_mm": 1 - share}


def _one_visit(first: Sequence[Reading], second: Sequence[Reading]) -> bool:
    """Margin and sounding may be added where no days are said or one day is shared."""
    days, other = ({r.at for r in readings if r.at is not None} for readings in (first, second))
    return not (days and other) or bool(days & other)

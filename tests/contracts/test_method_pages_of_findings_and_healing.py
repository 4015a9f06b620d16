"""The method pages say what the code does."""

from __future__ import annotations

from pathlib import Path

import pytest

from festoon.findings import thresholds
from festoon.findings.causes import CAUSES
from festoon.model.case import Phenotype
from festoon.planning.healing.cohorts import COHORTS, Cohort
from festoon.planning.healing.forecast import KNOTS_MM, expected_shift, suture_distance_for

METHOD = Path(__file__).parents[2] / "docs" / "method"
FINDINGS = (METHOD / "findings.md").read_text("utf-8")
HEALING = (METHOD / "healing.md").read_text("utf-8")


@pytest.mark.parametrize(
    "threshold", [v for v in vars(thresholds).values() if isinstance(v, thresholds.Threshold)], ids=lambda v: v.meaning
)
def test_threshold_is_on_the_page(threshold: thresholds.Threshold) -> None:
    """Value, unit and source, as the code has them."""
    assert f"| {threshold.meaning} | {threshold.value:g} {threshold.unit} | {threshold.source} |" in FINDINGS


def test_page_lists_every_cause_and_weight() -> None:
    table = FINDINGS.split("## Causes and what is looked at")[1].split("*Withholds*")[0]
    assert sum(line.startswith("| ") for line in table.splitlines()) - 1 == len(CAUSES)
    for name, value in (("decisive", "DECISIVE"), ("clear", "CLEAR"), ("some", "SOME"), ("little", "LITTLE")):
        assert f"| {getattr(thresholds, value):g} | {name} |" in FINDINGS


@pytest.mark.parametrize("cohort", COHORTS, ids=lambda cohort: cohort.row.id)
def test_cohort_is_on_the_page(cohort: Cohort) -> None:
    """Row, mean and weight."""
    row = next(line for line in HEALING.splitlines() if line.startswith(f"| {cohort.row.id} |"))
    assert f"{cohort.mean_mm:+.2f}" in row
    assert f"| {cohort.weight:g} |" in row


@pytest.mark.parametrize("distance", KNOTS_MM)
def test_knot_is_on_the_page(distance: float) -> None:
    """Expected shift and band at 6 months."""
    shift = expected_shift(distance, 26)
    row = next(line for line in HEALING.splitlines() if line.startswith(f"| {distance:g} | "))
    assert f"| {shift.mean_mm:+.2f} |" in row
    assert f"{shift.low_mm:+.2f} to {shift.high_mm:+.2f}" in row


def test_suture_distances_are_on_the_page() -> None:
    unknown, thin, thick = (suture_distance_for(0, 6, p) for p in (Phenotype.UNKNOWN, Phenotype.THIN, Phenotype.THICK))
    assert f"zero at {unknown:.1f} mm (thin {thin:.1f}, thick {thick:.1f})" in HEALING

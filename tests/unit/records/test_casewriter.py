"""A written case reads back the same and looks as a person would write it."""

from __future__ import annotations

from pathlib import Path

import pytest

from festoon.model.case import Case
from festoon.model.dentition import Notation
from festoon.records.casefile import parse_case, read_case
from festoon.records.casewriter import write_case

CASES = Path(__file__).parents[2] / "cases"


@pytest.mark.parametrize("notation", list(Notation))
@pytest.mark.parametrize("name", ["full.yaml", "minimal.yaml"])
def test_what_is_written_reads_back_equal(name: str, notation: Notation) -> None:
    """Teeth, roles and papillae change their names and nothing else."""
    case = read_case(CASES / name).case
    read = parse_case(write_case(case, notation).encode(), "a.yaml")
    assert read.case == case.model_copy(update={"notation": notation})
    assert list(read.case.teeth) == list(case.teeth)


def test_levels_keep_their_datum_and_charts_stay_short() -> None:
    """A level from the present edge that says no more is a bare number; any other carries its datum."""
    text = write_case(read_case(CASES / "full.yaml").case, Notation.FDI)
    assert "{value: 2.5, datum: template}" in text
    assert '{value: 8.6, se: 0.2, method: scan, datum: planned_edge, by: "op-2", at: 2026-02-11}' in text
    assert "distal: {margin_mm: 4.2, sounding_mm: 3.6, contact_mm: 4.0}" in text


def test_the_unknown_is_left_out() -> None:
    """Neither null nor zero stands where nobody read anything."""
    case = Case.model_validate({"case": "demo", "notation": "fdi", "teeth": {"11": {}}})
    assert write_case(case, Notation.PALMER) == (
        'format: festoon-case/1\ncase: demo\npurpose: aesthetic\nnotation: palmer\nteeth:\n  "UR1": {}\n'
    )


@pytest.mark.parametrize(
    "text", ["no", "1e5", "012", "null", "~", "2026-02-11", "a: b", "# a", "é ü 漢", 'q"\\', " x "]
)
def test_text_stays_text(text: str) -> None:
    """Words that some reader of YAML takes for a number, a day or an answer come back as they were."""
    case = Case.model_validate(
        {"case": "demo", "notation": "fdi", "teeth": {"11": {"width_mm": {"value": 8, "flag": text}}}}
    )
    assert parse_case(write_case(case, Notation.FDI).encode(), "a.yaml").case == case

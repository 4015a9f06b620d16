"""The worked page of every hard case is what its file and the planner say."""

from __future__ import annotations

import pytest
from repository import ROOT

from hard_cases import HARD, NAMES, planned
from pages.cases import case_page, trap_of


@pytest.mark.parametrize("name", NAMES)
def test_worked_page_is_up_to_date(name: str) -> None:
    """As committed; the plan is shared with the tests of the hard cases, so this costs nothing more."""
    file = HARD / f"{name}.yaml"
    page = (ROOT / "docs" / "cases" / f"{name}.md").read_text("utf-8")
    assert page == case_page(file, trap_of(file), planned(name)), "run python scripts/generate_docs.py"

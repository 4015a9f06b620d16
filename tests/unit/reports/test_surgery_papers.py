"""The surgery record and the letters: on one page, in the right words, nothing blank where nothing was read."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pypdfium2
import pytest

from festoon.model.dentition import Site
from festoon.model.quantities import Quantity
from festoon.model.reading import Datum
from festoon.model.surgery import ReadingEntry, Step
from festoon.records.demo import demo_case
from festoon.reports.results import fine
from festoon.reports.surgery_record import write_surgery_record
from festoon.store.opening import open_store
from festoon.store.store import Store
from festoon.workflow import surgery as work
from festoon.workflow.records import keep_case_file, plan_and_keep, sign_kept_plan
from festoon.workflow.stored_plan import signed_plan
from festoon.workflow.surgery_papers import write_letters

CASE, BY = "linden-04", "op-1"


@pytest.fixture(scope="module")
def sutured(tmp_path_factory: pytest.TempPathFactory) -> tuple[Store, work.Surgery]:
    """One margin read after suturing, everything else left."""
    folder = tmp_path_factory.mktemp("papers")
    store = open_store(folder / "home")
    (folder / "case.yaml").write_bytes(demo_case(CASE))
    keep_case_file(store, folder / "case.yaml", None, base=None, by=BY, why="test")
    plan_and_keep(store, CASE, by=BY, why="test")
    sign_kept_plan(store, CASE, 1, by=BY, role="surgeon", reason="agreed")
    mine = work.start_surgery(store, CASE, 1, by=BY, why="test", surgery_at=dt.date(2026, 6, 1))
    entry = ReadingEntry(
        step=Step.PROBE_SUTURE, tooth="11", site=Site.MIDFACIAL, quantity=Quantity.MARGIN_LEVEL, value=9.65,
        datum=Datum.PLANNED_EDGE,
    )  # fmt: skip
    work.enter(store, mine, entry, key="key-suture-1", by=BY)
    return store, mine


def pages(data: bytes) -> list[str]:
    """The text of each page."""
    return [" ".join(page.get_textpage().get_text_range().split()) for page in pypdfium2.PdfDocument(data)]


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_record_is_one_page_and_says_what_is_open(sutured: tuple[Store, work.Surgery], paper: str) -> None:
    """With everything left undone it still fits, and says that it is not signed off and what was not read."""
    store, mine = sutured
    now = work.state(store, mine)
    plan = signed_plan(store, CASE, 1).plan
    data = write_surgery_record(plan, now, paper=paper)  # type: ignore[arg-type]  # the name is one of the two
    (text,) = pages(data)
    assert "NOT SIGNED OFF" in text
    assert "NO REASON GIVEN YET" in text
    assert "NOT READ" in text
    assert "9.65" in text
    assert write_surgery_record(plan, now, paper=paper) == data  # type: ignore[arg-type]  # the same


def test_the_record_of_another_plan_is_refused(sutured: tuple[Store, work.Surgery]) -> None:
    """Levels of one plan are never printed against another."""
    store, mine = sutured
    other = signed_plan(store, CASE, 1).plan.model_copy(update={"design_version": "another"})
    with pytest.raises(ValueError, match="not the plan"):
        write_surgery_record(other, work.state(store, mine, resolve=False))


def test_each_reader_gets_a_letter_of_its_own(sutured: tuple[Store, work.Surgery], tmp_path: Path) -> None:
    """The colleague gets the table in two notations; the patient plain words, no promise and points for consent."""
    store, mine = sutured
    colleague, laboratory, patient = (
        " ".join(pages(path.read_bytes())) for path in write_letters(store, mine, tmp_path)
    )
    assert "11 / 8" in colleague
    assert "9.65" in colleague
    assert "no visit yet" in laboratory
    assert "not a promise" in patient
    assert "adapted to local law" in patient
    assert "11 / 8" not in patient.split("Points that")[0].split("Margins over time")[0]


@pytest.mark.parametrize(
    ("value", "said"), [(9.65, "9.65"), (9.5, "9.5"), (9.0, "9.0"), (-0.25, "−0.25"), (None, "NOT READ")]
)
def test_numbers_keep_what_was_read(value: float | None, said: str) -> None:
    """A quarter of a millimetre stays one, and unknown is a word."""
    assert fine(value) == said

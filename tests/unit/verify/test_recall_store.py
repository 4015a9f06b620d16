"""Recalls on the store: from the same planned edge whatever edge is in the mouth, judged, never guessed."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path

import pytest
from pydantic import ValidationError

from festoon.errors import InputRefusedError
from festoon.model.dentition import Site
from festoon.model.quantities import Quantity, QuantityReading
from festoon.model.reading import Datum
from festoon.model.recall import Complication, ComplicationKind, EdgeEntry, VisitEntry
from festoon.model.surgery import ReadingEntry, Step
from festoon.model.verification import Verdict
from festoon.records.demo import demo_case
from festoon.store.errors import StoreError
from festoon.store.opening import open_store
from festoon.store.store import Store
from festoon.workflow import recall
from festoon.workflow.records import keep_case_file, plan_and_keep, sign_kept_plan
from festoon.workflow.stored_plan import signed_plan
from festoon.workflow.surgery import Surgery, enter, start_surgery

CASE, BY, DAY = "linden-04", "op-1", dt.date(2026, 6, 1)


@pytest.fixture(scope="module")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with a surgery whose flap of 11 was sutured as planned and 4 mm from bone."""
    folder = tmp_path_factory.mktemp("recall")
    store = open_store(folder / "home")
    (folder / "case.yaml").write_bytes(demo_case(CASE))
    keep_case_file(store, folder / "case.yaml", None, base=None, by=BY, why="test")
    plan_and_keep(store, CASE, by=BY, why="test")
    sign_kept_plan(store, CASE, 1, by=BY, role="surgeon", reason="agreed")
    surgery = start_surgery(store, CASE, 1, by=BY, why="test", surgery_at=DAY)
    at = {"step": Step.PROBE_SUTURE, "tooth": "11", "site": Site.MIDFACIAL}
    level = ReadingEntry(**at, quantity=Quantity.MARGIN_LEVEL, value=10.0, datum=Datum.PLANNED_EDGE)
    enter(store, surgery, level, key="key-suture-1", by=BY)
    enter(store, surgery, ReadingEntry(**at, quantity=Quantity.SOUNDING, value=3.0), key="key-suture-2", by=BY)
    return folder / "home"


@pytest.fixture
def store(prepared: Path, tmp_path: Path) -> Store:
    """A copy of its own."""
    shutil.copytree(prepared, tmp_path / "home")
    return open_store(tmp_path / "home")


SURGERY = Surgery(CASE, 1)


def margin(value: float, datum: Datum = Datum.PLANNED_EDGE) -> QuantityReading:
    """A midfacial margin of 11."""
    return QuantityReading(
        tooth="11", site=Site.MIDFACIAL, quantity=Quantity.MARGIN_LEVEL, value=value, se=0.2, datum=datum
    )


def visit(weeks: int, *readings: QuantityReading) -> VisitEntry:
    """A visit so many weeks after surgery."""
    return VisitEntry(at=DAY + dt.timedelta(weeks=weeks), readings=readings)


def test_a_margin_is_the_same_before_and_after_the_tooth_was_restored(store: Store) -> None:
    """9.8 from the planned edge; 9.5 from a crown 0.3 mm shorter than planned is 9.8 again: stable."""
    recall.add(store, SURGERY, visit(8, margin(9.8)), key="key-visit-01", by=BY)
    crown = EdgeEntry(
        tooth="11", at=DAY + dt.timedelta(weeks=20), edge="final", from_planned_mm=0.3, source="measured on the cast"
    )
    recall.add(store, SURGERY, crown, key="key-edge-001", by=BY)
    recall.add(store, SURGERY, visit(26, margin(9.5, Datum.RESTORED_EDGE)), key="key-visit-02", by=BY)
    found = recall.recall_state(store, SURGERY).verification
    assert [check.margin_mm for check in found.visits] == pytest.approx([9.8, 9.8])
    assert [course.verdict for course in found.courses] == [Verdict.STABLE]


@pytest.mark.parametrize(("late", "verdict"), [(9.0, Verdict.CREEPING), (10.6, Verdict.RECEDING)])
def test_a_margin_that_moves_is_named(store: Store, late: float, verdict: Verdict) -> None:
    """Coronally: creeping; apically: receding; then no final restoration yet, and why."""
    recall.add(store, SURGERY, visit(8, margin(9.8)), key="key-visit-01", by=BY)
    recall.add(store, SURGERY, visit(40, margin(late)), key="key-visit-02", by=BY)
    found = recall.recall_state(store, SURGERY).verification
    assert found.courses[0].verdict is verdict
    final = next(item for item in found.readiness if item.what == "final")
    assert not final.may
    assert any("11" in why for why in final.why_not)


def test_the_edge_of_the_day_is_not_guessed(store: Store) -> None:
    """A level from the edge seen on the day it was changed is refused, and nothing is kept."""
    day = DAY + dt.timedelta(weeks=20)
    crown = EdgeEntry(tooth="11", at=day, edge="final", from_planned_mm=0.3, source="measured on the cast")
    recall.add(store, SURGERY, crown, key="key-edge-001", by=BY)
    with pytest.raises(InputRefusedError, match="edge was changed"):
        recall.add(store, SURGERY, visit(20, margin(9.5, Datum.PRESENT_EDGE)), key="key-visit-01", by=BY)
    assert recall.recall_state(store, SURGERY).verification.visits == ()


def test_a_visit_before_the_surgery_is_refused(store: Store) -> None:
    """Its day cannot be right."""
    with pytest.raises(InputRefusedError, match="after the surgery"):
        recall.add(store, SURGERY, visit(-1, margin(9.5)), key="key-visit-01", by=BY)


def test_a_visit_is_taken_back_and_retried_safely(store: Store) -> None:
    """The same key twice is one visit; taken back it counts no more and stays on record."""
    for _ in range(2):
        assert recall.add(store, SURGERY, visit(8, margin(9.8)), key="key-visit-01", by=BY) == 1
    recall.take_back(store, SURGERY, 1, key="key-back-001", by=BY)
    now = recall.recall_state(store, SURGERY)
    assert now.verification.visits == ()
    assert [entry.is_taken_back for entry in now.entries] == [True, False]
    with pytest.raises(StoreError):
        recall.take_back(store, SURGERY, 1, key="key-back-002", by=BY)


def test_keratinised_tissue_is_held_against_the_minimum(store: Store) -> None:
    """1.5 mm is less than the minimum of the policy."""
    kt = QuantityReading(tooth="11", site=Site.MIDFACIAL, quantity=Quantity.KERATINISED_WIDTH, value=1.5)
    recall.add(store, SURGERY, visit(8, kt), key="key-visit-01", by=BY)
    (check,) = recall.recall_state(store, SURGERY).keratinised
    assert check.verdict is Verdict.SHORT
    assert check.minimum_mm == (signed_plan(store, CASE, 1).case.policy.keratinised_minimum_mm or 2.0)


def test_what_contradicts_itself_is_refused() -> None:
    """An unnamed other complication, complications denied and listed, a score beyond ten."""
    with pytest.raises(ValidationError):
        Complication(kind=ComplicationKind.OTHER)
    with pytest.raises(ValidationError):
        VisitEntry(at=DAY, complications=(Complication(kind=ComplicationKind.PAIN),), is_without_complications=True)
    with pytest.raises(ValidationError):
        VisitEntry(at=DAY, satisfaction=11)


def test_papillae_are_judged_and_scores_are_only_told(store: Store) -> None:
    """An open space at 4.6 mm from contact to crest is not expected (Tarnow 1992, GIN-033); what nobody asked is not told."""
    day = DAY + dt.timedelta(weeks=26)
    first = VisitEntry(at=day, papillae={"11-21": "under_half"}, sensitivity={"11": 3})
    recall.add(store, SURGERY, first, key="key-visit-01", by=BY)
    now = recall.recall_state(store, SURGERY)
    papilla = now.papillae[0]
    assert papilla.contact_to_crest_mm is not None
    assert papilla.contact_to_crest_mm <= 5
    assert papilla.verdict is Verdict.SHORT
    assert "not expected" in papilla.text
    assert now.told == (f"{day}: sensitivity of 11 (8) 3 of 10",)


def test_the_latest_visit_is_taken_back_where_none_is_named(store: Store) -> None:
    """Two visits: the second one goes, the first one stays."""
    recall.add(store, SURGERY, visit(8, margin(9.8)), key="key-visit-01", by=BY)
    recall.add(store, SURGERY, visit(26, margin(9.0)), key="key-visit-02", by=BY)
    recall.take_back(store, SURGERY, key="key-back-001", by=BY)
    assert [v.margin_mm for v in recall.recall_state(store, SURGERY).verification.visits] == pytest.approx([9.8])


@pytest.mark.parametrize(
    ("said", "found"),
    [
        ({}, "says nothing"),
        ({"papillae": {"11-25": "complete"}}, "papilla 11-25"),
        ({"sensitivity": {"16": 3}}, "tooth 16"),
        ({"complications": [{"kind": "pain", "tooth": "16"}]}, "tooth 16"),
    ],
)
def test_a_visit_that_says_nothing_or_speaks_of_nothing_there_is_refused(
    store: Store, said: dict[str, object], found: str
) -> None:
    """An empty visit would count as a patient seen; a papilla between two far teeth is a slip of the keys."""
    entry = VisitEntry.model_validate({"at": DAY + dt.timedelta(weeks=7), **said})
    with pytest.raises(InputRefusedError, match=found):
        recall.add(store, SURGERY, entry, key="key-visit-01", by=BY)
    assert recall.recall_state(store, SURGERY).entries == ()


def test_an_edge_that_no_mouth_has_is_refused(store: Store) -> None:
    """30 for 0.3: a lost decimal point would shift every later reading."""
    crown = EdgeEntry(tooth="11", at=DAY + dt.timedelta(weeks=20), edge="final", from_planned_mm=30, source="cast")
    with pytest.raises(InputRefusedError, match="30 mm from the planned one"):
        recall.add(store, SURGERY, crown, key="key-edge-001", by=BY)


def test_the_two_sides_stay_compared_where_one_was_read_again_later(store: Store) -> None:
    """11 and 21 0.9 mm apart at 8 weeks; a later visit that reads 11 alone does not make the difference disappear."""
    other = margin(10.7).model_copy(update={"tooth": "21"})
    recall.add(store, SURGERY, visit(8, margin(9.8), other), key="key-visit-01", by=BY)
    recall.add(store, SURGERY, visit(13, margin(9.8)), key="key-visit-02", by=BY)
    pairs = recall.recall_state(store, SURGERY).verification.pairs
    assert [(pair.pair, pair.at, pair.verdict) for pair in pairs] == [
        ("11-21", DAY + dt.timedelta(weeks=8), Verdict.ASYMMETRIC)
    ]


def test_a_visit_on_the_very_day_of_twelve_months_is_not_past_the_cohorts(store: Store) -> None:
    """365 days are 52.1 weeks: still the 12-month visit; two weeks later the figures have ended."""
    for key, days in (("key-visit-01", 365), ("key-visit-02", 379)):
        at = VisitEntry(at=DAY + dt.timedelta(days=days), readings=(margin(9.8),))
        recall.add(store, SURGERY, at, key=key, by=BY)
    texts = [check.text for check in recall.recall_state(store, SURGERY).verification.visits]
    assert ["figures end" in text for text in texts] == [False, True]

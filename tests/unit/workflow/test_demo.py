"""The demo shows the whole job: one of its cases was operated and followed, entry by entry, as a practice would."""

from __future__ import annotations

import pytest

from festoon.model.verification import Verdict
from festoon.store.opening import open_store
from festoon.store.store import Store
from festoon.store.verifying import verify as prove
from festoon.workflow import desk, recall, surgery
from festoon.workflow.demo import keep_demo_cases

FOLLOWED = "harrow-22"


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Store:
    store = open_store(tmp_path_factory.mktemp("demo"))
    keep_demo_cases(store, by="demo")
    return store


def test_the_followed_case_is_signed_off_with_nothing_left_undone(store: Store) -> None:
    """Its plan is the one signed, every target is reached, and no reading contradicts another."""
    state = surgery.state(store, surgery.latest(store, FOLLOWED))
    assert state.signed_off_by == "demo"
    assert not state.not_done
    assert not state.stale
    assert not state.notes
    assert {site.check.verdict for site in state.sites if site.check} == {Verdict.REACHED}


def test_the_followed_case_has_a_year_of_visits(store: Store) -> None:
    """Five visits, the last after twelve months, every margin within its band and the pairs alike."""
    now = recall.recall_state(store, surgery.latest(store, FOLLOWED))
    days = [entry.entry.at for entry in now.entries if entry.entry.kind == "visit"]
    assert len(days) == 5
    assert (days[-1] - now.surgery_at).days == 364
    assert {pair.verdict for pair in now.verification.pairs} == {Verdict.SYMMETRIC}
    assert {papilla.fill for papilla in now.papillae if papilla.at == days[-1]} == {"complete"}


def test_the_demo_cases_are_kept_once(store: Store) -> None:
    """Asking again adds nothing, and the records prove whole."""
    before = desk.open_on_desk(store, FOLLOWED).version
    assert keep_demo_cases(store, by="demo")[-1] == FOLLOWED
    assert desk.open_on_desk(store, FOLLOWED).version == before
    assert prove(store).is_whole


def test_every_demo_case_waits_for_something_else_or_has_been_seen_through(store: Store) -> None:
    """Only the followed case has a surgery."""
    with_surgery = [line.case for line, _ in desk.listed(store, limit=20) if _has_surgery(store, line.case)]
    assert with_surgery == [FOLLOWED]


def _has_surgery(store: Store, case: str) -> bool:
    return desk.open_on_desk(store, case).surgery is not None

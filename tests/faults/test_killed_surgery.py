"""A tablet or computer that dies in the middle of surgery: everything acknowledged is there, nothing is there twice."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from killed_writer import Tell, kill_one

from festoon.store import chairside, keeping
from festoon.store.opening import open_store
from festoon.store.verifying import verify

ROUNDS = 6


@pytest.mark.parametrize("seed", range(ROUNDS))
def test_every_acknowledged_entry_survives_a_kill(tmp_path: Path, seed: int) -> None:
    """Kill -9 while entries stream in: the acknowledged ones are there in order, and a retry of the last adds one at most."""
    home = tmp_path / "home"
    store = open_store(home)
    who = {"by": "op-1", "why": "test"}
    keeping.save_case(store, "c-1", "{}", base=0, **who)
    plan = keeping.keep_plan(store, "c-1", "{}", case_version=1, used=[], **who)
    number = chairside.begin_surgery(store, "c-1", plan.number, plan.sha256, "{}", **who)

    def run(tell: Tell) -> None:
        mine = open_store(home)
        turn = 0  # the clock of the kill starts with the first acknowledged entry
        while True:
            turn += 1
            kept = chairside.keep_entry(mine, "c-1", number, f"key-{turn:05}", f'{{"n":{turn}}}', by="op-1", what="t")
            tell("done entry", kept)

    killed = kill_one(run, random.Random(seed).uniform(0.05, 0.3))
    store = open_store(home)
    found = [entry.number for entry in chairside.surgery_on_record(store, "c-1", number).entries]
    said = [value for _, value in killed.done]
    assert said
    assert found[: len(said)] == said
    assert len(found) <= len(said) + 1
    turn = len(said) + 1
    chairside.keep_entry(store, "c-1", number, f"key-{turn:05}", f'{{"n":{turn}}}', by="op-1", what="t")
    assert len(chairside.surgery_on_record(store, "c-1", number).entries) == turn
    assert verify(store).is_whole

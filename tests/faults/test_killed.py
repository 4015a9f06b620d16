"""kill -9 in the middle of every kind of write: nothing signed is lost, nothing is half visible."""

from __future__ import annotations

import os
import random
import shutil
from collections import Counter
from pathlib import Path

import pytest
from killed_writer import Killed, check_acknowledged, kill_one, write_for_ever

from festoon.store import keeping, looking
from festoon.store.backup import back_up, restore
from festoon.store.engine import sqlite_engine
from festoon.store.errors import StoreDamagedError
from festoon.store.migrating import REVISIONS, migrate
from festoon.store.opening import open_store
from festoon.store.verifying import verify

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="kills a forked process")
_KILLS_PER_STORE = 25
_LONGEST_SECONDS = 0.25


def _kill_loop(root: Path, n_kills: int, seed: int) -> Counter[str]:
    rng = random.Random(seed)
    during: Counter[str] = Counter()
    for turn in range(n_kills):
        home = root / f"s{turn // _KILLS_PER_STORE}" / "home"
        if turn % _KILLS_PER_STORE == 0:
            shutil.rmtree(root / f"s{turn // _KILLS_PER_STORE - 1}", ignore_errors=True)
        # A first start writes the whole schema: it is killed as well, now and then.
        killed: Killed = kill_one(
            lambda tell, h=home, t=turn: write_for_ever(h, tell, t), rng.uniform(0, _LONGEST_SECONDS)
        )
        during[killed.during] += 1
        store = open_store(home)
        verdict = verify(store)
        assert verdict.is_whole, (turn, killed.during, verdict.broken)
        check_acknowledged(store, killed)
        other = home.parent / "other"
        if other.exists():
            assert verify(open_store(other)).is_whole
        for backup in home.parent.glob("backup-*"):
            assert (backup / "manifest.json").exists(), "half a backup is visible"
        if turn % _KILLS_PER_STORE == _KILLS_PER_STORE - 1:
            keeping.save_case(store, f"after-{turn}", "{}", base=0, by="op-1", why="goes on")
    return during


def test_some_kills(tmp_path: Path) -> None:
    """A dozen kills at random moments; the full number runs in the slow lane."""
    during = _kill_loop(tmp_path, 12, seed=1)
    assert sum(during.values()) == 12


@pytest.mark.slow
def test_five_hundred_kills(tmp_path: Path) -> None:
    """At least 500 kills at random moments, and each kind of write was interrupted."""
    during = _kill_loop(tmp_path, 520, seed=2)
    print(dict(during))
    for kind in ("open", "save", "readings", "plan", "sign", "file", "backup", "export"):
        assert during[kind], f"no kill fell into {kind}: {dict(during)}"


def test_kills_during_a_restore(tmp_path: Path) -> None:
    """A restore that is killed leaves the old records, the new ones, or a refusal that a second restore lifts."""
    home = tmp_path / "home"
    store = open_store(home)
    for turn in range(3):
        keeping.save_case(store, f"c-{turn}", "{}", base=0, by="op-1", why="test")
    backup = back_up(store, tmp_path / "backup").folder
    keeping.save_case(store, "later", "{}", base=0, by="op-1", why="test")
    rng = random.Random(3)

    def run(tell: object) -> None:
        tell("begin restore", None)
        while True:
            restore(backup, home, by="op-1", why="test")

    for _ in range(12):
        kill_one(run, rng.uniform(0, 0.15))
        try:
            store = open_store(home)
        except StoreDamagedError:
            store = restore(backup, home, by="op-1", why="again")
        assert verify(store).is_whole
        assert {"c-0", "c-1", "c-2"} <= {line.case for line in looking.list_cases(store)}
    assert list((home / "set-aside").iterdir())


def test_kills_during_a_migration(tmp_path: Path) -> None:
    """An older database is whole after every kill, at its old version or at the new one, and a backup stands beside."""
    rng = random.Random(4)
    for turn in range(10):
        home = tmp_path / f"h{turn}"
        older_store(home)

        def run(tell: object, home: Path = home) -> None:
            tell("begin migrate", None)
            open_store(home)
            while True:
                pass

        kill_one(run, rng.uniform(0, 0.12))
        store = open_store(home)
        assert verify(store).is_whole
        assert [line.case for line in looking.list_cases(store)] == ["old"]
        assert list((home / "backups").glob("before-migration-*.db"))


def older_store(home: Path) -> None:
    """A store as the first version wrote it, with one case in it."""
    home.mkdir(parents=True)
    engine = sqlite_engine(home / "records.db")
    with engine.execution_options(writes=True).begin() as connection:
        migrate(connection, to=REVISIONS[0])
        connection.exec_driver_sql("INSERT INTO store_info VALUES (1, 'old', '2026-01-01T00:00:00.000000Z')")
    engine.dispose()
    _save_as_first_version(home)


def _save_as_first_version(home: Path) -> None:
    """Rows as the first version wrote them: it had no column for retention."""
    import datetime as dt

    from festoon.store.tables import case_versions
    from festoon.store.trail import Act, digest, record

    engine = sqlite_engine(home / "records.db")
    now = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)
    row = {
        "case_id": "old", "number": 1, "parent": 0, "document": "{}", "sha256": digest(b"{}"),
        "kept_at": "2026-01-01T00:00:00.000000Z", "kept_by": "op-1",
    }  # fmt: skip
    with engine.execution_options(writes=True).begin() as connection:
        connection.exec_driver_sql("INSERT INTO cases (case_id, head, changed) VALUES ('old', 1, 1)")
        record(connection, [Act("case saved", "version 1", "test", "old", {case_versions: [row]})], by="op-1", now=now)
    engine.dispose()

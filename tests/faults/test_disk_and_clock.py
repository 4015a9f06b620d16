"""Disk full, folder read-only, clock moved back, two processes, files cut or overwritten, databases of other versions."""

from __future__ import annotations

import datetime as dt
import hashlib
import multiprocessing
import os
import resource
import signal
import sqlite3
import subprocess
import traceback
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import pytest
from test_killed import older_store

from festoon.store import keeping, looking
from festoon.store.backup import back_up, restore
from festoon.store.errors import StoreDamagedError, StoreNewerError, StoreUnwritableError
from festoon.store.opening import open_store
from festoon.store.store import Store
from festoon.store.verifying import verify

WHO: dict[str, Any] = {"by": "op-1", "why": "test"}


def _begun(home: Path, n_cases: int = 3) -> Store:
    store = open_store(home)
    for turn in range(n_cases):
        keeping.save_case(store, f"c-{turn}", '{"v":1}', base=0, **WHO)
    return store


@contextmanager
def _files_no_larger_than(n_bytes: int) -> Iterator[None]:
    """The kernel refuses every write past this size, as a full disk does."""
    old = resource.getrlimit(resource.RLIMIT_FSIZE)
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (n_bytes, old[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, old)


def test_a_write_that_meets_its_limit_leaves_everything_as_it_was(tmp_path: Path) -> None:
    """Whatever is being written when the disk is full: a clear message, and the records whole."""
    store = _begun(tmp_path / "home")
    before = verify(store).head
    rows = [{"tooth": "11", "quantity": "sounding", "value": 2.0, "source": "t", "flag": "x" * 500}] * 4000
    writes: list[Callable[[], object]] = [
        lambda: keeping.keep_readings(store, {"c-1": rows}, **WHO),
        lambda: keeping.save_case(store, "c-1", "x" * 3_000_000, base=1, **WHO),
        lambda: back_up(store, tmp_path / "backup"),
    ]
    for write in writes:
        with _files_no_larger_than(40_000), pytest.raises(StoreUnwritableError, match=r"full|disk|written"):
            write()
        assert verify(store).head == before
    with _files_no_larger_than(40_000), pytest.raises(StoreUnwritableError, match="too large"):
        keeping.attach_file(store, "c-1", b"x" * 100_000, kind="scan", removed=[], **WHO)
    assert not (tmp_path / "backup").exists()
    assert not [path for path in tmp_path.rglob("*.part") if path.exists()]
    keeping.save_case(store, "c-1", '{"v":2}', base=1, **WHO)
    assert verify(store).is_whole


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    place = tmp_path / "small"
    place.mkdir()
    if (
        os.geteuid() != 0
        or subprocess.run(["mount", "-t", "tmpfs", "-o", "size=1500k", "tmpfs", place], check=False).returncode
    ):
        pytest.skip("NO SMALL DISK: a disk can be made only by root; the limit on file size was tested instead")
    yield place
    subprocess.run(["umount", "-l", place], check=True)


def test_a_disk_that_runs_full(small_disk: Path) -> None:
    """On a disk of 1.5 MB: what was acknowledged before it was full is there, and goes on when there is room again."""
    store = open_store(small_disk / "home")
    ballast = small_disk / "ballast"
    ballast.write_bytes(b"0" * 400_000)
    acknowledged: list[str] = []

    def fill() -> None:
        for turn in range(1000):
            keeping.save_case(store, f"c-{turn}", "x" * 20_000, base=0, **WHO)
            acknowledged.append(f"c-{turn}")

    with pytest.raises(StoreUnwritableError, match="full"):
        fill()
    ballast.unlink()
    store = open_store(small_disk / "home")
    assert verify(store).is_whole
    assert {line.case for line in looking.list_cases(store)} >= set(acknowledged)
    assert len(acknowledged) > 3
    keeping.save_case(store, "after", "{}", base=0, **WHO)


def _as_nobody(work: Callable[[], object]) -> str:
    """What comes of ``work`` in a process to which the permissions of files apply."""
    readable, writable = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            if os.geteuid() == 0:
                os.setgid(65534)
                os.setuid(65534)
            work()
            said = "done"
        except StoreUnwritableError as error:
            said = f"refused: {error}"
        except BaseException:
            said = traceback.format_exc()
        os.write(writable, said.encode())
        os._exit(0)
    os.close(writable)
    with os.fdopen(readable) as stream:
        said = stream.read()
    os.waitpid(child, 0)
    return said


def test_a_read_only_folder_is_said_and_nothing_is_touched(tmp_path: Path) -> None:
    """A folder that may not be written: a plain message without a path, and the same bytes afterwards."""
    store = _begun(tmp_path / "home")
    home = store.home.root
    before = {path: path.read_bytes() for path in home.rglob("*") if path.is_file()}
    for path in [home, *home.rglob("*")]:
        path.chmod(0o555 if path.is_dir() else 0o444)
    for parent in (tmp_path, *tmp_path.parents[:3]):  # a way that everybody may walk
        if parent.stat().st_uid == os.geteuid():
            parent.chmod(parent.stat().st_mode | 0o055)
    try:
        said = _as_nobody(lambda: keeping.save_case(open_store(home), "c-1", "{}", base=1, **WHO))
        elsewhere = _as_nobody(lambda: open_store(home / "new"))
    finally:
        for path in [home, *home.rglob("*")]:
            path.chmod(0o755 if path.is_dir() else 0o644)
    for text in (said, elsewhere):
        assert text.startswith("refused"), text
        assert "read-only" in text or "cannot be" in text
        assert str(home) not in text
    assert {path: path.read_bytes() for path in home.rglob("*") if path.is_file()} == before


def test_a_clock_moved_back_changes_no_order(tmp_path: Path) -> None:
    """The order is that of the chain; verify notes the clock and calls nothing broken."""
    times = iter([dt.datetime(2026, 3, 2, 12, tzinfo=dt.UTC)] * 4 + [dt.datetime(2026, 3, 1, tzinfo=dt.UTC)] * 20)
    store = open_store(tmp_path / "home", clock=lambda: next(times))
    for version in range(4):
        keeping.save_case(store, "c-1", f'{{"v":{version}}}', base=version, **WHO)
    record = looking.open_case(store, "c-1")
    assert (record.version, record.document) == (4, '{"v":3}')
    verdict = verify(store)
    assert verdict.is_whole
    assert any("clock was moved back" in note for note in verdict.notes)


def _save_many(home: Path, name: str, n_cases: int) -> None:
    store = open_store(home)
    for turn in range(n_cases):
        keeping.save_case(store, f"{name}-{turn}", "{}", base=0, by=name, why="test")


def test_two_processes_write_one_store(tmp_path: Path) -> None:
    """Three processes at once, first start included: nothing is lost and the chain is one."""
    home = tmp_path / "home"
    context = multiprocessing.get_context("fork")
    writers = [context.Process(target=_save_many, args=(home, f"op-{i}", 25)) for i in range(3)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join(60)
        assert writer.exitcode == 0
    store = open_store(home)
    assert len(looking.list_cases(store)) == 75
    verdict = verify(store)
    assert (verdict.is_whole, verdict.n_entries) == (True, 75)


@pytest.mark.parametrize(
    "harm",
    [
        pytest.param(lambda p: p.write_bytes(p.read_bytes()[: p.stat().st_size // 2]), id="cut in the middle"),
        pytest.param(lambda p: p.write_bytes(b""), id="emptied"),
        pytest.param(lambda p: p.write_bytes(b"Dear practice," + b" " * 9000), id="overwritten by a letter"),
        pytest.param(lambda p: p.write_bytes(p.read_bytes()[:4096] + b"\xa5" * 8192 + p.read_bytes()[12288:]), id="pages overwritten"),
    ],
)  # fmt: skip
def test_a_damaged_database_is_set_aside_never_overwritten(tmp_path: Path, harm: Callable[[Path], None]) -> None:
    """It is moved away with every byte it still has, no empty one takes its place, and a backup brings all back."""
    store = _begun(tmp_path / "home", 30)
    backup = back_up(store, tmp_path / "backup").folder
    with store.engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    harm(store.home.database)
    left = store.home.database.read_bytes()
    with pytest.raises(StoreDamagedError, match="set aside"):
        open_store(store.home.root)
    (kept,) = (store.home.root / "set-aside").glob("*/records.db")
    assert kept.read_bytes() == left
    with pytest.raises(StoreDamagedError, match="missing"):
        open_store(store.home.root)
    assert not store.home.database.exists()
    again = restore(backup, store.home.root, **WHO)
    assert len(looking.list_cases(again)) == 30
    assert verify(again).is_whole


def test_an_older_copy_of_the_database_is_noticed(tmp_path: Path) -> None:
    """Somebody copies last week's file over it: refused and left as it is."""
    store = _begun(tmp_path / "home")
    backup = back_up(store, tmp_path / "backup").folder
    keeping.save_case(store, "later", "{}", base=0, **WHO)
    for path in store.home.database_files:
        path.unlink()
    store.home.database.write_bytes((backup / "records.db").read_bytes())
    with pytest.raises(StoreDamagedError, match="older copy"):
        open_store(store.home.root)
    assert store.home.database.exists()


def test_a_newer_database_is_refused_untouched(tmp_path: Path) -> None:
    """Not one byte of it changes, and nothing is made beside it."""
    store = _begun(tmp_path / "home")
    with closing(sqlite3.connect(store.home.database)) as connection:
        connection.execute("UPDATE alembic_version SET version_num = 'r9999'")
        connection.commit()
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    before = {
        path.name: hashlib.sha256(path.read_bytes()).digest() for path in store.home.root.rglob("*") if path.is_file()
    }
    with pytest.raises(StoreNewerError, match="not touched"):
        open_store(store.home.root)
    after = {
        path.name: hashlib.sha256(path.read_bytes()).digest() for path in store.home.root.rglob("*") if path.is_file()
    }
    assert {name: sha for name, sha in after.items() if not name.endswith(("-shm", "-wal"))} == before


def test_an_older_database_is_migrated_after_a_backup(tmp_path: Path) -> None:
    """The backup is the old database, whole; what it held is there in the new one."""
    home = tmp_path / "home"
    older_store(home)
    store = open_store(home)
    assert [line.case for line in looking.list_cases(store)] == ["old"]
    assert verify(store).is_whole
    (copy,) = (home / "backups").glob("before-migration-*.db")
    with closing(sqlite3.connect(copy)) as connection:
        assert connection.execute("SELECT version_num FROM alembic_version").fetchall() == [("r0001",)]
    keeping.keep_until(store, "old", "2030-01-01", **WHO)
    # The old copy can be restored on its own; it is migrated on the way.
    again = restore(copy, tmp_path / "second", **WHO)
    assert [line.case for line in looking.list_cases(again)] == ["old"]


def test_a_database_of_another_program_is_refused(tmp_path: Path) -> None:
    """It is somebody else's, and stays as it is."""
    home = tmp_path / "home"
    home.mkdir()
    with closing(sqlite3.connect(home / "records.db")) as connection:
        connection.execute("CREATE TABLE other (a)")
        connection.commit()
    before = (home / "records.db").read_bytes()
    with pytest.raises(StoreDamagedError, match="none of festoon's records"):
        open_store(home)
    assert (home / "records.db").read_bytes() == before

"""The store: append-only versions, exact readings, signatures, a trail that proves itself, deletion, two people."""

from __future__ import annotations

import datetime as dt
import json
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from festoon.store import keeping, looking
from festoon.store.archive import export_case, import_archive
from festoon.store.backup import back_up, restore
from festoon.store.erasing import collect_files, delete_case
from festoon.store.errors import SignedPlanError, StaleVersionError, StoreError, UnknownRecordError
from festoon.store.opening import open_store
from festoon.store.store import Store
from festoon.store.verifying import verify

WHO: dict[str, Any] = {"by": "op-1", "why": "test"}
SECRET = "a reason with a remark about the person"


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return open_store(tmp_path / "home")


def _readings(n: int = 3, **other: object) -> list[dict[str, Any]]:
    row = {"tooth": "11", "site": "midfacial", "quantity": "sounding", "value": 2.3, "source": "csv row 2"}
    return [row | {"value": 2.0 + 0.1 * i} | other for i in range(n)]


def _full_case(store: Store, case: str = "c-1") -> None:
    keeping.save_case(store, case, '{"v":1}', base=0, **WHO)
    keeping.keep_readings(store, {case: _readings()}, by="op-1", why=SECRET)
    plan = keeping.keep_plan(store, case, '{"p":1}', case_version=1, used=[1, 3], **WHO)
    keeping.sign_plan(
        store, case, plan.number, plan.sha256, by="op-1", role="surgeon", reason="agreed with the patient"
    )
    keeping.attach_file(store, case, b"a photograph", kind="photo", removed=["GPSInfo"], **WHO)


def test_versions_are_added_never_changed(store: Store) -> None:
    """The first version is still there, word for word, after the second."""
    keeping.save_case(store, "c-1", '{"v":1}', base=0, **WHO)
    keeping.save_case(store, "c-1", '{"v":2}', base=1, **WHO)
    assert looking.version_of(store, "c-1", 1) == '{"v":1}'
    assert looking.open_case(store, "c-1").document == '{"v":2}'


def test_two_people_on_one_case_lose_nothing(store: Store) -> None:
    """The second to save is told, and both versions are kept until one who has seen both saves."""
    keeping.save_case(store, "c-1", '{"v":1}', base=0, **WHO)
    keeping.save_case(store, "c-1", '{"v":"hers"}', base=1, by="op-2", why="test")
    with pytest.raises(StaleVersionError, match="version 2 was saved in the meantime") as stale:
        keeping.save_case(store, "c-1", '{"v":"his"}', base=1, by="op-3", why="test")
    record = looking.open_case(store, "c-1")
    assert (record.version, record.beside, stale.value.kept) == (2, (3,), 3)
    assert looking.version_of(store, "c-1", 3) == '{"v":"his"}'
    keeping.save_case(store, "c-1", '{"v":"both"}', base=2, **WHO)
    assert looking.open_case(store, "c-1").beside == ()
    assert verify(store).is_whole


def test_a_plan_names_the_exact_readings_it_used(store: Store) -> None:
    """And says when the records moved on: a new reading, one set aside, a new version."""
    _full_case(store)
    keeping.judge_reading(store, "c-1", 2, is_kept=False, **WHO)
    record = looking.open_case(store, "c-1")
    (plan,) = record.plans
    assert plan.used == (1, 3)
    assert looking.staleness(record, plan) == ()
    keeping.judge_reading(store, "c-1", 3, is_kept=False, **WHO)
    keeping.keep_readings(store, {"c-1": _readings(1)}, **WHO)
    keeping.save_case(store, "c-1", '{"v":2}', base=1, **WHO)
    record = looking.open_case(store, "c-1")
    told = looking.staleness(record, record.plans[0])
    assert [word in text for word, text in zip(("version 2", "kept since", "set aside"), told, strict=True)] == [
        True
    ] * 3


def test_a_signed_plan_is_superseded_not_changed(store: Store) -> None:
    """A later plan takes its place; the signature stays under the old one, which nobody can sign again."""
    _full_case(store)
    second = keeping.keep_plan(store, "c-1", '{"p":2}', case_version=1, used=[1], supersedes=1, **WHO)
    old, new = looking.open_case(store, "c-1").plans
    assert old.superseded_by == 2
    assert old.document == '{"p":1}'
    assert [s.role for s in old.signatures] == ["surgeon"]
    assert not new.signatures
    with pytest.raises(SignedPlanError, match="superseded by plan 2"):
        keeping.sign_plan(store, "c-1", 1, old.sha256, by="op-2", role="surgeon", reason="late")
    with pytest.raises(SignedPlanError, match="not the one that was shown"):
        keeping.sign_plan(store, "c-1", 2, old.sha256, by="op-2", role="surgeon", reason="unseen")
    keeping.sign_plan(store, "c-1", 2, second.sha256, by="op-2", role="surgeon", reason="seen")
    with pytest.raises(SignedPlanError, match="already"):
        keeping.sign_plan(store, "c-1", 2, second.sha256, by="op-2", role="surgeon", reason="twice")


@pytest.mark.parametrize(
    "wrong",
    [
        lambda s: keeping.judge_reading(s, "c-1", 9, is_kept=False, **WHO),
        lambda s: keeping.keep_plan(s, "c-1", "{}", case_version=7, used=[], **WHO),
        lambda s: keeping.keep_plan(s, "c-1", "{}", case_version=1, used=[9], **WHO),
        lambda s: keeping.sign_plan(s, "c-1", 9, "0" * 64, by="op-1", role="surgeon", reason="x"),
        lambda s: looking.open_case(s, "c-9"),
        lambda s: looking.version_of(s, "c-1", 9),
        lambda s: looking.map_named(s, "none"),
        lambda s: s.files.get("0" * 64),
        lambda s: s.files.get("../../etc/passwd"),
    ],
)
def test_what_is_not_there_is_said_and_nothing_is_kept(store: Store, wrong: Any) -> None:
    """No row names one that is not there."""
    _full_case(store)
    before = verify(store).head
    with pytest.raises(UnknownRecordError):
        wrong(store)
    assert verify(store).head == before


TAMPERED = [
    ("a reading", "UPDATE readings SET value = 9.9 WHERE number = 1", "recorded was changed"),
    ("a signature", "UPDATE signatures SET signed_by = 'op-9'", "recorded was changed"),
    ("a plan", "UPDATE plans SET document = '{}'", "recorded was changed"),
    ("which readings a plan used", "DELETE FROM plan_readings WHERE reading = 3", "recorded was changed"),
    ("a reading slipped in", "INSERT INTO readings SELECT case_id, 99, tooth, site, quantity, value, se, method, datum, at, by, flag, source, entry FROM readings WHERE number = 1", "recorded was changed"),
    ("who did it", "UPDATE trail SET by = 'op-9' WHERE seq = 2", "was changed"),
    ("a reason", "UPDATE trail SET why = 'other' WHERE seq = 2", "recorded was changed"),
    ("a reason wiped", "UPDATE trail SET why = NULL, salt = NULL WHERE seq = 2", "lost its reason"),
    ("the last entry cut off", "DELETE FROM signatures; DELETE FROM case_files; DELETE FROM trail WHERE seq > 3", "had been written"),
    ("an entry cut out", "DELETE FROM trail WHERE seq = 2", "is missing"),
    ("the head of a case", "UPDATE cases SET head = 0", "points to version 0"),
    ("a deletion without tombstone", "UPDATE cases SET deleted = 1", "do not agree"),
]  # fmt: skip


@pytest.mark.parametrize(("sql", "told"), [row[1:] for row in TAMPERED], ids=[row[0] for row in TAMPERED])
def test_the_trail_proves_that_something_was_changed(store: Store, sql: str, told: str) -> None:
    """Whatever is changed behind its back, verify says so."""
    _full_case(store)
    assert verify(store).is_whole
    with closing(sqlite3.connect(store.home.database)) as connection:
        connection.executescript(sql)
    verdict = verify(store)
    assert not verdict.is_whole
    assert any(told in broken for broken in verdict.broken), verdict.broken


def test_a_changed_file_is_found_and_not_handed_out(store: Store) -> None:
    """A file whose bytes are not those of its name is no file of ours."""
    sha256 = keeping.attach_file(store, "c-1", b"scan", kind="scan", removed=[], **WHO)
    store.files.path(sha256).write_bytes(b"other")
    assert any("changed or cut short" in broken for broken in verify(store).broken)
    with pytest.raises(StoreError, match="changed or cut short"):
        store.files.get(sha256)
    store.files.put(b"scan")  # kept again, it heals
    assert verify(store).is_whole


def test_deletion_on_request_leaves_a_tombstone_and_nothing_else(store: Store) -> None:
    """Readings, plans, files and reasons are gone from every byte of the folder; the chain still proves itself."""
    _full_case(store)
    shared = keeping.attach_file(store, "c-2", b"shared with another", kind="photo", removed=[], **WHO)
    keeping.attach_file(store, "c-1", b"shared with another", kind="photo", removed=[], **WHO)
    gone = delete_case(store, "c-1", by="op-1", why="asked for")
    assert (gone.n_files, gone.older_backups) == (1, ())
    assert store.files.get(shared)
    assert verify(store).is_whole
    assert [line.case for line in looking.list_cases(store)] == ["c-2"]
    with pytest.raises(UnknownRecordError, match="deleted on request"):
        looking.open_case(store, "c-1")
    with pytest.raises(UnknownRecordError, match="deleted on request"):
        keeping.save_case(store, "c-1", "{}", base=0, **WHO)
    with pytest.raises(UnknownRecordError, match="deleted on request"):
        keeping.keep_readings(store, {"c-1": _readings()}, **WHO)
    left = b"".join(path.read_bytes() for path in store.home.root.rglob("*") if path.is_file())
    assert SECRET.encode() not in left
    assert b"agreed with the patient" not in left
    assert b"a photograph" not in left


def test_a_case_to_be_kept_is_not_deleted_by_accident(store: Store) -> None:
    """Before the day set for it, deletion has to be said twice."""
    _full_case(store)
    keeping.keep_until(store, "c-1", "2999-01-01", by="op-1", why="ten years after the last visit")
    with pytest.raises(StoreError, match="kept until 2999-01-01"):
        delete_case(store, "c-1", **WHO)
    assert looking.open_case(store, "c-1").readings
    delete_case(store, "c-1", despite_retention=True, **WHO)
    assert verify(store).is_whole


def test_an_archive_opens_on_another_machine(store: Store, tmp_path: Path) -> None:
    """Everything of the case is there, signatures as signed, and the other store proves itself."""
    _full_case(store)
    export_case(store, "c-1", tmp_path / "c-1.zip", schemas={"case": b"{}"})
    other = open_store(tmp_path / "other")
    brought = import_archive(other, tmp_path / "c-1.zip", by="op-9", why="moved here")
    assert brought.case == "c-1"
    here, there = looking.open_case(store, "c-1"), looking.open_case(other, "c-1")
    assert there.readings == here.readings
    assert there.plans == here.plans
    assert there.files[:1] == here.files
    assert there.files[1].kind == "trail of origin"
    assert json.loads(other.files.get(there.files[1].sha256))[0]["what"] == "case saved"
    assert verify(other).is_whole
    with pytest.raises(StoreError, match="in these records already"):
        import_archive(other, tmp_path / "c-1.zip", **WHO)


def test_an_archive_is_the_same_when_made_again(store: Store, tmp_path: Path) -> None:
    """Same case, same clock, same bytes."""
    _full_case(store)
    still = Store(store.home, store.engine, lambda: dt.datetime(2026, 3, 2, tzinfo=dt.UTC))
    made = [export_case(still, "c-1", tmp_path / f"{i}.zip", schemas={}) for i in range(2)]
    assert made[0] == made[1]


def test_a_backup_brings_everything_back_and_forgets_no_deletion(store: Store, tmp_path: Path) -> None:
    """What was deleted on request since the backup stays deleted; the present database is set aside."""
    _full_case(store, "c-1")
    _full_case(store, "c-2")
    backup = back_up(store, tmp_path / "backup").folder
    delete_case(store, "c-2", **WHO)
    keeping.save_case(store, "c-3", "{}", base=0, **WHO)
    again = restore(backup, store.home.root, by="op-1", why="the disk failed")
    assert [line.case for line in looking.list_cases(again)] == ["c-1"]
    assert again.files.get(looking.open_case(again, "c-1").files[0].sha256) == b"a photograph"
    assert verify(again).is_whole
    assert [entry.what for entry in looking.trail_of(again)][-2:] == ["store restored", "case deleted"]
    assert list((store.home.root / "set-aside").glob("*/records.db"))
    with pytest.raises(StoreError, match="no backup is ever overwritten"):
        back_up(store, tmp_path / "backup")


def test_a_changed_backup_is_refused_and_the_records_stay(store: Store, tmp_path: Path) -> None:
    """A restore proves the backup before it touches anything."""
    _full_case(store)
    backup = back_up(store, tmp_path / "backup").folder
    with (backup / "records.db").open("r+b") as stream:
        stream.seek(5000)
        stream.write(b"\xff" * 100)
    with pytest.raises(StoreError, match="changed or cut short"):
        restore(backup, store.home.root, **WHO)
    with pytest.raises(UnknownRecordError, match="no backup"):
        restore(tmp_path / "home" / "files", store.home.root, **WHO)
    assert looking.open_case(open_store(store.home.root), "c-1").readings


def test_files_nobody_refers_to_are_collected_after_a_while(store: Store) -> None:
    """A young one is left alone: its row may be on the way."""
    kept = keeping.attach_file(store, "c-1", b"kept", kind="scan", removed=[], **WHO)
    store.files.put(b"orphan")
    assert collect_files(store) == (0, 0)
    assert collect_files(store, grace_seconds=-1) == (1, len(b"orphan"))
    assert store.files.get(kept) == b"kept"


def test_a_column_map_is_kept_under_its_name(store: Store) -> None:
    """The latest of a name is used, the earlier ones stay in the trail."""
    keeping.keep_map(store, "ours", "1", **WHO)
    keeping.keep_map(store, "ours", "2", **WHO)
    assert looking.map_named(store, "ours") == "2"
    assert verify(store).is_whole


def test_search_takes_the_letters_as_they_are(store: Store) -> None:
    """An underscore is an underscore."""
    for case in ("a_1", "ab1", "B-2"):
        keeping.save_case(store, case, "{}", base=0, **WHO)
    assert [line.case for line in looking.list_cases(store, search="a_")] == ["a_1"]
    assert [line.case for line in looking.list_cases(store, search="b")] == ["B-2", "ab1"]
    assert [line.case for line in looking.list_cases(store, limit=1, offset=1)] == ["ab1"]


def test_no_sql_of_one_database_outside_the_engine() -> None:
    """PostgreSQL comes later: only engine.py, and the one guarded line of erasing.py, know SQLite."""
    folder = Path(keeping.__file__).parent
    for path in folder.rglob("*.py"):
        if path.name not in ("engine.py", "erasing.py"):
            text = path.read_text()
            assert "PRAGMA" not in text, path.name
            assert "sqlite_master" not in text, path.name


def test_the_tables_can_be_made_in_postgresql() -> None:
    """Every table compiles for the other database, with what the migrations make alike."""
    from sqlalchemy.dialects import postgresql
    from sqlalchemy.schema import CreateTable

    from festoon.store.tables import metadata

    for table in metadata.sorted_tables:
        assert "CREATE TABLE" in str(CreateTable(table).compile(dialect=postgresql.dialect()))


def test_the_migrations_make_the_tables_of_the_model(store: Store) -> None:
    """Alembic's own comparison finds no difference of tables, columns, types or nullability."""
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext

    from festoon.store.tables import metadata

    with store.read() as connection:
        found = compare_metadata(MigrationContext.configure(connection), metadata)
    names = [change for change in found if not str(change[0]).endswith(("_constraint", "_fk"))]
    assert not names

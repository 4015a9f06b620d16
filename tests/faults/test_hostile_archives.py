"""Archives that mean harm or were damaged: refused, nothing written anywhere, nothing kept."""

from __future__ import annotations

import io
import json
import stat
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from festoon.errors import InputRefusedError
from festoon.store import keeping, looking
from festoon.store.archive import export_case, import_archive
from festoon.store.errors import StoreError
from festoon.store.opening import open_store
from festoon.store.trail import digest
from festoon.store.verifying import verify

WHO: dict[str, Any] = {"by": "op-1", "why": "test"}
Entries = dict[str, bytes]


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """A sound archive."""
    folder = tmp_path_factory.mktemp("good")
    store = open_store(folder / "home")
    keeping.save_case(store, "c-1", '{"v":1}', base=0, **WHO)
    rows = [{"tooth": "11", "quantity": "sounding", "value": 2.5, "source": "t"}]
    keeping.keep_readings(store, {"c-1": rows}, **WHO)
    plan = keeping.keep_plan(store, "c-1", '{"p":1}', case_version=1, used=[1], **WHO)
    keeping.sign_plan(store, "c-1", 1, plan.sha256, by="op-1", role="surgeon", reason="ok")
    keeping.attach_file(store, "c-1", b"scan", kind="scan", removed=[], **WHO)
    export_case(store, "c-1", folder / "c-1.zip", schemas={})
    return (folder / "c-1.zip").read_bytes()


def _unpacked(data: bytes) -> Entries:
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        return {name: packed.read(name) for name in packed.namelist()}


def _packed(entries: Entries, *, listed: bool = True) -> bytes:
    """An archive of these entries, with a manifest that agrees with them unless told otherwise."""
    entries = dict(entries)
    if listed:
        manifest = json.loads(entries["manifest.json"])
        manifest["entries"] = {
            name: {"sha256": digest(data), "size": len(data)}
            for name, data in entries.items()
            if name != "manifest.json"
        }
        entries["manifest.json"] = json.dumps(manifest).encode()
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in entries.items():
            archive.writestr(name, data)
    return packed.getvalue()


def _with(**changes: bytes) -> Callable[[Entries], bytes]:
    return lambda entries: _packed(entries | {name.replace("__", "/"): data for name, data in changes.items()})


def _rows(table: str, change: Callable[[list[dict[str, Any]]], object]) -> Callable[[Entries], bytes]:
    def make(entries: Entries) -> bytes:
        rows = json.loads(entries[f"rows/{table}.json"])
        change(rows)
        return _packed(entries | {f"rows/{table}.json": json.dumps(rows).encode()})

    return make


def _link(entries: Entries) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for name, data in entries.items():
            info = zipfile.ZipInfo(name)
            info.external_attr = (stat.S_IFLNK | 0o777) << 16 if name == "summary.txt" else 0
            archive.writestr(info, b"/etc/passwd" if name == "summary.txt" else data)
    return packed.getvalue()


def _twice(entries: Entries) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for name, data in entries.items():
            archive.writestr(name, data)
        with pytest.warns(UserWarning, match="Duplicate"):
            archive.writestr("summary.txt", b"other")
    return packed.getvalue()


def _lying_size(entries: Entries) -> bytes:
    """A directory that says 10 bytes where a million unpack."""
    data = _packed(entries | {"summary.txt": b"0" * 1_000_000})
    size = (1_000_000).to_bytes(4, "little")
    return data.replace(size, (10).to_bytes(4, "little"))


HOSTILE: list[tuple[str, Callable[[Entries], bytes], str]] = [
    ("a path upwards", lambda e: _packed(e | {"../../evil.txt": b"x"}), "nothing was unpacked"),
    ("an absolute path", lambda e: _packed(e | {"/tmp/evil.txt": b"x"}), "nothing was unpacked"),
    ("a path with a drive", lambda e: _packed(e | {"C:\\evil.txt": b"x"}), "nothing was unpacked"),
    ("a file that climbs", lambda e: _packed(e | {"files/../evil": b"x"}), "nothing was unpacked"),
    ("a link", _link, "a link"),
    ("an entry twice", _twice, "twice"),
    ("a bomb", lambda e: _packed(e | {"summary.txt": b"0" * 60_000_000}), "fill a disk"),
    ("a size that lies", _lying_size, "hash|whole|damaged|another size|twice|huge"),
    ("an entry that was changed", lambda e: _packed(e | {"case.json": b"{}", "summary.txt": b"x"}, listed=False), "hash|list"),
    ("an entry beside the list", lambda e: _packed(e | {"schemas/x.json": b"{}"}, listed=False), "list"),
    ("a file that is not its hash", lambda e: _packed({(n if not n.startswith("files/") else f"files/{'0' * 64}"): d for n, d in e.items()}), "hash|rows|this entry"),
    ("another format", _with(**{"manifest.json": b'{"format":"x/1"}'}), "another format"),
    ("no JSON", lambda e: _packed(e | {"rows/readings.json": b"[" * 100_000}), "no JSON"),
    ("a reading without its value", _rows("readings", lambda r: r[0].pop("value")), "other keys"),
    ("text for a number", _rows("readings", lambda r: r[0].update(value="2.5")), "for value"),
    ("a row of another case", _rows("readings", lambda r: r[0].update(case_id="c-2")), "another case"),
    ("a plan of readings that are not there", _rows("plan_readings", lambda r: r[0].update(reading=7)), "not there"),
    ("a plan that was changed", _rows("plans", lambda r: r[0].update(document='{"p":2}')), "document was changed"),
    ("a signature moved", _rows("signatures", lambda r: r[0].update(plan_sha256="0" * 64)), "another plan"),
    ("no archive", lambda _: b"PK\x03\x04 not really", "damaged"),
    ("nothing", lambda _: b"", "damaged"),
]  # fmt: skip


@pytest.mark.parametrize(("make", "told"), [row[1:] for row in HOSTILE], ids=[row[0] for row in HOSTILE])
def test_a_hostile_archive_is_refused(good: bytes, make: Callable[[Entries], bytes], told: str, tmp_path: Path) -> None:
    """Refused with a reason; no file appears outside the store, and the store is as it was."""
    store = open_store(tmp_path / "deep" / "home")
    before = verify(store).head
    archive = tmp_path / "given.zip"
    archive.write_bytes(make(_unpacked(good)))
    with pytest.raises(InputRefusedError, match=told):
        import_archive(store, archive, **WHO)
    assert verify(store).head == before
    assert looking.list_cases(store) == []
    assert {path.name for path in tmp_path.iterdir()} == {"deep", "given.zip"}
    assert not Path("/tmp/evil.txt").exists()


@settings(max_examples=60)
@given(st.data())
def test_a_flipped_byte_is_refused_or_harmless(
    good: bytes, tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    """Whichever byte of a sound archive changes, either it is refused, or everything in it is as it was."""
    at = data.draw(st.integers(0, len(good) - 1))
    changed = bytearray(good)
    changed[at] ^= data.draw(st.integers(1, 255))
    folder = tmp_path_factory.mktemp("flipped")
    (folder / "given.zip").write_bytes(bytes(changed))
    store = open_store(folder / "home")
    try:
        import_archive(store, folder / "given.zip", **WHO)
    except (InputRefusedError, StoreError):
        assert looking.list_cases(store) == []
    else:
        assert looking.open_case(store, "c-1").document == '{"v":1}'
        assert verify(store).is_whole

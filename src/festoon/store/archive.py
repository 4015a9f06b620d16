"""One case as a single archive that opens on another machine: rows, files, schemas, hashes and a readable summary.

An archive may come from anywhere, so nothing of it is ever written under a name it says: entries are read one by one
against a list of names that can be there, with their sizes bounded, and their hashes compared before anything is kept.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
import re
import stat
import tempfile
import zipfile
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import Any

from sqlalchemy import Float, Integer, Table, insert, select, update
from sqlalchemy.exc import IntegrityError

from festoon.errors import Fault, InputRefusedError
from festoon.store.errors import StoreError
from festoon.store.looking import trail_of
from festoon.store.migrating import REVISIONS
from festoon.store.store import Store, require_case
from festoon.store.tables import CASE_TABLES, SINCE_R0003, case_files, case_versions, cases, plans, readings, signatures
from festoon.store.trail import Act, canonical, digest, now_text
from festoon.store.writing import flush_folder

ARCHIVE_FORMAT = "festoon-archive/1"
_MANIFEST = "manifest.json"
_NAMES = re.compile(
    r"summary\.txt|case\.json|readings\.csv|trail\.json|rows/[a-z_]{1,40}\.json|schemas/[a-z0-9-]{1,40}\.json"
    r"|files/[0-9a-f]{64}"
)
_MOST_ENTRIES = 20_000
_MOST_BYTES = 32 << 30
_MOST_TEXT_BYTES = 256 << 20
"""Of one entry that is no file: rows of a case stay below a hundredth of this."""
_MOST_RATIO = 400
"""Readings as JSON pack to about a fortieth, empty regions of a volume to a two-hundredth."""
_EPOCH = (1980, 1, 1, 0, 0, 0)
"""Every entry carries it, so that the same case gives the same archive."""


def export_case(store: Store, case: str, target: Path, *, schemas: Mapping[str, bytes]) -> str:
    """Write the archive of a case, whole or not at all. Returns its SHA-256.

    Parameters
    ----------
    store : Store
        The store.
    case : str
        Pseudonymous id.
    target : Path
        The ``.zip`` to be written.
    schemas : mapping of str to bytes
        JSON Schemas of the documents inside, by name.
    """
    with store.read() as connection:
        head = require_case(connection, case)
        rows = {
            table: [
                {key: value for key, value in row.items() if key != "entry"}
                for row in connection.execute(
                    select(table).where(table.c.case_id == case).order_by(*table.primary_key)
                ).mappings()
            ]
            for table in CASE_TABLES
        }
    entries = [vars(entry) for entry in trail_of(store, case)]
    contents: dict[str, bytes] = {f"rows/{table.name}.json": _pretty(found) for table, found in rows.items()}
    contents["trail.json"] = _pretty(entries)
    contents["readings.csv"] = _readings_csv(rows[readings])
    document = next((row["document"] for row in rows[case_versions] if row["number"] == head), None)
    if document is not None:
        contents["case.json"] = document.encode()
    contents |= {f"schemas/{name}.json": data for name, data in schemas.items()}
    contents["summary.txt"] = _summary(case, head, rows, entries)
    sizes = {row["sha256"]: row["size"] for row in rows[case_files]}
    listed = {name: {"sha256": digest(data), "size": len(data)} for name, data in contents.items()}
    listed |= {f"files/{sha256}": {"sha256": sha256, "size": size} for sha256, size in sizes.items()}
    manifest = {
        "format": ARCHIVE_FORMAT, "festoon": version("festoon"), "database": REVISIONS[-1], "case": case,
        "made_at": now_text(store.clock()), "entries": listed,
    }  # fmt: skip
    handle, temporary = tempfile.mkstemp(dir=target.parent, prefix=".", suffix=".part")
    try:
        with os.fdopen(handle, "wb") as stream:
            with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as packed:
                for name, data in {_MANIFEST: _pretty(manifest), **contents}.items():
                    packed.writestr(zipfile.ZipInfo(name, _EPOCH), data, zipfile.ZIP_DEFLATED)
                for sha256 in sizes:
                    packed.writestr(zipfile.ZipInfo(f"files/{sha256}", _EPOCH), store.files.get(sha256))
            stream.flush()
            os.fsync(stream.fileno())
        with Path(temporary).open("rb") as written:
            sha = hashlib.file_digest(written, "sha256").hexdigest()
        Path(temporary).replace(target)
        flush_folder(target.parent)
    finally:
        Path(temporary).unlink(missing_ok=True)
    return sha


def _pretty(value: Any) -> bytes:
    return (json.dumps(value, indent=1, sort_keys=True, ensure_ascii=False) + "\n").encode()


def _readings_csv(rows: Sequence[Mapping[str, Any]]) -> bytes:
    text = io.StringIO()
    writer = csv.DictWriter(
        text, [c.name for c in readings.columns if c.name not in ("case_id", "entry")], extrasaction="ignore"
    )
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue().encode()


def _summary(
    case: str, head: int, rows: Mapping[Table, Sequence[Mapping[str, Any]]], entries: Sequence[Mapping[str, Any]]
) -> bytes:
    lines = [
        f"Case {case}",
        "",
        f"{len(rows[case_versions])} versions of the case (the head is {head}), {len(rows[readings])} readings,",
        f"{len(rows[plans])} plans, {len(rows[signatures])} signatures, {len(rows[case_files])} files.",
        "",
        "What happened, in its order (times in UTC):",
        *(f"  {e['seq']:>6}  {e['at'][:19]}  {e['by']}: {e['what']}, {e['subject']} ({e['why']})" for e in entries),
        "",
        "Signatures:",
        *(
            f"  plan {r['plan']}: {r['signed_by']} as {r['role']}, {r['signed_at'][:19]} ({r['reason']})"
            for r in rows[signatures]
        ),
        "",
        "case.json is the case as it stands, readings.csv every reading in mm, rows/ everything as kept,",
        "schemas/ what the keys mean, files/ the photographs and scans by the SHA-256 of their bytes.",
        "manifest.json holds the SHA-256 of every entry. festoon records import opens this archive.",
        "festoon informs a licensed clinician; it does not decide.",
        "",
    ]
    return "\n".join(lines).encode()


@dataclass(frozen=True)
class BroughtIn:
    """An archive that was imported."""

    case: str
    n_rows: int
    n_files: int


def import_archive(store: Store, archive: Path, *, by: str, why: str) -> BroughtIn:
    """Keep the case of an archive, all or nothing.

    Raises
    ------
    InputRefusedError
        If the archive is damaged, was changed, or holds a name or a size that no archive of a case has.
    StoreError
        If the case is here already, or was deleted here on request.
    """
    try:
        with zipfile.ZipFile(archive) as packed:
            reader = _Reader(packed, archive.name)
            case = reader.case
            rows = {table: reader.rows(table) for table in CASE_TABLES}
            _check_documents(rows, reader)
            _refuse_known(store, case)
            names = sorted({row["sha256"] for row in rows[case_files]})
            reader.check_files(names)
            for sha256 in names:
                store.files.put(reader.entry(f"files/{sha256}", _MOST_BYTES))
            origin = reader.entry("trail.json", _MOST_TEXT_BYTES)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError) as error:
        if isinstance(error, StoreError):
            raise
        raise _refused(archive.name, "", "a damaged archive", "a whole .zip", "Copy it again.") from None
    number = max((row["number"] for row in rows[case_files]), default=0) + 1
    trail_row = {
        "case_id": case, "number": number, "sha256": store.files.put(origin), "size": len(origin),
        "kind": "trail of origin", "removed": "[]",
    }  # fmt: skip
    rows[case_files] = [*rows[case_files], trail_row]
    n_rows = sum(map(len, rows.values()))
    try:
        with store.write() as write:
            write.connection.execute(insert(cases).values(case_id=case, head=_head(rows[case_versions]), changed=0))
            act = Act("archive brought in", f"{n_rows} records", why, case, rows)
            entry = write.record([act], by)
            write.connection.execute(update(cases).where(cases.c.case_id == case).values(changed=entry))
    except IntegrityError:
        _refuse_known(store, case)
        raise _refused(
            archive.name, "rows", "rows that name others that are not there", "the rows of one case", "Export it again."
        ) from None
    return BroughtIn(case, n_rows, len(names))


def _refuse_known(store: Store, case: str) -> None:
    with store.read() as connection:
        row = connection.execute(select(cases.c.deleted).where(cases.c.case_id == case)).first()
    if row is not None:
        gone = " and was deleted on request" if row.deleted is not None else ""
        raise StoreError(f"case {case} is in these records already{gone}; nothing of the archive was kept")


def _head(versions: Sequence[Mapping[str, Any]]) -> int:
    head = 0
    for row in sorted(versions, key=lambda row: row["number"]):
        head = row["number"] if row["parent"] == head else head
    return head


def _check_documents(rows: Mapping[Table, Sequence[Mapping[str, Any]]], reader: _Reader) -> None:
    for table in (case_versions, plans):
        for row in rows[table]:
            if digest(row["document"].encode()) != row["sha256"]:
                raise reader.refused(
                    f"rows/{table.name}.json",
                    f"number {row['number']}, whose document was changed",
                    "the document of its hash",
                )
    of_plan = {row["number"]: row["sha256"] for row in rows[plans]}
    for row in rows[signatures]:
        if of_plan.get(row["plan"]) != row["plan_sha256"]:
            raise reader.refused(
                "rows/signatures.json", f"a signature under another plan {row['plan']}", "the plan that was signed"
            )


class _Reader:
    """An archive whose manifest was read and whose every entry is one that can be there."""

    def __init__(self, packed: zipfile.ZipFile, file: str) -> None:
        self._packed, self._file = packed, file
        infos = packed.infolist()
        if len(infos) > _MOST_ENTRIES:
            raise self.refused("", f"{len(infos)} entries", f"at most {_MOST_ENTRIES}")
        names = [info.filename for info in infos]
        for info in infos:
            if info.filename != _MANIFEST and not _NAMES.fullmatch(info.filename):
                raise self.refused(
                    "", f"the entry {json.dumps(info.filename[:80])}", "entries of a case; nothing was unpacked"
                )
            if stat.S_IFMT(info.external_attr >> 16) not in (0, stat.S_IFREG) or info.flag_bits & 1:
                raise self.refused(info.filename, "a link or an encrypted entry", "plain entries; nothing was unpacked")
            if info.file_size > _MOST_RATIO * max(info.compress_size, 4096):
                raise self.refused(
                    info.filename,
                    f"{info.compress_size} bytes that unpack to {info.file_size}",
                    "data; a small entry that unpacks to a huge one is made to fill a disk",
                )
        if sum(info.file_size for info in infos) > _MOST_BYTES:
            raise self.refused("", "an archive that unpacks to more than 32 GB", "one case")
        if len(set(names)) != len(names) or _MANIFEST not in names:
            raise self.refused("", "entries that stand twice, or no manifest", f"a {_MANIFEST} and every entry once")
        said = self._json(_MANIFEST)
        if not isinstance(said, dict) or said.get("format") != ARCHIVE_FORMAT:
            raise self.refused(_MANIFEST, "another format", ARCHIVE_FORMAT)
        listed = said.get("entries")
        if not isinstance(listed, dict) or set(listed) != set(names) - {_MANIFEST}:
            raise self.refused(_MANIFEST, "a list that is not that of the entries", "the name of every entry")
        self._listed: dict[str, Any] = listed
        self._database = said.get("database")
        if self._database not in REVISIONS:
            raise self.refused(
                _MANIFEST,
                "an archive of a newer festoon",
                f"one of {', '.join(REVISIONS)}",
                "Install the newer festoon.",
            )
        if not isinstance(said.get("case"), str) or not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}", said["case"]):
            raise self.refused(_MANIFEST, "no id of a case", "a pseudonymous id")
        self.case: str = said["case"]
        for name in self._listed:
            if not name.startswith("files/"):  # those are read, and compared, one by one as they are kept
                self.entry(name, _MOST_TEXT_BYTES)

    def refused(
        self,
        where: str,
        found: str,
        expected: str,
        do: str = "Export the case again where it is kept; nothing of this was kept.",
    ) -> InputRefusedError:
        """A refusal of this archive."""
        return _refused(self._file, where, found, expected, do)

    def entry(self, name: str, most: int) -> bytes:
        """The bytes of an entry, checked against the manifest."""
        listed = self._listed.get(name)
        if not isinstance(listed, dict):
            raise self.refused(name, "nothing", "this entry")
        data = self._bounded(name, most)
        if listed.get("sha256") != digest(data) or (name.startswith("files/") and not name.endswith(digest(data))):
            raise self.refused(name, "bytes that are not those of its hash", "the entry as it was exported")
        return data

    def check_files(self, wanted: Sequence[str]) -> None:
        """Every file that the rows name is in the archive, and no other."""
        if {f"files/{sha256}" for sha256 in wanted} != {name for name in self._listed if name.startswith("files/")}:
            raise self.refused("files", "other files than the rows name", "the files of the case")

    def _bounded(self, name: str, most: int) -> bytes:
        size = self._packed.getinfo(name).file_size
        if size > most:
            raise self.refused(name, f"{size} bytes", f"at most {most}")
        with self._packed.open(name) as stream:
            data = stream.read(size + 1)  # what the directory says may be a lie
        if len(data) != size:
            raise self.refused(name, "another size than the archive says", "a whole entry")
        return data

    def _json(self, name: str) -> Any:
        data = self._bounded(name, _MOST_TEXT_BYTES) if name == _MANIFEST else self.entry(name, _MOST_TEXT_BYTES)
        try:
            return json.loads(data)
        except (ValueError, RecursionError):
            raise self.refused(name, "no JSON", "JSON") from None

    def rows(self, table: Table) -> list[dict[str, Any]]:
        """The rows of a table, each with exactly its columns and of the right kinds, all of this case."""
        name = f"rows/{table.name}.json"
        if table in SINCE_R0003 and self._database in ("r0001", "r0002"):
            return []  # an older festoon had no such table
        found = self._json(name)
        columns = [column for column in table.columns if column.name != "entry"]
        keys = {column.name for column in columns}
        if not isinstance(found, list) or any(not isinstance(row, dict) or set(row) != keys for row in found):
            raise self.refused(name, "rows with other keys", f"rows with {', '.join(sorted(keys))}")
        for row in found:
            for column in columns:
                value = row[column.name]
                if isinstance(column.type, Float) and type(value) is int:
                    row[column.name] = value = float(value)
                wanted = float if isinstance(column.type, Float) else int if isinstance(column.type, Integer) else str
                if not (value is None and column.nullable) and type(value) is not wanted:
                    raise self.refused(name, f"{canonical(value)[:40].decode()} for {column.name}", wanted.__name__)
            if row["case_id"] != self.case:
                raise self.refused(name, "a row of another case", f"rows of case {self.case}")
        return found


def _refused(file: str, where: str, found: str, expected: str, do: str) -> InputRefusedError:
    return InputRefusedError([Fault(file=file, where=where, found=found, expected=expected, do=do)])

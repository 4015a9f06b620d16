"""The trail: who did what, when and why, each entry chained to the one before by its hash.

An entry's *seal* covers the rows it recorded and the reason, with a random salt. Deleting a case on request removes
rows, reason and salt: the chain still proves that something was recorded and later deleted, and nothing else.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Table, insert, select

from festoon.store.tables import SEALED_TABLES, trail

GENESIS = "0" * 64
"""The hash before the first entry."""
Rows = Mapping[Table, Sequence[Mapping[str, Any]]]


@dataclass(frozen=True)
class Entry:
    """One entry of the trail."""

    seq: int
    at: str
    """Clock of the computer, UTC. The order is that of ``seq``: a clock can be wrong."""
    by: str
    what: str
    case: str | None
    subject: str
    why: str | None
    hash: str


def canonical(value: Any) -> bytes:
    """One spelling for one value: sorted keys, no spaces, shortest floats."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False).encode()


def digest(data: bytes) -> str:
    """SHA-256 as hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def now_text(now: dt.datetime) -> str:
    """A moment in UTC, to the microsecond."""
    return now.astimezone(dt.UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")


def content(rows: Rows) -> str:
    """Digest of the rows that an entry records, in the order of their keys."""
    said = {}
    for table, recorded in rows.items():
        keys = [column.name for column in table.primary_key]
        said[table.name] = sorted((dict(row) for row in recorded), key=lambda row: [row[key] for key in keys])
    return digest(canonical({name: rows for name, rows in said.items() if rows}))


def seal(salt: str, why: str, content_digest: str) -> str:
    """What an entry keeps of its content and reason."""
    return digest(canonical([salt, why, content_digest]))


def chained(row: Mapping[str, Any]) -> str:
    """Hash of an entry over everything it keeps for ever, and the entry before."""
    kept = [row[key] for key in ("seq", "at", "by", "what", "case_id", "subject", "seal", "previous")]
    return digest(canonical(kept))


def last(connection: Connection) -> tuple[int, str]:
    """Number and hash of the latest entry; 0 and the hash before the first where there is none."""
    row = connection.execute(select(trail.c.seq, trail.c.hash).order_by(trail.c.seq.desc()).limit(1)).first()
    return (0, GENESIS) if row is None else (row.seq, row.hash)


@dataclass(frozen=True)
class Act:
    """Something to be recorded: rows to add and what the trail says of them."""

    what: str
    subject: str
    why: str
    case: str | None
    rows: Rows


def record(connection: Connection, acts: Sequence[Act], *, by: str, now: dt.datetime) -> tuple[int, str]:
    """Add the rows of every act, each under an entry of its own. The caller holds the writers' lock.

    Returns
    -------
    seq : int
        Number of the latest entry.
    hash : str
        Its hash.
    """
    seq, previous = last(connection)
    at = now_text(now)
    entries: list[dict[str, Any]] = []
    added: dict[Table, list[dict[str, Any]]] = {table: [] for table in SEALED_TABLES}
    for act in acts:
        seq += 1
        rows = {table: [{**row, "entry": seq} for row in recorded] for table, recorded in act.rows.items()}
        salt = secrets.token_hex(16)
        entry = {
            "seq": seq, "at": at, "by": by, "what": act.what, "case_id": act.case, "subject": act.subject,
            "why": act.why, "salt": salt, "seal": seal(salt, act.why, content(rows)), "previous": previous,
        }  # fmt: skip
        previous = entry["hash"] = chained(entry)
        entries.append(entry)
        for table, recorded in rows.items():
            added[table] += recorded
    connection.execute(insert(trail), entries)
    for table, recorded in added.items():
        if recorded:
            connection.execute(insert(table), recorded)
    return seq, previous

"""The long table of the audit, format ``festoon-audit/1``: one row a site, a moment and a quantity.

Levels are from the planned edge, apical positive. No day and no name stands in it: days are counted from surgery, cases and
operators are codes. Several practices' files are read in place.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import duckdb

from festoon.errors import Fault, InputRefusedError
from festoon.model.dentition import Site, SiteKind

FORMAT = "festoon-audit/1"
COLUMNS: dict[str, str] = {
    "practice": "VARCHAR",
    "case": "VARCHAR",
    "operator": "VARCHAR",
    "surgery_order": "INTEGER",
    "tooth": "VARCHAR",
    "site": "VARCHAR",
    "site_type": "VARCHAR",
    "phenotype": "VARCHAR",
    "procedure": "VARCHAR",
    "template_kind": "VARCHAR",
    "redo": "BOOLEAN",
    "moment": "VARCHAR",
    "days": "INTEGER",
    "quantity": "VARCHAR",
    "planned_mm": "DOUBLE",
    "measured_mm": "DOUBLE",
    "se_mm": "DOUBLE",
    "datum": "VARCHAR",
    "sutured_mm": "DOUBLE",
    "distance_mm": "DOUBLE",
}
"""Name and type. ``moment`` is open, cut, suture or recall. ``planned_mm`` is the plan's level; at the moment *open* it is the
level sounded before. ``sutured_mm`` is the margin read after suturing and ``distance_mm`` its distance to the crest.
``surgery_order`` counts the operator's cases. Null is unknown, never zero."""
SITE_TYPES = {
    site: "interproximal" if site.kind is SiteKind.INTERPROXIMAL
    else "line_angle" if site in (Site.MESIOFACIAL, Site.DISTOFACIAL, Site.MESIOLINGUAL, Site.DISTOLINGUAL)
    else "lingual" if site is Site.MIDLINGUAL
    else "facial"
    for site in Site
}  # fmt: skip
"""What ``site_type`` says of each site."""
MOMENTS = ("open", "cut", "suture", "recall")
QUANTITIES = ("margin_level", "crest_level")
_WORDS: dict[str, tuple[str, ...]] = {
    "tooth": tuple(f"{quadrant}{position}" for quadrant in range(1, 5) for position in range(1, 9)),
    "site": tuple(site.value for site in Site),
    "moment": MOMENTS,
    "quantity": QUANTITIES,
}
"""What each of these columns can say, in every row."""


def _odd_words(engine: duckdb.DuckDBPyConnection, path: Path) -> list[Fault]:
    """Words of a column that are none of its own, each with its number of rows. Grouping first is faster than asking every row."""
    faults = []
    for column, known in _WORDS.items():
        rows = engine.execute(f"SELECT {column}, count(*) FROM {reader_of(path)} GROUP BY ALL").fetchall()
        odd = {word: count for word, count in rows if str(word) not in known}
        if odd:
            said = ", ".join("no word" if word is None else str(word) for word in list(odd)[:3])
            found = f"{said} in {sum(odd.values())} rows"
            faults.append(Fault(path.name, column, found, f"one of {', '.join(known)}", "Correct the file."))
    return faults


def patients_in(engine: duckdb.DuckDBPyConnection, paths: Sequence[Path]) -> set[tuple[str, str]]:
    """Practice and case of every patient of some exported files."""
    found: set[tuple[str, str]] = set()
    for path in paths:
        found.update(engine.execute(f'SELECT DISTINCT practice, "case" FROM {reader_of(path)}').fetchall())
    return found


def reader_of(path: Path) -> str:
    """The SQL that reads one exported file in place."""
    quoted = str(path).replace("'", "''")
    if path.suffix.lower() == ".csv":
        return f"read_csv('{quoted}', header = true, all_varchar = true)"
    return f"read_parquet('{quoted}')"


def open_tables(engine: duckdb.DuckDBPyConnection, paths: Sequence[Path]) -> None:
    """Make the view ``rows`` over exported files and the table ``gathered``, without copying a file.

    Raises
    ------
    InputRefusedError
        If a file cannot be read, lacks a column, or holds a value of the wrong kind.
    """
    parts, faults = [], []
    for path in paths:
        try:
            found = {row[0] for row in engine.execute(f"DESCRIBE SELECT * FROM {reader_of(path)}").fetchall()}
        except duckdb.Error as wrong:
            faults.append(Fault(path.name, "", str(wrong).splitlines()[0], f"a table {FORMAT}", "Export it again."))
            continue
        missing = [name for name in COLUMNS if name not in found]
        if missing:
            faults.append(
                Fault(path.name, ", ".join(missing), "no such column", f"every column of {FORMAT}", "Export it again.")
            )
            continue
        columns = ", ".join(f'CAST("{name}" AS {kind}) AS "{name}"' for name, kind in COLUMNS.items())
        select = f"SELECT {columns} FROM {reader_of(path)}"
        try:
            faults += _odd_words(engine, path)
            counted = engine.execute(
                f"""SELECT count(*) FILTER (practice IS NULL OR "case" IS NULL),
                count(*) FILTER (moment = 'recall' AND days IS NULL),
                count(*) FILTER (NOT isfinite(measured_mm) OR abs(measured_mm) > 40 OR abs(planned_mm) > 40
                    OR abs(sutured_mm) > 40 OR se_mm <= 0) FROM ({select})"""
            ).fetchone()
        except duckdb.Error as wrong:
            faults.append(
                Fault(path.name, "", str(wrong).splitlines()[0], f"values as {FORMAT} says", "Correct the file.")
            )
            continue
        names = ("practice, case", "days", "levels, se_mm")
        wanted = (
            "both in every row",
            "days since surgery at every recall",
            "levels in mm, below 40, and standard errors above 0",
        )
        for name, count, expected in zip(names, counted or (), wanted, strict=True):
            if count:
                faults.append(Fault(path.name, name, f"{count} rows that are not", expected, "Correct the file."))
        parts.append(select)
    if faults:
        raise InputRefusedError(faults)
    if engine.execute("SELECT 1 FROM duckdb_tables() WHERE table_name = 'gathered'").fetchone():
        parts.append(f"SELECT {', '.join(chr(34) + name + chr(34) for name in COLUMNS)} FROM gathered")
    engine.execute("CREATE OR REPLACE VIEW rows AS " + " UNION ALL ".join(parts))

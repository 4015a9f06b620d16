"""Auditing many cases: records, folders of cases and exported tables in; tables, plots and a report out."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import duckdb

from festoon.audit.engine import BANDS
from festoon.audit.make import COHORTS, Audit, make_audit
from festoon.audit.table import COLUMNS, open_tables, patients_in
from festoon.drawings.audit_rebound import draw_rebound
from festoon.drawings.audit_shares import draw_course, draw_differences
from festoon.errors import Fault, InputRefusedError
from festoon.evidence.table import published
from festoon.planning.healing.forecast import WEEKS, expected_shift
from festoon.records.writing import write_whole
from festoon.reports.audit_report import audit_report
from festoon.workflow.audit_cases import case_folders, operated_in
from festoon.workflow.audit_rows import Operated, rows_of
from festoon.workflow.audit_store import is_store, operated_on_record


@dataclass(frozen=True)
class AuditOptions:
    """What is asked for."""

    seed: int = 1
    """Draws the patients of the mixed model."""
    threads: int = 2


def audit_paths(paths: Sequence[Path], output: Path | None = None, options: AuditOptions | None = None) -> Audit:
    """Audit records, folders of cases and exported tables together; write the answer into ``output`` where one is given.

    Raises
    ------
    InputRefusedError
        If a file cannot be used, or nothing was found.
    """
    asked = options or AuditOptions()
    sources = _found(paths)
    operated = [one for source in sources for one in source.operated]
    left_out = [line for source in sources for line in source.left_out]
    with duckdb.connect() as engine:
        engine.execute(f"SET threads = {int(asked.threads)}")
        if operated:
            left_out += _hold(engine, operated, is_all=not any(source.tables for source in sources))
        open_tables(engine, [table for source in sources for table in source.tables])
        _each_once(engine, sources)
        audit = make_audit(engine, expected_rebound=expected_rebound(), seed=asked.seed)
        audit = replace(audit, notes=(*audit.notes, *left_out))
        if output is not None:
            write_whole(output, _files(audit))
            _export(engine, output)
    return audit


_MIDDLES_MM = dict(zip(BANDS, (1.0, 2.0, 3.0, 4.0), strict=True))
"""The distance that stands for a band: the cohorts were printed for these (HEAL-011 to HEAL-013, HEAL-036)."""


def expected_rebound() -> dict[str, float]:
    """What festoon expects of a margin sutured in each band of distances, at 6 months, phenotype unknown; mm, coronal positive."""
    return {band: expected_shift(middle, WEEKS["6 months"]).mean_mm for band, middle in _MIDDLES_MM.items()}


@dataclass(frozen=True)
class _Source:
    """What one of the named paths holds."""

    path: Path
    tables: Sequence[Path]
    """Read in place."""
    operated: Sequence[Operated]
    left_out: Sequence[str]


def _found(paths: Sequence[Path]) -> list[_Source]:
    """What each path holds: the surgeries of records and folders of cases, or tables."""
    found: list[_Source] = []
    faults = [
        Fault(str(path), "", "a path that was named before", "each path once", "Leave one of the two out.")
        for k, path in enumerate(paths)
        if path.resolve() in [other.resolve() for other in paths[:k]]
    ]
    for path, practice in zip(paths, _names(paths), strict=True):
        try:
            source = _source(path, practice)
        except InputRefusedError as refused:
            faults += refused.faults
            continue
        if not source.tables and not source.operated:
            faults.append(
                Fault(
                    path.name,
                    "",
                    "no surgery and no table",
                    "a folder of records, folders with case, plan and surgery.json, or .parquet or .csv tables",
                    "Name another path.",
                )
            )
        found.append(source)
    if faults:
        raise InputRefusedError(faults)
    return found


def _source(path: Path, practice: str) -> _Source:
    if path.is_file():
        return _Source(path, [path] if path.suffix.lower() in (".parquet", ".csv") else [], (), ())
    if is_store(path):
        operated, missed = operated_on_record(path, practice)
        return _Source(path, (), operated, missed)
    tables: list[Path] = []
    for ending in ("*.parquet", "*.csv"):  # the same rows in both, as an audit writes them, are read once
        tables = tables or sorted(file for file in path.glob(ending) if not file.name.startswith("."))
    return _Source(path, tables, operated_in(case_folders(path), practice), ())


def _each_once(engine: duckdb.DuckDBPyConnection, sources: Sequence[_Source]) -> None:
    """Refuse a patient that two paths hold: counted twice, or two patients of one name taken for one."""
    if len(sources) == 1:
        return
    whose: dict[tuple[str, str], _Source] = {}
    twice: dict[tuple[str, str, str], list[str]] = {}
    for source in sources:
        here = patients_in(engine, source.tables) | {(one.practice, one.case.case) for one in source.operated}
        for practice, case in sorted(here):
            first = whose.setdefault((practice, case), source)
            if first is not source:
                twice.setdefault((str(source.path), practice, str(first.path)), []).append(case)
    if twice:
        raise InputRefusedError(
            [
                Fault(
                    path,
                    "",
                    f"{len(cases)} cases of the practice {practice} that {other} holds too, {cases[0]} among them",
                    "each patient in one of the paths",
                    "Leave one of the two out; where they are two practices, give each its own name.",
                )
                for (path, practice, other), cases in twice.items()
            ]
        )


def _names(paths: Sequence[Path]) -> list[str]:
    """A name for each path's practice: its folder's, numbered where two would be the same."""
    plain = [path.resolve().name if path.is_dir() else path.stem for path in paths]
    return [name if plain.count(name) == 1 else f"{name}-{plain[: k + 1].count(name)}" for k, name in enumerate(plain)]


def _hold(engine: duckdb.DuckDBPyConnection, operated: Sequence[Operated], *, is_all: bool) -> list[str]:
    """Put the rows of surgeries beside the tables; says which surgeries had none."""
    rows = rows_of(operated)
    if not rows and is_all:
        raise InputRefusedError(
            [Fault("readings", "", "no reading that a plan speaks of", "margins and crests read", "Add them.")]
        )
    columns = ", ".join(f'"{name}" {kind}' for name, kind in COLUMNS.items())
    engine.execute(f"CREATE TABLE gathered ({columns})")
    marks = ", ".join("?" * len(COLUMNS))
    engine.execute("BEGIN")
    engine.executemany(f"INSERT INTO gathered VALUES ({marks})", [[row[name] for name in COLUMNS] for row in rows])
    engine.execute("COMMIT")
    with_rows = {(row["practice"], row["case"]) for row in rows}
    counted = Counter(one.practice for one in operated if (one.practice, one.case.case) not in with_rows)
    said = ", ".join(f"{count} of {practice}" for practice, count in sorted(counted.items()))
    return [f"LEFT OUT, nothing was read at the chair or later that can be compared: surgeries {said}."] if said else []


def _files(audit: Audit) -> dict[str, bytes]:
    rebound = {band: audit.estimates["distance"].get(("rebound", band)) for band in BANDS}
    cohorts = [(band, published(row).value, published(row).sd, row) for row, band in COHORTS]
    plots = {
        "rebound.svg": draw_rebound(
            [(band, e.sites, e.patients, e.bias_mm, e.bias_ci_mm, e.sd_mm) for band, e in rebound.items() if e], cohorts
        )
    }
    for measure, title in (
        ("margin_cut", "Margin after the cut, less planned"),
        ("healed", "Margin at 6 months, less planned"),
    ):
        rows = [
            (f"{dimension.replace('_', ' ')}: {value.replace('_', ' ')}" if dimension != "all" else "all", e.patients, e.bias_mm,
             e.bias_ci_mm, e.lower_loa_mm, e.upper_loa_mm)
            for dimension in ("all", "operator", "phenotype", "site_type", "template_kind")
            for (name, value), e in audit.estimates[dimension].items() if name == measure
        ]  # fmt: skip
        if rows:
            plots[f"{measure.replace('_', '-')}.svg"] = draw_differences(title, rows)
    courses = [
        (c.operator, c.case_order, c.mean_mm, c.centre_mm, c.lower_mm, c.upper_mm, c.words) for c in audit.courses
    ]
    if courses:
        plots["learning.svg"] = draw_course(courses)
    data = audit.as_dict()
    return {
        "audit.json": (json.dumps(data, indent=1, ensure_ascii=False) + "\n").encode(),
        "report.pdf": audit_report(data, plots),
        **{name: svg.encode() for name, svg in plots.items()},
    }


def _export(engine: duckdb.DuckDBPyConnection, output: Path) -> None:
    """The rows without cases' own codes, as Parquet and CSV: numbered anew in an order that says nothing."""
    others = ", ".join(f'"{name}"' for name in COLUMNS if name not in ("practice", "case"))
    engine.execute("""CREATE OR REPLACE TEMP TABLE codes AS SELECT practice, "case", row_number() OVER (ORDER BY chance) AS code
        FROM (SELECT *, random() AS chance FROM (SELECT DISTINCT practice, "case" FROM rows))""")
    leaving = f"""SELECT practice, 'c' || code AS "case", {others} FROM rows JOIN codes USING (practice, "case") ORDER BY code"""
    total = engine.execute("SELECT count(*) FROM rows").fetchone()
    kinds = {"parquet": "FORMAT parquet, COMPRESSION zstd"}
    if total and total[0] <= 1_000_000:  # text of more is of no use to anybody
        kinds["csv"] = "FORMAT csv, HEADER"
    for ending, how in kinds.items():
        waiting, final = output / f".sites.{ending}", output / f"sites.{ending}"
        quoted = str(waiting).replace("'", "''")
        engine.execute(f"COPY ({leaving}) TO '{quoted}' ({how})")
        waiting.replace(final)

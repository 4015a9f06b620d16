"""Auditing many cases: records, folders of cases and exported tables in; tables, plots and a report out."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import duckdb

from festoon.audit.engine import BANDS
from festoon.audit.make import COHORTS, Audit, make_audit
from festoon.audit.table import COLUMNS, open_tables
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
    tables, operated, left_out = _found(paths)
    with duckdb.connect() as engine:
        engine.execute(f"SET threads = {int(asked.threads)}")
        if operated:
            _hold(engine, operated)
        open_tables(engine, tables)
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


def _found(paths: Sequence[Path]) -> tuple[list[Path], list[Operated], list[str]]:
    """Tables to be read in place, the surgeries of records and folders of cases, and what had to be left out."""
    tables: list[Path] = []
    operated: list[Operated] = []
    left_out: list[str] = []
    faults: list[Fault] = []
    here: list[Operated]
    for path, practice in zip(paths, _names(paths), strict=True):
        try:
            if path.is_file():
                mine, here = ([path] if path.suffix.lower() in (".parquet", ".csv") else []), []
            elif is_store(path):
                mine = []
                here, missed = operated_on_record(path, practice)
                left_out += missed
            else:
                mine = sorted(f for f in path.glob("*.parquet") if not f.name.startswith("."))
                here = operated_in(case_folders(path), practice)
        except InputRefusedError as refused:
            faults += refused.faults
            continue
        if not mine and not here:
            faults.append(
                Fault(
                    path.name,
                    "",
                    "no surgery and no table",
                    "a folder of records, folders with case, plan and surgery.json, or .parquet or .csv tables",
                    "Name another path.",
                )
            )
        tables += mine
        operated += here
    if faults:
        raise InputRefusedError(faults)
    return tables, operated, left_out


def _names(paths: Sequence[Path]) -> list[str]:
    """A name for each path's practice: its folder's, numbered where two would be the same."""
    plain = [path.resolve().name if path.is_dir() else path.stem for path in paths]
    return [name if plain.count(name) == 1 else f"{name}-{plain[: k + 1].count(name)}" for k, name in enumerate(plain)]


def _hold(engine: duckdb.DuckDBPyConnection, operated: Sequence[Operated]) -> None:
    rows = rows_of(operated)
    if not rows:
        raise InputRefusedError(
            [Fault("readings", "", "no reading that a plan speaks of", "margins and crests read", "Add them.")]
        )
    columns = ", ".join(f'"{name}" {kind}' for name, kind in COLUMNS.items())
    engine.execute(f"CREATE TABLE gathered ({columns})")
    marks = ", ".join("?" * len(COLUMNS))
    engine.execute("BEGIN")
    engine.executemany(f"INSERT INTO gathered VALUES ({marks})", [[row[name] for name in COLUMNS] for row in rows])
    engine.execute("COMMIT")


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

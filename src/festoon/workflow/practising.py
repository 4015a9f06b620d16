"""Making a synthetic practice: folders of cases as a practice would have them, or the audit's table alone."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import duckdb
import numpy as np

from festoon.audit.table import COLUMNS
from festoon.model.case import Case
from festoon.model.dentition import Notation
from festoon.phantom.practice import PracticeTruth, make_practice
from festoon.records.casewriter import write_case
from festoon.records.writing import write_whole

BLOCK = 5000
"""Cases in one file of the table."""
FIRST_DAY = dt.date(2024, 1, 8)
"""The day of the first surgery; nothing depends on it."""


def make_practice_files(
    count: int, seed: int, folder: Path, *, table_only: bool = False, tell: Callable[[str], None] = lambda _: None
) -> tuple[Path, ...]:
    """Write a practice of ``count`` cases and ``practice-truth.json`` into ``folder``.

    With ``table_only`` the cases are written as Parquet files of the audit's table, else a folder each.
    """
    truth = PracticeTruth()
    written: list[Path] = []
    folder.mkdir(parents=True, exist_ok=True)
    for first in range(0, count, BLOCK):
        table = make_practice(seed, first, min(BLOCK, count - first), truth)
        tell(f"cases {first + 1} to {first + min(BLOCK, count - first)} of {count}")
        if table_only:
            written.append(write_table(table, folder / f"practice-{first // BLOCK:04d}.parquet"))
        else:
            written += _write_cases(table, folder)
    about = {"format": "festoon-practice-truth/1", "seed": seed, "cases": count, "truth": truth.as_dict()}
    written += write_whole(folder, {"practice-truth.json": (json.dumps(about, indent=1) + "\n").encode()})
    return tuple(written)


def write_table(table: dict[str, Any], path: Path) -> Path:
    """Columns as a Parquet file of the audit's table."""
    import pandas as pd

    frame = pd.DataFrame({n: pd.Categorical(v) if v.dtype.kind == "U" else v for n, v in table.items()})
    columns = ", ".join(
        f'CASE WHEN isnan("{n}") THEN NULL ELSE "{n}" END AS "{n}"'
        if kind == "DOUBLE"
        else f'CAST("{n}" AS {kind}) AS "{n}"'
        for n, kind in COLUMNS.items()
    )
    waiting = path.with_name(f".{path.name}")
    with duckdb.connect() as engine:
        engine.register("frame", frame)
        quoted = str(waiting).replace("'", "''")
        engine.execute(f"COPY (SELECT {columns} FROM frame) TO '{quoted}' (FORMAT parquet, COMPRESSION zstd)")
    waiting.replace(path)
    return path


def _write_cases(table: dict[str, Any], folder: Path) -> list[Path]:
    """One folder a case: chart, planned levels, surgery and the readings of each moment."""
    starts = {code: np.flatnonzero(table["case"] == code) for code in dict.fromkeys(table["case"].tolist())}
    written: list[Path] = []
    for code, rows in starts.items():
        picked = [{name: values[k].item() for name, values in table.items()} for k in rows]
        head = picked[0]
        day = FIRST_DAY + dt.timedelta(days=7 * int(head["surgery_order"]))
        by_place: dict[tuple[str, str], dict[str, Any]] = {}
        readings: dict[str, list[dict[str, Any]]] = {}
        for row in picked:
            place = by_place.setdefault((row["tooth"], row["site"]), {})
            name = {
                "open": "crest_charted_mm",
                "cut": row["quantity"].replace("level", "planned_mm"),
                "suture": "suture_level_mm",
                "recall": "margin_planned_mm",
            }
            if row["moment"] in name:
                place[name[row["moment"]]] = round(row["planned_mm"], 3)
            readings.setdefault(row["moment"], []).append(
                {"tooth": row["tooth"], "site": row["site"], "quantity": row["quantity"], "value": row["measured_mm"], "unit": "mm",
                 "se": row["se_mm"], "method": "direct" if row["quantity"] == "crest_level" else "probe", "datum": row["datum"],
                 "at": (day + dt.timedelta(days=row["days"])).isoformat(), "by": row["operator"]}
            )  # fmt: skip
        teeth = {
            tooth: {"status": "natural", "incisal_extension_mm": 0.0, "width_mm": 8.0, "restoration": "none"}
            for tooth in dict.fromkeys(row["tooth"] for row in picked)
        }
        case = Case.model_validate(
            {"case": code, "notation": "fdi", "purpose": "aesthetic", "phenotype": head["phenotype"], "teeth": teeth,
             "examined_at": (day - dt.timedelta(days=30)).isoformat()}
        )  # fmt: skip
        planned = {
            "format": "festoon-planned-levels/1", "case": code,
            "sites": [{"tooth": tooth, "site": site, "procedure": head["procedure"], **levels} for (tooth, site), levels in by_place.items()],
        }  # fmt: skip
        surgery = {
            "format": "festoon-surgery/1", "case": code, "practice": head["practice"], "operator": head["operator"],
            "surgery_at": day.isoformat(), "template_kind": head["template_kind"], "redo": bool(head["redo"]),
        }  # fmt: skip
        files = {"case.yaml": write_case(case, Notation.FDI).encode()}
        files |= {"planned-levels.json": _json(planned), "surgery.json": _json(surgery)}
        files |= {
            f"readings-{moment}.json": _json({"format": "festoon-readings/1", "case": code, "readings": rows_})
            for moment, rows_ in readings.items()
        }
        written += write_whole(folder / code, files)
    return written


def _json(value: dict[str, Any]) -> bytes:
    return (json.dumps(value, indent=1) + "\n").encode()

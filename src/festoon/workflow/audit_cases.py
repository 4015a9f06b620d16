"""Folders of cases as rows of the audit's table: chart, plan, surgery and the readings of each moment."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from festoon.errors import Fault, InputRefusedError
from festoon.model.dentition import SiteKind
from festoon.model.verification import Moment, PlacedReading
from festoon.records.casefile import read_case
from festoon.records.placing import place_readings
from festoon.records.readings import read_readings

_MOMENTS = {"open": Moment.BEFORE, "cut": Moment.BONE, "suture": Moment.SUTURE, "recall": Moment.RECALL}
_PLANNED = {
    ("open", "crest_level"): ("crest_charted_mm", "crest_present_mm"),
    ("cut", "margin_level"): ("margin_planned_mm",),
    ("cut", "crest_level"): ("crest_planned_mm",),
    ("suture", "margin_level"): ("suture_level_mm",),
    ("recall", "margin_level"): ("margin_planned_mm",),
}
"""What a reading is held against, by moment and quantity: keys of a site of the plan, the first that is there."""


def case_folders(path: Path) -> list[Path]:
    """Folders at or under ``path`` that hold a surgery with its case."""
    return sorted(file.parent for file in path.rglob("surgery.json"))


def rows_of(folders: Sequence[Path]) -> list[dict[str, Any]]:
    """Rows of every folder; the operator's cases are numbered by their day of surgery.

    Raises
    ------
    InputRefusedError
        If a file of a case cannot be used: the faults of all folders together.
    """
    faults: list[Fault] = []
    surgeries: list[tuple[dt.date, Path, dict[str, Any]]] = []
    for folder in folders:
        try:
            surgery = _object(folder / "surgery.json", ("case", "surgery_at"))
            surgeries.append((dt.date.fromisoformat(str(surgery["surgery_at"])), folder, surgery))
        except InputRefusedError as refused:
            faults += refused.faults
        except ValueError:
            faults.append(
                Fault(
                    "surgery.json", "surgery_at", repr(surgery["surgery_at"]), "a day, e.g. 2026-03-10", "Correct it."
                )
            )
    counted: dict[tuple[str, str], int] = {}
    rows: list[dict[str, Any]] = []
    for day, folder, surgery in sorted(surgeries, key=lambda item: (item[0], str(item[1]))):
        who = (str(surgery.get("practice") or "practice"), str(surgery.get("operator") or ""))
        counted[who] = counted.get(who, 0) + 1
        try:
            rows += _rows(folder, surgery, day, who, counted[who])
        except InputRefusedError as refused:
            faults += refused.faults
    if faults:
        raise InputRefusedError(faults)
    return rows


def _rows(
    folder: Path, surgery: dict[str, Any], day: dt.date, who: tuple[str, str], order: int
) -> list[dict[str, Any]]:
    case = read_case(folder / "case.yaml").case
    planned, procedures = _planned(folder)
    if case.case != surgery["case"]:
        raise InputRefusedError(
            [Fault("surgery.json", "case", str(surgery["case"]), case.case, "Put the right case beside it.")]
        )
    placed: dict[str, Sequence[PlacedReading]] = {}
    for moment, means in _MOMENTS.items():
        file = next((f for f in (folder / f"readings-{moment}.{end}" for end in ("json", "yaml")) if f.exists()), None)
        if file is not None:
            read = read_readings(file)
            if read.readings.case != case.case:
                raise InputRefusedError(
                    [Fault(file.name, "case", read.readings.case, case.case, "Name the right case.")]
                )
            placed[moment] = place_readings(read, case, means, surgery_at=day).readings
    last = {(m, r.tooth, r.site, r.quantity.value): r for m, found in placed.items() if m != "recall" for r in found}
    rows = []
    for moment, readings in placed.items():
        for reading in readings:
            keys = _PLANNED.get((moment, reading.quantity.value))
            place = (reading.tooth, reading.site)
            if keys is None or reading.planned_edge_mm is None:
                continue
            if moment in ("cut", "suture") and last[(moment, *place, reading.quantity.value)] is not reading:
                continue  # while tissue is cut the last reading of a place counts
            levels = planned.get((reading.tooth, reading.site.value), {})
            sutured, crest = last.get(("suture", *place, "margin_level")), last.get(("cut", *place, "crest_level"))
            later = moment in ("suture", "recall") and sutured is not None
            tooth = case.teeth[reading.tooth]
            rows.append(
                {
                    "practice": who[0], "case": case.case, "operator": who[1] or None, "surgery_order": order if who[1] else None,
                    "tooth": reading.tooth, "site": reading.site.value, "site_type": _site_type(reading),
                    "phenotype": (tooth.phenotype or case.phenotype).value, "procedure": procedures.get(reading.tooth),
                    "template_kind": surgery.get("template_kind"), "redo": surgery.get("redo"), "moment": moment,
                    "days": (reading.at - day).days if reading.at else None, "quantity": reading.quantity.value,
                    "planned_mm": next((levels[k] for k in keys if levels.get(k) is not None), None),
                    "measured_mm": round(reading.planned_edge_mm, 6), "se_mm": reading.se_mm,
                    "datum": reading.datum.value if reading.datum else None,
                    "sutured_mm": sutured.planned_edge_mm if later and sutured else None,
                    "distance_mm": round(crest.mm - sutured.mm, 6) if later and sutured and crest else None,
                }
            )  # fmt: skip
    return rows


def _site_type(reading: PlacedReading) -> str:
    if reading.site.kind is SiteKind.INTERPROXIMAL:
        return "interproximal"
    return (
        "line_angle"
        if reading.site.value in ("mesiofacial", "distofacial", "mesiolingual", "distolingual")
        else "facial"
    )


def _planned(folder: Path) -> tuple[dict[tuple[str, str], dict[str, Any]], dict[str, str]]:
    """Planned levels by place and procedures by tooth, from the plan or from a list of planned levels."""
    path = folder / "plan.json"
    if not path.exists():
        path = folder / "planned-levels.json"
    plan = _object(path, ("sites",))
    sites = {(str(site["tooth"]), str(site["site"])): site for site in plan["sites"]}
    procedures = {tooth: str(about["procedure"]) for tooth, about in plan.get("teeth", {}).items()}
    procedures |= {tooth: str(site["procedure"]) for (tooth, _), site in sites.items() if "procedure" in site}
    return sites, procedures


def _object(path: Path, keys: Sequence[str]) -> dict[str, Any]:
    try:
        found = json.loads(path.read_bytes())
    except FileNotFoundError:
        raise InputRefusedError(
            [Fault(f"{path.parent.name}/{path.name}", "", "no such file", "one in the folder of each case", "Add it.")]
        ) from None
    except ValueError as wrong:
        raise InputRefusedError([Fault(path.name, "", str(wrong), "JSON", "Write it again.")]) from None
    missing = [key for key in keys if not isinstance(found, dict) or found.get(key) is None]
    if missing:
        raise InputRefusedError([Fault(path.name, ", ".join(missing), "nothing", "a value", "Add it.")])
    return dict(found)

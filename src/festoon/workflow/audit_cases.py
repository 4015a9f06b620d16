"""Folders of case files for the audit: a case and its plan beside festoon's record of a surgery, or beside plain readings."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from festoon.errors import Fault, InputRefusedError
from festoon.model.case import Case
from festoon.model.plan import Plan
from festoon.model.practice_files import PlannedLevels, SurgeryNote
from festoon.model.recall import RecallState
from festoon.model.surgery import SurgeryState
from festoon.model.verification import Moment, PlacedReading
from festoon.records.casefile import read_case
from festoon.records.placing import place_readings
from festoon.records.readings import read_readings
from festoon.records.reconcile import resolve
from festoon.workflow.audit_rows import Operated, levels_of_list, levels_of_plan
from festoon.workflow.audit_store import operated_of
from festoon.workflow.recall import standing

_MOMENTS = {"open": Moment.BEFORE, "cut": Moment.BONE, "suture": Moment.SUTURE, "recall": Moment.RECALL}
M = TypeVar("M", bound=BaseModel)


def case_folders(path: Path) -> list[Path]:
    """Folders at or under ``path`` that hold a surgery with its case."""
    return sorted(file.parent for file in path.rglob("surgery.json"))


def operated_in(folders: Sequence[Path], practice: str) -> list[Operated]:
    """The surgery of every folder.

    Parameters
    ----------
    practice : str
        The practice of those that do not name one.

    Raises
    ------
    InputRefusedError
        If a file of a case cannot be used: the faults of all folders together.
    """
    faults: list[Fault] = []
    found: list[Operated] = []
    for folder in folders:
        try:
            found.append(_operated(folder, practice))
        except InputRefusedError as refused:
            faults += refused.faults
    if faults:
        raise InputRefusedError(faults)
    return found


def _operated(folder: Path, practice: str) -> Operated:
    name = next((name for name in ("case.yaml", "case.json") if (folder / name).exists()), "case.yaml")
    case = read_case(folder / name).case
    surgery = _json(folder / "surgery.json")
    if surgery.get("format") == "festoon-surgery-state/1":
        return _kept(folder, practice, case, _valid(SurgeryState, folder / "surgery.json", surgery))
    note = _valid(SurgeryNote, folder / "surgery.json", surgery)
    _same(folder / "surgery.json", note.case, case.case)
    readings: dict[str, Sequence[PlacedReading]] = {}
    for moment, means in _MOMENTS.items():
        file = next((f for f in (folder / f"readings-{moment}.{end}" for end in ("json", "yaml")) if f.exists()), None)
        if file is not None:
            read = read_readings(file)
            _same(file, read.readings.case, case.case)
            at = note.surgery_at if moment == "recall" else None
            readings[moment] = place_readings(read, case, means, surgery_at=at).readings
    if (folder / "plan.json").exists():
        plan = _plan(folder, case)
        levels = levels_of_plan(plan, resolve(case))
        procedures = {tooth: whole.procedure.value for tooth, whole in plan.teeth.items()}
    else:
        path = folder / "planned-levels.json"
        planned = _valid(PlannedLevels, path, _json(path))
        _same(path, planned.case, case.case)
        levels = levels_of_list(planned)
        procedures = {one.tooth: one.procedure.value for one in planned.sites if one.procedure is not None}
    return Operated(
        note.practice or practice, case, note.surgery_at, note.operator, note.template_kind, note.redo, procedures,
        levels, readings, str(folder),
    )  # fmt: skip


def _kept(folder: Path, practice: str, case: Case, surgery: SurgeryState) -> Operated:
    """A surgery as ``festoon surgery show --json`` prints it, with its recalls beside it."""
    _same(folder / "surgery.json", surgery.case, case.case)
    plan = _plan(folder, case)
    if plan.fingerprint != surgery.plan_sha256:
        raise _refused(
            folder / "plan.json", "", plan.fingerprint[:12], f"the plan the surgery was held against, {surgery.plan_sha256[:12]}",
            "Put that plan beside it.",
        )  # fmt: skip
    visits, path = None, folder / "recall.json"
    if path.exists():
        visits = _valid(RecallState, path, _json(path))
        _same(path, visits.case, case.case)
        if visits.surgery != surgery.surgery:
            raise _refused(
                path, "surgery", str(visits.surgery), str(surgery.surgery), "Put the right recalls beside it."
            )
    return operated_of(
        practice, case, plan, resolve(case), surgery.begun, surgery.entries,
        () if visits is None else standing(visits.entries), redo=None, where=str(folder),
    )  # fmt: skip


def _plan(folder: Path, case: Case) -> Plan:
    path = folder / "plan.json"
    plan = _valid(Plan, path, _json(path))
    _same(path, plan.case, case.case)
    return plan


def _json(path: Path) -> dict[str, Any]:
    try:
        found = json.loads(path.read_bytes())
    except FileNotFoundError:
        raise _refused(path, "", "no such file", "one in the folder of each case", "Add it.") from None
    except ValueError as wrong:
        raise _refused(path, "", str(wrong), "JSON", "Write it again.") from None
    if not isinstance(found, dict):
        raise _refused(path, "", f"a {type(found).__name__}", "an object", "Write it again.")
    return found


def _valid(kind: type[M], path: Path, found: dict[str, Any]) -> M:
    try:
        return kind.model_validate_json(json.dumps(found))
    except ValidationError as wrong:
        raise InputRefusedError(
            [
                Fault(f"{path.parent.name}/{path.name}", ".".join(map(str, e["loc"])), str(e.get("input"))[:60], e["msg"], "Correct it.")
                for e in wrong.errors()[:20]
            ]
        ) from None  # fmt: skip


def _same(path: Path, found: str, case: str) -> None:
    if found != case:
        raise _refused(path, "case", found, case, "Put the right file beside the case.")


def _refused(path: Path, where: str, found: str, expected: str, do: str) -> InputRefusedError:
    return InputRefusedError([Fault(f"{path.parent.name}/{path.name}", where, found, expected, do)])

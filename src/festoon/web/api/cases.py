"""Routes of cases: list, begin, open, edit, undo, redo, the demo cases."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query
from pydantic import BaseModel, ConfigDict, Field

from festoon.model.case import Case, Code, Purpose
from festoon.model.dentition import Notation
from festoon.store import looking
from festoon.store.keeping import judge_reading
from festoon.web.desk import DeskHere
from festoon.workflow import desk as work
from festoon.workflow.demo import keep_demo_cases
from festoon.workflow.planning import teeth_of_range

router = APIRouter(tags=["cases"])
Value = float | str | bool | None | list[Any] | dict[str, Any]
Changes = Annotated[dict[Annotated[str, Field(min_length=1, max_length=200)], Value], Field(max_length=2000)]
"""Entries of a case by key path, e.g. ``teeth.11.sites.midfacial.margin_mm``; null takes an entry away."""
CaseId = str


class Body(BaseModel):
    """Base of what a request brings: an unknown key is an error."""

    model_config = ConfigDict(extra="forbid", use_attribute_docstrings=True)


class CaseInList(BaseModel):
    """One case of the list."""

    case: str
    version: int
    changed_at: str
    waits_for: work.Next
    has_plan: bool
    is_signed: bool


class NewCase(Body):
    """A case to be begun."""

    case: Code
    """Pseudonymous id; no names."""
    notation: Notation = Notation.FDI
    purpose: Purpose = Purpose.AESTHETIC
    teeth: str = "13-23"
    """In ISO 3950, first to last as seen, e.g. ``13-23``."""


class CaseOpened(BaseModel):
    """A case as it stands."""

    case: str
    version: int
    document: Case
    """With the kept readings in it."""
    undo: int | None
    redo: int | None
    plans: list[int]
    stale: list[str]


class Edit(Body):
    """Entries to change."""

    base: int = Field(ge=0)
    """The version that was looked at."""
    changes: Changes
    why: str = Field(default="edited in the app", min_length=3, max_length=500)


class Kept(BaseModel):
    """What was kept."""

    version: int
    notes: list[str] = []
    """What is unusual and was kept as it stands."""


class Done(BaseModel):
    """A step back or forth; ``version`` is null where there was none to take."""

    version: int | None


@router.get("/cases")
def list_cases(
    desk: DeskHere,
    search: str = "",
    limit: Annotated[int, Query(ge=1, le=1000)] = 200,
    offset: Annotated[int, Query(ge=0, le=10**9)] = 0,
) -> list[CaseInList]:
    """Cases, the latest changed first."""
    return [
        CaseInList(
            case=line.case,
            version=line.versions,
            changed_at=line.changed_at,
            waits_for=waits_for,
            has_plan=line.has_plan,
            is_signed=line.is_signed,
        )
        for line, waits_for in work.listed(desk.store, search=search, limit=limit, offset=offset)
    ]


@router.post("/cases", status_code=201)
def begin_case(desk: DeskHere, new: NewCase) -> Kept:
    """Begin a case with its places and nothing measured."""
    teeth = teeth_of_range(new.teeth)
    saved = work.begin_case(desk.store, new.case, notation=new.notation, purpose=new.purpose, teeth=teeth, by=desk.by)
    return Kept(version=saved.version)


@router.post("/demo-cases")
def demo_cases(desk: DeskHere) -> list[str]:
    """Keep the demo cases that are not there yet; all their ids."""
    return list(keep_demo_cases(desk.store, by=desk.by))


@router.get("/cases/{case}")
def open_case(desk: DeskHere, case: CaseId) -> CaseOpened:
    """One case as it stands."""
    opened = work.open_on_desk(desk.store, case)
    return CaseOpened(
        case=case,
        version=opened.version,
        document=opened.case,
        undo=opened.undo,
        redo=opened.redo,
        plans=[plan.number for plan in opened.known.record.plans],
        stale=list(opened.stale),
    )


@router.patch("/cases/{case}")
def edit_case(desk: DeskHere, case: CaseId, edit: Edit) -> Kept:
    """Change entries of a case; a new version is kept, nothing is overwritten."""
    saved = work.save_changes(desk.store, case, edit.base, edit.changes, by=desk.by, why=edit.why)
    return Kept(version=saved.version, notes=list(saved.notes))


@router.post("/cases/{case}/undo")
def undo(desk: DeskHere, case: CaseId) -> Done:
    """Go a step back in the changes of a case; the step itself is a new version."""
    saved = work.step_back(desk.store, case, by=desk.by)
    return Done(version=saved.version if saved else None)


@router.post("/cases/{case}/redo")
def redo(desk: DeskHere, case: CaseId) -> Done:
    """Go forth again."""
    saved = work.step_forward(desk.store, case, by=desk.by)
    return Done(version=saved.version if saved else None)


class Verdict(Body):
    """A person's word on a kept reading that others contradict."""

    reading: int = Field(ge=1, le=10**9)
    """The number it was kept under."""
    is_kept: bool = False
    """False sets it aside; true takes it back."""
    why: str = Field(min_length=3, max_length=500)


@router.post("/cases/{case}/verdicts", status_code=201)
def judge(desk: DeskHere, case: CaseId, verdict: Verdict) -> Done:
    """Settle a contradiction: the wrong reading is set aside with a reason. It stays on record and can be taken back."""
    judge_reading(desk.store, case, verdict.reading, is_kept=verdict.is_kept, by=desk.by, why=verdict.why)
    return Done(version=looking.open_case(desk.store, case).version)

"""Routes of the day of surgery: begun from a signed plan, entered reading by reading, signed off.

Every entry has a key made by the page, so that one that is sent again after a lost connection counts once.
"""

from __future__ import annotations

import datetime as dt
from typing import Literal

from fastapi import APIRouter, Request
from pydantic import BaseModel, Field

from festoon.model.case import Code
from festoon.model.reading import Datum
from festoon.model.surgery import Key, RemarkEntry, Step, StepEntry, SurgeryState
from festoon.web.api.cases import Body, CaseId
from festoon.web.desk import DeskHere, PrefersHere
from festoon.workflow import surgery as work
from festoon.workflow.stored_plan import signed_plan
from festoon.workflow.surgery import Surgery

router = APIRouter(tags=["surgery"])


class SurgeryWanted(Body):
    """A surgery to be begun."""

    plan: int = Field(ge=1)
    """Number of a signed plan."""
    surgery_at: dt.date | None = None
    datum: Datum = Datum.PRESENT_EDGE
    """From what levels will be read."""
    operator: Code | None = None
    """Who operates, as a pseudonymous code; null: whoever signed."""
    template_kind: Literal["none", "gingival-line", "gingival-and-crest", "two-piece"] | None = None
    """Kind of the template in use; null: not said."""
    why: str = Field(default="begun in the app", min_length=3, max_length=500)


class Begun(BaseModel):
    """The number of the surgery."""

    surgery: int


class Typed(Body):
    """A reading as typed by a few keys."""

    key: Key
    text: str = Field(min_length=1, max_length=40)


class StepReached(Body):
    """A step that the hands have reached."""

    key: Key
    step: Step


class Remark(Body):
    """A remark in words."""

    key: Key
    text: str = Field(min_length=3, max_length=2000)


class TakenBack(Body):
    """An entry to be taken back; the latest where none is named."""

    key: Key
    entry: int | None = Field(default=None, ge=1)


class SignOff(Body):
    """The end of the surgery."""

    key: Key
    by: Code
    role: str = Field(min_length=3, max_length=100)
    reasons: dict[str, str] = Field(default_factory=dict)
    """For everything that was not done, by its name."""
    remark: str | None = Field(default=None, max_length=2000)


class Now(BaseModel):
    """The state after an entry that is on disk."""

    entry: int
    state: SurgeryState
    shown: str
    """The state as a part of a page."""


@router.post("/cases/{case}/surgeries", status_code=201)
def begin(desk: DeskHere, case: CaseId, wanted: SurgeryWanted) -> Begun:
    """Begin a surgery that is held against a signed plan."""
    begun = work.start_surgery(
        desk.store, case, wanted.plan, by=desk.by, why=wanted.why, surgery_at=wanted.surgery_at, datum=wanted.datum,
        operator=wanted.operator, template_kind=wanted.template_kind,
    )  # fmt: skip
    return Begun(surgery=begun.number)


@router.get("/cases/{case}/surgeries/{number}")
def look(desk: DeskHere, prefers: PrefersHere, case: CaseId, number: int) -> SurgeryState:
    """Everything a view at the chair needs."""
    return work.state(desk.store, Surgery(case, number), notations=prefers.notations)


@router.post("/cases/{case}/surgeries/{number}/entries", status_code=201)
def enter(request: Request, desk: DeskHere, prefers: PrefersHere, case: CaseId, number: int, typed: Typed) -> Now:
    """Keep a reading; it is on disk when this answers."""
    surgery = Surgery(case, number)
    kept, _ = work.enter_keys(desk.store, surgery, typed.text, key=typed.key, by=desk.by, notation=prefers.notation)
    return _now(request, desk, prefers, surgery, kept)


@router.post("/cases/{case}/surgeries/{number}/steps", status_code=201)
def step(
    request: Request, desk: DeskHere, prefers: PrefersHere, case: CaseId, number: int, reached: StepReached
) -> Now:
    """Say which step the hands have reached."""
    surgery = Surgery(case, number)
    kept = work.enter(desk.store, surgery, StepEntry(step=reached.step), key=reached.key, by=desk.by)
    return _now(request, desk, prefers, surgery, kept)


@router.post("/cases/{case}/surgeries/{number}/remarks", status_code=201)
def remark(request: Request, desk: DeskHere, prefers: PrefersHere, case: CaseId, number: int, said: Remark) -> Now:
    """Keep a remark."""
    surgery = Surgery(case, number)
    kept = work.enter(desk.store, surgery, RemarkEntry(text=said.text), key=said.key, by=desk.by)
    return _now(request, desk, prefers, surgery, kept)


@router.post("/cases/{case}/surgeries/{number}/undo", status_code=201)
def undo(request: Request, desk: DeskHere, prefers: PrefersHere, case: CaseId, number: int, back: TakenBack) -> Now:
    """Take an entry back; it stays on record."""
    surgery = Surgery(case, number)
    kept = work.undo(desk.store, surgery, key=back.key, by=desk.by, entry=back.entry)
    return _now(request, desk, prefers, surgery, kept)


@router.post("/cases/{case}/surgeries/{number}/sign-off", status_code=201)
def sign_off(request: Request, desk: DeskHere, prefers: PrefersHere, case: CaseId, number: int, end: SignOff) -> Now:
    """End the surgery; everything that was not done needs its reason."""
    surgery = Surgery(case, number)
    kept = work.sign_off(
        desk.store, surgery, key=end.key, by=end.by, role=end.role, reasons=end.reasons, remark=end.remark
    )
    return _now(request, desk, prefers, surgery, kept)


def _now(request: Request, desk: DeskHere, prefers: PrefersHere, surgery: Surgery, kept: int) -> Now:
    with desk.planning:
        state = work.state(desk.store, surgery, notations=prefers.notations)
    notes = signed_plan(desk.store, surgery.case, state.plan).notes
    shown = request.app.state.pages.text(
        request, "parts/at_the_chair.html", state=state, case=surgery.case, chart_notes=notes
    )
    return Now(entry=kept, state=state, shown=shown)

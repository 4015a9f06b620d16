"""Routes of the design: the plan that a changed target would get, while it is being moved."""

from __future__ import annotations

from fastapi import APIRouter, Request
from pydantic import BaseModel, Field

from festoon.model.plan import Plan
from festoon.web.api.cases import Body, CaseId, Changes
from festoon.web.desk import DeskHere
from festoon.web.handles import Handle, handles_of
from festoon.web.pages.case import profile_of
from festoon.web.pages.render import names_for
from festoon.workflow import desk as work

router = APIRouter(tags=["design"])


class DraftWanted(Body):
    """Entries as they would be."""

    changes: Changes = Field(default_factory=dict)


class Drafted(BaseModel):
    """The plan that the changed case would get, drawn, with what can be moved on it."""

    svg: str
    """The level profile."""
    handles: list[Handle]
    said: str
    """The numbers of the design as a part of a page."""
    spoken: str
    """The outcome in one sentence, for a screen reader."""
    notes: list[str]


@router.post("/cases/{case}/draft")
def draft(desk: DeskHere, request: Request, case: CaseId, wanted: DraftWanted) -> Drafted:
    """Plan the changed case without keeping anything."""
    with desk.planning:
        plan, notes = work.draft(desk.store, case, wanted.changes)
    return Drafted(
        svg=profile_of(request, plan),
        handles=handles_of(plan, names_for(request)),
        said=request.app.state.pages.text(request, "parts/design_numbers.html", plan=plan, notes=notes),
        spoken=spoken(plan),
        notes=list(notes),
    )


def spoken(plan: Plan) -> str:
    """The outcome of a draft in one sentence."""
    return plan.answer_text

"""Routes of plans: keep one, sign one."""

from __future__ import annotations

from fastapi import APIRouter
from pydantic import BaseModel, Field

from festoon.model.case import Code
from festoon.web.api.cases import Body, CaseId
from festoon.web.desk import DeskHere
from festoon.workflow import records as work

router = APIRouter(tags=["plans"])


class PlanWanted(Body):
    """A plan to be made and kept."""

    supersedes: int | None = Field(default=None, ge=1)
    """The kept plan that it takes the place of."""
    why: str = Field(default="planned in the app", min_length=3, max_length=500)


class PlanKept(BaseModel):
    """The number a plan was kept under, and its hash."""

    number: int
    sha256: str
    signable: bool
    signable_reasons: list[str]


class SignatureWanted(Body):
    """A signature under a kept plan."""

    by: Code
    """Who signs, as a pseudonymous code."""
    role: str = Field(min_length=3, max_length=100)
    reason: str = Field(min_length=3, max_length=500)


class Signed(BaseModel):
    """What has changed in the records since the plan was made."""

    since: list[str]


@router.post("/cases/{case}/plans", status_code=201)
def keep_plan(desk: DeskHere, case: CaseId, wanted: PlanWanted) -> PlanKept:
    """Plan the case with everything kept of it, and keep the plan."""
    with desk.planning:
        made = work.plan_and_keep(desk.store, case, supersedes=wanted.supersedes, by=desk.by, why=wanted.why)
    return PlanKept(
        number=made.kept.number,
        sha256=made.kept.sha256,
        signable=made.plan.signable,
        signable_reasons=list(made.plan.signable_reasons),
    )


@router.post("/cases/{case}/plans/{number}/signatures", status_code=201)
def sign_plan(desk: DeskHere, case: CaseId, number: int, wanted: SignatureWanted) -> Signed:
    """Sign a kept plan."""
    since = work.sign_kept_plan(desk.store, case, number, by=wanted.by, role=wanted.role, reason=wanted.reason)
    return Signed(since=list(since))

"""The page of the day of surgery, for a tablet at two metres."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from festoon.model.reading import Datum
from festoon.store import chairside
from festoon.web.desk import DeskHere, PrefersHere
from festoon.web.pages.case import opened, profile_of
from festoon.workflow.surgery import Surgery, state

router = APIRouter()


@router.get("/cases/{case}/surgery")
def surgery(
    request: Request, desk: DeskHere, prefers: PrefersHere, case: str, number: int | None = None
) -> HTMLResponse:
    """The latest surgery of a case, or the one that is named; where there is none, how one is begun."""
    found = opened(desk, case)
    numbers = chairside.surgeries_of(desk.store, case)
    chosen = number if number in numbers else (numbers[-1] if numbers else None)
    now = None
    if chosen is not None:
        with desk.planning:
            now = state(desk.store, Surgery(case, chosen), notations=prefers.notations)
    page: HTMLResponse = request.app.state.pages.render(
        request,
        "surgery.html",
        **found.context,
        svg=profile_of(request, found.plan),
        state=now,
        numbers=numbers,
        datums=[datum.value for datum in Datum],
        signed=[plan for plan in found.desk.known.record.plans if plan.signatures and plan.superseded_by is None],
    )
    return page

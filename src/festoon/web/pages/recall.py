"""The page of the recalls: margins over time against the expected band, and when restorations may be made."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from festoon.drawings.margins_over_time import draw_margins_over_time
from festoon.model.dentition import Site
from festoon.model.recall import ComplicationKind, PapillaFill
from festoon.store import chairside
from festoon.web.desk import DeskHere, PrefersHere
from festoon.web.pages.case import opened
from festoon.workflow.recall import recall_state
from festoon.workflow.surgery import Surgery, state

router = APIRouter()


@router.get("/cases/{case}/recall")
def recall(
    request: Request, desk: DeskHere, prefers: PrefersHere, case: str, number: int | None = None
) -> HTMLResponse:
    """The recalls of the latest surgery of a case, or of the one that is named."""
    found = opened(desk, case)
    numbers = chairside.surgeries_of(desk.store, case)
    chosen = number if number in numbers else (numbers[-1] if numbers else None)
    healed, picture = None, ""
    if chosen is not None:
        surgery = Surgery(case, chosen)
        healed = recall_state(desk.store, surgery, notations=prefers.notations)
        sutures = state(desk.store, surgery, resolve=False).sutures
        sites = {*(check.site for check in sutures), *(visit.site for visit in healed.verification.visits)}
        if Site.MIDFACIAL in sites:
            picture = draw_margins_over_time(healed, sutures, theme="screen", notations=prefers.notations)
    page: HTMLResponse = request.app.state.pages.render(
        request,
        "recall.html",
        **found.context,
        svg="",
        healed=healed,
        picture=picture,
        fills=[fill.value for fill in PapillaFill],
        kinds=[kind.value for kind in ComplicationKind],
    )
    return page

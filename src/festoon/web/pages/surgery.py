"""The page of the day of surgery, for a tablet at two metres."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from festoon.model.dentition import Site
from festoon.model.plan import Plan
from festoon.model.reading import Datum
from festoon.store import chairside
from festoon.verify.keys import QUANTITY_KEYS, SITE_KEYS
from festoon.web.desk import DeskHere, PrefersHere
from festoon.web.pages.case import opened, profile_of
from festoon.workflow.stored_plan import signed_plan
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
    now, plan = None, None
    notes: tuple[str, ...] = ()
    if chosen is not None:
        with desk.planning:
            now = state(desk.store, Surgery(case, chosen), notations=prefers.notations)
        signed = signed_plan(desk.store, case, now.plan)
        plan, notes = signed.plan, signed.notes
    page: HTMLResponse = request.app.state.pages.render(
        request,
        "surgery.html",
        **found.context,
        svg=profile_of(request, plan),
        state=now,
        chart_notes=notes,
        teeth=[] if plan is None else [code for code, tooth in plan.teeth.items() if tooth.procedure.cuts],
        site_keys=_site_keys(plan),
        quantity_keys=QUANTITY_KEYS,
        numbers=numbers,
        datums=[datum.value for datum in Datum],
        signed=[plan for plan in found.desk.known.record.plans if plan.signatures and plan.superseded_by is None],
    )
    return page


def _site_keys(plan: Plan | None) -> dict[str, Site]:
    """The keys of the sites that a plan speaks of; none where there is no plan."""
    spoken_of = set() if plan is None else {entry.site for entry in plan.sites}
    return {key: site for key, site in SITE_KEYS.items() if site in spoken_of}

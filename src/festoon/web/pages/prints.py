"""Everything a person can print of a case: made from the plan as it stands, or from a plan that was kept."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Literal

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response
from starlette.exceptions import HTTPException

from festoon.drawings.profile import draw_profile
from festoon.reports.letter import READERS, Reader
from festoon.store import chairside
from festoon.web.desk import DeskHere, PrefersHere
from festoon.web.pages.case import opened
from festoon.workflow.papers import patient_page, report_before
from festoon.workflow.planning import sheet_of
from festoon.workflow.surgery import Surgery
from festoon.workflow.surgery_papers import write_letters, write_record

router = APIRouter()


@router.get("/cases/{case}/print")
def prints(request: Request, desk: DeskHere, case: str) -> HTMLResponse:
    """What can be printed."""
    found = opened(desk, case)
    surgeries = chairside.surgeries_of(desk.store, case)
    page: HTMLResponse = request.app.state.pages.render(
        request, "print.html", **found.context, svg="", surgeries=surgeries, readers=READERS
    )
    return page


@router.get("/cases/{case}/print/sheet.pdf")
def sheet(
    desk: DeskHere,
    prefers: PrefersHere,
    case: str,
    paper: Literal["a4", "letter"] = "a4",
    seen_from: Literal["front", "behind"] = "front",
) -> Response:
    """The chairside sheet."""
    found = opened(desk, case)
    if found.plan is None:
        raise HTTPException(409, "There is no plan to print: settle the readings that contradict each other first.")
    with desk.planning:
        pdf = sheet_of(found.plan, paper=paper, seen_from=seen_from, notations=prefers.notations)
    return _pdf(pdf, f"{case}-sheet")


@router.get("/cases/{case}/print/before-surgery.pdf")
def before_surgery(desk: DeskHere, prefers: PrefersHere, case: str, paper: Literal["a4", "letter"] = "a4") -> Response:
    """The report to the restorative colleague before surgery."""
    found = opened(desk, case)
    if found.plan is None:
        raise HTTPException(409, "There is no plan to report: settle the readings that contradict each other first.")
    with desk.planning:
        pdf = report_before(found.plan, paper=paper, notations=prefers.notations)
    return _pdf(pdf, f"{case}-before-surgery")


@router.get("/cases/{case}/print/for-the-patient.pdf")
def for_the_patient(desk: DeskHere, case: str, paper: Literal["a4", "letter"] = "a4") -> Response:
    """The page for the patient before surgery, with the points to talk over before consent."""
    found = opened(desk, case)
    if found.plan is None:
        raise HTTPException(409, "There is no plan to explain: settle the readings that contradict each other first.")
    with desk.planning:
        pdf = patient_page(found.plan, paper=paper)
    return _pdf(pdf, f"{case}-for-the-patient")


@router.get("/cases/{case}/print/profile.svg")
def profile(desk: DeskHere, prefers: PrefersHere, case: str) -> Response:
    """The level profile at true scale, in grey."""
    found = opened(desk, case)
    if found.plan is None:
        raise HTTPException(409, "There is no plan to draw: settle the readings that contradict each other first.")
    svg = draw_profile(found.plan, notations=prefers.notations, theme="print")
    return Response(
        svg, media_type="image/svg+xml", headers={"content-disposition": f'attachment; filename="{case}-profile.svg"'}
    )


@router.get("/cases/{case}/print/plan.json")
def plan_file(desk: DeskHere, case: str) -> Response:
    """The plan as ``festoon-plan/1``."""
    found = opened(desk, case)
    if found.plan is None:
        raise HTTPException(409, "There is no plan: settle the readings that contradict each other first.")
    return Response(
        found.plan.as_json(),
        media_type="application/json",
        headers={"content-disposition": f'attachment; filename="{case}-plan.json"'},
    )


@router.get("/cases/{case}/print/surgery-{number}/record.pdf")
def record(
    desk: DeskHere, prefers: PrefersHere, case: str, number: int, paper: Literal["a4", "letter"] = "a4"
) -> Response:
    """The record of a surgery, one page."""
    with tempfile.TemporaryDirectory() as folder, desk.planning:
        written = write_record(
            desk.store, Surgery(case, number), Path(folder), paper=paper, notations=prefers.notations
        )
        return _pdf(written.read_bytes(), f"{case}-surgery-{number}")


@router.get("/cases/{case}/print/surgery-{number}/letter-{reader}.pdf")
def letter(
    desk: DeskHere, prefers: PrefersHere, case: str, number: int, reader: Reader, paper: Literal["a4", "letter"] = "a4"
) -> Response:
    """A letter to one reader, with what was planned, cut, sutured and healed."""
    with tempfile.TemporaryDirectory() as folder, desk.planning:
        (written,) = write_letters(
            desk.store, Surgery(case, number), Path(folder), (reader,), paper=paper, notations=prefers.notations
        )
        return _pdf(written.read_bytes(), f"{case}-letter-{reader}")


def _pdf(data: bytes, name: str) -> Response:
    headers = {"content-disposition": f'inline; filename="{name}.pdf"'}
    return Response(data, media_type="application/pdf", headers=headers)

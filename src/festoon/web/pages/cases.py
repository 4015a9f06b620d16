"""The first page: cases, what each waits for next, a new one, an imported one, the demo cases."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response

from festoon.model.dentition import Notation
from festoon.model.reading import Datum
from festoon.records.demo import TITLES
from festoon.store import looking
from festoon.store.errors import UnknownRecordError
from festoon.web.desk import PREFERENCES, Desk, DeskHere, Prefers, prefers_of
from festoon.web.pages.case import NEXT_WORDS
from festoon.web.words import catalogue, languages
from festoon.workflow import desk as work

router = APIRouter()
_PAGE = 100


@router.get("/")
def cases(
    request: Request, desk: DeskHere, search: str = "", start: Annotated[int, Query(ge=0, le=10**9)] = 0
) -> HTMLResponse:
    """The cases of the store, the latest changed first; a first-run page where there is none."""
    lines = work.listed(desk.store, search=search[:100], limit=_PAGE + 1, offset=start)
    page: HTMLResponse = request.app.state.pages.render(
        request,
        "cases.html",
        listed=[_said(desk, line, next_) for line, next_ in lines[:_PAGE]],
        search=search[:100],
        start=start,
        more=len(lines) > _PAGE,
        step=_PAGE,
        next_words=NEXT_WORDS,
        demo_missing=not all(
            any(line.case == name for line in looking.list_cases(desk.store, search=name)) for name in TITLES
        ),
        datums=[datum.value for datum in Datum],
    )
    return page


@router.get("/cases/{case}/waits")
def waits(request: Request, desk: DeskHere, case: str) -> PlainTextResponse:
    """What one case of the list waits for, in words: the list itself solves nothing, so it only knows in part."""
    line = next((line for line in looking.list_cases(desk.store, search=case) if line.case == case), None)
    if line is None:
        raise UnknownRecordError(f"there is no case {case}")
    with desk.planning:
        found = work.waits_for(desk.store, case)
    desk.waits[case] = (line, found)
    return PlainTextResponse(catalogue(prefers_of(request).language).gettext(NEXT_WORDS[found]))


_SURE = (work.Next.CHART, work.Next.SIGN_OFF, work.Next.RECALL)
"""What the records alone say for certain."""


def _said(desk: Desk, line: looking.CaseLine, from_records: work.Next) -> tuple[looking.CaseLine, work.Next, bool]:
    """A case of the list, what it waits for, and whether that is sure: else the page asks for it once it is shown."""
    kept, known = desk.waits.get(line.case, (None, from_records))
    if kept == line:
        return line, known, True
    return line, from_records, from_records in _SURE


@router.get("/prefer")
def prefer(
    notation: Notation = Notation.FDI,
    theme: Literal["auto", "light", "dark"] = "auto",
    language: str = "en",
    to: str = "/",
) -> Response:
    """Keep what the reader prefers to see; no record changes."""
    place = to if to.startswith("/") and not to.startswith(("//", "/\\")) else "/"
    chosen = Prefers(notation, theme, language if language in (*languages(), "x-marked") else "en")
    answer = RedirectResponse(place, 303)
    answer.set_cookie(PREFERENCES, chosen.cookie, max_age=365 * 24 * 3600, httponly=True, samesite="strict")
    return answer

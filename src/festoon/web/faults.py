"""One shape for everything that goes wrong, as JSON for the components and as a page for a person. Never a path or a stack."""

from __future__ import annotations

import sys
import traceback
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, JSONResponse, Response
from pydantic import BaseModel
from starlette.exceptions import HTTPException

from festoon.errors import Fault, InputRefusedError, SolverError
from festoon.store.errors import StaleVersionError, StoreError, StoreUnwritableError, UnknownRecordError
from festoon.web.security import TooLargeError


class FaultShown(BaseModel):
    """One fault of an input."""

    file: str
    where: str
    line: int | None
    found: str
    expected: str
    do: str


class Wrong(BaseModel):
    """What went wrong; nothing of the request was kept unless the text says so."""

    kind: str
    """``refused``, ``stale``, ``unknown``, ``too_large``, ``store``, ``unwritable``, ``door`` or ``failed``."""
    text: str
    faults: list[FaultShown] = []


class ErrorShape(BaseModel):
    """The one JSON shape of an error."""

    error: Wrong


RESPONSES: dict[int | str, dict[str, Any]] = {
    code: {"model": ErrorShape} for code in (400, 403, 404, 409, 413, 421, 422, 500, 507)
}
"""For the routes of the API, so that the published OpenAPI says it too."""


def shown(fault: Fault) -> FaultShown:
    """A fault with its parts."""
    return FaultShown(**{name: getattr(fault, name) for name in FaultShown.model_fields})


def told(error: Exception) -> tuple[int, Wrong]:
    """Status and words for an error."""
    match error:
        case InputRefusedError():
            return 422, Wrong(
                kind="refused",
                text="Nothing was kept: "
                + "; ".join(f"{fault.found}, expected {fault.expected}" for fault in error.faults[:3]),
                faults=[shown(fault) for fault in error.faults],
            )
        case RequestValidationError():
            faults = [
                FaultShown(
                    file="request",
                    where=".".join(map(str, item["loc"])),
                    line=None,
                    found=repr(item.get("input"))[:80],
                    expected=item["msg"],
                    do="Mend it and send it again.",
                )
                for item in error.errors()
            ]
            return 422, Wrong(kind="refused", text="The request was not understood; nothing was kept.", faults=faults)
        case StaleVersionError():
            return 409, Wrong(kind="stale", text=str(error))
        case UnknownRecordError():
            return 404, Wrong(kind="unknown", text=str(error))
        case StoreUnwritableError():
            return 507, Wrong(kind="unwritable", text=str(error))
        case StoreError():
            return 409, Wrong(kind="store", text=str(error))
        case TooLargeError():
            return 413, Wrong(kind="too_large", text=str(error.detail))
        case SolverError():
            return 500, Wrong(kind="failed", text=f"No plan: {error}. No number is given.")
        case HTTPException():
            return error.status_code, Wrong(
                kind="unknown" if error.status_code == 404 else "refused",
                text=str(error.detail) if error.detail else HTTPStatus(error.status_code).phrase,
            )
        case _:
            return 500, Wrong(
                kind="failed",
                text="festoon itself failed. Nothing of this step was kept; what was kept before is safe.",
            )


def install(app: FastAPI) -> None:
    """Answer every error in its shape."""

    def answer(request: Request, error: Exception) -> Response:
        status, wrong = told(error)
        if status == 500 and wrong.kind == "failed" and not isinstance(error, SolverError):
            traceback.print_exception(error, file=sys.stderr)  # the terminal, for whoever mends it; never the page
        if request.url.path.startswith("/api/"):
            return JSONResponse(ErrorShape(error=wrong).model_dump(mode="json"), status)
        page: str = request.app.state.pages.fault_page(request, status, wrong)
        return HTMLResponse(page, status)

    kinds = (
        InputRefusedError,
        RequestValidationError,
        StoreError,
        TooLargeError,
        SolverError,
        HTTPException,
        Exception,
    )
    for kind in kinds:
        app.add_exception_handler(kind, answer)

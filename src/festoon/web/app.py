"""The app: pages and API on one desk, behind the guard."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from fastapi import FastAPI, Request
from fastapi.responses import FileResponse, PlainTextResponse, Response
from fastapi.staticfiles import StaticFiles
from starlette.exceptions import HTTPException

from festoon import __version__
from festoon.web import faults
from festoon.web.api import cases as cases_api
from festoon.web.api import design as design_api
from festoon.web.api import files as files_api
from festoon.web.api import imports as imports_api
from festoon.web.api import photos as photos_api
from festoon.web.api import plans as plans_api
from festoon.web.api import recall as recall_api
from festoon.web.api import surgery as surgery_api
from festoon.web.api import templates as templates_api
from festoon.web.desk import Desk
from festoon.web.pages import case as case_pages
from festoon.web.pages import cases as cases_pages
from festoon.web.pages import prints
from festoon.web.pages import recall as recall_pages
from festoon.web.pages import surgery as surgery_pages
from festoon.web.pages.render import Pages, palette_css
from festoon.web.security import App, Guard

LOOK = Path(str(files("festoon.web") / "look"))
"""Style sheet, components and icon: plain files, as they were written."""
BUILT = Path(str(files("festoon.web") / "built"))
"""Components with libraries of others, built when the package was installed."""
_FONTS = Path(str(files("font_source_sans_pro") / "files"))


def create_app(desk: Desk) -> App:
    """The app as an ASGI callable.

    Parameters
    ----------
    desk : Desk
        The store it works on, the token that opens it, and who works here.
    """
    app = bare_app(desk)
    return Guard(app, desk.door)


def bare_app(desk: Desk) -> FastAPI:
    """The app without its guard: for the OpenAPI document and for tests of single routes."""
    app = FastAPI(
        title="festoon",
        version=__version__,
        summary="Plans, guides and verifies aesthetic crown lengthening. It informs a licensed clinician; it never decides.",
        openapi_url="/api/openapi.json",
        docs_url=None,
        redoc_url=None,
    )
    app.state.desk = desk
    app.state.pages = Pages()
    faults.install(app)
    for api in (
        cases_api,
        design_api,
        plans_api,
        surgery_api,
        recall_api,
        files_api,
        photos_api,
        imports_api,
        templates_api,
    ):
        app.include_router(api.router, prefix="/api", responses=faults.RESPONSES)
    for pages in (cases_pages, case_pages, prints, surgery_pages, recall_pages):
        app.include_router(pages.router, include_in_schema=False)

    @app.get("/look/palette.css", include_in_schema=False)
    def palette() -> Response:
        return PlainTextResponse(palette_css(), media_type="text/css")

    @app.get("/favicon.ico", include_in_schema=False)
    def icon() -> Response:
        return FileResponse(LOOK / "icon.svg", media_type="image/svg+xml")

    app.mount("/look/fonts", StaticFiles(directory=_FONTS), name="fonts")
    if BUILT.is_dir():
        app.mount("/built", StaticFiles(directory=BUILT), name="built")
    app.mount("/look", StaticFiles(directory=LOOK), name="look")

    @app.get("/{rest:path}", include_in_schema=False)
    def nothing_here(rest: str, request: Request) -> Response:  # noqa: ARG001  named by the route
        raise HTTPException(404, "There is no such page.")

    return app

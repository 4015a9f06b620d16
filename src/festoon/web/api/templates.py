"""Routes of the template: the printable part of a case over one of its scans, made, checked and kept."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any

from fastapi import APIRouter
from fastapi.responses import StreamingResponse
from pydantic import BaseModel, Field

from festoon.scan.raw import Jaw, Unit
from festoon.template.inputs import CLEARANCE, WALL, Kind
from festoon.web.api.cases import Body, CaseId
from festoon.web.api.files import MeasureWanted, PointSet, scan_kind, traced
from festoon.web.desk import DeskHere
from festoon.web.watched import LINES, GoneError, Watch, watched

router = APIRouter(tags=["templates"])


class TemplateWanted(Body):
    """A template to be made; what is absent is chosen or found, and said."""

    scan: str = Field(pattern="^[0-9a-f]{64}$")
    """SHA-256 of an attached scan."""
    kind: Kind | None = None
    unit: Unit | None = None
    jaw: Jaw | None = None
    scanned_at: dt.date | None = None
    wall: Annotated[float, Field(ge=1.0, le=5.0)] | None = None
    clearance: Annotated[float, Field(ge=0.0, le=0.5)] | None = None
    build_volume: tuple[float, float, float] | None = None
    """Of the printer, mm."""
    points: list[PointSet] = Field(default=[], max_length=500)
    """Points of the margins set by hand on that scan."""


class TemplateMade(BaseModel):
    """A template that was made and kept."""

    number: int
    about: dict[str, Any]
    """Format ``festoon-template/1``: kind, why, parts with their checks, notes, cautions."""
    files: dict[str, str]
    """SHA-256 of each file, by name."""


@router.post("/cases/{case}/templates", response_class=StreamingResponse, responses=LINES)
def make_template(desk: DeskHere, case: CaseId, wanted: TemplateWanted) -> StreamingResponse:
    """Make, check and keep the template of a case as it is planned now. Answers in lines; the last is a `TemplateMade`."""
    from festoon.workflow.template_on_record import make_and_keep_template
    from festoon.workflow.templating import StoppedError, TemplateOrder

    scan_kind(desk, case, wanted.scan)
    order = TemplateOrder(
        kind=wanted.kind,
        unit=wanted.unit,
        jaw=wanted.jaw,
        scanned_at=wanted.scanned_at,
        clearance=CLEARANCE if wanted.clearance is None else wanted.clearance,
        wall=WALL if wanted.wall is None else wanted.wall,
        build_volume=wanted.build_volume,
    )

    def work(watch: Watch) -> TemplateMade:
        by_hand = None
        if wanted.points:
            how = MeasureWanted(unit=wanted.unit, jaw=wanted.jaw, points=wanted.points)
            by_hand = traced(desk, case, wanted.scan, how, watch)
        try:
            kept = make_and_keep_template(
                desk.store,
                case,
                wanted.scan,
                order,
                traced=by_hand,
                by=desk.by,
                tell=watch.step,
                is_stopped=watch.is_stopped,
            )
        except StoppedError as stopped:
            raise GoneError(str(stopped)) from stopped
        return TemplateMade(number=kept.number, about=kept.about, files=kept.files)

    return watched(work)

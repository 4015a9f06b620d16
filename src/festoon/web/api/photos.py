"""Routes of a photograph: shown upright, its outlines drafted, lines snapped to edges, marks measured."""

from __future__ import annotations

import base64
import io
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import numpy as np
from fastapi import APIRouter, Query
from fastapi.responses import Response, StreamingResponse
from numpy.typing import NDArray
from PIL import Image
from pydantic import BaseModel, Field, FiniteFloat

from festoon.drawings.marker_card import SIDES_MM
from festoon.errors import Fault, InputRefusedError
from festoon.model.dentition import Tooth
from festoon.model.quantities import Readings
from festoon.photo.marks import Marks
from festoon.photo.reading import Photo, read_photo
from festoon.scan.raw import Unit
from festoon.store.errors import UnknownRecordError
from festoon.web.api.cases import Body, CaseId
from festoon.web.api.files import Sha256, file_kind, scan_kind
from festoon.web.desk import Desk, DeskHere
from festoon.web.watched import LINES, Watch, watched

if TYPE_CHECKING:
    from festoon.photo.snapping import Snapper
    from festoon.workflow.marking_photo import KnownSquare
    from festoon.workflow.measuring_photo import MeasuredPhoto

router = APIRouter(tags=["photographs"])
Mirrored = Literal["as_tagged", "ignored"]
Line = list[tuple[float, float]]
_SHOWN_QUALITY = 92
"""JPEG quality of the picture on the page; what is computed on is the file itself."""


@router.get("/cases/{case}/files/{sha256}/picture.jpg", response_class=Response)
def picture(desk: DeskHere, case: CaseId, sha256: Sha256, mirrored: Mirrored | None = None) -> Response:
    """The photograph on the one upright grid on which it is clicked, computed and printed."""
    shown = io.BytesIO()
    Image.fromarray(_photo(desk, case, sha256, mirrored).pixels).save(shown, "JPEG", quality=_SHOWN_QUALITY)
    return Response(shown.getvalue(), media_type="image/jpeg")


class PhotoAsked(Body):
    """How the file is read."""

    mirrored: Mirrored | None = None
    """What to do where the file's orientation mirrors the picture; absent: refuse and ask."""


class OutlineDrafted(BaseModel):
    """An outline to be corrected."""

    clicks: Line
    """Photo pixels (x, y)."""
    segments: list[Line]
    """From each click to the next, the last back to the first."""
    quality: float


class OutlinesDrafted(BaseModel):
    """What was found; nothing of it is kept."""

    teeth: dict[str, OutlineDrafted]
    notes: list[str]


@router.post("/cases/{case}/files/{sha256}/outlines", response_class=StreamingResponse, responses=LINES)
def outlines(desk: DeskHere, case: CaseId, sha256: Sha256, asked: PhotoAsked) -> StreamingResponse:
    """Find the outlines of the front teeth. Answers in lines; the last is an `OutlinesDrafted`."""
    _is_photo(desk, case, sha256)

    def work(watch: Watch) -> OutlinesDrafted:
        from festoon.workflow import marking_photo

        watch.tell("reading")
        photo = _photo(desk, case, sha256, asked.mirrored)
        watch.tell("finding the teeth")
        drafts = marking_photo.draft_outlines(photo)
        return OutlinesDrafted(
            teeth={
                tooth: OutlineDrafted(
                    clicks=_line(one.clicks), segments=[_line(part) for part in one.segments], quality=one.quality
                )
                for tooth, one in drafts.teeth.items()
            },
            notes=list(drafts.notes),
        )

    return watched(work)


class SnapWanted(PhotoAsked):
    """Pairs of clicks between which the edge is wanted."""

    segments: Annotated[
        list[tuple[tuple[FiniteFloat, FiniteFloat], tuple[FiniteFloat, FiniteFloat]]], Field(max_length=64)
    ]


class Snapped(BaseModel):
    """The edge between the clicks of each pair."""

    segments: list[Line]


@router.post("/cases/{case}/files/{sha256}/snap")
def snap(desk: DeskHere, case: CaseId, sha256: Sha256, wanted: SnapWanted) -> Snapped:
    """Draw lines between clicks along the true edge."""
    from festoon.workflow import marking_photo

    snapper = _snapper(desk, case, sha256, wanted.mirrored)
    try:
        return Snapped(segments=[_line(part) for part in marking_photo.snapped(snapper, wanted.segments)])
    except ValueError as error:
        raise InputRefusedError(
            [Fault("photograph", "segments", str(error), "points in the photograph", "Click inside the picture.")]
        ) from None


class WidthKnown(Body):
    """A width measured on the person."""

    tooth: Annotated[str, Field(pattern="^[1-4][1-8]$")]
    mm: Annotated[FiniteFloat, Field(ge=2.5, le=14)]
    se: Annotated[FiniteFloat, Field(gt=0, le=2)] | None = None
    """Standard error; absent: that of a calliper read to a tenth."""


class MarkerKnown(Body):
    """A printed square in the picture, measured on the print."""

    side_mm: Annotated[FiniteFloat, Field(ge=3, le=60)]
    se_mm: Annotated[FiniteFloat, Field(gt=0, le=2)]
    """Standard error; must be said."""
    behind_mm: Annotated[FiniteFloat, Field(ge=-30, le=30)] = 0.0
    """Behind the facial surface of the centrals."""


class Earlier(Body):
    """Another marked photograph of the same person, to be laid beside this one."""

    sha256: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
    marks: Marks


class PhotoWanted(PhotoAsked):
    """Marks to be measured, and what is known in millimetres; without that there are ratios alone."""

    marks: Marks
    known: list[WidthKnown] = Field(default=[], max_length=32)
    marker: MarkerKnown | None = None
    """A marker that is to be found in the picture."""
    scan: str | None = Field(default=None, pattern="^[0-9a-f]{64}$")
    """SHA-256 of an attached scan of the same person: the camera's pose is solved from it."""
    unit: Unit | None = None
    same_tissue: bool = False
    """Margins on scan and photograph are in one state."""
    with_plan: bool = False
    """Also draw the margins of the case as it is planned now: a simulation, not a promise."""
    earlier: Earlier | None = None
    """Needs `scan`: two photographs stand beside each other only once their poses agree."""


class PhotoMeasured(BaseModel):
    """What a photograph says. Nothing of it is in the case yet."""

    readings: Readings
    notes: list[str]
    picture: str
    """What was measured, drawn on the photograph: PNG, base64."""
    planned: str | None
    """The planned margins on the photograph: PNG, base64; null where they were not asked for or cannot be drawn, which a note says."""
    beside: str | None
    """Both photographs in one pose: PNG, base64; null where it was not asked for or they cannot be compared, which a note says."""


@router.post("/cases/{case}/files/{sha256}/photo-readings", response_class=StreamingResponse, responses=LINES)
def photo_readings(desk: DeskHere, case: CaseId, sha256: Sha256, wanted: PhotoWanted) -> StreamingResponse:
    """Measure a marked photograph. Answers in lines; the last is a `PhotoMeasured`."""
    _is_photo(desk, case, sha256)
    scan_file = f"scan{scan_kind(desk, case, wanted.scan).removeprefix('scan')}" if wanted.scan else ""

    def work(watch: Watch) -> PhotoMeasured:
        from festoon.photo.arch import KnownWidth
        from festoon.workflow import measuring_photo

        with tempfile.TemporaryDirectory() as place, desk.planning:
            folder = Path(place)
            marks = folder / "marks.json"
            marks.write_text(wanted.marks.model_dump_json(exclude_none=True), "utf-8")
            scan = folder / scan_file if wanted.scan else None
            if scan is not None and wanted.scan is not None:
                scan.write_bytes(desk.store.files.get(wanted.scan))
            photo = folder / "photograph"
            photo.write_bytes(desk.store.files.get(sha256))
            made = measuring_photo.measure_photo(
                photo,
                marks=marks,
                known=[
                    KnownWidth(Tooth(one.tooth), one.mm, one.se or measuring_photo.KNOWN_SE_MM) for one in wanted.known
                ],
                marker=_square(wanted.marker),
                scan=scan,
                unit=wanted.unit,
                same_tissue=wanted.same_tissue,
                mirrored=wanted.mirrored,
                case=case,
                tell=watch.tell,
            )
            written = measuring_photo.write_measured_photo(made, folder / "out")
            drawn = next(path for path in written if path.suffix == ".png").read_bytes()
            notes = list(made.notes)
            planned = beside = None
            if wanted.with_plan:
                watch.tell("planned margins")
                planned = _or_note(lambda: _plan_on(desk, case, made), notes)
            if wanted.earlier is not None:
                watch.tell("the earlier photograph")
                earlier = wanted.earlier
                beside = _or_note(lambda: _beside(desk, case, earlier, made, scan, wanted.unit, folder), notes)
        return PhotoMeasured(
            readings=made.readings,
            notes=notes,
            picture=base64.b64encode(drawn).decode(),
            planned=planned,
            beside=beside,
        )

    return watched(work)


def _square(known: MarkerKnown | None) -> KnownSquare | None:
    from festoon.workflow.marking_photo import KnownSquare

    return KnownSquare(known.side_mm, known.se_mm, known.behind_mm) if known else None


@router.get("/marker.pdf", response_class=Response)
def marker(side_mm: Annotated[float, Query(ge=SIDES_MM[0], le=SIDES_MM[1])] = 10.0) -> Response:
    """A card with a square marker to be printed, in true size."""
    from festoon.workflow.printing_marker import marker_files

    return Response(marker_files(side_mm, 0)["marker.pdf"], media_type="application/pdf")


def _or_note(draw: Callable[[], bytes], notes: list[str]) -> str | None:
    """A picture as base64; where it is refused, a note says why, and the readings stand all the same."""
    try:
        return base64.b64encode(draw()).decode()
    except InputRefusedError as refused:
        notes += [f"not drawn: {fault.found}; expected {fault.expected}. {fault.do}" for fault in refused.faults]
        return None


def _plan_on(desk: Desk, case: str, made: MeasuredPhoto) -> bytes:
    from festoon.workflow.desk import open_on_desk, plan_on_desk
    from festoon.workflow.measuring_photo import draw_plan_on

    plan = plan_on_desk(open_on_desk(desk.store, case))
    if plan is None:
        raise InputRefusedError([Fault(case, "", "no plan", "a plan", "Settle what contradicts itself in the chart.")])
    return draw_plan_on(made, plan)


def _beside(
    desk: Desk, case: str, earlier: Earlier, made: MeasuredPhoto, scan: Path | None, unit: Unit | None, folder: Path
) -> bytes:
    from festoon.workflow.measuring_photo import draw_beside, measure_photo

    _is_photo(desk, case, earlier.sha256)
    marks = folder / "earlier.json"
    marks.write_text(earlier.marks.model_dump_json(exclude_none=True), "utf-8")
    photo = folder / "earlier photograph"
    photo.write_bytes(desk.store.files.get(earlier.sha256))
    return draw_beside(measure_photo(photo, marks=marks, scan=scan, unit=unit), made)


def _is_photo(desk: Desk, case: str, sha256: str) -> None:
    if file_kind(desk, case, sha256) != "photograph":
        raise UnknownRecordError(f"case {case} has no such photograph")


def _photo(desk: Desk, case: str, sha256: str, mirrored: Mirrored | None) -> Photo:
    _is_photo(desk, case, sha256)
    return desk.photos.get((sha256, mirrored or ""), lambda: read_photo(desk.store.files.path(sha256), mirrored))


def _snapper(desk: Desk, case: str, sha256: str, mirrored: Mirrored | None) -> Snapper:
    """The photograph made ready for snapping, which takes a second the first time."""
    from festoon.photo.snapping import prepare

    photo = _photo(desk, case, sha256, mirrored)
    return desk.snappers.get((sha256, mirrored or ""), lambda: prepare(photo))


def _line(points: NDArray[np.float64]) -> Line:
    return [(round(float(x), 1), round(float(y), 1)) for x, y in points]

"""Routes of files: a scan or photograph attached to a case, given back, and a scan measured."""

from __future__ import annotations

import base64
import datetime as dt
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from fastapi import APIRouter, UploadFile
from fastapi import Path as InPath
from fastapi.responses import FileResponse, Response, StreamingResponse
from pydantic import BaseModel, Field, FiniteFloat

from festoon.errors import Fault, InputRefusedError
from festoon.model.dentition import Tooth
from festoon.model.quantities import Readings
from festoon.records.privacy.photograph import JPEG, PNG
from festoon.scan.raw import MM_PER, Jaw, Unit
from festoon.store import looking
from festoon.store.errors import UnknownRecordError
from festoon.web.api.cases import Body, CaseId, Kept
from festoon.web.desk import Desk, DeskHere
from festoon.web.watched import LINES, Watch, watched
from festoon.workflow import records
from festoon.workflow.taking_readings import take_readings

if TYPE_CHECKING:
    from festoon.workflow.measuring_scan import MeasuredScan

router = APIRouter(tags=["files"])
Sha256 = Annotated[str, InPath(pattern="^[0-9a-f]{64}$")]
SCANS = (".stl", ".ply", ".obj", ".3mf")


class Attached(BaseModel):
    """A file that was kept, and what was taken out of it."""

    sha256: str
    removed: list[str]


Fdi = Annotated[str, Field(pattern="^[1-4][1-8]$")]
Place = Literal["margin", "zenith", "mesial_papilla", "distal_papilla", "edge", "mesial_end", "distal_end"]


class PointSet(Body):
    """A point that a person sets on a tooth."""

    tooth: Fdi
    point: tuple[FiniteFloat, FiniteFloat, FiniteFloat]
    """On the surface, in mm in the pose of the file."""
    place: Place = "margin"
    """What lies there: the facial margin goes through it, or it is the zenith, a papilla tip, the edge point or an end of the crown."""


class MeasureWanted(Body):
    """How a scan is read; what is absent is found and said."""

    unit: Unit | None = None
    jaw: Jaw | None = None
    numbers: dict[Fdi, Fdi] = Field(default={}, max_length=32)
    """Numbers set by a person, found to given; the scan is measured anew with them."""
    points: list[PointSet] = Field(default=[], max_length=500)
    """Every point set by hand so far: they are the whole truth, nothing is remembered."""
    picture: bool = True
    """False leaves the picture out, which takes a second."""


class Measured(BaseModel):
    """What a scan says. Nothing of it is in the case yet."""

    readings: Readings
    doubtful: list[bool]
    """By reading: a remark casts doubt on it, beyond what its error says; it is taken into the chart only by hand."""
    notes: list[str]
    """What was put right, and what to confirm."""
    frame: list[float]
    """16 numbers, row by row, from the file's millimetres to the arch frame."""
    mm_per_unit: float
    """Of the file's coordinates."""
    jaw: str
    margins: dict[str, list[list[float]]]
    """By tooth, its facial margin from mesial to distal, in mm in the pose of the file."""
    picture: str | None
    """The traced scan as PNG, base64."""


@router.post("/cases/{case}/files", status_code=201)
def attach(desk: DeskHere, case: CaseId, file: UploadFile) -> Attached:
    """Keep a file for a case, without identity; what cannot be cleaned of it is not kept."""
    suffix = Path(file.filename or "").suffix.lower()[:6]
    kind = f"scan{suffix}" if suffix in SCANS else "photograph"
    looking.open_case(desk.store, case)
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / f"file{suffix}"
        with place.open("wb") as out:
            while part := file.file.read(1 << 20):
                out.write(part)
        if suffix not in SCANS:
            _must_be_a_picture(place)
        sha256, removed = records.attach(desk.store, case, place, kind=kind, by=desk.by, why="attached in the app")
    return Attached(sha256=sha256, removed=list(removed))


def _must_be_a_picture(place: Path) -> None:
    """Refuse what is no photograph: nobody could take identity out of it."""
    from festoon.photo.reading import is_other_photograph

    with place.open("rb") as opened:
        head = opened.read(16)
    if not (head.startswith((JPEG, PNG)) or is_other_photograph(head)):
        found = "neither a scan by its ending nor a picture by its first bytes"
        expected = f"a scan ({' '.join(SCANS)}), or a JPEG, PNG, TIFF, HEIC or WebP"
        do = "Export the scan as STL or PLY, or save the picture as JPEG or PNG, and attach that."
        raise InputRefusedError([Fault(place.name, "", found, expected, do)])


@router.get("/cases/{case}/files/{sha256}", response_class=FileResponse)
def give(desk: DeskHere, case: CaseId, sha256: Sha256) -> Response:
    """The bytes of a file of this case."""
    file_kind(desk, case, sha256)
    return FileResponse(desk.store.files.path(sha256), media_type="application/octet-stream")


@router.post("/cases/{case}/files/{sha256}/measure", response_class=StreamingResponse, responses=LINES)
def measure(desk: DeskHere, case: CaseId, sha256: Sha256, wanted: MeasureWanted) -> StreamingResponse:
    """Measure a scan of this case, or trace its margins again through points set by hand. Answers in lines; the last is a `Measured`."""
    scan_kind(desk, case, sha256)

    def work(watch: Watch) -> Measured:
        from festoon.scan.quantities import WIDE
        from festoon.workflow import measuring_scan

        made = traced(desk, case, sha256, wanted, watch)
        picture = None
        if wanted.picture:
            watch.tell("drawing")
            picture = base64.b64encode(measuring_scan.picture_of(made)).decode()
        return Measured(
            readings=made.readings,
            doubtful=[bool(one.flag) and not str(one.flag).startswith(WIDE) for one in made.readings.readings],
            notes=list(made.notes),
            frame=[float(number) for row in made.arch.frame.from_file for number in row],
            mm_per_unit=MM_PER[made.arch.surface.unit],
            jaw=made.arch.division.jaw,
            margins=made.margins,
            picture=picture,
        )

    return watched(work)


def traced(desk: Desk, case: str, sha256: str, wanted: MeasureWanted, watch: Watch) -> MeasuredScan:
    """The scan traced, from memory or anew, which takes seconds; with its margins through the points set by hand."""
    from festoon.workflow import measuring_scan

    key = (sha256, case, wanted.unit or "", wanted.jaw or "", *(f"{a}={b}" for a, b in sorted(wanted.numbers.items())))
    numbers = {Tooth(found): Tooth(given) for found, given in wanted.numbers.items()}

    def measure_now() -> measuring_scan.MeasuredScan:
        with tempfile.TemporaryDirectory() as folder, desk.planning:
            place = Path(folder) / f"scan{scan_kind(desk, case, sha256).removeprefix('scan')}"
            place.write_bytes(desk.store.files.get(sha256))
            return measuring_scan.measure_scan(
                place, unit=wanted.unit, jaw=wanted.jaw, case=case, numbers=numbers or None, tell=watch.tell
            )

    made = desk.measured.get(key, measure_now)
    points = [measuring_scan.SetPoint(Tooth(one.tooth), one.point, one.place) for one in wanted.points]
    return measuring_scan.corrected(made, points, by=desk.by) if points else made


class TakeWanted(Body):
    """Readings to be taken into the chart, as they were looked at."""

    base: int = Field(ge=0)
    """The version that was looked at."""
    readings: Readings
    at: dt.date | None = None
    """The day on which the scan or photograph was taken, for readings that do not say one."""
    why: str = Field(default="readings taken into the chart", min_length=3, max_length=500)


class Taken(Kept):
    """What was kept, and what was left out."""

    left: list[str]
    """Why a reading stayed outside, in words."""


@router.post("/cases/{case}/readings")
def take(desk: DeskHere, case: CaseId, wanted: TakeWanted) -> Taken:
    """Take readings into the chart of a case, beside those of other methods and days; a new version is kept."""
    saved, left = take_readings(
        desk.store, case, wanted.base, wanted.readings.readings, at=wanted.at, by=desk.by, why=wanted.why
    )
    return Taken(version=saved.version, notes=list(saved.notes), left=list(left))


def scan_kind(desk: Desk, case: str, sha256: str) -> str:
    """The kind of a scan of this case, e.g. ``scan.ply``.

    Raises
    ------
    UnknownRecordError
        If the case has no such file, or it is no scan.
    """
    kind = file_kind(desk, case, sha256)
    if not kind.startswith("scan"):
        raise UnknownRecordError(f"case {case} has no such scan")
    return kind


def file_kind(desk: Desk, case: str, sha256: str) -> str:
    """The kind of a file of this case.

    Raises
    ------
    UnknownRecordError
        If the case has no such file.
    """
    for file in looking.open_case(desk.store, case).files:
        if file.sha256 == sha256:
            return file.kind
    raise UnknownRecordError(f"case {case} has no such file")

"""The mark file of a photograph, ``festoon-marks/1``: what a person or a reader marked, in pixels of the one upright grid.

Marks are bound to their picture by its hash: pixels of one picture mean nothing on another.
"""

from __future__ import annotations

import json
from itertools import pairwise
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, FiniteFloat, ValidationError, model_validator
from pydantic_core import ErrorDetails

from festoon.errors import Fault, InputRefusedError
from festoon.model.dentition import Pair, Tooth, as_seen
from festoon.photo.reading import Photo

MARK_SE_PX_SHARE = 1 / 1000
"""Standard error of a mark where the file does not say one, as a share of the picture's width (common practice, no source)."""
_FEWEST = 12
"""Points of an outline at least: fewer cannot show a scallop."""

_LEAST_AREA_PX = 400.0
"""A crown of fewer square pixels cannot be measured."""

Point = tuple[FiniteFloat, FiniteFloat]
"""Column and row in pixels; (0, 0) is the middle of the upper left pixel."""
View = Literal["retracted", "smile", "rest"]


def _code(text: str) -> str:
    return Tooth(text).fdi


def _area(ring: tuple[Point, ...]) -> float:
    """Area of a closed ring."""
    return abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, (*ring[1:], ring[0]), strict=True))) / 2


def _pair(text: str) -> str:
    right, _, left = text.partition("-")
    return str(Pair(Tooth(right), Tooth(left)))


Code = Annotated[str, AfterValidator(_code)]
PairCode = Annotated[str, AfterValidator(_pair)]


class _Strict(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", use_attribute_docstrings=True)


class MarkedPicture(_Strict):
    """The picture that the marks belong to."""

    sha256: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
    """Of the file's bytes."""
    width_px: Annotated[int, Field(gt=0)]
    """Of the upright picture."""
    height_px: Annotated[int, Field(gt=0)]


class ToothMarks(_Strict):
    """Marks of one tooth: an outline, or its four points; a point beside an outline overrules it."""

    outline: Annotated[tuple[Point, ...], Field(min_length=_FEWEST)] | None = None
    """Seen border of the crown, closed, in either direction: gingival margin, sides and edge."""
    mesial: Point | None = None
    """Mesial end of the greatest width."""
    distal: Point | None = None
    """Distal end of the greatest width."""
    edge: Point | None = None
    """Incisors: the most incisal point near mid-width. Canines and premolars: the cusp tip."""
    zenith: Point | None = None
    """Most apical point of the margin."""
    mark_se_px: Annotated[FiniteFloat, Field(gt=0)] | None = None
    """Standard error of one mark of this tooth; absent: that of the file."""

    @property
    def points(self) -> tuple[Point, ...]:
        """The outline, or the points there are."""
        return self.outline or tuple(p for p in (self.mesial, self.distal, self.edge, self.zenith) if p)

    @model_validator(mode="after")
    def _enough(self) -> ToothMarks:
        lacking = [name for name in ("mesial", "distal", "edge", "zenith") if getattr(self, name) is None]
        if self.outline is None and lacking:
            raise ValueError(f"no outline, and of its four points these lack: {', '.join(lacking)}")
        if self.outline is not None and _area(self.outline) < _LEAST_AREA_PX:
            raise ValueError(f"the outline encloses {_area(self.outline):.0f} square pixels: that is no crown")
        return self


class MarkedLength(_Strict):
    """A length of known size beside the teeth: two marks of a ruler or probe."""

    name: str
    """What it is."""
    start: Point
    end: Point
    length_mm: Annotated[FiniteFloat, Field(gt=0)]
    se_mm: Annotated[FiniteFloat, Field(gt=0)]
    """Standard error; must be said."""
    behind_mm: Annotated[FiniteFloat, Field(ge=-30, le=30)] = 0.0
    """How far behind the facial surface of the centrals it was held, as well as it is known; 0: against them."""

    @model_validator(mode="after")
    def _has_length(self) -> MarkedLength:
        if self.start == self.end:
            raise ValueError("start and end are one point")
        return self


class MarkedSquare(_Strict):
    """A printed square marker in the plane of the teeth, found or clicked."""

    name: str
    """What it is, e.g. its number."""
    corners: Annotated[tuple[Point, ...], Field(min_length=4, max_length=4)]
    """Outer corners of the black square, clockwise in the picture."""
    side_mm: Annotated[FiniteFloat, Field(gt=0)]
    """Side of the black square, measured on the print."""
    se_mm: Annotated[FiniteFloat, Field(gt=0)]
    """Standard error; must be said."""
    behind_mm: Annotated[FiniteFloat, Field(ge=-30, le=30)] = 0.0
    """How far behind the facial surface of the centrals it was held, as well as it is known; 0: against them."""

    @model_validator(mode="after")
    def _is_square(self) -> MarkedSquare:
        turns = [
            (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])
            for a, b, c in zip(
                self.corners, (*self.corners[1:], self.corners[0]), (*self.corners[2:], *self.corners[:2]), strict=True
            )
        ]
        if min(turns) <= 0:
            raise ValueError("the corners are not those of a square, clockwise in the picture")
        return self


class Marks(_Strict):
    """A mark file."""

    format: Literal["festoon-marks/1"] = "festoon-marks/1"
    photo: MarkedPicture
    view: View = "retracted"
    """retracted: lips held away; smile: full smile; rest: lips at rest."""
    by: str | None = None
    """Who marked it, as a pseudonymous code."""
    mark_se_px: Annotated[FiniteFloat, Field(gt=0)] | None = None
    """Standard error of one mark; absent: a thousandth of the picture's width."""
    teeth: dict[Code, ToothMarks] = Field(min_length=1)
    papillae: dict[PairCode, Point] = {}
    """Papilla tips by pair, patient's right first."""
    lip_line: Annotated[tuple[Point, ...], Field(min_length=2)] | None = None
    """Lower border of the upper lip (lower teeth: upper border of the lower lip)."""
    midline: Annotated[tuple[Point, ...], Field(min_length=2)] | None = None
    """Points of the facial midline."""
    horizontal: Annotated[tuple[Point, ...], Field(min_length=2, max_length=2)] | None = None
    """Two points of the declared horizontal, e.g. the pupils or a horizon."""
    lengths: tuple[MarkedLength, ...] = ()
    markers: tuple[MarkedSquare, ...] = ()

    @property
    def mark_se(self) -> float:
        """Standard error of one mark, pixels."""
        return self.mark_se_px or self.photo.width_px * MARK_SE_PX_SHARE

    def mark_se_of(self, tooth: Tooth) -> float:
        """Standard error of one mark of a tooth, pixels."""
        return self.teeth[tooth.fdi].mark_se_px or self.mark_se

    @model_validator(mode="after")
    def _inside_the_picture(self) -> Marks:
        for name, point in self._points():
            if not (-0.5 <= point[0] <= self.photo.width_px - 0.5 and -0.5 <= point[1] <= self.photo.height_px - 0.5):
                raise ValueError(f"{name}: the point ({point[0]:g}, {point[1]:g}) lies outside the picture")
        return self

    @model_validator(mode="after")
    def _sides_as_seen(self) -> Marks:
        """The patient's right is on the left of the picture."""
        for upper in (True, False):
            row = [t for t in as_seen(Tooth(c) for c in self.teeth) if t.is_upper == upper]
            for a, b in pairwise(row):
                if self._column(a) >= self._column(b):
                    raise ValueError(
                        f"{a} is marked right of {b}: facing the patient it stands left of it; the picture is mirrored or "
                        "the numbers are exchanged"
                    )
        return self

    def _column(self, tooth: Tooth) -> float:
        marked = self.teeth[tooth.fdi]
        points = marked.outline or tuple(p for p in (marked.mesial, marked.distal) if p)
        return sum(p[0] for p in points) / len(points)

    def _points(self) -> list[tuple[str, Point]]:
        out: list[tuple[str, Point]] = []
        for code, tooth in self.teeth.items():
            out += [(f"teeth.{code}.outline", p) for p in tooth.outline or ()]
            for name in ("mesial", "distal", "edge", "zenith"):
                point = getattr(tooth, name)
                out += [(f"teeth.{code}.{name}", point)] if point else []
        out += [(f"papillae.{pair}", p) for pair, p in self.papillae.items()]
        for name in ("lip_line", "midline", "horizontal"):
            out += [(name, p) for p in getattr(self, name) or ()]
        out += [(f"markers.{k.name}", p) for k in self.markers for p in k.corners]
        return out + [(f"lengths.{k.name}", p) for k in self.lengths for p in (k.start, k.end)]


def read_marks(text: str, name: str, photo: Photo | None = None) -> Marks:
    """Read a mark file and hold it against its picture.

    Parameters
    ----------
    text : str
        JSON, ``festoon-marks/1``.
    name : str
        The file's name, for messages.
    photo : Photo, optional
        The picture; its hash and size must be those of the file.

    Raises
    ------
    InputRefusedError
        With every fault found.
    """
    try:
        data = json.loads(text)
    except json.JSONDecodeError as wrong:
        fault = Fault(
            name, "", f"no JSON ({wrong.msg})", "a mark file, festoon-marks/1", "Write it again.", wrong.lineno
        )
        raise InputRefusedError([fault]) from wrong
    try:
        marks = Marks.model_validate(data)
    except ValidationError as wrong:
        raise InputRefusedError([_fault(name, error) for error in wrong.errors()]) from wrong
    if photo is not None:
        _hold_against(marks, photo, name)
    return marks


def _fault(name: str, error: ErrorDetails) -> Fault:
    where = ".".join(str(part) for part in error["loc"])
    message = str(error["msg"]).removeprefix("Value error, ")
    do = "Correct it; docs/method/photo.md shows a mark file."
    if error["type"] == "value_error" and not isinstance(error["input"], str):  # one part against another
        return Fault(name, where, message, "marks that agree with each other and with the picture", do)
    found = repr(error["input"])
    return Fault(name, where, found if len(found) < 60 else found[:57] + "...", message, do)


def _hold_against(marks: Marks, photo: Photo, name: str) -> None:
    faults = []
    high, wide = photo.pixels.shape[:2]
    if (marks.photo.width_px, marks.photo.height_px) != (wide, high):
        found = f"{marks.photo.width_px} x {marks.photo.height_px} pixels"
        faults.append(Fault(name, "photo", found, f"{wide} x {high}, as {photo.name} is upright", "Mark this picture."))
    elif marks.photo.sha256 != photo.sha256:
        faults.append(
            Fault(
                name,
                "photo.sha256",
                f"{marks.photo.sha256[:12]}...",
                f"{photo.sha256[:12]}..., the hash of {photo.name}",
                "These marks belong to another file: mark this picture, or give the picture that was marked.",
            )
        )
    if faults:
        raise InputRefusedError(faults)

"""A reading: one value measured once, with its error, method, datum, time and hand."""

from __future__ import annotations

import datetime as dt
from enum import StrEnum
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, FiniteFloat, model_validator


class Frozen(BaseModel):
    """Base of every record: frozen, and an unknown key is an error."""

    model_config = ConfigDict(frozen=True, extra="forbid", use_attribute_docstrings=True)


class Datum(StrEnum):
    """From what a level was read."""

    PRESENT_EDGE = "present_edge"
    """The incisal edge or cusp tip as it is in the mouth today."""
    PLANNED_EDGE = "planned_edge"
    """The edge that was settled first in the design."""
    RESTORED_EDGE = "restored_edge"
    """The edge of a restoration made since."""
    TEMPLATE = "template"
    """A bar or window of the surgical template."""
    BONDED_MARK = "bonded_mark"
    """A mark bonded to the crown for this purpose."""


class Method(StrEnum):
    """How a reading was obtained."""

    PROBE = "probe"
    """Periodontal probe, read from the margin or the edge."""
    SOUNDING = "sounding"
    """Probe pushed to bone under local anaesthesia."""
    CALLIPER = "calliper"
    """Calliper on the tooth or on a cast."""
    DIRECT = "direct"
    """Seen and measured with the flap open."""
    SCAN = "scan"
    """Surface scan."""
    PHOTO = "photo"
    """Calibrated photograph."""
    CBCT = "cbct"
    """Cone-beam volume."""
    FILM = "film"
    """Periapical film."""
    DESIGN = "design"
    """Given by the laboratory's or the clinician's design, not measured."""


class Reading(Frozen):
    """One value of one quantity, in millimetres."""

    value: FiniteFloat
    """The value in mm."""
    unit: str = Field(default="mm", pattern="^mm$")
    """Always mm; a reading in another unit is refused, not converted in silence."""
    se: Annotated[FiniteFloat, Field(gt=0)] | None = None
    """Standard error in mm; absent means the published error of the method is used."""
    method: Method | None = None
    """How it was obtained; absent means the default method of the quantity."""
    source: str | None = None
    """Where it was read, in words: a film, a scan's name, a volume."""
    datum: Datum | None = None
    """For levels only: from what it was read."""
    by: str | None = None
    """Who read it, as a pseudonymous code."""
    at: dt.date | None = None
    """The day of the reading."""
    flag: str | None = None
    """A remark of the reader, shown beside the number."""


def _long_form(value: Any, **filled: Any) -> Any:
    """One entry, or a list of entries, with each bare number written out as a long form."""
    if value is None:
        return ()
    items = value if isinstance(value, list | tuple) else [value]
    return [{"value": item, **filled} if isinstance(item, int | float | str) else item for item in items]


def _charted_level(value: Any) -> Any:
    """A bare number in a chart is a level from the present edge; a long form must say its datum itself."""
    return _long_form(value, datum=Datum.PRESENT_EDGE)


class LevelReading(Reading):
    """A level: along the tooth's facial long axis from an incisal edge, apical positive."""

    @model_validator(mode="after")
    def _has_datum(self) -> LevelReading:
        if self.datum is None:
            raise ValueError(
                "a level without a datum is refused: add datum: present_edge, planned_edge, restored_edge, "
                "template or bonded_mark"
            )
        return self


class DepthReading(Reading):
    """A depth, width or thickness: no datum, since a depth is always from the gingival margin."""

    @model_validator(mode="after")
    def _has_no_datum(self) -> DepthReading:
        if self.datum is not None:
            raise ValueError("only a level has a datum; this is a depth, a width or a thickness: drop the datum")
        return self


Levels = Annotated[tuple[LevelReading, ...], BeforeValidator(_charted_level)]
"""Readings of one level; empty means not measured. A bare number is from the present edge."""
Depths = Annotated[tuple[DepthReading, ...], BeforeValidator(_long_form)]
"""Readings of one depth, width or thickness; empty means not measured."""

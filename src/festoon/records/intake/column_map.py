"""The column map: what each column of a practice's table means, kept under a name for the next table."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Literal

from pydantic import Field, FiniteFloat, StringConstraints, model_validator

from festoon.model.case import Code
from festoon.model.dentition import Notation, Site
from festoon.model.reading import Datum, Frozen, Method
from festoon.records.intake.quantities import is_level, quantity_named

MAP_FORMAT = "festoon-columns/1"


class Holds(StrEnum):
    """What a column holds."""

    CASE = "case"
    """The pseudonymous id of the case: a table of many cases."""
    TOOTH = "tooth"
    SITE = "site"
    QUANTITY = "quantity"
    """The name of what was read, in a table with a row for every reading."""
    VALUE = "value"
    """The number, in a table with a row for every reading."""
    READING = "reading"
    """Numbers of the one quantity that the column names."""
    SE = "se"
    METHOD = "method"
    DATUM = "datum"
    AT = "at"
    BY = "by"
    FLAG = "flag"
    UNIT = "unit"
    NOTHING = "nothing"
    """Looked at and left out."""


class Column(Frozen):
    """What one column means."""

    holds: Holds
    quantity: str | None = None
    """For ``reading``: the quantity, by its name in ``festoon-readings/1``, or ``recession`` or ``attachment``."""
    site: Site | None = None
    """For ``reading``: the site, where the column has one of its own."""
    datum: Datum | None = None
    """For a level: from what it was read."""
    method: Method | None = None
    positive: Literal["apical", "coronal"] | None = None
    """For ``recession``: which way a positive number points. Apical of the CEJ is what festoon keeps."""
    unit: Literal["mm", "cm"] | None = None
    """Overrides the unit of the table."""

    @model_validator(mode="after")
    def _holds_together(self) -> Column:
        if (self.holds is Holds.READING) != (self.quantity is not None):
            raise ValueError("a column that holds a reading names its quantity, and no other does")
        if self.quantity is not None:
            quantity_named(self.quantity)  # raises where there is none
            if self.datum is not None and not is_level(self.quantity):
                raise ValueError(f"{self.quantity} is no level: drop the datum")
        return self


class ColumnMap(Frozen):
    """How a practice's table is to be read, format ``festoon-columns/1``. What is not said is asked, not guessed."""

    format: Literal["festoon-columns/1"] = "festoon-columns/1"
    name: Code = "unnamed"
    notation: Notation | None = None
    """How the teeth are named."""
    decimal: Literal["point", "comma"] | None = None
    """Decimal mark; None takes what the numbers themselves prove."""
    unit: Literal["mm", "cm"] = "mm"
    """Unit of bare numbers; cm is converted and said."""
    sites: Literal["six", "ten"] | None = None
    """``six``: mesiobuccal and the like are the interproximal sites of a six-site chart. ``ten``: line angles."""
    datum: Datum | None = None
    """From what every level of the table was read, where its column does not say."""
    method: Method | None = None
    """Method of every reading, where its column does not say."""
    days: Literal["dmy", "mdy"] | None = None
    """Order of day and month in dates that are not written year first."""
    intervals: Literal["refuse", "middle"] = "refuse"
    """``middle`` reads ``2-3`` and ``<1`` as the middle, with the width of the interval in the standard error."""
    blanks: tuple[Annotated[str, StringConstraints(min_length=1)], ...] = ()
    """Further words for *not measured*."""
    case_prefix: Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]{0,31}$")] | None = None
    """Put before the ids of a case column, e.g. ``site-2.``"""
    header_rows: Annotated[int, Field(ge=0, le=6)] | None = None
    """Rows above the data; None takes the rows before the first one with numbers."""
    attachment_within_mm: Annotated[FiniteFloat, Field(gt=0)] = 0.05
    """Attachment is worked out from probing and recession: it may miss their sum by the rounding of the table only."""
    columns: dict[str, Column] = Field(default={})
    """By heading, groups of merged headings joined with `` / ``; a heading that stands twice ends in `` (2)``."""

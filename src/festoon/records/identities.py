"""What the readings of a probing chart must add up to: attachment = probing depth + recession, within one visit.

Attachment is not measured apart: it is worked out from the other two, so a row that breaks the sum was misread or
mistyped somewhere. Which of the three is wrong the row alone cannot say, so it is shown and kept, never mended.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import sqrt

from festoon.evidence.table import published
from festoon.model.dentition import Site
from festoon.model.quantities import Quantity
from festoon.records.intake.quantities import FromCej
from festoon.records.intake.understood import ChartReading

_PARTS = (str(FromCej.ATTACHMENT), str(Quantity.PROBING_DEPTH), str(FromCej.RECESSION))
_Place = tuple[str | None, str, Site | None, dt.date | None, int]
_THREE_READINGS_MM = 2 * sqrt(3) * published("ERR-011").value
"""Two combined standard errors of three probe readings, each as far off as a second reading of the same site (ERR-011, memory)."""


@dataclass(frozen=True)
class BrokenSum:
    """A place of a chart whose attachment is not probing depth plus recession."""

    case: str | None
    tooth: str
    site: Site | None
    at: dt.date | None
    line: int
    """Row of the table that holds the attachment."""
    attachment: float
    probing: float
    recession: float

    @property
    def apart(self) -> float:
        """Attachment minus the sum, mm."""
        return self.attachment - (self.probing + self.recession)

    @property
    def is_gross(self) -> bool:
        """True where not even the errors of three separate readings explain it."""
        return abs(self.apart) > _THREE_READINGS_MM

    def __str__(self) -> str:
        return f"row {self.line}: {self.text}"

    @property
    def text(self) -> str:
        """What does not add up, without its row."""
        place = " ".join(filter(None, (self.case, self.tooth, self.site and self.site.replace("_", " "))))
        return (
            f"{place}: attachment {self.attachment:g} mm, but probing {self.probing:g} + recession "
            f"{self.recession:g} = {self.probing + self.recession:g} mm: {abs(self.apart):.2g} mm apart"
        )


def broken_sums(readings: Iterable[ChartReading], within_mm: float) -> list[BrokenSum]:
    """Every place whose three readings of one visit do not add up, the largest gap first.

    Parameters
    ----------
    readings : iterable of ChartReading
        Of one table. Readings of different days are never added.
    within_mm : float
        What rounding allows, in mm: about the last printed digit.
    """
    places: dict[_Place, dict[str, ChartReading]] = defaultdict(dict)
    parts = [reading for reading in readings if reading.quantity in _PARTS]
    by_row = _rows_hold_several(parts)
    for reading in parts:
        line = reading.line if by_row else 0
        place = (reading.case, reading.tooth, reading.site, reading.at, line)
        places[place].setdefault(reading.quantity, reading)
    return sorted(_broken(places, within_mm), key=lambda broken: -abs(broken.apart))


def mended_by_turning(broken: Sequence[BrokenSum], within_mm: float) -> int:
    """How many of the broken places would add up if recession were charted the other way round.

    Where that is most of them, the sign of the column is wrong, not the readings: a margin coronal to the CEJ would
    be taken for recession, millimetre for millimetre.
    """
    return sum(abs(place.attachment - (place.probing - place.recession)) <= within_mm for place in broken)


def _broken(places: dict[_Place, dict[str, ChartReading]], within_mm: float) -> Iterator[BrokenSum]:
    for (case, tooth, site, at, _), found in places.items():
        if len(found) < len(_PARTS):
            continue
        attachment, probing, recession = (found[part] for part in _PARTS)
        if abs(attachment.value - (probing.value + recession.value)) > within_mm:
            yield BrokenSum(case, tooth, site, at, attachment.line, attachment.value, probing.value, recession.value)


def _rows_hold_several(parts: list[ChartReading]) -> bool:
    """Does a row of the table hold more than one of the three? Then only readings of one row belong together."""
    seen: dict[int, str] = {}
    return any(seen.setdefault(reading.line, reading.quantity) != reading.quantity for reading in parts)

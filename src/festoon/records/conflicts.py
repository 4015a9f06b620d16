"""Kept readings of one quantity that contradict each other: for a person to settle, with the odd one named."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from festoon.evidence.errors import reading_se
from festoon.evidence.table import published
from festoon.model.dentition import Site
from festoon.model.quantities import Quantity
from festoon.model.reading import Datum, Reading
from festoon.records.combination import Combination, combine
from festoon.records.intake.quantities import quantity_named
from festoon.records.intake.understood import ChartReading

_Place = tuple[str | None, str, Site | None, str, Datum | None, dt.date | None]


@dataclass(frozen=True)
class Conflict:
    """Readings of one quantity, at one place, from one datum and of one day, that disagree."""

    case: str | None
    tooth: str
    site: Site | None
    quantity: str
    at: dt.date | None
    readings: tuple[ChartReading, ...]
    together: Combination
    """Its indices are those of ``readings``."""

    def __str__(self) -> str:
        place = " ".join(filter(None, (self.tooth, self.site and self.site.replace("_", " "))))
        values = ", ".join(f"{reading.value:g}" for reading in self.readings)
        text = f"{place} {self.quantity.replace('_', ' ')}: {values} mm contradict each other"
        if self.together.odd_one is None or self.together.others is None:
            return f"{text}; settle which is right, by another reading if need be"
        mean, se = self.together.others
        odd = self.readings[self.together.odd_one]
        return f"{text}; without the {odd.value:g} mm the others agree on {mean:.3g} ± {se:.2g} mm"


def standard_error(reading: ChartReading) -> float:
    """Standard error of a reading in mm: its own, else that of its method for its quantity."""
    if reading.se is not None:
        return reading.se
    quantity = quantity_named(reading.quantity)
    key = quantity.case_key if isinstance(quantity, Quantity) else "probing_mm"  # read by probe, as probing is
    try:
        return reading_se(key or "margin_mm", Reading(value=0.0, method=reading.method))
    except KeyError:  # a place in the arch frame: no error is published for it
        return published("ERR-010").value


def conflicts(readings: Iterable[ChartReading]) -> list[Conflict]:
    """Every quantity whose readings disagree by more than two combined standard errors."""
    places: dict[_Place, list[ChartReading]] = defaultdict(list)
    for reading in readings:
        key = (reading.case, reading.tooth, reading.site, reading.quantity, reading.datum, reading.at)
        places[key].append(reading)
    found = []
    for (case, tooth, site, quantity, _, at), same in places.items():
        if len(same) > 1:
            together = combine([reading.value for reading in same], [standard_error(reading) for reading in same])
            if together.is_conflict:
                found.append(Conflict(case, tooth, site, quantity, at, tuple(same), together))
    return found

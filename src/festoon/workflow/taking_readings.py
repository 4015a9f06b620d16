"""Readings of a scan, a photograph or a file taken into the chart of a case, in one step and as one new version."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from festoon.errors import Fault, InputRefusedError
from festoon.model.case import Case
from festoon.model.quantities import Quantity, QuantityReading
from festoon.model.reading import Method
from festoon.records.editing import document_of
from festoon.store.store import Store
from festoon.workflow.desk import Saved, case_at, save_changes

_SCALARS = frozenset({Quantity.ZENITH_OFFSET, Quantity.EDGE_HEIGHT})
"""Quantities of which a case holds one number and no list of readings: the newest one stands."""
_OF_THE_FACE = {
    Quantity.MIDLINE_SHIFT: "face.midline_shift_mm",
    Quantity.OCCLUSAL_CANT: "face.occlusal_cant_deg",
}
"""Quantities that belong to no tooth, and the entry of the case that holds them."""
_OF_THE_SMILE = {
    Quantity.GINGIVAL_DISPLAY: "smile.gingival_display_mm",
    Quantity.REST_DISPLAY: "smile.rest_display_mm",
}
"""Quantities read at each tooth of which the case holds one number, that of the central incisors: the mean of both."""
_CENTRALS = {"1": ("11", "21"), "2": ("11", "21"), "3": ("31", "41"), "4": ("31", "41")}


@dataclass(frozen=True)
class Takeable:
    """What would be written into a case, and what would not be."""

    changes: Mapping[str, Any]
    """Entries of the case by key path."""
    left: tuple[str, ...]
    """What stays outside, with why, in words."""


def takeable(case: Case, readings: Sequence[QuantityReading], *, at: dt.date | None = None) -> Takeable:
    """The entries that readings become in a case.

    A reading stands beside those of other methods or days, so that they are combined by their errors or found to disagree; one of
    the same method and day is replaced by the new one. A length or a papilla's height is not written: the file derives both from
    the levels. A height of an edge is that of the present edge; the case holds the planned one, so it is moved by what the edge is
    lengthened, and left out where that is not said.

    Parameters
    ----------
    case : Case
        The case they are taken into.
    readings : sequence of QuantityReading
        Levels and lengths in mm, each with its datum.
    at : date, optional
        The day of the readings that do not say one: the day on which the scan or photograph was taken.
    """
    document = document_of(case)
    changes: dict[str, Any] = {}
    left: list[str] = []
    for reading in readings:
        if reading.at is None and at is not None:
            reading = reading.model_copy(update={"at": at})
        path, why = _place(case, reading)
        if path is None:
            if why:
                left.append(f"{reading.tooth or ''} {reading.quantity.replace('_', ' ')}: {why}".strip())
            continue
        if reading.quantity is Quantity.EDGE_HEIGHT:
            moved = _planned_edge(case, reading, readings)
            if moved is None:
                left.append(
                    f"{reading.tooth} edge height: say first by how much the edges are lengthened (0 must be said)"
                )
                continue
            changes[path] = moved
        elif reading.quantity in _OF_THE_SMILE:
            both = [r.value for r in readings if r.quantity is reading.quantity and r.tooth in _CENTRALS["1"]]
            changes[path] = round(sum(both) / len(both), 2)
        elif reading.quantity in _SCALARS or reading.quantity in _OF_THE_FACE:
            changes[path] = round(reading.value, 2)
        else:
            there = changes.get(path, _there(document, path))
            changes[path] = [*_others(there, reading), _entry(reading)]
    return Takeable(changes, tuple(dict.fromkeys(left)))


def take_readings(
    store: Store, case: str, base: int, readings: Sequence[QuantityReading], *, at: dt.date | None, by: str, why: str
) -> tuple[Saved, tuple[str, ...]]:
    """Keep readings in the chart of a case, as a new version. Returns it and what was left out, with why.

    Raises
    ------
    InputRefusedError
        If nothing can be taken, or the chart with them is impossible; nothing is kept then.
    StaleVersionError
        If somebody else saved since ``base``.
    UnknownRecordError
        If there is no such case.
    """
    # Into the version as it was saved: the readings kept beside it are laid in whenever it is opened, and would count twice.
    found = takeable(case_at(store, case, base), readings, at=at)
    if not found.changes:
        told = "; ".join(found.left) or "none was chosen"
        raise InputRefusedError(
            [Fault("readings", "", f"nothing that the chart holds ({told})", "at least one reading", "Choose others.")]
        )
    return save_changes(store, case, base, found.changes, by=by, why=why), found.left


def _place(case: Case, reading: QuantityReading) -> tuple[str | None, str]:
    """The entry of the case that holds a reading; else None and why not ('' where the file derives it)."""
    if reading.quantity in _OF_THE_FACE:
        return _OF_THE_FACE[reading.quantity], ""
    if reading.quantity in _OF_THE_SMILE:
        return (_OF_THE_SMILE[reading.quantity] if reading.tooth in _CENTRALS["1"] else None), ""
    key = reading.quantity.case_key
    if key is None:
        return None, ""
    if reading.tooth is None:
        return None, "it belongs to no tooth: enter it by hand"
    if reading.tooth not in case.teeth:
        return None, "the case has no such tooth"
    tooth = f"teeth.{reading.tooth}"
    if reading.quantity is Quantity.ROOT_DISTANCE:
        return None, "it belongs to a papilla: enter it by hand"
    if reading.quantity is Quantity.FURCATION_LEVEL:
        surface = {"mesial": "mesial", "distal": "distal"}.get(str(reading.site), "")
        surface = surface or ("lingual" if "lingual" in str(reading.site) else "facial")
        return f"{tooth}.{key}.{surface}", ""
    return (f"{tooth}.{key}" if reading.site is None else f"{tooth}.sites.{reading.site.value}.{key}"), ""


def _planned_edge(case: Case, reading: QuantityReading, all_of_them: Sequence[QuantityReading]) -> float | None:
    """The planned edge's height from the present one's, both from the mean of the centrals' edges as they are, then as planned."""
    centrals = _CENTRALS[str(reading.tooth)[0]]
    teeth = (str(reading.tooth), *centrals)
    longer = {code: case.teeth[code].incisal_extension_mm if code in case.teeth else None for code in teeth}
    heights = {r.tooth: r.value for r in all_of_them if r.quantity is Quantity.EDGE_HEIGHT}
    extension = [longer[code] for code in teeth]
    if any(value is None for value in extension):
        return None
    own, *middle = (float(value or 0.0) for value in extension)
    origin = [heights[code] for code in centrals if code in heights]
    if len(origin) < len(centrals):
        return None
    return round((reading.value - own) - (sum(origin) - sum(middle)) / len(centrals), 2)


def _there(document: Mapping[str, Any], path: str) -> list[Any]:
    """What stands at an entry, as a list."""
    part: Any = document
    for step in path.split("."):
        part = part.get(step) if isinstance(part, dict) else None
    if part is None:
        return []
    return list(part) if isinstance(part, list) else [part]


def _others(there: Sequence[Any], new: QuantityReading) -> list[Any]:
    """The readings that the new one does not replace."""
    return [one for one in there if not _is_same_source(one, new)]


def _is_same_source(one: Any, new: QuantityReading) -> bool:
    """True for a reading of the same method, day and datum, and only where the method is said."""
    if not isinstance(one, dict) or new.method is None:
        return False
    day = new.at.isoformat() if new.at else None
    return one.get("method") == Method(new.method).value and one.get("at") == day and one.get("datum") == new.datum


def _entry(reading: QuantityReading) -> dict[str, Any]:
    """A reading as the case file holds it."""
    said = reading.model_dump(
        mode="json", include={"value", "se", "method", "datum", "at", "by", "flag"}, exclude_none=True
    )
    return said | {"value": round(reading.value, 2)}

"""Kept readings laid into the chart of a case, beside what its file says, so that the case is planned with all of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from festoon.model.case import Case
from festoon.model.dentition import Pair, Site, SiteKind, Tooth
from festoon.model.quantities import Quantity
from festoon.records.intake.quantities import is_level, quantity_named
from festoon.records.intake.understood import ChartReading

_OF_SITE = {"margin_mm", "probing_mm", "sounding_mm", "crest_mm", "cej_mm", "mucogingival_mm", "contact_mm"} | {
    "bone_thickness_mm", "gingiva_thickness_mm", "attached_mm", "sound_tooth_mm", "existing_finish_line_mm",
}  # fmt: skip
_OF_TOOTH = {"width_mm", "root_apex_mm", "lip_height_smile_mm"}


@dataclass(frozen=True)
class Merged:
    """A case with the kept readings in it."""

    case: Case
    placed: tuple[int, ...]
    """Indices of the readings that are in it."""
    left_out: tuple[str, ...]
    """What the case has no place for, in words and counts."""


def with_readings(case: Case, readings: Iterable[ChartReading]) -> Merged:
    """The case with further readings in its chart; what its file says stays as it is.

    Raises
    ------
    pydantic.ValidationError
        If a reading breaks a rule of the model.
    """
    data: dict[str, Any] = case.model_dump(mode="json")
    placed, left = [], Counter[str]()
    for index, reading in enumerate(readings):
        if _place(case, data, reading):
            placed.append(index)
        else:
            left[f"{reading.quantity.replace('_', ' ')}{'' if reading.site else ' of a whole tooth'}"] += 1
    words = tuple(f"{count} x {what}: the case file holds no such reading" for what, count in sorted(left.items()))
    return Merged(Case.model_validate(data), tuple(placed), words)


def begun_case(case_id: str, readings: Iterable[ChartReading]) -> Case:
    """A case of which nothing but readings is known: their teeth, and everything else unknown."""
    teeth: dict[str, Any] = {reading.tooth: {} for reading in readings}
    return Case.model_validate({"case": case_id, "notation": "fdi", "teeth": teeth})


def _place(case: Case, data: dict[str, Any], reading: ChartReading) -> bool:
    quantity = quantity_named(reading.quantity)
    key = quantity.case_key if isinstance(quantity, Quantity) else None
    if key is None:
        return False
    chart = data["teeth"].setdefault(reading.tooth, {})
    if key in _OF_SITE and reading.site is not None:
        holder = chart.setdefault("sites", {}).setdefault(reading.site.value, {})
    elif key in _OF_TOOTH and reading.site is None:
        holder = chart
    elif key == "furcation_mm" and reading.site is not None:
        holder, key = chart.setdefault("furcation_mm", {}), reading.site.surface
    elif key == "root_distance_mm" and reading.site is not None and reading.site.kind is SiteKind.INTERPROXIMAL:
        pair = _pair(case, Tooth(reading.tooth), reading.site)
        if pair is None:
            return False
        holder = data["papillae"].setdefault(str(pair), {})
    else:
        return False
    holder[key] = [*(holder.get(key) or []), _long_form(reading)]
    return True


def _long_form(reading: ChartReading) -> dict[str, Any]:
    said = {
        "value": reading.value,
        "se": reading.se,
        "method": reading.method,
        "datum": reading.datum if is_level(reading.quantity) else None,
        "by": reading.by,
        "at": reading.at,
        "flag": reading.flag,
    }
    return {key: value for key, value in said.items() if value is not None}


def _pair(case: Case, tooth: Tooth, site: Site) -> Pair | None:
    """The papilla at which a site looks: that of the chart, else the one of the next place by number."""
    facial = Site.MESIAL if site.faces_midline else Site.DISTAL
    for pair in case.neighbours:
        if tooth in (pair.right, pair.left) and pair.site_of(tooth) is facial:
            return pair
    step = (-1 if tooth.is_right else 1) * (-1 if site.faces_midline else 1)
    column = tooth.column + step
    for quadrant in "12" if tooth.is_upper else "34":
        for position in "12345678":
            other = Tooth(quadrant + position)
            if other.column == column:
                right, left = sorted((tooth, other), key=lambda one: one.column)
                return Pair(right, left)
    return None

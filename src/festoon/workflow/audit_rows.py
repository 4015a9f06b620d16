"""One surgery as rows of the audit's table, wherever it was kept."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from festoon.audit.table import SITE_TYPES
from festoon.model.anatomy import Anatomy
from festoon.model.case import Case
from festoon.model.dentition import Site, Tooth
from festoon.model.plan import Plan
from festoon.model.practice_files import PlannedLevels
from festoon.model.reading import Method
from festoon.model.verification import PlacedReading
from festoon.verify.bone import NOTHING_MM
from festoon.verify.session import Against, Session

Place = tuple[str, str, str, Site]
"""Moment, quantity, tooth, site."""
Levels = Mapping[Place, float]


@dataclass(frozen=True)
class Operated:
    """One surgery: what was planned, by whom it was done, what was read at each moment."""

    practice: str
    case: Case
    day: dt.date
    operator: str | None
    template_kind: str | None
    redo: bool | None
    procedures: Mapping[str, str]
    """By tooth."""
    levels: Levels
    """What each reading is held against."""
    readings: Mapping[str, Sequence[PlacedReading]]
    """By moment: open, cut, suture, recall."""
    where: str
    """Breaks ties between surgeries of one day."""


def levels_of_plan(plan: Plan, anatomy: Anatomy, against: Against = "sheet") -> dict[Place, float]:
    """What the hands worked to: the printed sheet's levels, or the exact ones, at the teeth that are operated."""
    session = Session(plan, anatomy, (), against=against)
    found: dict[Place, float | None] = {}
    for planned in plan.sites:
        tooth, site = planned.tooth, planned.site
        known = anatomy.teeth[Tooth(tooth)].site(site).sounding
        if known is not None and known.by == Method.SOUNDING:  # a crest seen or taken from a volume is no sounding
            found["open", "crest_level", tooth, site] = planned.crest_present_mm
        if not plan.teeth[tooth].procedure.cuts:
            continue
        target = session.targets(planned)
        found["cut", "margin_level", tooth, site] = target.incision_mm
        if target.bone_mm is not None and target.bone_mm > NOTHING_MM:
            found["cut", "crest_level", tooth, site] = target.crest_mm
        found["suture", "margin_level", tooth, site] = target.suture_mm
        found["recall", "margin_level", tooth, site] = target.margin_mm
    return {place: level for place, level in found.items() if level is not None}


def levels_of_list(planned: PlannedLevels) -> dict[Place, float]:
    """The same from a list of planned levels."""
    found: dict[Place, float | None] = {}
    for one in planned.sites:
        at = (one.tooth, one.site)
        cut = one.margin_planned_mm if one.incision_level_mm is None else one.incision_level_mm
        found["open", "crest_level", *at] = one.crest_charted_mm
        found["cut", "margin_level", *at] = cut
        found["cut", "crest_level", *at] = one.crest_planned_mm
        found["suture", "margin_level", *at] = one.suture_level_mm
        found["recall", "margin_level", *at] = one.margin_planned_mm
    return {place: level for place, level in found.items() if level is not None}


def rows_of(operated: Sequence[Operated]) -> list[dict[str, Any]]:
    """Rows of every surgery; the operator's surgeries are numbered by their day."""
    counted: dict[tuple[str, str], int] = {}
    rows: list[dict[str, Any]] = []
    for one in sorted(operated, key=lambda other: (other.day, other.practice, other.where)):
        order = None
        if one.operator is not None:
            who = (one.practice, one.operator)
            order = counted[who] = counted.get(who, 0) + 1
        rows += _rows(one, order)
    return rows


def _rows(one: Operated, order: int | None) -> Iterator[dict[str, Any]]:
    last = {
        (moment, r.quantity.value, r.tooth, r.site): r
        for moment, found in one.readings.items()
        if moment != "recall"
        for r in found
    }
    for moment, found in one.readings.items():
        for reading in found:
            place: Place = (moment, reading.quantity.value, reading.tooth, reading.site)
            is_wanted = (
                reading.quantity.value in ("margin_level", "crest_level") and reading.planned_edge_mm is not None
            )
            if not is_wanted or (moment, reading.quantity.value) == ("open", "margin_level"):
                continue
            if moment != "recall" and last[place] is not reading:
                continue  # while tissue is cut the last reading of a place counts
            at = (reading.tooth, reading.site)
            is_later = moment in ("suture", "recall")
            sutured = last.get(("suture", "margin_level", *at)) if is_later else None
            tooth = one.case.teeth[reading.tooth]
            yield {
                "practice": one.practice, "case": one.case.case, "operator": one.operator, "surgery_order": order,
                "tooth": reading.tooth, "site": reading.site.value, "site_type": SITE_TYPES[reading.site],
                "phenotype": (tooth.phenotype or one.case.phenotype).value,
                "procedure": one.procedures.get(reading.tooth), "template_kind": one.template_kind, "redo": one.redo,
                "moment": moment, "days": None if reading.at is None else (reading.at - one.day).days,
                "quantity": reading.quantity.value, "planned_mm": one.levels.get(place),
                "measured_mm": round(reading.mm, 6), "se_mm": reading.se_mm,
                "datum": reading.datum.value if reading.datum else None,
                "sutured_mm": None if sutured is None else sutured.mm,
                "distance_mm": None if sutured is None else _distance(last, at, sutured),
            }  # fmt: skip


def _distance(last: Mapping[Place, PlacedReading], at: tuple[str, Site], sutured: PlacedReading) -> float | None:
    """Sutured margin to crest: sounded for the last time, else from the crest as last read at the open flap."""
    sounding = last.get(("suture", "sounding", *at))
    if sounding is not None:
        return round(sounding.value_mm, 6)
    crest = last.get(("suture", "crest_level", *at)) or last.get(("cut", "crest_level", *at))
    return None if crest is None else round(crest.mm - sutured.mm, 6)

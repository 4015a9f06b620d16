"""A case with today's direct readings in the place of the charted ones, so that the plan can be solved anew.

What is seen at the open flap overrides what was sounded. A reading that rests on the margin moves with it only where
both were read today: a charted sounding under another margin would move the bone.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from festoon.errors import Fault, InputRefusedError
from festoon.model.anatomy import Anatomy
from festoon.model.case import Case, SiteChart
from festoon.model.dentition import Site, Tooth
from festoon.model.quantities import Quantity
from festoon.model.reading import Datum, DepthReading, LevelReading, Method
from festoon.model.verification import Moment, PlacedReading
from festoon.records.plausible import concerns

_LEVELS = (Quantity.MARGIN_LEVEL, Quantity.CREST_LEVEL, Quantity.CEJ_LEVEL, Quantity.MUCOGINGIVAL_LEVEL)
_OPEN = (Quantity.CREST_LEVEL, Quantity.CEJ_LEVEL, Quantity.MUCOGINGIVAL_LEVEL)


@dataclass(frozen=True)
class TodaysCase:
    """The case as it is today, and in words what gave way."""

    case: Case
    replaced: tuple[str, ...]


def with_todays(anatomy: Anatomy, readings: Iterable[PlacedReading], moment: Moment) -> TodaysCase:
    """The case with the readings of today. With tissue cut, only bone, CEJ and mucogingival junction are taken over.

    Raises
    ------
    InputRefusedError
        If the case so changed is impossible: a margin apical to bone and the like.
    """
    case = anatomy.case
    by_place: dict[tuple[str, Site], dict[Quantity, PlacedReading]] = {}
    for reading in readings:
        if moment is Moment.BEFORE or reading.quantity in _OPEN:
            by_place.setdefault((reading.tooth, reading.site), {})[reading.quantity] = reading
    teeth = dict(case.teeth)
    replaced: list[str] = []
    for (code, site), today in by_place.items():
        chart = teeth[code]
        entry, words = _site(anatomy, Tooth(code), site, chart.sites.get(site, SiteChart()), today)
        teeth[code] = chart.model_copy(update={"sites": {**chart.sites, site: entry}})
        replaced += [f"{code} {site.value.replace('_', ' ')}: {word}" for word in words]
    changed = case.model_copy(update={"teeth": teeth})
    # What was charted has passed the reader: only what today's readings bring is refused here.
    before = {(concern.path, concern.found) for concern in concerns(case)}
    refused = [c for c in concerns(changed) if c.is_refused and (c.path, c.found) not in before]
    if refused:
        raise InputRefusedError(
            [
                Fault("today's readings in the chart", ".".join(map(str, c.path)), c.found, c.expected, c.do)
                for c in refused
            ]
        )
    return TodaysCase(changed, tuple(replaced))


def _site(
    anatomy: Anatomy, tooth: Tooth, site: Site, entry: SiteChart, today: dict[Quantity, PlacedReading]
) -> tuple[SiteChart, list[str]]:
    """One site with the readings of today, and what gave way, in words."""
    known = anatomy.teeth[tooth].site(site)
    update: dict[str, object] = {}
    words = []
    for quantity in _LEVELS:
        if quantity in today:
            update[str(quantity.case_key)] = (_level(today[quantity]),)
            words.append(f"{quantity.case_key} = {today[quantity].source}")
    sounding = today.get(Quantity.SOUNDING)
    if Quantity.CREST_LEVEL in today:
        update["sounding_mm"] = ()
        words.append("the crest as read today overrides every sounding")
    elif sounding is not None and Quantity.MARGIN_LEVEL in today:
        update["sounding_mm"] = (_depth(sounding),)
        update["crest_mm"] = ()
        words.append(f"sounding_mm = {sounding.source}")
    elif sounding is not None:
        words.append("the sounding of today is NOT taken over: it counts from a margin that was not read today")
    elif Quantity.MARGIN_LEVEL in today and known.crest is not None:
        update["sounding_mm"] = ()
        update["crest_mm"] = (
            LevelReading(
                value=known.crest.value,
                se=known.crest.se,
                method=Method(known.crest.by) if known.crest.by else Method.SOUNDING,
                datum=Datum.PRESENT_EDGE,
                flag="charted crest, kept where it was charted: only the margin was read today",
            ),
        )
        words.append("the crest stays where it was charted")
    return entry.model_copy(update=update), words


def _level(reading: PlacedReading) -> LevelReading:
    return LevelReading(
        value=reading.value_mm,
        se=reading.se_mm,
        method=Method(reading.method),
        datum=reading.datum,
        at=reading.at,
        flag="read on the day",
    )


def _depth(reading: PlacedReading) -> DepthReading:
    return DepthReading(
        value=reading.value_mm, se=reading.se_mm, method=Method(reading.method), at=reading.at, flag="read on the day"
    )

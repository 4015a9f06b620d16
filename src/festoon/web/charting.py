"""The chart as a grid of entries, in the order in which a clinician dictates: tooth by tooth as seen, site by site."""

from __future__ import annotations

from dataclasses import dataclass

from festoon.model.case import Case, SiteChart, Status, ToothChart
from festoon.model.dentition import Site, Tooth, as_seen
from festoon.model.reading import Datum, Reading
from festoon.web.desk import Prefers
from festoon.web.words import N_

SITES = (Site.DISTAL, Site.MIDFACIAL, Site.MESIAL)
QUANTITIES = (
    ("margin_mm", N_("margin"), N_("level from the incisal edge; at the papillae the tip")),
    ("probing_mm", N_("probing"), N_("depth from the margin")),
    ("sounding_mm", N_("sounding"), N_("margin to bone, under anaesthesia")),
    ("cej_mm", N_("CEJ"), N_("level from the incisal edge")),
    ("mucogingival_mm", N_("mucogingival"), N_("level from the incisal edge")),
    ("contact_mm", N_("contact"), N_("apical end of the contact, level from the incisal edge")),
)
"""Rows of the chart: key, name, what is meant."""
_ONLY_PAPILLAE = {"contact_mm"}
_ONLY_MID = {"cej_mm", "mucogingival_mm"}


@dataclass(frozen=True)
class Entry:
    """One field of the chart."""

    path: str
    """The entry of the case."""
    label: str
    """For a screen reader: tooth, site and quantity."""
    text: str
    """What stands there now."""
    said: str
    """Error, method and day of what stands there."""
    can_be_typed: bool
    """False where several readings stand there, one from another datum than the edge visible today, or one that was imported: a
    number typed over it would silently mean something else, or stand beside it."""


@dataclass(frozen=True)
class Row:
    """One quantity over all sites."""

    name: str
    meaning: str
    cells: tuple[Entry | None, ...]
    """None where the quantity is not read at that kind of site."""


@dataclass(frozen=True)
class Chart:
    """The chart of a case as a grid."""

    teeth: tuple[Tooth, ...]
    statuses: tuple[Entry, ...]
    widths: tuple[Entry, ...]
    columns: tuple[tuple[Tooth, Site], ...]
    rows: tuple[Row, ...]


def chart_of(case: Case, own: Case | None, prefers: Prefers) -> Chart:
    """The grid of a case, ``own`` being it without the readings that are kept beside it; distal to mesial on the patient's right, mesial to distal on the left."""
    teeth = tuple(as_seen(Tooth(code) for code in case.teeth))
    columns = tuple((tooth, site) for tooth in teeth for site in (SITES if tooth.is_right else reversed(SITES)))
    return Chart(
        teeth,
        tuple(_status(tooth, case.teeth[tooth.fdi]) for tooth in teeth),
        tuple(
            _entry(
                f"teeth.{tooth}.width_mm",
                f"{tooth.shown(prefers.notation)} width",
                case.teeth[tooth.fdi].width_mm,
                _chart(own, tooth).width_mm,
            )
            for tooth in teeth
        ),
        columns,
        tuple(
            Row(name, meaning, tuple(_cell(case, own, tooth, site, key, name, prefers) for tooth, site in columns))
            for key, name, meaning in QUANTITIES
        ),
    )


def _status(tooth: Tooth, chart: ToothChart) -> Entry:
    return Entry(
        f"teeth.{tooth}.status", f"{tooth} status", (chart.status or "") and Status(chart.status or "").value, "", True
    )


def _chart(case: Case | None, tooth: Tooth) -> ToothChart:
    return (case.teeth.get(tooth.fdi) if case else None) or ToothChart()


def _cell(
    case: Case, own: Case | None, tooth: Tooth, site: Site, key: str, name: str, prefers: Prefers
) -> Entry | None:
    if (key in _ONLY_PAPILLAE) == (site is Site.MIDFACIAL) and (key in _ONLY_PAPILLAE or key in _ONLY_MID):
        return None
    if key in _ONLY_MID and site is not Site.MIDFACIAL:
        return None
    entry = case.teeth[tooth.fdi].sites.get(site, SiteChart())
    label = f"{tooth.shown(prefers.notation)} {site.value} {name}"
    saved = _chart(own, tooth).sites.get(site, SiteChart())
    return _entry(f"teeth.{tooth}.sites.{site.value}.{key}", label, getattr(entry, key), getattr(saved, key))


def _entry(path: str, label: str, readings: tuple[Reading, ...], saved: tuple[Reading, ...]) -> Entry:
    said = "; ".join(
        " ".join(
            filter(
                None,
                (
                    f"{reading.value:g} mm",
                    f"± {reading.se:g}" if reading.se else "",
                    reading.method.value if reading.method else "",
                    f"from {reading.datum.value.replace('_', ' ')}" if reading.datum else "",
                    reading.at.isoformat() if reading.at else "",
                    reading.by or "",
                    reading.flag or "",
                ),
            )
        )
        for reading in readings
    )
    text = f"{readings[0].value:g}" if len(readings) == 1 else " | ".join(f"{r.value:g}" for r in readings)
    is_plain = readings == saved and len(readings) <= 1 and all(r.datum in (None, Datum.PRESENT_EDGE) for r in readings)
    return Entry(path, label, text, said, is_plain)

"""Something impossible or unusual in a case, and how the checks walk over its readings."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from festoon.kernels.levels import present_edge_level
from festoon.model.case import Case, SiteChart, ToothChart
from festoon.model.dentition import Site, Tooth
from festoon.model.reading import Datum, Frozen, Reading

Path = tuple[str | int, ...]

SAME_MM = 1e-6
"""Levels closer than this are the same: the last bits of a conversion between datums must not refuse anything."""


@dataclass(frozen=True)
class Concern:
    """Something impossible (refused) or unusual (noted) in a case."""

    path: Path
    """In the model's keys: ``("teeth", "11", "sites", "midfacial", "sounding_mm", 0)``."""
    found: str
    expected: str
    do: str
    is_refused: bool
    """True for the impossible; False for a note."""


@dataclass(frozen=True)
class Listed:
    """All readings of one quantity at one place."""

    path: Path
    key: str
    readings: tuple[Reading, ...]
    chart: ToothChart | None
    """The tooth, where it has one."""
    site: Site | None = None

    @property
    def values(self) -> list[float | None]:
        """Each reading in mm, levels from the present edge; None where the datum's place is not known."""
        return [from_present_edge(reading, self.chart) for reading in self.readings]


def from_present_edge(reading: Reading, chart: ToothChart | None) -> float | None:
    """The value of a reading, a level counted from the present edge; None where its datum's place is not known."""
    if reading.datum in (None, Datum.PRESENT_EDGE) or chart is None:
        return reading.value
    if reading.datum is Datum.PLANNED_EDGE:
        extension = chart.incisal_extension_mm
        return None if extension is None else present_edge_level(reading.value, extension)
    offsets: Mapping[str, float] = {str(datum): mm for datum, mm in chart.datum_offset_mm.items()}
    offset = offsets.get(str(reading.datum))
    return None if offset is None else reading.value + offset


def in_words(reading: Reading, value: float) -> str:
    """A reading in mm; where it was counted from another edge, both what it comes to and what was written."""
    if reading.datum in (None, Datum.PRESENT_EDGE):
        return f"{value:g} mm"
    return f"{value:g} mm from the present edge ({reading.value:g} mm from {reading.datum})"


def listed(case: Case) -> Iterator[Listed]:
    """Every quantity of the case that has readings, tooth by tooth."""
    yield from _of(case.smile, ("smile",), None)
    for tooth in case.charted:
        chart = case.teeth[tooth.fdi]
        here: Path = ("teeth", tooth.fdi)
        yield from _of(chart, here, chart)
        for surface, readings in chart.furcation_mm.items():
            if readings:
                yield Listed((*here, "furcation_mm", surface), "furcation_mm", readings, chart)
        for site, entry in chart.sites.items():
            yield from _of(entry, (*here, "sites", site.value), chart, site)
    for name, papilla in case.papillae.items():
        yield from _of(papilla, ("papillae", name), None)


def _of(record: Frozen, path: Path, chart: ToothChart | None, site: Site | None = None) -> Iterator[Listed]:
    for key, value in record:
        if isinstance(value, tuple) and value:
            yield Listed((*path, key), key, value, chart, site)


def known(chart: ToothChart, entry: SiteChart | None, key: str) -> list[float]:
    """What is known of one quantity of a site or of a tooth, in mm, levels from the present edge."""
    readings = getattr(chart if entry is None else entry, key)
    return [mm for mm in (from_present_edge(reading, chart) for reading in readings) if mm is not None]


def site_path(tooth: Tooth, site: Site, key: str) -> Path:
    """Path of a quantity of a site."""
    return ("teeth", tooth.fdi, "sites", site.value, key)

"""What every comparison needs: the plan, the mouth as known, the readings of one moment, the limits."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from festoon.evidence.defaults import default_mm
from festoon.model.anatomy import Anatomy
from festoon.model.dentition import Notation, Site, Tooth
from festoon.model.plan import Plan, SitePlan
from festoon.model.quantities import Quantity
from festoon.model.reading import Datum
from festoon.model.verification import PlacedReading

Against = Literal["sheet", "exact"]
DECIMALS = 4
"""As the plan keeps them: the last bits of a conversion between datums decide nothing."""


@dataclass(frozen=True)
class Shift:
    """Expected shift of a margin after suturing, in mm, coronal positive, with its band."""

    mean_mm: float
    low_mm: float
    high_mm: float


Forecast = Callable[[str, float, float], Shift]
"""From tooth, sutured margin-to-crest distance in mm and weeks after suturing (6 to 52) to the expected shift."""


@dataclass(frozen=True)
class Limits:
    """How far off the plan a reading may be, in mm; from the settings, changeable."""

    recheck_mm: float = default_mm("recheck_mm")
    """Further off: solve the plan anew."""
    stop_mm: float = default_mm("stop_mm")
    """Further off: stop and rethink."""

    def __post_init__(self) -> None:
        if not 0 < self.recheck_mm <= self.stop_mm:
            raise ValueError(f"recheck {self.recheck_mm:g} and stop {self.stop_mm:g} mm: 0 < recheck <= stop is needed")


@dataclass(frozen=True)
class Targets:
    """What is aimed at in one site, from the planned edge, in mm; None where nothing is, or nothing is known."""

    margin_mm: float | None
    """Planned margin."""
    incision_mm: float | None
    """Where the margin lies once the collar is cut; None where none is."""
    crest_mm: float | None
    bone_mm: float | None
    suture_mm: float | None
    need_mm: float | None


@dataclass(frozen=True)
class Session:
    """One moment's readings and what they are held against."""

    plan: Plan
    anatomy: Anatomy
    readings: tuple[PlacedReading, ...]
    """In the order of the file."""
    limits: Limits = Limits()
    against: Against = "sheet"
    datum: Datum | None = None
    """From what levels are going to be read; None where nobody said."""

    def __post_init__(self) -> None:
        if not self.plan.paper.rechecked:
            # The sheet itself says so: its rounded numbers break a hard limit.
            object.__setattr__(self, "against", "exact")
        if self.plan.case != self.anatomy.case.case:
            raise ValueError(f"a plan of {self.plan.case} and a mouth of {self.anatomy.case.case}")

    @cached_property
    def _sites(self) -> dict[tuple[str, Site], SitePlan]:
        return {(entry.tooth, entry.site): entry for entry in self.plan.sites}

    def site(self, tooth: str, site: Site) -> SitePlan | None:
        """What the plan says of a site."""
        return self._sites.get((tooth, site))

    def all(self, tooth: str, site: Site, quantity: Quantity) -> tuple[PlacedReading, ...]:
        """Every reading of a quantity at a site, in the order of the file."""
        return tuple(r for r in self.readings if (r.tooth, r.site, r.quantity) == (tooth, site, quantity))

    def last(self, tooth: str, site: Site, quantity: Quantity, at: dt.date | None = None) -> PlacedReading | None:
        """The last reading of a quantity at a site, of one day where a day is named."""
        found = [r for r in self.all(tooth, site, quantity) if at is None or r.at == at]
        return found[-1] if found else None

    def places(self, *quantities: Quantity) -> Iterator[tuple[str, Site]]:
        """Every tooth and site at which one of the quantities was read, once, in the order of the file."""
        yield from dict.fromkeys((r.tooth, r.site) for r in self.readings if r.quantity in quantities)

    def extension(self, tooth: str) -> float | None:
        """The tooth's planned edge beyond the present one, as the plan took it."""
        return self.plan.teeth[tooth].incisal_extension_mm

    def from_datum(self, tooth: str, level_mm: float) -> float | None:
        """A level from the planned edge, counted from the datum that levels are going to be read from."""
        extension = self.extension(tooth)
        if self.datum is None or extension is None:
            return None
        if self.datum is Datum.PLANNED_EDGE:
            return level_mm
        offsets = {str(datum): mm for datum, mm in self.anatomy.case.teeth[tooth].datum_offset_mm.items()}
        offset = 0.0 if self.datum is Datum.PRESENT_EDGE else offsets.get(self.datum)
        return None if offset is None else kept(level_mm - extension - offset)

    @property
    def pair_differences(self) -> dict[str, float | None]:
        """Planned left-right differences by pair, those of the sheet or the exact ones."""
        plan = self.plan
        return plan.paper.pair_differences_mm if self.against == "sheet" else plan.arch.pair_differences_mm

    def targets(self, planned: SitePlan) -> Targets:
        """The targets of a site: those of the printed sheet, or the exact ones."""
        whole = self.plan.teeth[planned.tooth]
        exact = Targets(
            planned.margin_planned_mm,
            planned.incision_level_mm,
            planned.crest_planned_mm,
            planned.bone_removal_mm,
            planned.suture_level_mm,
            planned.need_mm,
        )
        paper = next((p for p in self.plan.paper.sites if (p.tooth, p.site) == (planned.tooth, planned.site)), None)
        if self.against == "exact" or paper is None or not whole.procedure.cuts:
            return exact
        # With an apical flap the collar is narrower than the move, and the sheet prints it for the whole tooth only.
        is_excised_whole = not whole.apical_shift_mm and planned.incision_level_mm is not None
        return Targets(
            paper.margin_planned_mm,
            paper.margin_planned_mm if is_excised_whole else planned.incision_level_mm,
            paper.crest_planned_mm,
            paper.bone_removal_mm,
            planned.suture_level_mm if paper.suture_level_mm is None else paper.suture_level_mm,
            paper.need_mm,
        )


Notations = tuple[Notation, Notation]
TWO: Notations = (Notation.FDI, Notation.UNIVERSAL)
"""At the chair a tooth is named twice: ``13 (6)``."""


def tooth_words(code: str, notations: Notations = TWO) -> str:
    """A tooth, or a papilla between two, under the reader's notation and a second one: ``13 (6)``, ``11-21 (8-9)``."""
    first, second = ("-".join(Tooth(part).shown(one) for part in code.split("-")) for one in notations)
    return f"{first} ({second})"


def place_words(tooth: str, site: Site, notations: Notations = TWO) -> str:
    """A tooth and a site of it in words."""
    return f"{tooth_words(tooth, notations)} {site.value.replace('_', ' ')}"


def kept(value: float) -> float:
    """A difference as the file keeps it, without a negative zero."""
    return round(value, DECIMALS) + 0.0


def mm(value: float) -> str:
    """Millimetres in words: two decimals at most, no trailing zero."""
    return f"{round(value, 2) + 0.0:g}"


def error_words(se: float) -> str:
    """A standard error in words."""
    return f"±{se:.2g} mm"


def read_words(reading: PlacedReading, earlier: Sequence[PlacedReading] = ()) -> str:
    """A reading in words: as read, and what it comes to from the planned edge where that is another number."""
    said = f"{mm(reading.value_mm)} mm"
    if reading.datum is not None:
        said += f" from {_DATUM[reading.datum]}"
        if abs(reading.to_planned_edge_mm) > 1e-6:
            said += f" = {mm(reading.mm)} mm from the planned edge"
    if earlier:
        said += f" (before it in this file: {', '.join(mm(one.mm) for one in earlier)})"
    return said


_DATUM = {
    "present_edge": "the present edge",
    "planned_edge": "the planned edge",
    "restored_edge": "the restored edge",
    "template": "the template",
    "bonded_mark": "the bonded mark",
}

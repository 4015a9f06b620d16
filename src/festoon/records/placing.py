"""Readings placed on the teeth of their case: every level from the planned edge, with its error.

A level whose datum has no known place on its tooth is refused: a wrong millimetre is worse than a missing one.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass

from festoon.evidence.errors import default_method, reading_error
from festoon.kernels.levels import planned_edge_level
from festoon.model.case import Case, Restoration, ToothChart
from festoon.model.quantities import Quantity, QuantityReading
from festoon.model.reading import Datum, DepthReading, LevelReading, Method, Reading
from festoon.model.verification import Moment, PlacedReading
from festoon.records.combination import combine
from festoon.records.concern import from_present_edge, in_words
from festoon.records.document import Faults, shown
from festoon.records.ranges import value_concerns
from festoon.records.readings import ReadingsFile

PLACED = (
    Quantity.MARGIN_LEVEL,
    Quantity.SOUNDING,
    Quantity.CREST_LEVEL,
    Quantity.CEJ_LEVEL,
    Quantity.MUCOGINGIVAL_LEVEL,
)
"""Quantities that are held against a plan."""


@dataclass(frozen=True)
class Placement:
    """The readings that can be held against a plan, in the order of the file, and what was left aside."""

    readings: tuple[PlacedReading, ...]
    notes: tuple[str, ...]


def place_readings(
    file: ReadingsFile,
    case: Case,
    moment: Moment,
    *,
    surgery_at: dt.date | None = None,
    edges_as_charted: bool = False,
) -> Placement:
    """Readings of one moment as levels from the planned edge of their teeth.

    Before cutting and at recalls several readings of one quantity at one place on one day are combined by inverse
    variance, and refused where they contradict each other. While tissue is being cut they are kept apart, in the order
    of the file: the last one is the state.

    Parameters
    ----------
    surgery_at : date, optional
        The day of surgery; every reading of a recall must have a day, none earlier than this.
    edges_as_charted : bool
        At recalls, that no edge was changed since the chart. Without it a level from ``present_edge`` is refused where
        the case plans a restoration or another edge: nobody could say which edge it was read from.

    Raises
    ------
    InputRefusedError
        If the file is of another case, a tooth was not charted, a datum has no known place, a value is impossible, a
        day does not fit, or readings contradict each other: every such reading with its line.
    """
    placing = _Placing(file, case, moment, surgery_at, edges_as_charted)
    return placing.run()


class _Placing:
    def __init__(
        self, file: ReadingsFile, case: Case, moment: Moment, surgery_at: dt.date | None, edges_as_charted: bool
    ) -> None:
        self._file = file
        self._case = case
        self._moment = moment
        self._surgery_at = surgery_at
        self._edges_as_charted = edges_as_charted
        self._faults = Faults(file.name, kind="readings")
        self._notes = list(file.notes)

    def run(self) -> Placement:
        if self._file.readings.case != self._case.case:
            self._faults.refuse(
                where=("case",),
                line=None,
                found=f"readings of the case {shown(self._file.readings.case)}",
                expected=f"readings of the case {shown(self._case.case)}",
                do="Name the case and the readings that belong together.",
            )
        placed: list[tuple[int, PlacedReading]] = []
        unused: dict[str, int] = defaultdict(int)
        for index, reading in enumerate(self._file.readings.readings):
            if reading.quantity not in PLACED:
                unused[reading.quantity.value] += 1
                continue
            one = self._placed(index, reading)
            if one is not None:
                placed.append((index, one))
        self._one_day(placed)
        if self._faults.found:
            raise self._faults.error()
        kept = [one for _, one in placed]
        if self._moment in (Moment.BEFORE, Moment.RECALL):
            kept = self._combined(placed)
        if self._faults.found:
            raise self._faults.error()
        self._notes += [f"{count} of {name} not held against the plan" for name, count in unused.items()]
        return Placement(tuple(kept), tuple(self._notes))

    def _add(self, index: int, key: str, found: str, expected: str, do: str) -> None:
        where = ("readings", index, key) if key else ("readings", index)
        self._faults.add(where=where, line=self._file.lines[index], found=found, expected=expected, do=do)

    def _placed(self, index: int, reading: QuantityReading) -> PlacedReading | None:
        chart = self._case.teeth.get(reading.tooth or "")
        site, key = reading.site, reading.quantity.case_key
        if chart is None or site is None or key is None:
            self._add(
                index,
                "tooth",
                f"the tooth {reading.tooth}" if reading.tooth else "no tooth",
                f"one of the charted teeth {', '.join(self._case.teeth)}",
                "Check the tooth, or chart it in the case file.",
            )
            return None
        if reading.method is Method.DESIGN:
            self._add(
                index, "method", "design", "a method of measuring", "A number given by a design is no reading of today."
            )
        self._check_day(index, reading)
        plain = _plain(reading, self._usual_method(reading))
        level = None
        if isinstance(plain, LevelReading):
            level = self._present_edge(index, plain, chart)
            if level is None:
                return None
        value = reading.value if level is None else level
        for concern in value_concerns(key, site, plain, value, ("readings", index)):
            if concern.is_refused:
                self._add(index, "value", concern.found, concern.expected, concern.do)
            else:
                said = f"readings[{index}]: {concern.found}; usual is {concern.expected}. {concern.do}"
                self._notes.append(said)
        error = reading_error(key, plain)
        extension = chart.incisal_extension_mm
        if level is not None and extension is None:
            self._add(
                index,
                "datum",
                f"a level at {reading.tooth}, whose planned edge is not settled",
                "incisal_extension_mm of this tooth; the plan counts from the planned edge",
                "Give incisal_extension_mm in the case file; 0 where the edge stays as it is.",
            )
            return None
        planned = None if level is None or extension is None else planned_edge_level(level, extension)
        return PlacedReading(
            tooth=reading.tooth or "",
            site=site,
            quantity=reading.quantity,
            value_mm=reading.value,
            datum=reading.datum,
            planned_edge_mm=planned,
            present_edge_mm=level,
            se_mm=error.se_mm,
            method=str(plain.method),
            source=_source(plain, error.se_mm, error.source, is_usual=reading.method is None),
            at=reading.at,
        )

    def _usual_method(self, reading: QuantityReading) -> Method:
        """The method of a reading that does not say it: at the open flap a crest is seen, not read from a volume."""
        if reading.method is not None:
            return reading.method
        if reading.quantity is Quantity.CREST_LEVEL and self._moment in (Moment.BONE, Moment.SUTURE):
            return Method.DIRECT
        return default_method(str(reading.quantity.case_key))

    def _present_edge(self, index: int, reading: LevelReading, chart: ToothChart) -> float | None:
        """The level from the charted edge; None, with a fault, where its datum has no known place."""
        edge_changes = bool(chart.incisal_extension_mm) or chart.restoration is Restoration.PLANNED
        is_later = self._moment is Moment.RECALL and reading.at != self._surgery_at
        if reading.datum is Datum.PRESENT_EDGE and is_later and edge_changes and not self._edges_as_charted:
            self._add(
                index,
                "datum",
                "a level from the present edge of a tooth whose edge was to be changed",
                "planned_edge, restored_edge or bonded_mark: nobody can say whether this edge is still the charted one",
                "Read it from the planned edge or a mark; or say that no edge was changed yet: --edges-as-charted.",
            )
            return None
        level = from_present_edge(reading, chart)
        if level is None:
            is_planned = reading.datum is Datum.PLANNED_EDGE
            missing = "incisal_extension_mm" if is_planned else f"datum_offset_mm.{reading.datum}"
            self._add(
                index,
                "datum",
                f"a level from {reading.datum}, whose place on this tooth is not given",
                f"{missing} of this tooth in the case file",
                f"Give {missing}, or read the level from another datum.",
            )
        return level

    def _check_day(self, index: int, reading: QuantityReading) -> None:
        charted = self._case.examined_at
        if reading.at is not None and charted is not None and reading.at < charted:
            self._add(
                index,
                "at",
                f"a reading of {reading.at}, before the chart of {charted}",
                "a reading taken after the chart",
                "Check the day; readings older than the chart belong into the chart.",
            )
        if self._moment is not Moment.RECALL:
            return
        if reading.at is None:
            self._add(index, "at", "a recall reading without its day", "its day", "Add at: e.g. at: 2026-09-14.")
        elif self._surgery_at is not None and reading.at < self._surgery_at:
            self._add(
                index,
                "at",
                f"a reading of {reading.at}, before the surgery of {self._surgery_at}",
                "a day of or after the surgery",
                "Check the day and the day of surgery.",
            )

    def _one_day(self, placed: list[tuple[int, PlacedReading]]) -> None:
        """Readings of one moment are of one day; only recalls have many."""
        days = sorted({one.at for _, one in placed if one.at is not None})
        if self._moment is not Moment.RECALL and len(days) > 1:
            index = next(index for index, one in placed if one.at == days[-1])
            self._add(
                index,
                "at",
                f"readings of {', '.join(day.isoformat() for day in days)} in one file",
                f"readings of one day: one file holds one moment, {self._moment}",
                "Keep the readings of other days in files of their own.",
            )

    def _combined(self, placed: list[tuple[int, PlacedReading]]) -> list[PlacedReading]:
        groups: dict[tuple[object, ...], list[tuple[int, PlacedReading]]] = defaultdict(list)
        for index, one in placed:
            groups[one.tooth, one.site, one.quantity, one.at].append((index, one))
        kept = []
        for group in groups.values():
            together = combine([one.mm for _, one in group], [one.se_mm for _, one in group])
            if together.is_conflict:
                self._add(
                    group[-1][0],
                    "value",
                    "readings of one place that contradict each other: " + " | ".join(one.source for _, one in group),
                    "readings within two combined standard errors",
                    "Read it again and take out what is wrong.",
                )
            elif len(group) == 1:
                kept.append(group[0][1])
            else:
                kept.append(_as_one([one for _, one in group], together.mean, together.se))
        return kept


def _as_one(group: list[PlacedReading], mean: float, se: float) -> PlacedReading:
    """Several readings of one place as one, from the datum of the first."""
    first = group[0]
    shift = mean - first.mm
    return first.model_copy(
        update={
            "value_mm": first.value_mm + shift,
            "planned_edge_mm": None if first.planned_edge_mm is None else mean,
            "present_edge_mm": None if first.present_edge_mm is None else first.present_edge_mm + shift,
            "se_mm": se,
            "source": f"{len(group)} readings combined by inverse variance: " + " | ".join(one.source for one in group),
        }
    )


def _plain(reading: QuantityReading, method: Method) -> Reading:
    """The same reading as the case file would hold it."""
    said = {name: getattr(reading, name) for name in ("value", "se", "datum", "at", "by", "flag")}
    return (LevelReading if reading.quantity.is_level else DepthReading).model_validate({**said, "method": method})


def _source(reading: Reading, se: float, se_source: str, *, is_usual: bool) -> str:
    parts = [
        in_words(reading, reading.value) if reading.datum is None else f"{reading.value:g} mm from {reading.datum}",
        f"se {se:.2f} ({se_source})",
        f"{reading.method} taken as the usual method" if is_usual else str(reading.method),
    ]
    if reading.at is not None:
        parts.append(reading.at.isoformat())
    if reading.by:
        parts.append(f"by {reading.by}")
    if reading.flag:
        parts.append(reading.flag)
    return "; ".join(parts)

"""Entries of a day of surgery: as kept, in words, and as readings placed on their teeth."""

from __future__ import annotations

from collections.abc import Sequence

from pydantic import TypeAdapter

from festoon.errors import Fault, InputRefusedError
from festoon.model.case import Case
from festoon.model.quantities import Quantity, QuantityReading, Readings
from festoon.model.reading import Method
from festoon.model.surgery import Begun, Entry, EntryShown, ReadingEntry, RemarkEntry, Step, StepEntry, UndoEntry
from festoon.model.verification import Moment, PlacedReading
from festoon.records.placing import place_readings
from festoon.records.readings import ReadingsFile
from festoon.store import chairside
from festoon.verify import chair
from festoon.verify.before import WORDS
from festoon.verify.session import TWO, Notations, mm, place_words, tooth_words

ENTRY: TypeAdapter[Entry] = TypeAdapter(Entry)
"""Reads what the store keeps of an entry."""


def shown(entries: Sequence[chairside.KeptEntry], notations: Notations = TWO) -> tuple[EntryShown, ...]:
    """The entries as kept, with those that were taken back."""
    said = [(kept, ENTRY.validate_json(kept.document)) for kept in entries]
    gone = {entry.entry for _, entry in said if isinstance(entry, UndoEntry)}
    return tuple(
        EntryShown(
            number=kept.number,
            key=kept.key,
            at=kept.kept_at,
            by=kept.kept_by,
            entry=entry,
            is_taken_back=kept.number in gone,
            text=_entry_words(entry, notations),
        )
        for kept, entry in said
    )


def _entry_words(entry: Entry, notations: Notations) -> str:
    if isinstance(entry, ReadingEntry):
        datum = "" if entry.datum is None else f" from {entry.datum.replace('_', ' ')}"
        name = WORDS.get(entry.quantity, entry.quantity.value)
        return f"{place_words(entry.tooth, entry.site, notations)} {name} {mm(entry.value)} mm{datum}"
    if isinstance(entry, StepEntry):
        return f"step: {entry.step.value.replace('_', ' ')}"
    if isinstance(entry, UndoEntry):
        return f"entry {entry.entry} taken back"
    if isinstance(entry, RemarkEntry):
        return f"{tooth_words(entry.tooth, notations) + ': ' if entry.tooth else ''}{entry.text}"
    return f"signed off as {entry.role}"


def taken_of(case: Case, begun: Begun, entries: Sequence[EntryShown]) -> list[chair.Taken]:
    """The readings that stand, placed on their teeth, in the order they were entered."""
    return [
        chair.Taken(one.entry.step, placed(case, begun, one.entry, one.by))
        for one in entries
        if not one.is_taken_back and isinstance(one.entry, ReadingEntry)
    ]


def sutured_readings(begun: Begun, entries: Sequence[EntryShown]) -> tuple[QuantityReading, ...]:
    """What was read after suturing, as readings of the day of surgery: where a recall starts from."""
    return tuple(
        _reading(one.entry, begun, one.by)
        for one in entries
        if not one.is_taken_back and isinstance(one.entry, ReadingEntry) and one.entry.step is Step.PROBE_SUTURE
    )


def _reading(entry: ReadingEntry, begun: Begun, by: str) -> QuantityReading:
    method = entry.method
    if method is None and entry.quantity is Quantity.CREST_LEVEL and entry.step is not Step.DATUM:
        method = Method.DIRECT  # at the open flap a crest is seen
    return QuantityReading(
        tooth=entry.tooth,
        site=entry.site,
        quantity=entry.quantity,
        value=entry.value,
        se=entry.se,
        method=method,
        datum=entry.datum,
        at=begun.surgery_at,
        by=by,
    )


def placed(case: Case, begun: Begun, entry: ReadingEntry, by: str) -> PlacedReading:
    """An entry as a reading placed on its tooth.

    Raises
    ------
    InputRefusedError
        If it cannot be placed, or is one no mouth allows.
    """
    reading = _reading(entry, begun, by)
    file = ReadingsFile(Readings(case=case.case, readings=(reading,)), (1,), "", "entry", ())
    found = place_readings(file, case, Moment.BEFORE).readings
    if not found:
        raise refused(repr(str(entry.quantity)), f"{', '.join(WORDS.values())}, which can be held against a plan")
    return found[0]


def refused(found: str, expected: str) -> InputRefusedError:
    """An entry that is not kept, in words."""
    return InputRefusedError([Fault("entry", "", found, expected, "Enter it again; nothing was kept.")])

"""A table or a case file brought into the chart of a case: looked at first, reading by reading, and then kept as one new version.

A table's readings stand beside those that the chart has, so that they are combined by their errors or found to disagree. One that
the chart has already, alike in everything, is not taken a second time: it would count as a second look.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from hashlib import sha256
from typing import Any

from pydantic import ValidationError

from festoon.errors import Fault, InputRefusedError
from festoon.model.case import Case
from festoon.records.casefile import parse_case
from festoon.records.editing import document_of, edited
from festoon.records.intake.files import is_case_file
from festoon.records.intake.understood import ChartReading
from festoon.records.merging import begun_case, with_readings
from festoon.store import keeping
from festoon.store.errors import UnknownRecordError
from festoon.store.store import Store
from festoon.workflow.desk import Saved
from festoon.workflow.records import CaseKnown, TableRead, case_known, chart_readings, column_map, read_table_bytes

_CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")


class Becomes(StrEnum):
    """What a reading of a table becomes in the chart."""

    NEW = "new"
    """Nothing stands there yet."""
    BESIDE = "beside"
    """It stands beside another reading, and the two are combined."""
    SAME = "same"
    """The chart has it already."""
    LEFT = "left"
    """The chart holds no such reading, or a person left it out."""
    REFUSED = "refused"
    """It contradicts what stands there, or no mouth allows it."""


@dataclass(frozen=True)
class Line:
    """One reading of a table."""

    number: int
    """Its place among the readings of the table, from 0."""
    reading: ChartReading
    becomes: Becomes
    why: str
    """Why it is not taken, or beside what it stands; '' where there is nothing to say."""
    place: str | None = None
    """The entry of the case that holds it, as a key path; None where no entry does."""


@dataclass(frozen=True)
class Looked:
    """What would be brought in. Nothing was kept."""

    sha256: str
    """Of the bytes that were looked at."""
    case: str | None
    """The case it goes into; None where that is not known."""
    base: int
    """The version of that case it was laid beside; 0 for a new case."""
    table: TableRead | None
    """None for a case file."""
    lines: tuple[Line, ...]
    changed: tuple[str, ...]
    """Of a case file: the entries in which it differs from the case as it stands, by key path."""
    notes: tuple[str, ...]
    """What is unusual and would be kept as it stands."""
    faults: tuple[Fault, ...]
    """With any of these nothing can be kept."""
    document: str | None
    """The case as it would be kept; None with a fault."""

    @property
    def is_new(self) -> bool:
        """True where a case is begun with it."""
        return self.base == 0


def look_at(
    store: Store,
    data: bytes,
    name: str,
    *,
    case: str | None = None,
    declared: Mapping[str, Any] | None = None,
    sheet: str | None = None,
    left_out: Collection[int] = (),
) -> Looked:
    """What a file would bring into a case, and everything that stands against it. Nothing is kept.

    Parameters
    ----------
    data, name : bytes, str
        The file and its name, whose ending says what it is.
    case : str, optional
        The case it goes into, begun where there is none of that id; None takes the one that the file names.
    declared : mapping, optional
        What is declared of a table, by the keys of a column map: ``notation``, ``datum``, ``decimal`` and the like.
    sheet : str, optional
        Which sheet of a workbook.
    left_out : collection of int
        Numbers of readings that a person leaves out.
    """
    digest = sha256(data).hexdigest()
    try:
        if is_case_file(data, name):
            return _case_file(store, data, name, case, digest)
        table = read_table_bytes(data, name, column_map(None, None, declared or {}), sheet=sheet)
    except InputRefusedError as refused:
        return Looked(digest, case, 0, None, (), (), (), refused.faults, None)
    if table.faults:
        return Looked(digest, case, 0, table, (), (), (), table.faults, None)
    try:
        mine = _case_of(table, case)
    except InputRefusedError as refused:
        return Looked(digest, case, 0, table, (), (), (), refused.faults, None)
    return _table(store, table, mine, digest, frozenset(left_out))


def bring_in(store: Store, looked: Looked, *, base: int, by: str, why: str) -> Saved:
    """Keep what was looked at as a new version of its case, or begin the case with it.

    Parameters
    ----------
    base : int
        The version that a person saw it laid beside.

    Raises
    ------
    InputRefusedError
        If it has a fault, or brings nothing; nothing is kept then.
    StaleVersionError
        If somebody else saved since ``base``; both versions are kept.
    """
    if looked.faults:
        raise InputRefusedError(looked.faults)
    if looked.document is None or looked.case is None:
        found = "nothing that the chart does not have already"
        raise InputRefusedError(
            [Fault("import", "", found, "at least one new reading", "There is nothing to bring in.")]
        )
    number = keeping.save_case(store, looked.case, looked.document, base=base, by=by, why=why)
    return Saved(number, looked.notes)


def _case_file(store: Store, data: bytes, name: str, case: str | None, digest: str) -> Looked:
    file = parse_case(data, name)
    if case is not None and case != file.case.case:
        do = "Leave the id empty, or write the id that the file has."
        raise InputRefusedError([Fault(name, "case", f"case {file.case.case}", f"case {case}", do)])
    known = _known(store, file.case.case)
    changed: tuple[str, ...] = ()
    if known is not None:
        changed = tuple(_differences(document_of(_document(known)), document_of(file.case)))
    base = 0 if known is None else known.record.version
    document = None if known is not None and not changed else file.case.model_dump_json()
    return Looked(digest, file.case.case, base, None, (), changed, file.notes, (), document)


def _case_of(table: TableRead, case: str | None) -> str:
    """The case that a table's readings go into.

    Raises
    ------
    InputRefusedError
        If it names several and none of them was chosen, or neither the table nor the person names one.
    """
    file = table.intake.file
    named = {reading.case or table.intake.declared_case for reading in table.intake.readings} - {None}
    if case is not None and not _CODE.fullmatch(case):
        expected = "letters, digits, dot, dash and underscore; no names"
        raise InputRefusedError([Fault(file, "case", "an id that is no code", expected, "Write another id.")])
    if case is not None and (not named or case in named):
        return case
    if case is None and len(named) == 1:
        return str(named.pop())
    found = f"readings of {', '.join(sorted(map(str, named))[:8])}" if named else "a table that names no case"
    expected = "the id of a case" if case is None else f"readings of case {case}"
    raise InputRefusedError([Fault(file, "case", found, expected, "Write the id of the case they go into.")])


def _table(store: Store, table: TableRead, case: str, digest: str, left_out: frozenset[int]) -> Looked:
    intake = table.intake
    known = _known(store, case)
    stands = known.case if known is not None and known.case is not None else begun_case(case, intake.readings)
    document_now = document_of(stands)
    lines = [
        _line(number, reading, document_now, intake.declared_case, case, left_out)
        for number, reading in enumerate(intake.readings)
    ]
    taken = [line for line in lines if line.becomes in (Becomes.NEW, Becomes.BESIDE)]
    faults: list[Fault] = []
    notes: tuple[str, ...] = ()
    try:
        notes = edited(with_readings(stands, [line.reading for line in taken]).case, {}).notes
    except InputRefusedError as refused:
        faults = [_placed(fault, taken, intake.file) for fault in refused.faults]
    except ValidationError as refused:
        faults = [
            Fault(
                intake.file, ".".join(map(str, error["loc"])), str(error["input"])[:60], error["msg"], "Leave it out."
            )
            for error in refused.errors()
        ]
    bad = {fault.line for fault in faults}
    lines = [
        replace(line, becomes=Becomes.REFUSED, why=_why_refused(line, faults))
        if line in taken and line.reading.line in bad and _why_refused(line, faults)
        else line
        for line in lines
    ]
    document = None
    if taken and not faults:
        base = begun_case(case, intake.readings) if known is None else _document(known)
        document = with_readings(base, [line.reading for line in taken]).case.model_dump_json()
    version = 0 if known is None else known.record.version
    return Looked(digest, case, version, table, tuple(lines), (), notes, tuple(faults), document)


def _line(
    number: int,
    reading: ChartReading,
    stands: Mapping[str, Any],
    declared: str | None,
    case: str,
    left_out: frozenset[int],
) -> Line:
    of = reading.case or declared
    if of is not None and of != case:
        return Line(number, reading, Becomes.LEFT, f"it is of case {of}")
    place, entry = _entry(reading)
    if place is None:
        return Line(number, reading, Becomes.LEFT, "the chart holds no such reading")
    if number in left_out:
        return Line(number, reading, Becomes.LEFT, "left out by you", place)
    there = [_long(one) for one in _at(stands, place)]
    if entry in there:
        return Line(number, reading, Becomes.SAME, "", place)
    if there:
        values = ", ".join(f"{one['value']:g}" for one in there)
        return Line(number, reading, Becomes.BESIDE, f"{values} mm stands there", place)
    return Line(number, reading, Becomes.NEW, "", place)


def _entry(reading: ChartReading) -> tuple[str | None, dict[str, Any]]:
    """The entry of a case file that holds a reading, as a key path, and what is written there; None where no entry does."""
    merged = with_readings(begun_case("x", [reading]), [reading])
    if merged.placed:
        document = document_of(merged.case)
        for root in ("papillae", "teeth"):
            for path in _leaves(document.get(root, {}), root):
                return path, _long(_at(document, path)[0])
    return None, {}


def _leaves(part: Any, at: str) -> list[str]:
    """Key paths of the lists of readings below a part of a case."""
    if isinstance(part, list):
        return [at]
    if isinstance(part, dict):
        if "value" in part:
            return [at]
        return [path for key, below in part.items() for path in _leaves(below, f"{at}.{key}")]
    return [] if part is None else [at]


def _at(document: Mapping[str, Any], path: str) -> list[Any]:
    part: Any = document
    for step in path.split("."):
        part = part.get(step) if isinstance(part, dict) else None
    if part is None:
        return []
    return list(part) if isinstance(part, list) else [part]


def _long(entry: Any) -> dict[str, Any]:
    """A reading in its long form, without what is unknown."""
    said = entry if isinstance(entry, dict) else {"value": entry}
    return {key: value for key, value in said.items() if value is not None}


def _placed(fault: Fault, taken: Sequence[Line], file: str) -> Fault:
    """A fault of the case as it would be, put to the row of the table it comes from."""
    where = re.sub(r"\[\d+\]$", "", fault.where)
    for line in reversed(taken):
        if line.place == where:
            do = "Leave this reading out, or correct the chart or the table first."
            return replace(fault, file=file, line=line.reading.line, where=where, do=do)
    return replace(fault, file=file, line=None)


def _why_refused(line: Line, faults: Sequence[Fault]) -> str:
    mine = [fault for fault in faults if fault.line == line.reading.line and fault.where == line.place]
    return "; ".join(f"{fault.found}; expected {fault.expected}" for fault in mine)


def _known(store: Store, case: str) -> CaseKnown | None:
    try:
        return case_known(store, case)
    except UnknownRecordError:
        return None


def _document(known: CaseKnown) -> Case:
    """The case as its file says it, without the readings that are kept beside it: those are laid in whenever it is opened."""
    if known.record.document is not None:
        return Case.model_validate_json(known.record.document)
    return begun_case(known.record.case, chart_readings(known.record.readings, known.record.case))


def _differences(old: Any, new: Any, at: str = "") -> list[str]:
    """Key paths in which two documents differ."""
    if isinstance(old, dict) and isinstance(new, dict):
        keys = [*old, *(key for key in new if key not in old)]
        return [
            path for key in keys for path in _differences(old.get(key), new.get(key), f"{at}.{key}" if at else str(key))
        ]
    return [] if old == new else [at]

"""Columns of numbers: each distinct cell understood once, then arithmetic on the whole column."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np
from numpy.typing import NDArray

from festoon.evidence.errors import reading_se
from festoon.evidence.table import published
from festoon.model.dentition import Site, SiteKind
from festoon.model.quantities import Quantity
from festoon.model.reading import Datum, Method, Reading
from festoon.records.document import shown
from festoon.records.intake.numbers import Kind, NumberStyle, Understood, decimal_marks, understand
from festoon.records.intake.quantities import is_level, possible_range, quantity_named
from festoon.records.intake.understood import Distinct, Said, SheetReader

_SHOWN_NUMBERS = 3
"""Bare numbers shown in the preview; everything else is shown whole."""
_EXPECTED = {
    Kind.BOUND: "a number",
    Kind.RANGE: "one number",
    Kind.DATE: "a number",
    Kind.AMBIGUOUS: "a number whose decimal mark is settled",
    Kind.UNIT: "a number in mm",
    Kind.NOT_UNDERSTOOD: "a number",
}


@dataclass(frozen=True)
class Numbers:
    """The numbers of one column, one for every row."""

    value: NDArray[np.float64]
    """mm; nan where not measured."""
    width: NDArray[np.float64]
    """Width of the interval where a range or bound was read as its middle, else nan."""
    written: Distinct


def settle_decimal(reader: SheetReader, columns: Sequence[int]) -> str | None:
    """The decimal mark that the numbers prove; None where none does."""
    if reader.chosen.decimal is not None:
        return reader.chosen.decimal
    if reader.sheet.is_own:
        return "point"
    comma = point = False
    for column in columns:
        marks = decimal_marks(Distinct.of(reader.cells(column)).cells)
        comma |= marks[0]
        point |= marks[1]
    if comma and point:
        reader.refuse_column(
            None,
            "decimal commas and decimal points in one table",
            "one decimal mark",
            "Declare --decimal comma or --decimal point; what does not fit is then named cell by cell.",
        )
    if comma != point:
        reader.notes.append(f"decimal {'comma' if comma else 'point'}: the numbers themselves prove it")
    return "comma" if comma and not point else "point" if point and not comma else None


def read_numbers(
    reader: SheetReader, column: int, decimal: str | None, unit: str, means: str, *, is_turned: bool = False
) -> Numbers:
    """The numbers of a column in mm. Every cell that is no plain number is told or refused.

    ``is_turned``: the column is positive where festoon is negative, and its sign is turned here.
    """
    style = NumberStyle(decimal, unit, frozenset(word.lower() for word in reader.chosen.blanks))
    distinct = Distinct.of(reader.cells(column))
    values = np.full(len(distinct.cells), np.nan)
    widths = np.full(len(distinct.cells), np.nan)
    said: list[Said] = []
    n_plain = n_read = n_blank = 0
    for code, cell in enumerate(distinct.cells):
        found = understand(cell, style)
        count, row = distinct.counts[code], distinct.first_rows[code]
        if found.kind is Kind.NUMBER:
            values[code] = found.value
            n_plain += not found.words
        elif reader.chosen.intervals == "middle" and found.kind in (Kind.RANGE, Kind.BOUND) and np.isfinite(found.high):
            values[code] = (found.low + found.high) / 2
            widths[code] = found.high - found.low
        elif found.kind is not Kind.BLANK:
            text = f"{shown(distinct.text(code))}" + (f" ({count} times, first" if count > 1 else " (")
            reader.refuse(
                column, row, f"{text} {_KIND_WORDS[found.kind]})".replace("( ", "("), _EXPECTED[found.kind], _do(found)
            )
        if is_turned:
            values[code] = 0.0 - values[code]
        n_read += count * bool(np.isfinite(values[code]))
        n_blank += count * (found.kind is Kind.BLANK)
        if found.kind is not Kind.NUMBER or found.words or n_plain <= _SHOWN_NUMBERS:
            said.append(Said(distinct.text(code), _words(found, values[code], widths[code]), count, reader.lines[row]))
    reader.tell(column, means, said, n_read, n_blank)
    codes = np.array(distinct.codes, dtype=np.intp)
    return Numbers(values[codes], widths[codes], distinct)


_KIND_WORDS = {
    Kind.BOUND: "a bound",
    Kind.RANGE: "a range",
    Kind.DATE: "a date",
    Kind.AMBIGUOUS: "a mark that may be decimal or thousands",
    Kind.UNIT: "another unit",
    Kind.NOT_UNDERSTOOD: "no number",
}


def _do(found: Understood) -> str:
    if found.kind in (Kind.RANGE, Kind.BOUND):
        open_ended = not np.isfinite(found.high)
        instead = "" if open_ended else ", or declare intervals: middle to read its middle with a larger standard error"
        return f"It says {found.words}: write the one number that was read{instead}."
    words = found.words[0].upper() + found.words[1:]
    return words if words.endswith((".", "?")) else f"{words}."


def _words(found: Understood, value: float, width: float) -> str:
    if found.kind is Kind.BLANK:
        return found.words
    if not np.isfinite(value):
        return f"refused: {_KIND_WORDS[found.kind]}"
    if np.isfinite(width):
        return f"{value:g} mm, the middle of {found.low:g} to {found.high:g}, with the width in the standard error"
    turned = ", sign turned" if value == -found.value != 0 else ""
    return (found.words or f"{value:g} mm") + turned


def interval_se(quantity: str, method: Method | None, width: float) -> float:
    """Standard error of the middle of an interval: uniform over its width, beside the error of the method."""
    named = quantity_named(quantity)
    key = named.case_key if isinstance(named, Quantity) else None
    try:
        own = reading_se(key, Reading(value=0.0, method=method)) if key else published("ERR-010").value
    except KeyError:  # a key of the case file that holds no readings, so no error is published for it
        own = published("ERR-010").value
    return hypot(own, width / sqrt(12))


def check_ranges(
    reader: SheetReader,
    column: int,
    quantity: str,
    numbers: Numbers,
    sites: Sequence[Site | None],
    rows: NDArray[np.intp],
    datum: Datum | None,
) -> None:
    """Refuse every number that no mouth has; ``rows`` are those of this quantity and datum."""
    if is_level(quantity) and datum is not Datum.PRESENT_EDGE:
        return  # from another datum anything may be right; the case's own check converts and compares
    papilla = np.array([(s := sites[row]) is not None and s.kind is SiteKind.INTERPROXIMAL for row in rows], dtype=bool)
    for is_papilla in (False, True):
        allowed = possible_range(quantity, is_papilla=is_papilla)
        if allowed is None:
            continue
        mine = rows[papilla == is_papilla]
        values = numbers.value[mine]
        for row in mine[(values < allowed.low) | (values > allowed.high)]:
            value = float(numbers.value[row])
            slip = value / 10
            reader.refuse(
                column,
                int(row),
                f"{value:g} mm",
                f"{allowed.low:g} to {allowed.high:g} mm for {quantity.replace('_', ' ')}",
                f"Was a decimal mark lost? Then it is {slip:g}. Otherwise look again."
                if allowed.usual_low <= slip <= allowed.usual_high
                else "Look again at what was read and where it was written; leave it empty if it is not known.",
            )

"""A table as cells that know their place, whatever file they came from."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field

Cell = str | int | float | dt.datetime | dt.date | dt.time | None
"""As the file holds it: a text file holds text only, a workbook numbers and dates as well."""

READINGS_FORMAT = "festoon-readings/1"
READING_KEYS = ("tooth", "site", "quantity", "value", "unit", "se", "method", "datum", "at", "by", "flag")
"""The keys of a reading, in their order."""
OWN_HEADINGS = ("tooth (fdi)", *READING_KEYS[1:])
"""The headings of an exported table. The first declares the notation, so that nobody has to ask on the way back."""

FORMULA_STARTS = ("=", "+", "-", "@")
"""What a spreadsheet takes for the beginning of a formula."""

MAX_ROWS = 2_000_000
MAX_COLUMNS = 2_000


@dataclass(frozen=True)
class Sheet:
    """Rows of cells, all of one width, before anybody said what they mean."""

    file: str
    """File name, without its folder."""
    rows: Sequence[Sequence[Cell]]
    lines: Sequence[int]
    """1-based line of the file, or row of the sheet, of each row."""
    notes: tuple[str, ...] = ()
    """What the reader of the file had to decide: encoding, delimiter, sheet."""
    merged: tuple[tuple[int, int, int, int], ...] = ()
    """Merged cells, 0-based and inclusive: first row, first column, last row, last column."""
    declared: dict[str, str] = field(default_factory=dict)
    """What the file itself says of the whole of it, e.g. its case."""

    places: tuple[str, ...] = ()
    """The cell each row came from, where the rows were made from the cells of a chart."""

    @property
    def is_own(self) -> bool:
        """True for a table in festoon's own words (a readings file, or its export): its sites are the ten."""
        first = [cell_text(cell) for cell in self.rows[0]] if self.rows else []
        return self.declared.get("format") == READINGS_FORMAT or first == list(OWN_HEADINGS)

    @property
    def n_columns(self) -> int:
        """Cells in a row."""
        return len(self.rows[0]) if self.rows else 0


def column_letters(index: int) -> str:
    """The name a spreadsheet gives a 0-based column: A, B, … Z, AA."""
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def cell_text(cell: Cell) -> str:
    """A cell as text, for labels and messages; empty for an empty one."""
    if cell is None:
        return ""
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    if isinstance(cell, dt.datetime) and cell.time() == dt.time():
        return cell.date().isoformat()
    return str(cell).strip() if not isinstance(cell, dt.date | dt.time) else cell.isoformat()


def even(rows: Sequence[Sequence[Cell]]) -> list[Sequence[Cell]]:
    """Rows brought to one width, short ones filled with empty cells."""
    width = max(map(len, rows), default=0)
    return [row if len(row) == width else [*row, *[None] * (width - len(row))] for row in rows]

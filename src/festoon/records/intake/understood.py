"""What a table was understood to say: its readings, and every decision on the way, before anything is kept."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import NamedTuple

from festoon.model.dentition import Site
from festoon.model.reading import Datum, Method
from festoon.records.document import Faults
from festoon.records.intake.column_map import Column, ColumnMap, Holds
from festoon.records.intake.headings import Headings
from festoon.records.intake.sheets import Cell, Sheet, cell_text, column_letters


class ChartReading(NamedTuple):
    """One reading of a table."""

    case: str | None
    """Pseudonymous id, where the table has a column of them."""
    tooth: str
    """ISO 3950."""
    site: Site | None
    quantity: str
    value: float
    """mm."""
    se: float | None
    method: Method | None
    datum: Datum | None
    at: dt.date | None
    by: str | None
    flag: str | None
    line: int
    """Row of the table it came from."""


@dataclass(frozen=True)
class Said:
    """One distinct cell of a column and how it was understood."""

    cell: str
    read_as: str
    count: int
    first_line: int


@dataclass(frozen=True)
class ColumnUnderstood:
    """One column, as understood."""

    heading: str
    letters: str
    """Its name in a spreadsheet: A, B, …"""
    means: str
    said: tuple[Said, ...]
    """Every cell that was more than a bare number, and some that were not."""
    n_read: int
    n_blank: int


@dataclass(frozen=True)
class Intake:
    """What a table says. Nothing has been kept yet."""

    file: str
    chosen: ColumnMap
    """The map that was used, with all that was settled: what to save for the next table."""
    readings: tuple[ChartReading, ...]
    columns: tuple[ColumnUnderstood, ...]
    left_out: tuple[str, ...]
    """Headings that were not read."""
    notes: tuple[str, ...]
    declared_case: str | None = None
    """The case that the file itself names."""


@dataclass
class SheetReader:
    """The state of reading one sheet."""

    sheet: Sheet
    chosen: ColumnMap
    heads: Headings
    faults: Faults
    columns: dict[int, Column]
    """By index of the column, those that are read."""
    notes: list[str] = field(default_factory=list)
    understood: dict[int, ColumnUnderstood] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.lines = self.sheet.lines[self.heads.n_rows :]
        self._rows = self.sheet.rows[self.heads.n_rows :]

    @property
    def n_rows(self) -> int:
        """Rows of data."""
        return len(self._rows)

    def cells(self, column: int) -> list[Cell]:
        """The cells of a column, without its heading."""
        return [row[column] for row in self._rows]

    def index(self, holds: Holds) -> int | None:
        """The column that holds this; None where there is none."""
        return next((i for i, column in self.columns.items() if column.holds is holds), None)

    def refuse(self, column: int, row: int, found: str, expected: str, do: str) -> None:
        """Note a cell that cannot be used, with its place."""
        line = self.lines[row]
        letters = column_letters(column)
        place = self.sheet.places[self.heads.n_rows + row] if self.sheet.places else f"{letters}{line}"
        self.faults.add(
            where=(self.heads.names[column] or letters,),
            line=line,
            found=f"{found} in cell {place}",
            expected=expected,
            do=do,
        )

    def refuse_column(self, column: int | None, found: str, expected: str, do: str) -> None:
        """Note a whole column, or a whole table, that cannot be used."""
        where = () if column is None else (self.heads.names[column] or column_letters(column),)
        self.faults.add(where=where, line=self.lines[0] if self.lines else None, found=found, expected=expected, do=do)

    def tell(self, column: int, means: str, said: list[Said], n_read: int, n_blank: int) -> None:
        """Put down how a column was understood."""
        self.understood[column] = ColumnUnderstood(
            self.heads.names[column], column_letters(column), means, tuple(said), n_read, n_blank
        )


@dataclass
class Distinct:
    """The different cells of a column, each met once, and which of them every row holds."""

    cells: list[Cell]
    codes: list[int]
    """Per row: index into ``cells``."""
    counts: list[int]
    first_rows: list[int]

    @classmethod
    def of(cls, column: list[Cell]) -> Distinct:
        """The different cells of a column. 1 and "1" and 1.0 and True are four."""
        place: dict[tuple[type, Cell], int] = {}
        codes = [place.setdefault((type(cell), cell), len(place)) for cell in column]
        counts = [0] * len(place)
        first_rows = [-1] * len(place)
        for row, code in enumerate(codes):
            counts[code] += 1
            if first_rows[code] < 0:
                first_rows[code] = row
        return cls([cell for _, cell in place], codes, counts, first_rows)

    def text(self, code: int) -> str:
        """One of the cells as text."""
        return cell_text(self.cells[code])

"""Headings of a table: where they end, what merged groups they stand under, and what they seem to mean."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from festoon.model.dentition import Site
from festoon.model.reading import Datum, Method
from festoon.records.intake.column_map import Column, ColumnMap, Holds
from festoon.records.intake.quantities import is_level
from festoon.records.intake.sheets import Cell, Sheet, cell_text
from festoon.records.intake.vocabulary import meaning, phrase_meanings, plain

_NUMBER_LIKE = re.compile(r"[<>]?[+-]?[0-9][0-9.,' ]*(?:mm|cm)?")
_MOST_HEADER_ROWS = 6
_AGAIN = re.compile(r" \([0-9]+\)$")
_UNIT = re.compile(r"[\[(]?\b(mm|cm)\b[\])]?", re.IGNORECASE)


@dataclass(frozen=True)
class Headings:
    """The headings of a sheet, one for every column, and where its data begin."""

    names: tuple[str, ...]
    n_rows: int
    notes: tuple[str, ...] = ()


def headings_of(sheet: Sheet, n_rows: int | None) -> Headings:
    """The headings of a sheet; groups of merged headings are joined to what stands below them with `` / ``."""
    count = _header_rows(sheet) if n_rows is None else n_rows
    rows = [[cell_text(cell) for cell in row] for row in sheet.rows[:count]]
    _fill_merged(rows, sheet)
    used = [row for i, row in enumerate(rows) if not _is_title(row, rows[i + 1 :])]
    if len(used) > 1:
        for row in used[:-1]:
            _fill_right(row, used[-1])
    names = []
    for column in range(sheet.n_columns):
        parts = [row[column] for row in used if row[column]]
        names.append(" / ".join(dict.fromkeys(parts)))
    counts: Counter[str] = Counter()
    for i, name in enumerate(names):
        counts[name] += 1
        if name and counts[name] > 1:
            names[i] = f"{name} ({counts[name]})"
    notes = (
        [f"{count} rows of headings read as one: the groups above belong to every column below them"]
        if len(used) > 1
        else []
    )
    return Headings(tuple(names), count, tuple(notes))


def _header_rows(sheet: Sheet) -> int:
    for index, row in enumerate(sheet.rows[: _MOST_HEADER_ROWS + 1]):
        texts = [cell_text(cell) for cell in row]
        if any(_NUMBER_LIKE.fullmatch(text) for text in texts):
            return index
    return min(1, len(sheet.rows))


def _is_title(row: Sequence[str], below: Sequence[Sequence[str]]) -> bool:
    """A line above the headings that says what the table is."""
    return len({text for text in row if text}) <= 1 and any(len({t for t in later if t}) > 1 for later in below)


def _fill_merged(rows: list[list[str]], sheet: Sheet) -> None:
    for top, left, _, right in sheet.merged:
        if top < len(rows):
            for column in range(left, min(right + 1, sheet.n_columns)):
                rows[top][column] = rows[top][left]


def _fill_right(row: list[str], last: Sequence[str]) -> None:
    """A group stands over the empty cells to its right, as far as there are headings below them."""
    group = ""
    for column, text in enumerate(row):
        if text:
            group = text
        elif last[column]:
            row[column] = group


def proposed(headings: Headings, sheet: Sheet, chosen: ColumnMap) -> dict[str, Column]:
    """What each column seems to mean, by the usual words; what is not understood is absent.

    What ``chosen`` says of a column always wins; where it says anything of columns, nothing is proposed beside it.
    """
    if chosen.columns:
        return dict(chosen.columns)
    found = {}
    for index, name in enumerate(headings.names):
        column = _proposed(name, [row[index] for row in sheet.rows[headings.n_rows : headings.n_rows + 200]])
        if column is not None:
            found[name] = column
    return found


def _proposed(name: str, cells: Sequence[Cell]) -> Column | None:
    if plain(name) == "datum":  # a datum in English, a date in German: the cells say which
        is_date = any(re.match(r"[0-9]", cell_text(cell)) for cell in cells)
        return Column(holds=Holds.AT if is_date else Holds.DATUM)
    unit = _UNIT.search(name.replace("_", " "))
    # A heading that stands twice holds a second reading of the same: both are kept, and compared.
    body = _UNIT.sub(" ", _AGAIN.sub("", name).replace("_", " "))
    declared = re.fullmatch(r"(.*)\b(?:fdi|universal|palmer)\b\W*", body, re.IGNORECASE)
    holds = meaning("column", declared[1] if declared else body)
    if holds is not None:
        return Column(holds=Holds(holds), unit=_unit(unit) if holds == Holds.VALUE else None)
    said = phrase_meanings(body, ("quantity", "site", "method", "datum"))
    if said is None or "quantity" not in said:
        return None
    level = is_level(said["quantity"])
    if "datum" in said and not level:
        return None
    return Column(
        holds=Holds.READING,
        quantity=said["quantity"],
        site=Site(said["site"]) if "site" in said else None,
        method=Method(said["method"]) if "method" in said else None,
        datum=Datum(said["datum"]) if "datum" in said else None,
        unit=_unit(unit),
    )


def _unit(match: re.Match[str] | None) -> str | None:
    return match[1].lower() if match else None


def declared_notation(headings: Headings) -> str | None:
    """The notation that the heading of the tooth column names, as in ``tooth (fdi)``."""
    for name in headings.names:
        match = re.fullmatch(r"(.*)\b(fdi|universal|palmer)\b\W*", name.replace("_", " "), re.IGNORECASE)
        if match and meaning("column", match[1]) == Holds.TOOTH:
            return match[2].lower()
    return None

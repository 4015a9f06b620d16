"""Charts with the teeth across, as on paper: turned into a row for every number before anything else is understood.

    Zahn           | 13           | 12           | ...
                   | D  | B  | M  | D  | B  | M  |
    PD buccal      | 3  | 2  | 3  | 3  | 2  | 3  |
    Rezession      | 0  | 0  | 1  | ...

Each number keeps the name of the cell it stands in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from festoon.model.dentition import Notation, Site
from festoon.records.intake.sheets import Cell, Sheet, cell_text, column_letters
from festoon.records.intake.teeth import tooth_of
from festoon.records.intake.vocabulary import meaning, phrase_meanings

_ROWS_SEARCHED = 8
_FEWEST_TEETH = 2
_HEAD = ("tooth", "site", "quantity", "value", "method", "datum")
_LINGUAL = {
    Site.MESIAL: Site.MESIAL_LINGUAL,
    Site.MESIOFACIAL: Site.MESIOLINGUAL,
    Site.MIDFACIAL: Site.MIDLINGUAL,
    Site.DISTOFACIAL: Site.DISTOLINGUAL,
    Site.DISTAL: Site.DISTAL_LINGUAL,
}
"""A column says how far along the surface, a row that the surface is the lingual one."""


@dataclass(frozen=True)
class _Across:
    """Where the teeth of a chart stand."""

    row: int
    first: int
    """First column with a tooth."""
    teeth: tuple[Cell, ...]
    """Of every column from ``first``."""


def turned(sheet: Sheet) -> Sheet:
    """A chart with its teeth across as rows of numbers; any other sheet as it is."""
    across = _find(sheet)
    if across is None:
        return sheet
    sites, below = _sites(sheet, across)
    rows: list[list[Cell]] = [list(_HEAD)]
    lines, places = [sheet.lines[across.row]], [""]
    left_out: list[str] = []
    group = ""
    for index in range(below, len(sheet.rows)):
        row = sheet.rows[index]
        label = " ".join(text for cell in row[: across.first] if (text := cell_text(cell)))
        said = _label(label) or (_label(f"{group} {label}") if group else None)
        if said is None:
            if any(cell_text(cell) for cell in row[across.first :]):
                left_out.append(f'"{label}"' if label else f"line {sheet.lines[index]}")
            elif meaning("quantity", label):
                group = label  # a heading of the rows below it
            continue
        if label and "site" not in said:
            group = label
        for offset, tooth in enumerate(across.teeth):
            column = across.first + offset
            if not cell_text(tooth) or not cell_text(row[column]):
                continue
            site = _site(sites[offset], said.get("site"))
            rows.append([tooth, site, said["quantity"], row[column], said.get("method"), said.get("datum")])
            lines.append(sheet.lines[index])
            places.append(f"{column_letters(column)}{sheet.lines[index]}")
    notes = [*sheet.notes, "teeth across: every row of the chart holds one quantity, every column one tooth"]
    if left_out:
        notes.append(f"rows left out, not understood: {', '.join(left_out)}")
    declared = sheet.declared | {"layout": "across"}
    return replace(
        sheet, rows=rows, lines=lines, notes=tuple(notes), merged=(), declared=declared, places=tuple(places)
    )


def _find(sheet: Sheet) -> _Across | None:
    """The row of teeth: nothing but labels behind its first cells, which are none."""
    for index, row in enumerate(sheet.rows[:_ROWS_SEARCHED]):
        filled = [column for column, cell in enumerate(row) if cell_text(cell)]
        labelled = [column for column in filled if _is_label(row[column])]
        if len({cell_text(row[column]) for column in labelled}) < _FEWEST_TEETH or labelled[0] == 0:
            continue
        first = labelled[0]
        if filled[len(filled) - len(labelled) :] != labelled:
            continue
        return _Across(index, first, tuple(_filled_right(row[first:], sheet, index)))
    return None


def _is_label(cell: Cell) -> bool:
    return any(tooth_of(cell, notation) is not None for notation in Notation)


def _filled_right(cells: Sequence[Cell], sheet: Sheet, row: int) -> list[Cell]:
    """A tooth stands over the empty cells to its right, as far as sites are named below them."""
    below = sheet.rows[row + 1] if row + 1 < len(sheet.rows) else ()
    start = len(below) - len(cells)
    filled: list[Cell] = []
    last: Cell = None
    for offset, cell in enumerate(cells):
        if cell_text(cell):
            last = cell
        named = bool(below) and _site_word(below[start + offset]) is not None
        filled.append(cell if cell_text(cell) else last if named else None)
    return filled


def _sites(sheet: Sheet, across: _Across) -> tuple[list[Site | None], int]:
    """The site of every column, where a row under the teeth names them; and where the numbers begin."""
    below = across.row + 1
    none: list[Site | None] = [None] * len(across.teeth)
    if below >= len(sheet.rows):
        return none, below
    words = [_site_word(cell) for cell in sheet.rows[below][across.first :]]
    filled = [cell for cell in sheet.rows[below][across.first :] if cell_text(cell)]
    if filled and sum(word is not None for word in words) == len(filled):
        return words, below + 1
    return none, below


def _site_word(cell: Cell) -> Site | None:
    word = meaning("site", cell_text(cell))
    return Site(word) if word else None


def _label(text: str) -> dict[str, str] | None:
    said = phrase_meanings(text, ("quantity", "site", "method", "datum"))
    return said if said and "quantity" in said else None


def _site(of_column: Site | None, of_row: str | None) -> str | None:
    if of_column is None or of_row is None:
        return of_row or of_column
    if of_row == Site.MIDLINGUAL and of_column in _LINGUAL:
        return _LINGUAL[of_column]
    if of_row == Site.MIDFACIAL and of_column in _LINGUAL:
        return of_column
    return f"{of_row} {of_column}"  # two words for one site: refused as such

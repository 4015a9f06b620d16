"""XLSX into cells, by openpyxl. Numbers and dates keep their kind; formulas give their last stored value."""

from __future__ import annotations

import io
import zipfile
from typing import TYPE_CHECKING
from xml.etree.ElementTree import ParseError

from festoon.records.document import Faults, shown
from festoon.records.intake.sheets import MAX_COLUMNS, MAX_ROWS, Cell, Sheet, even

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

_MOST_UNPACKED = 400_000_000
_MOST_RATIO = 200
"""A workbook of numbers packs to about a tenth."""


def read_workbook(data: bytes, faults: Faults, sheet: str | None = None) -> Sheet:
    """One sheet of a workbook.

    Raises
    ------
    InputRefusedError
        If it is no workbook, unpacks to something huge, or has several sheets with cells and none was named.
    """
    _check_size(data, faults)
    from openpyxl import load_workbook
    from openpyxl.utils.exceptions import InvalidFileException
    from openpyxl.worksheet.worksheet import Worksheet

    try:
        book = load_workbook(io.BytesIO(data), data_only=True)
    except (InvalidFileException, zipfile.BadZipFile, KeyError, ValueError, ParseError, OSError, TypeError):
        _no_workbook(faults)
    sheets = [s for s in book.worksheets if isinstance(s, Worksheet)]
    filled = [s for s in sheets if s.sheet_state == "visible" and _has_cells(s)]
    chosen = next((s for s in filled if s.title == sheet), None) if sheet else filled[0] if len(filled) == 1 else None
    if chosen is None:
        titles = ", ".join(shown(str(s.title)) for s in filled) or "none with cells"
        faults.refuse(
            line=None,
            found=f"the sheets {titles}",
            expected="one sheet" if not sheet else f'the sheet "{sheet}"',
            do="Name the one to be read with --sheet.",
        )
    rows: list[list[Cell]] = []
    lines: list[int] = []
    for number, row in enumerate(chosen.iter_rows(values_only=True), start=1):
        if any(cell is not None and cell != "" for cell in row):
            rows.append([cell if isinstance(cell, Cell) else _as_text(cell) for cell in row])
            lines.append(number)
        if number > MAX_ROWS or len(row) > MAX_COLUMNS:
            faults.refuse(line=number, found="too many rows or columns", expected="a table", do="Split it.")
    notes = [f"the sheet {shown(str(chosen.title))}"]
    if any(s.sheet_state != "visible" for s in sheets):
        notes.append("hidden sheets were left out")
    place = {line: index for index, line in enumerate(lines)}
    merged = tuple(
        (place[r.min_row], r.min_col - 1, place.get(r.max_row, place[r.min_row]), r.max_col - 1)
        for r in chosen.merged_cells.ranges
        if r.min_row in place
    )
    return Sheet(faults.file, even(rows), lines, tuple(notes), merged)


def _has_cells(sheet: Worksheet) -> bool:
    return any(cell is not None for row in sheet.iter_rows(values_only=True) for cell in row)


def _as_text(cell: object) -> str:
    """Rich text, a decimal or a time span, as the sheet shows it."""
    return cell.decode("utf-8", "replace") if isinstance(cell, bytes) else str(cell)


def _check_size(data: bytes, faults: Faults) -> None:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            unpacked = sum(entry.file_size for entry in packed.infolist())
    except (zipfile.BadZipFile, OSError, ValueError):
        _no_workbook(faults)
    if unpacked > _MOST_UNPACKED or unpacked > _MOST_RATIO * max(len(data), 50_000):
        faults.refuse(
            line=None,
            found=f"a workbook of {len(data)} bytes that unpacks to {unpacked}",
            expected="a workbook",
            do="Do not open it: a small file that unpacks to a huge one is made to fill a disk.",
        )


def _no_workbook(faults: Faults) -> None:
    faults.refuse(
        line=None,
        found="no workbook, or a damaged one",
        expected="an .xlsx file",
        do="Open it in the spreadsheet program and save it again, or save it as CSV.",
    )

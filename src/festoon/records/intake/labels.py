"""Columns of labels: teeth, sites, methods, datums, days, hands, ids of cases."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from typing import TypeVar

from festoon.model.dentition import Notation, Site
from festoon.model.reading import Datum, Method
from festoon.records.document import shown
from festoon.records.intake.column_map import Holds
from festoon.records.intake.sheets import FORMULA_STARTS, Cell, cell_text
from festoon.records.intake.teeth import question, tooth_of
from festoon.records.intake.understood import Distinct, Said, SheetReader
from festoon.records.intake.vocabulary import meaning, phrase_meanings

T = TypeVar("T")
_SHOWN_SAMPLES = 200
_CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
_SIX = {
    Site.MESIOFACIAL: Site.MESIAL,
    Site.DISTOFACIAL: Site.DISTAL,
    Site.MESIOLINGUAL: Site.MESIAL_LINGUAL,
    Site.DISTOLINGUAL: Site.DISTAL_LINGUAL,
}
"""A six-site chart reads its corners between the teeth, so they are the interproximal sites of the ten."""


def read_labels(
    reader: SheetReader,
    column: int | None,
    means: str,
    convert: Callable[[Cell], T | None],
    expected: str,
    do: str,
) -> list[T | None]:
    """The labels of a column, row by row; None where the cell is empty. What cannot be converted is refused."""
    if column is None:
        return [None] * reader.n_rows
    distinct = Distinct.of(reader.cells(column))
    converted: list[T | None] = []
    said: list[Said] = []
    n_read = n_blank = 0
    for code, cell in enumerate(distinct.cells):
        text = distinct.text(code)
        value = convert(cell) if text else None
        converted.append(value)
        n_read += distinct.counts[code] * (value is not None)
        n_blank += distinct.counts[code] * (not text)
        row = distinct.first_rows[code]
        if text and value is None:
            reader.refuse(column, row, f"{shown(text)} ({distinct.counts[code]} times, first)", expected, do)
        if len(said) < _SHOWN_SAMPLES:
            words = "not given" if not text else "refused" if value is None else cell_text(str(value))
            said.append(Said(text, words, distinct.counts[code], reader.lines[row]))
    reader.tell(column, means, said, n_read, n_blank)
    return [converted[code] for code in distinct.codes]


def read_teeth(reader: SheetReader, notation: Notation) -> list[str | None]:
    """The teeth of the rows in ISO 3950."""

    def convert(cell: Cell) -> str | None:
        tooth = tooth_of(cell, notation)
        return None if tooth is None else tooth.fdi

    return read_labels(
        reader,
        reader.index(Holds.TOOTH),
        f"tooth, declared as {notation}, kept in ISO 3950",
        convert,
        f"a permanent tooth in {notation}",
        f"Check the label. {question([cell]) if (cell := _first_other(reader, notation)) else ''}".strip(),
    )


def _first_other(reader: SheetReader, notation: Notation) -> Cell:
    column = reader.index(Holds.TOOTH)
    cells = [] if column is None else Distinct.of(reader.cells(column)).cells
    return next((cell for cell in cells if cell_text(cell) and tooth_of(cell, notation) is None), None)


def corner_sites(reader: SheetReader) -> set[Site]:
    """Every site that the table names, by its words or by its column map."""
    found = {column.site for column in reader.columns.values() if column.site is not None}
    index = reader.index(Holds.SITE)
    if index is not None:
        for cell in Distinct.of(reader.cells(index)).cells:
            site = site_named(cell)
            if site is not None:
                found.add(site)
    return found


def site_named(cell: Cell) -> Site | None:
    """The site that a cell names; None where it names none."""
    text = cell_text(cell)
    whole = meaning("site", text)
    if whole is None:
        said = phrase_meanings(text, ("site",))
        whole = said["site"] if said else None
    return None if whole is None else Site(whole)


def settle_sites(reader: SheetReader) -> bool:
    """Is this a six-site chart, whose corners are the sites between the teeth?"""
    if reader.chosen.sites is not None or reader.sheet.is_own:
        return reader.chosen.sites == "six"
    named = corner_sites(reader)
    corners = named & set(_SIX)
    if not corners:
        return False
    if named & set(_SIX.values()):
        reader.notes.append("sites: corners and interproximal sites both named, so corners are line angles")
        return False
    reader.notes.append(
        "sites: six to a tooth, so that mesiobuccal and the like are read as the site between the teeth "
        "(mesial, distal and their lingual pair); declare sites: ten if they are line angles"
    )
    return True


def as_kept(site: Site | None, is_six: bool) -> Site | None:
    """A site of the table among the ten."""
    return _SIX.get(site, site) if site is not None and is_six else site


def read_sites(reader: SheetReader, is_six: bool) -> list[Site | None]:
    """The sites of the rows."""
    return read_labels(
        reader,
        reader.index(Holds.SITE),
        "site",
        lambda cell: as_kept(site_named(cell), is_six),
        "one of the ten sites, or its usual name in English, German, French, Spanish, Portuguese or Italian",
        f"Write one of {', '.join(Site)}.",
    )


def read_quantities(reader: SheetReader) -> list[str | None]:
    """What was read, row by row, in a table with a row for every reading."""
    return read_labels(
        reader,
        reader.index(Holds.QUANTITY),
        "what was read",
        lambda cell: meaning("quantity", cell_text(cell)),
        "a quantity by its trade name",
        "Write its name as festoon schema readings lists it, or recession or attachment.",
    )


def read_methods(reader: SheetReader) -> list[Method | None]:
    """How each row was read."""
    return read_labels(
        reader,
        reader.index(Holds.METHOD),
        "method",
        lambda cell: Method(word) if (word := meaning("method", cell_text(cell))) else None,
        "a method",
        f"Write one of {', '.join(Method)}.",
    )


def read_datums(reader: SheetReader) -> list[Datum | None]:
    """From what each row's level was read."""
    return read_labels(
        reader,
        reader.index(Holds.DATUM),
        "datum of the level",
        lambda cell: Datum(word) if (word := meaning("datum", cell_text(cell))) else None,
        "a datum",
        f"Write one of {', '.join(Datum)}.",
    )


def read_days(reader: SheetReader) -> list[dt.date | None]:
    """The day of each row."""
    return read_labels(
        reader,
        reader.index(Holds.AT),
        "day of the reading",
        lambda cell: _day(cell, reader.chosen.days),
        "a day, year first: 2026-03-02",
        "Write it so, or declare days: dmy or days: mdy.",
    )


def _day(cell: Cell, order: str | None) -> dt.date | None:
    if isinstance(cell, dt.datetime):
        return cell.date()
    if isinstance(cell, dt.date):
        return cell
    text = cell_text(cell)
    year_first = re.fullmatch(r"([0-9]{4})-([0-9]{1,2})-([0-9]{1,2})(?:[T ]00:00(?::00)?)?", text)
    other = re.fullmatch(r"([0-9]{1,2})[./-]([0-9]{1,2})[./-]([0-9]{4})", text)
    try:
        if year_first:
            return dt.date(int(year_first[1]), int(year_first[2]), int(year_first[3]))
        if other and order is not None:
            day, month = (other[1], other[2]) if order == "dmy" else (other[2], other[1])
            return dt.date(int(other[3]), int(month), int(day))
    except ValueError:
        return None
    return None


def read_codes(reader: SheetReader, holds: Holds) -> list[str | None]:
    """Pseudonymous codes: of cases or of who read."""
    prefix = (reader.chosen.case_prefix or "") if holds is Holds.CASE else ""

    def convert(cell: Cell) -> str | None:
        text = prefix + cell_text(cell)
        return text if _CODE.fullmatch(text) else None

    return read_labels(
        reader,
        reader.index(holds),
        "pseudonymous id of the case" if holds is Holds.CASE else "who read, as a pseudonymous code",
        convert,
        "letters, digits, dot, dash and underscore, at most 64: a code, no name",
        "Replace names by codes before the table leaves the practice's own list.",
    )


def read_flags(reader: SheetReader) -> list[str | None]:
    """Remarks beside the numbers."""
    is_guarded = reader.sheet.is_own and "format" not in reader.sheet.declared

    def convert(cell: Cell) -> str | None:
        text = cell_text(cell)
        if is_guarded and text.startswith("'") and text.lstrip("'").startswith(FORMULA_STARTS):
            text = text[1:]
        return text if len(text) <= 500 and text.isprintable() else None

    return read_labels(
        reader,
        reader.index(Holds.FLAG),
        "remark",
        convert,
        "a remark of at most 500 characters on one line",
        "Shorten it.",
    )

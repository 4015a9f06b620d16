"""How one cell is understood as a number. Nothing is guessed: what could be read two ways is refused.

Each distinct cell of a column is understood once, so a long table costs no more than its different values.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from festoon.records.intake.sheets import Cell

_MINUS = str.maketrans({"−": "-", "–": "-", "\u00a0": " ", "\u202f": " ", "’": "'"})
_UNIT = r"(?:mm|cm|dm|m|µm|μm|um|in|inch|inches|\")"
_WITH_UNIT = re.compile(rf"(.*?[0-9])\s*({_UNIT})\.?", re.IGNORECASE)
_PLAIN = re.compile(r"[+-]?[0-9]+")
_ONE_MARK = re.compile(r"[+-]?[0-9]+[.,][0-9]+")
_EXPONENT = re.compile(r"[+-]?[0-9]+(?:\.[0-9]+)?[eE][+-]?[0-9]{1,3}")
_GROUPED = {
    # Thousands marks, with the decimal mark that can stand beside them.
    "point": re.compile(r"[+-]?[0-9]{1,3}(?:(,| |')[0-9]{3})(?:\1[0-9]{3})*(?:\.[0-9]+)?"),
    "comma": re.compile(r"[+-]?[0-9]{1,3}(?:(\.| |')[0-9]{3})(?:\1[0-9]{3})*(?:,[0-9]+)?"),
}
_BOUND = re.compile(r"([<>≤≥]=?|bis|unter|über|under|over|up to)\s*(.+)", re.IGNORECASE)
_RANGE = re.compile(r"([0-9]+(?:[.,][0-9]+)?)\s*(?:-|–|to|bis|à|a|\.\.|…)\s*([0-9]+(?:[.,][0-9]+)?)", re.IGNORECASE)
_MONTHS = r"jan|feb|fév|fev|mar|mär|apr|avr|abr|may|mai|mag|jun|jui|giu|jul|lug|aug|aoû|ago|sep|set|oct|okt|out|ott|nov|dec|dez|dic|déc"
_DATE = re.compile(
    r"[0-9]{4}-[0-9]{1,2}-[0-9]{1,2}(?:[T ].*)?|[0-9]{1,2}[./-][0-9]{1,2}[./-](?:[0-9]{4}|[0-9]{2})"
    rf"|[0-9]{{1,2}}[. -]*(?:{_MONTHS})[a-zé.]*[ -]*[0-9]*|(?:{_MONTHS})[a-zé.]*[ -]*[0-9]+"
    r"|[0-9]{1,2}/[0-9]{1,2}|[0-9]{1,2}\.[0-9]{1,2}\.",
    re.IGNORECASE,
)
_BLANKS = {
    "", "-", "--", "–", "—", "?", "n/a", "na", "n.a.", "nan", "null", "none", "not measured", "n.m.", "nm", "missing",
    "unknown", "k.a.", "nicht gemessen", "n.g.", "fehlt", "non mesuré", "nr", "no medido", "n.d.", "não medido",
    "nao medido", "non misurato", "#n/a", "#nv",
}  # fmt: skip
"""Words for *not measured*. A blank is unknown, never zero."""
_SERIAL_DAYS = (36_526, 73_050)
"""Spreadsheet day numbers of the years 2000 to 2099: no mouth has a number this large."""
_DAY_ZERO = dt.date(1899, 12, 30)


class Kind(StrEnum):
    """What a cell was understood as."""

    NUMBER = "number"
    BLANK = "blank"
    """Not measured: unknown, never zero."""
    BOUND = "bound"
    """``<1``: below or above a number."""
    RANGE = "range"
    """``2-3``."""
    DATE = "date"
    """A number that a spreadsheet turned into a date, most likely."""
    AMBIGUOUS = "ambiguous"
    """A comma or point that may be a decimal or a thousands mark."""
    UNIT = "unit"
    """A number with a unit that is not the declared one."""
    NOT_UNDERSTOOD = "not understood"


@dataclass(frozen=True, slots=True)
class Understood:
    """One cell, understood."""

    kind: Kind
    value: float = math.nan
    low: float = math.nan
    """Lower end of a range or bound; nan where there is none."""
    high: float = math.nan
    words: str = ""
    """What to tell, and for a refused cell what to do."""


BLANK = Understood(Kind.BLANK, words="not measured")


@dataclass(frozen=True)
class NumberStyle:
    """How a file writes its numbers."""

    decimal: str | None
    """``point``, ``comma``, or None while nobody knows."""
    unit: str = "mm"
    """Unit of bare numbers."""
    blanks: frozenset[str] = frozenset()
    """Further words for not measured, in lower case."""


def decimal_marks(cells: Iterable[Cell]) -> tuple[bool, bool]:
    """Does any cell prove a decimal comma, does any prove a decimal point?"""
    comma = point = False
    for cell in cells:
        if not isinstance(cell, str):
            continue
        text = _bare(cell)
        unit = _WITH_UNIT.fullmatch(text)
        text = unit[1] if unit else text
        parts = [part for bound in re.split(r"[<>≤≥=~ -]", text) if (part := bound)]
        for part in parts:
            marks = [mark for mark in part if mark in ".,"]
            if not marks or not re.fullmatch(r"[0-9][0-9.,']*", part):
                continue
            tail = re.split(r"[.,]", part)[-1]
            if len(set(marks)) == 1 and (len(marks) > 1 or (len(tail) == 3 and len(part) <= 7 and part[0] != "0")):
                continue  # 1.234 and 1,234 prove nothing
            comma |= marks[-1] == ","
            point |= marks[-1] == "."
    return comma, point


def understand(cell: Cell, style: NumberStyle) -> Understood:
    """What one cell says, as a number in mm."""
    if cell is None:
        return BLANK
    if isinstance(cell, bool):
        return Understood(Kind.NOT_UNDERSTOOD, words="yes or no is no number")
    if isinstance(cell, int | float):
        return _number(float(cell), "", style)
    if isinstance(cell, dt.date | dt.datetime | dt.time):
        return _date(cell)
    text = _bare(cell)
    if text.lower() in _BLANKS or text.lower() in style.blanks:
        return BLANK
    with_unit = _WITH_UNIT.fullmatch(text)
    body, unit = (with_unit[1].strip(), with_unit[2].lower()) if with_unit else (text, "")
    value = _plain(body, style)
    if value is not None:
        return _number(value, unit, style)
    if _is_ambiguous(body, style):
        return Understood(
            Kind.AMBIGUOUS, words="the mark may part thousands or decimals: say decimal: comma or decimal: point"
        )
    bound = _BOUND.fullmatch(body)
    if bound and (limit := _plain(bound[2], style)) is not None:
        below = bound[1].lower() in ("<", "≤", "<=", "≤=", "bis", "unter", "under", "up to")
        scale = _scale(unit, style)
        if scale is None:
            return _other_unit(unit, limit)
        return Understood(
            Kind.BOUND,
            low=0.0 if below else limit * scale,
            high=limit * scale if below else math.inf,
            words=f"{'at most' if below else 'at least'} {limit * scale:g} mm, and no number",
        )
    if _DATE.fullmatch(text):
        return _date(text)
    span = _RANGE.fullmatch(body)
    if span:
        low, high = _plain(span[1], style), _plain(span[2], style)
        scale = _scale(unit, style)
        if low is not None and high is not None and low < high and scale is not None:
            return Understood(
                Kind.RANGE, low=low * scale, high=high * scale, words=f"{low * scale:g} to {high * scale:g} mm"
            )
    return Understood(Kind.NOT_UNDERSTOOD, words="write the bare number, or leave the cell empty: not measured")


def _bare(text: str) -> str:
    return text.translate(_MINUS).strip().strip("'").strip()


def _plain(text: str, style: NumberStyle) -> float | None:
    """A bare number in the file's style; None where it is none, or where its mark is not settled."""
    if _PLAIN.fullmatch(text):
        return float(text)
    if style.decimal is None:
        return None
    if style.decimal == "point" and _EXPONENT.fullmatch(text):
        return float(text)
    mark = "," if style.decimal == "comma" else "."
    if _ONE_MARK.fullmatch(text) and mark in text:
        return float(text.replace(",", "."))
    if _GROUPED[style.decimal].fullmatch(text):
        other = "." if mark == "," else ","
        return float(re.sub(rf"[ '{re.escape(other)}]", "", text).replace(mark, "."))
    return None


def _is_ambiguous(text: str, style: NumberStyle) -> bool:
    return style.decimal is None and bool(
        _ONE_MARK.fullmatch(text) or any(grouped.fullmatch(text) for grouped in _GROUPED.values())
    )


_TO_MM = {"mm": 1.0, "cm": 10.0}


def _scale(unit: str, style: NumberStyle) -> float | None:
    """Factor to mm; None where a cell's own unit is not the declared one."""
    return _TO_MM[style.unit] if unit in ("", style.unit) else 1.0 if unit == "mm" else None


def _number(value: float, unit: str, style: NumberStyle) -> Understood:
    if not math.isfinite(value):
        return BLANK if math.isnan(value) else Understood(Kind.NOT_UNDERSTOOD, words="no reading is infinite")
    if not unit and _SERIAL_DAYS[0] <= value <= _SERIAL_DAYS[1] and value.is_integer():
        return _date(_DAY_ZERO + dt.timedelta(days=int(value)))
    scale = _scale(unit, style)
    if scale is None:
        return _other_unit(unit, value)
    words = f"{value:g} cm converted to {value * scale:g} mm" if scale != 1 else ""
    # 0.83 cm is 8.3 mm, not 8.299999999999999: no table has more than nine decimals.
    return Understood(Kind.NUMBER, value if scale == 1 else round(value * scale, 9), words=words)


def _other_unit(unit: str, value: float) -> Understood:
    converted = f" ({value:g} cm would be {value * 10:g} mm)" if unit == "cm" else ""
    return Understood(
        Kind.UNIT, words=f"a number in {unit}{converted}: say unit: {unit} if the whole column is, or write mm"
    )


def _date(cell: str | dt.date | dt.datetime | dt.time) -> Understood:
    days = ""
    if isinstance(cell, dt.date):
        days = f": was it {cell.day}.{cell.month} or {cell.month}.{cell.day}?"
    return Understood(
        Kind.DATE,
        words=f"a date; a spreadsheet may have made it from a number{days} Find the reading itself and write that",
    )

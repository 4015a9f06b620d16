"""What to tell somebody who wrote something else where a number belongs."""

from __future__ import annotations

import math
import re

from festoon.records.document import Scalar

_NUMBER = r"[-+]?[0-9]+(?:[.,][0-9]+)?"
_MONTH = r"(?:jan|feb|mar|apr|may|mai|jun|jul|aug|sep|oct|okt|nov|dec|dez)[a-z]*"
_DATE = re.compile(
    r"[0-9]{4}-[0-9]{1,2}(?:-[0-9]{1,2}(?:[T ].*)?)?"
    r"|[0-9]{1,2}[./-][0-9]{1,2}[./-](?:[0-9]{2}|[0-9]{4})"
    rf"|[0-9]{{1,2}}[ .-]*{_MONTH}[ .-]*[0-9]*|{_MONTH}[ .-]*[0-9]+",
    re.IGNORECASE,
)
_UNITS = r"mm|cm|dm|m|µm|μm|um|micron|microns|in|inch|inches|\"|''|deg|degrees|°"
_WITH_UNIT = re.compile(rf"({_NUMBER})\s*({_UNITS})\.?", re.IGNORECASE)
_NOT_MEASURED = re.compile(
    r"-+|–|—|\?+|n/?a|na|none|unknown|not (?:measured|known|done|taken)|missing|nil|tbd|", re.IGNORECASE
)
_TO_MM = {"cm": 10.0, "dm": 100.0, "µm": 0.001, "μm": 0.001, "um": 0.001}

# Each row: what the text looks like, and what to do about it.
_SHAPES: tuple[tuple[re.Pattern[str], str], ...] = (
    (re.compile(r"[-+]?[0-9]+,[0-9]+"), "Write it with a decimal point, not a comma."),
    (
        re.compile(r"[-+]?\.?(?:nan|inf|infinity)", re.IGNORECASE),
        "Leave the key out where nothing was measured: no reading is infinite or not a number.",
    ),
    (_NOT_MEASURED, "Leave the key out, or write null: not measured is unknown, never a number."),
    (_DATE, "A spreadsheet may have turned the number into a date; find the reading itself and write that."),
    (re.compile(r"[-+]?(?:[0-9]+\.|\.[0-9]+)"), "Write digits on both sides of the point: one may be missing."),
    (
        re.compile(r"[-+]?0[0-9]+(?:\.[0-9]*)?"),
        "Write it without leading zeros: some programs read 012 as ten.",
    ),
    (re.compile(r"[0-9]+(?::[0-9]+)+(?:\.[0-9]*)?"), "Write one plain number: some programs read 1:30 as ninety."),
    (
        re.compile(r"[-+]?[0-9]{1,3}(?:[_'’ ][0-9]{3})+(?:\.[0-9]*)?|[-+]?[0-9]+(?:_[0-9]+)+"),
        "Write the digits without marks between them.",
    ),
    (
        re.compile(rf"{_NUMBER}\s*(?:-|–|to|/|\.\.)\s*{_NUMBER}"),
        "Write one number, not a range; its doubt goes into se in the long form.",
    ),
    (
        re.compile(rf"[<>≤≥~≈±]=?\s*{_NUMBER}|{_NUMBER}\s*(?:\?+|\*|\+/?-.*|±.*|approx\.?|ca\.?)"),
        "Write the bare number; its doubt goes into se, a remark into flag, in the long form.",
    ),
    (re.compile(r"0[xob][0-9a-f]+", re.IGNORECASE), "Write the number in ordinary digits."),
)


def not_a_number(node: Scalar, unit: str) -> str:
    """What to do about a scalar that is no usable number.

    Parameters
    ----------
    node : Scalar
        What stands in the file.
    unit : str
        The unit wanted, in words, e.g. " of millimetres"; empty where the place has none.
    """
    if isinstance(node.value, bool):
        return "Write the number that was read; true and false are answers to questions."
    if isinstance(node.value, float) and not math.isfinite(node.value):
        return "No reading is infinite or not a number: leave the key out where nothing was measured."
    if isinstance(node.value, int | float):
        return "Write a whole number."
    if node.value is None:
        return "Take it out: what was not measured is unknown, never a number."
    text = node.text.strip()
    with_unit = _WITH_UNIT.fullmatch(text)
    if with_unit:
        return _bare(with_unit[1].replace(",", "."), with_unit[2].lower(), unit)
    for shape, advice in _SHAPES:
        if shape.fullmatch(text):
            return advice
    if node.is_quoted and re.fullmatch(_NUMBER, text):
        return "Take the quotes away: in quotes it is text."
    return f"Write the bare number{unit}, or leave the key out where nothing was measured."


def _bare(value: str, written: str, unit: str) -> str:
    factor = _TO_MM.get(written)
    if factor is not None and unit == " of millimetres":
        return (
            f"Write the bare number{unit}: {value} {written} would be {float(value) * factor:g}. "
            "festoon never converts a unit in silence."
        )
    return f"Write the bare number{unit}, without a unit: the key names it."

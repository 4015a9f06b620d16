"""Readings as a table that :mod:`festoon.records.intake` reads back unchanged."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Iterable
from typing import Any

from festoon.records.intake.sheets import FORMULA_STARTS, OWN_HEADINGS, READING_KEYS, READINGS_FORMAT
from festoon.records.intake.understood import ChartReading


def write_readings(readings: Iterable[ChartReading], case: str, kind: str) -> bytes:
    """Readings of one case as ``csv``, ``tsv``, ``xlsx``, ``json`` or ``yaml``.

    Raises
    ------
    ValueError
        If the kind is none of these.
    """
    rows = [_row(reading) for reading in readings]
    if kind not in _WRITERS:
        raise ValueError(f"no kind of table {kind!r}: {', '.join(_WRITERS)}")
    return _WRITERS[kind](rows, case)


def _row(reading: ChartReading) -> dict[str, Any]:
    made = {key: getattr(reading, key, None) for key in READING_KEYS} | {"unit": "mm"}
    made["at"] = reading.at.isoformat() if reading.at else None
    # Enumerations as the words they are, so that every writer prints them alike.
    return {key: str(value) if isinstance(value, str) else value for key, value in made.items()}


def _delimited(delimiter: str) -> Callable[[list[dict[str, Any]], str], bytes]:
    def write(rows: list[dict[str, Any]], case: str) -> bytes:  # noqa: ARG001 - a flat table has no place for it
        text = io.StringIO()
        writer = csv.writer(text, delimiter=delimiter, lineterminator="\r\n")
        writer.writerow(OWN_HEADINGS)
        for row in rows:
            cells = ["" if row[key] is None else _exact(row[key]) for key in READING_KEYS]
            writer.writerow(
                [guarded(cell) if key == "flag" else cell for key, cell in zip(READING_KEYS, cells, strict=True)]
            )
        return text.getvalue().encode("utf-8-sig")

    return write


def guarded(text: str) -> str:
    """A remark that a spreadsheet would run as a formula, with an apostrophe before it; the reader takes it off."""
    return f"'{text}" if text.lstrip("'").startswith(FORMULA_STARTS) else text


def _exact(value: Any) -> str:
    """A number to the last bit."""
    return repr(value) if isinstance(value, float) else str(value)


def _workbook(rows: list[dict[str, Any]], case: str) -> bytes:
    from openpyxl import Workbook

    book = Workbook(write_only=True)
    sheet = book.create_sheet(title=case[:31])
    sheet.append(OWN_HEADINGS)
    for row in rows:
        sheet.append(
            [guarded(row[key]) if key == "flag" and row[key] else _kept_exact(row[key]) for key in READING_KEYS]
        )
    packed = io.BytesIO()
    book.save(packed)
    return packed.getvalue()


def _kept_exact(value: Any) -> Any:
    """A number as such, unless the workbook's sixteen digits would change its last bit: then as text."""
    return repr(value) if isinstance(value, float) and float(f"{value:.16g}") != value else value


def _document(rows: list[dict[str, Any]], case: str) -> dict[str, Any]:
    readings = [{key: value for key, value in row.items() if value is not None} for row in rows]
    return {"format": READINGS_FORMAT, "case": case, "readings": readings}


def _json(rows: list[dict[str, Any]], case: str) -> bytes:
    return (json.dumps(_document(rows, case), indent=1, ensure_ascii=False) + "\n").encode()


def _yaml(rows: list[dict[str, Any]], case: str) -> bytes:
    """JSON is YAML; quoted words cannot be taken for anything else."""
    lines = [f'format: "{READINGS_FORMAT}"', f'case: "{case}"', "readings:"]
    lines += [f"- {json.dumps(row, ensure_ascii=False)}" for row in _document(rows, case)["readings"]]
    return ("\n".join(lines) + "\n").encode()


_WRITERS: dict[str, Callable[[list[dict[str, Any]], str], bytes]] = {
    "csv": _delimited(","),
    "tsv": _delimited("\t"),
    "xlsx": _workbook,
    "json": _json,
    "yaml": _yaml,
}

"""CSV, TSV and the like into cells: bytes to text, text to rows by the standard library's reader."""

from __future__ import annotations

import csv
import gzip
import io
import zlib
from collections import Counter

from festoon.records.document import Faults
from festoon.records.intake.sheets import MAX_COLUMNS, MAX_ROWS, Sheet, even

_DELIMITERS = {";": "semicolon", "\t": "tab", ",": "comma", "|": "bar"}
MAX_TABLE_BYTES = 400_000_000
"""Unpacked; a table of a million teeth stays below that."""
_SAMPLE_LINES = 200
_MARKS = {b"\xef\xbb\xbf": "utf-8-sig", b"\xff\xfe": "utf-16", b"\xfe\xff": "utf-16"}
"""Byte-order marks, and the encoding each one says."""


def read_delimited(data: bytes, faults: Faults) -> Sheet:
    """The table in the bytes of a text file, packed with gzip or not.

    Raises
    ------
    InputRefusedError
        If it is no text, is too large, or has a quotation mark that never closes.
    """
    notes: list[str] = []
    text = _decoded(_unpacked(data, faults), faults, notes)
    delimiter = _delimiter(text)
    notes.append(f"columns parted by {_DELIMITERS[delimiter]}")
    csv.field_size_limit(100_000)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    rows: list[list[str]] = []
    lines: list[int] = []
    line = 1
    try:
        for row in reader:
            if any(map(str.strip, row)):
                rows.append(row)
                lines.append(line)
            line = reader.line_num + 1
            if len(rows) > MAX_ROWS or len(row) > MAX_COLUMNS:
                faults.refuse(
                    line=line,
                    found=f"more than {MAX_ROWS} rows or {MAX_COLUMNS} columns",
                    expected="a table of readings",
                    do="Check that this is the right file, or split it.",
                )
    except csv.Error as error:
        faults.refuse(
            line=line,
            found=f"text that is no row of a table ({error})",
            expected="cells parted by one delimiter, quotation marks in pairs",
            do="Look for a quotation mark without its pair near this line.",
        )
    if not rows:
        faults.refuse(line=1, found="no rows", expected="a table", do="Check that the file was saved.")
    return Sheet(faults.file, even(rows), lines, tuple(notes))


def _unpacked(data: bytes, faults: Faults) -> bytes:
    if not data.startswith(b"\x1f\x8b"):
        return data
    try:
        with gzip.open(io.BytesIO(data)) as packed:
            unpacked = packed.read(MAX_TABLE_BYTES + 1)
    except (OSError, EOFError, zlib.error):
        faults.refuse(
            line=None,
            found="a packed file that is damaged",
            expected="a whole .gz file",
            do="Copy the file again from where it came.",
        )
    if len(unpacked) > MAX_TABLE_BYTES:
        faults.refuse(
            line=None,
            found=f"a packed file that unpacks to more than {MAX_TABLE_BYTES // 1_000_000} MB",
            expected="a table",
            do="Do not open it: a small file that unpacks to a huge one is made to fill a disk.",
        )
    return unpacked


def _decoded(data: bytes, faults: Faults, notes: list[str]) -> str:
    encoding = next((encoding for mark, encoding in _MARKS.items() if data.startswith(mark)), "utf-8")
    if encoding != "utf-8":
        notes.append(f"{'UTF-16' if encoding == 'utf-16' else 'UTF-8'} text with a byte-order mark")
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError:
        if encoding != "utf-8":
            faults.refuse(
                line=None, found="damaged text", expected="text", do="Save the table again with the encoding UTF-8."
            )
        text = data.decode("cp1252", errors="replace")
        notes.append("no UTF-8: read as Windows text (code page 1252); check the accents of its words")
    if "\0" in text:
        faults.refuse(
            line=None,
            found="a binary file",
            expected="a table as text (.csv, .tsv) or a workbook (.xlsx)",
            do="Check that this is the right file.",
        )
    return text


def _delimiter(text: str) -> str:
    """The delimiter that parts the most lines into the same number of cells, more than one."""
    lines = [line for line in text[:200_000].splitlines()[:_SAMPLE_LINES] if line.strip()]
    best, score = ",", (0.0, 0)
    for candidate in _DELIMITERS:
        counts = Counter(len(row) for row in csv.reader(lines, delimiter=candidate))
        counts.pop(1, None)
        if counts:
            width, n_lines = max(counts.items(), key=lambda item: (item[1], item[0]))
            if (n_lines / len(lines), width) > score:
                best, score = candidate, (n_lines / len(lines), width)
    return best

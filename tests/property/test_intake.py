"""Whatever is thrown at the table reader: readings that were there, or a refusal that says where and what to do."""

from __future__ import annotations

import io
import math

import openpyxl
from hypothesis import given, settings
from hypothesis import strategies as st

from festoon.errors import InputRefusedError
from festoon.records.intake.column_map import ColumnMap
from festoon.records.intake.files import table_intake

HEADINGS = st.sampled_from(
    ["tooth", "Zahn", "site", "Stelle", "probing", "PD MB", "recession", "CAL", "margin level", "value", "quantity", "at",
     "Datum", "by", "se", "flag", "unit", "width (cm)", "", "x", "mesial", "kt B", "case", "B"]
)  # fmt: skip
CELLS = st.one_of(
    st.sampled_from(
        ["11", "21", "8", "UR1", "MB", "mesial", "3", "2.5", "2,5", "1,234", "1.234,5", "<1", "2-3", ">9", "", "-", "n.m.",
         "03.May", "46145", "2026-03-02", "02/03/2026", "3 mm", "0.3 cm", "nan", "inf", "1e5", "-4", "−2", "probing_depth"]
    ),
    st.text(max_size=8),
)  # fmt: skip
MAPS = st.builds(
    lambda **said: ColumnMap.model_validate({key: value for key, value in said.items() if value is not None}),
    notation=st.sampled_from([None, "fdi", "universal", "palmer"]),
    decimal=st.sampled_from([None, "point", "comma"]),
    datum=st.sampled_from([None, "present_edge", "template"]),
    intervals=st.sampled_from(["refuse", "middle"]),
    sites=st.sampled_from([None, "six", "ten"]),
    header_rows=st.sampled_from([None, 0, 1, 2, 3]),
)


def _check(data: bytes, name: str, chosen: ColumnMap) -> None:
    try:
        intake, faults = table_intake(data, name, chosen)
    except InputRefusedError:
        return
    if faults.found:
        for fault in faults.found:
            assert fault.do
            assert fault.expected
        return
    assert intake.readings
    for reading in intake.readings:
        assert math.isfinite(reading.value)
        assert reading.tooth
        assert intake.chosen.notation is not None  # never guessed: declared, or in a heading of our own


@settings(max_examples=300)
@given(
    st.lists(HEADINGS, min_size=1, max_size=6),
    st.lists(st.lists(CELLS, max_size=7), max_size=6),
    MAPS,
    st.sampled_from(",;\t"),
)
def test_any_delimited_table(headings: list[str], rows: list[list[str]], chosen: ColumnMap, delimiter: str) -> None:
    """Whatever stands in its cells."""
    quoted = [[f'"{cell.replace(chr(34), chr(34) * 2)}"' for cell in row] for row in [headings, *rows]]
    text = "\n".join(delimiter.join(row) for row in quoted)
    _check(text.encode("utf-8", "surrogatepass"), "a.csv", chosen)


@settings(max_examples=200)
@given(st.binary(max_size=300), st.sampled_from(["a.csv", "a.tsv.gz", "a.xlsx", "a.json", "a.yaml", "a.txt"]), MAPS)
def test_any_bytes(data: bytes, name: str, chosen: ColumnMap) -> None:
    """Under any ending."""
    _check(data, name, chosen)


@settings(max_examples=60)
@given(
    st.lists(HEADINGS, min_size=1, max_size=5),
    st.lists(
        st.lists(
            st.none()
            | st.booleans()
            | st.integers(-100, 50_000)
            | st.floats(-5, 50)
            | st.datetimes()
            | CELLS.filter(str.isprintable),
            max_size=5,
        ),
        max_size=5,
    ),
    MAPS,
)
def test_any_workbook(headings: list[str], rows: list[list[object]], chosen: ColumnMap) -> None:
    """Cells of every kind a workbook has."""
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    for row in [headings, *rows]:
        sheet.append(row)
    packed = io.BytesIO()
    book.save(packed)
    _check(packed.getvalue(), "a.xlsx", chosen)

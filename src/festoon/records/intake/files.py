"""A practice's table from a file: which reader it needs, and the whole way to readings."""

from __future__ import annotations

import re
from pathlib import Path

from festoon.records.document import Faults, shown
from festoon.records.intake.column_map import ColumnMap
from festoon.records.intake.delimited import MAX_TABLE_BYTES, read_delimited
from festoon.records.intake.objects import read_objects
from festoon.records.intake.sheets import Sheet
from festoon.records.intake.typed import read_typed
from festoon.records.intake.understanding import read_sheet
from festoon.records.intake.understood import Intake
from festoon.records.intake.workbook import read_workbook

_CASE = re.compile(r"""^[ \t{]*["']?format["']?\s*:\s*["']?festoon-case/|^[ \t{]*["']?teeth["']?\s*:""", re.MULTILINE)
ENDINGS = (".csv", ".tsv", ".csv.gz", ".tsv.gz", ".xlsx", ".json", ".yaml", ".yml", ".txt")


def table_intake(data: bytes, name: str, chosen: ColumnMap, *, sheet: str | None = None) -> tuple[Intake, Faults]:
    """What a table says, and every fault of it. With any fault nothing of it may be kept.

    Parameters
    ----------
    data : bytes
        Of the file.
    name : str
        File name, without its folder; its ending says what the bytes are.
    chosen : ColumnMap
        What the practice declares.
    sheet : str, optional
        Which sheet of a workbook.

    Raises
    ------
    InputRefusedError
        If the bytes are no table at all.
    """
    faults = Faults(name, kind="table")
    return read_sheet(sheet_of(data, name, faults, sheet), chosen, faults), faults


def sheet_of(data: bytes, name: str, faults: Faults, sheet: str | None = None) -> Sheet:
    """The cells of a file.

    Raises
    ------
    InputRefusedError
        If the bytes are no table, or the ending is of no kind of table.
    """
    lower = name.lower()
    if len(data) > MAX_TABLE_BYTES:
        faults.refuse(line=None, found="a huge file", expected="a table", do="Check that this is the right file.")
    if lower.endswith((".csv", ".tsv", ".csv.gz", ".tsv.gz")):
        return read_delimited(data, faults)
    if lower.endswith(".xlsx"):
        return read_workbook(data, faults, sheet)
    suffix = Path(lower).suffix
    if suffix not in (".json", ".yaml", ".yml", ".txt"):
        faults.refuse(
            line=None,
            found=f"a file name that ends in {shown(suffix)[1:-1] or 'nothing'}",
            expected=", ".join(ENDINGS),
            do="Give the file the ending of what it holds; save an old workbook (.xls, .ods) as .xlsx or .csv first.",
        )
    if suffix != ".txt":
        return read_objects(data, suffix, faults)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        faults.refuse(line=None, found="no UTF-8 text", expected="typed lines", do="Save it as UTF-8 text.")
    return read_typed(text, faults)


def is_case_file(data: bytes, name: str) -> bool:
    """True where a YAML or JSON file is a case (``festoon-case/1``) and no table."""
    if Path(name.lower()).suffix not in (".json", ".yaml", ".yml"):
        return False
    return bool(_CASE.search(data[:4096].decode("utf-8-sig", "replace")))

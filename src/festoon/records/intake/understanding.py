"""A sheet and its column map made into readings. Nothing is half taken: any cell that could mean two things refuses all.

What was settled on the way (notation, decimal mark, sites) is told, and stands in the map that comes back.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from festoon.model.dentition import Notation, Site
from festoon.model.reading import Datum
from festoon.records.document import Faults, shown
from festoon.records.intake import labels
from festoon.records.intake.across import turned
from festoon.records.intake.column_map import Column, ColumnMap, Holds
from festoon.records.intake.headings import declared_notation, headings_of, proposed
from festoon.records.intake.quantities import FromCej, is_level
from festoon.records.intake.sheets import Sheet, cell_text
from festoon.records.intake.teeth import question
from festoon.records.intake.understood import ChartReading, Intake, SheetReader
from festoon.records.intake.values import Numbers, check_ranges, interval_se, read_numbers, settle_decimal

_ONCE = [holds for holds in Holds if holds not in (Holds.READING, Holds.NOTHING)]


def read_sheet(sheet: Sheet, chosen: ColumnMap, faults: Faults) -> Intake:
    """What a sheet says under a column map. Every fault is added to ``faults``; with any, nothing may be kept.

    Parameters
    ----------
    sheet : Sheet
        The cells.
    chosen : ColumnMap
        What the practice declares. Where it names no columns, the usual words of headings are used.
    faults : Faults
        Receives every cell and column that cannot be used.
    """
    sheet = turned(sheet)
    heads = headings_of(sheet, 1 if sheet.declared else chosen.header_rows)
    meant = proposed(heads, sheet, chosen)
    place = {name: index for index, name in enumerate(heads.names)}
    columns = {place[name]: c for name, c in meant.items() if name in place and c.holds is not Holds.NOTHING}
    reader = SheetReader(sheet, chosen, heads, faults, columns, notes=[*sheet.notes, *heads.notes])
    for name in meant:
        if name not in place:
            reader.refuse_column(None, f"no column {shown(name)}", "every column of the map", _headings(heads.names))
    _check_columns(reader)
    readings: tuple[ChartReading, ...] = ()
    settled = chosen
    if not faults.found:
        notation = _settle_notation(reader)
        numeric = [i for i, c in columns.items() if c.holds in (Holds.READING, Holds.VALUE, Holds.SE)]
        decimal = settle_decimal(reader, numeric)
        is_six = labels.settle_sites(reader)
        settled = chosen.model_copy(
            update={
                "notation": notation,
                "decimal": decimal,
                "sites": "six" if is_six else chosen.sites,
                "columns": {heads.names[index]: column for index, column in columns.items()},
            }
        )
        if notation is not None:
            readings = tuple(_readings(reader, notation, decimal, is_six))
    if not readings and not faults.found:
        reader.refuse_column(None, "no reading at all", "at least one number", "Check that this is the right table.")
    left_out = tuple(name for index, name in enumerate(heads.names) if name and index not in columns)
    return Intake(
        sheet.file,
        settled,
        readings,
        tuple(reader.understood[index] for index in sorted(reader.understood)),
        left_out,
        tuple(reader.notes),
        sheet.declared.get("case"),
    )


def _headings(names: Sequence[str]) -> str:
    found = ", ".join(shown(name) for name in names[:12] if name)
    return f"The table has {found}{', …' if len(names) > 12 else ''}: mend the map, or name another."


def _check_columns(reader: SheetReader) -> None:
    """The columns must make readings: a tooth, and numbers that say what they are of."""
    twice = Counter(column.holds for column in reader.columns.values())
    for holds in _ONCE:
        if twice[holds] > 1:
            reader.refuse_column(
                None, f"{twice[holds]} columns that hold {holds}", "one", "Say in the column map which one is meant."
            )
    if not twice[Holds.TOOTH]:
        reader.refuse_column(
            None,
            "no column of teeth",
            "a column headed tooth, Zahn, dent, diente, dente or the like",
            "Name it in a column map: columns: {heading: {holds: tooth}}.",
        )
    is_long = bool(twice[Holds.QUANTITY] and twice[Holds.VALUE])
    if is_long == bool(twice[Holds.READING]):
        reader.refuse_column(
            None,
            "no column of readings" if not is_long else "columns of readings beside a column of values",
            "columns that name what was read, or one column of quantities and one of values",
            f"Name them in a column map. {_headings(reader.heads.names)}",
        )
    for index, column in reader.columns.items():
        if column.quantity and is_level(column.quantity) and not _has_datum(reader, column):
            reader.refuse_column(
                index,
                f"levels ({column.quantity.replace('_', ' ')}) that do not say from what they were read",
                f"a datum: {', '.join(Datum)}",
                "Declare --datum for all levels of the table, or a datum for each column in the column map.",
            )


def _has_datum(reader: SheetReader, column: Column) -> bool:
    return (column.datum or reader.chosen.datum) is not None or reader.index(Holds.DATUM) is not None


def _settle_notation(reader: SheetReader) -> Notation | None:
    said = reader.chosen.notation or declared_notation(reader.heads) or reader.sheet.declared.get("notation")
    if said is None and reader.sheet.is_own:
        said = Notation.FDI  # the format names teeth by ISO 3950
    if said is not None:
        return Notation(said.lower())
    column = reader.index(Holds.TOOTH)
    cells = [] if column is None else reader.cells(column)
    reader.refuse_column(column, "teeth whose notation nobody declared", "a declared notation", question(cells))
    return None


def _readings(reader: SheetReader, notation: Notation, decimal: str | None, is_six: bool) -> Iterator[ChartReading]:
    cases = labels.read_codes(reader, Holds.CASE)
    teeth = labels.read_teeth(reader, notation)
    sites = labels.read_sites(reader, is_six)
    methods, datums = labels.read_methods(reader), labels.read_datums(reader)
    days, hands, flags = labels.read_days(reader), labels.read_codes(reader, Holds.BY), labels.read_flags(reader)
    errors = _errors(reader, decimal)
    _check_units(reader)
    found: list[tuple[int, list[ChartReading]]] = []
    for index, quantity_of_row, numbers in _number_columns(reader, decimal):
        column = reader.columns[index]
        row_sites = sites if column.site is None else [labels.as_kept(column.site, is_six)] * reader.n_rows
        rows = np.flatnonzero(np.isfinite(numbers.value))
        rows = _with_place(reader, index, rows, teeth, cases)
        _check_datums(reader, index, rows, quantity_of_row, datums)
        _check_all_ranges(reader, index, rows, quantity_of_row, datums, numbers, row_sites)
        if reader.faults.found:
            continue
        values, widths = numbers.value.tolist(), numbers.width.tolist()
        default_method = column.method or reader.chosen.method
        made = []
        for row in rows.tolist():
            quantity = quantity_of_row[row]
            method = methods[row] or default_method
            datum = datums[row] or column.datum or reader.chosen.datum
            se, flag = errors[row], flags[row]
            if widths[row] == widths[row]:  # not nan: an interval
                se = se or interval_se(quantity, method, widths[row])
                flag = f"{flag}; " if flag else ""
                flag += f"charted as {numbers.written.text(numbers.written.codes[row])}"
            made.append(
                ChartReading(
                    cases[row], teeth[row] or "", row_sites[row], quantity, values[row] + 0.0, se, method,
                    datum if is_level(quantity) else None, days[row], hands[row], flag, reader.lines[row],
                )
            )  # fmt: skip
        found.append((index, made))
    for _, made in found:
        yield from made


def _number_columns(reader: SheetReader, decimal: str | None) -> Iterator[tuple[int, list[str], Numbers]]:
    """Each column of numbers with what it is of, row by row."""
    value = reader.index(Holds.VALUE)
    if value is not None:
        quantities = labels.read_quantities(reader)
        unit = reader.columns[value].unit or reader.chosen.unit
        numbers = read_numbers(reader, value, decimal, unit, "value")
        for row in np.flatnonzero(np.isfinite(numbers.value)).tolist():
            if quantities[row] is None and not reader.faults.found:
                reader.refuse(value, row, "a value of nothing", "what was read", "Name the quantity of this row.")
        yield value, [quantity or "" for quantity in quantities], numbers
        return
    for index, column in reader.columns.items():
        if column.holds is Holds.READING and column.quantity is not None:
            unit = column.unit or reader.chosen.unit
            is_turned = column.positive == "coronal"
            numbers = read_numbers(reader, index, decimal, unit, _means(reader, column), is_turned=is_turned)
            yield index, [column.quantity] * reader.n_rows, numbers


def _means(reader: SheetReader, column: Column) -> str:
    quantity = (column.quantity or "").replace("_", " ")
    parts = [quantity, (column.site or "").replace("_", " ")]
    if column.quantity and is_level(column.quantity):
        parts.append(f"from the {str(column.datum or reader.chosen.datum or 'datum of its row').replace('_', ' ')}")
    if column.quantity == FromCej.RECESSION:
        parts.append(
            f"{column.positive or 'apical'} of the CEJ positive"
            + (", sign turned" if column.positive == "coronal" else "")
        )
    if column.method or reader.chosen.method:
        parts.append(f"by {column.method or reader.chosen.method}")
    if (column.unit or reader.chosen.unit) == "cm":
        parts.append("cm converted to mm")
    return ", ".join(part for part in parts if part)


def _errors(reader: SheetReader, decimal: str | None) -> list[float | None]:
    index = reader.index(Holds.SE)
    if index is None:
        return [None] * reader.n_rows
    numbers = read_numbers(reader, index, decimal, reader.chosen.unit, "standard error")
    for row in np.flatnonzero(numbers.value <= 0).tolist():
        reader.refuse(
            index, row, f"{numbers.value[row]:g} mm", "a standard error above 0", "Leave it empty if unknown."
        )
    return [value if value == value else None for value in numbers.value.tolist()]


def _check_units(reader: SheetReader) -> None:
    labels.read_labels(
        reader,
        reader.index(Holds.UNIT),
        "unit",
        lambda cell: cell_text(cell) if cell_text(cell) == reader.chosen.unit else None,
        reader.chosen.unit,
        "Declare --unit cm if every number is in cm; festoon never converts in silence.",
    )


def _with_place(
    reader: SheetReader,
    index: int,
    rows: NDArray[np.intp],
    teeth: Sequence[str | None],
    cases: Sequence[str | None],
) -> NDArray[np.intp]:
    """The rows that say where their number belongs; the others are refused."""
    placed = np.array([teeth[row] is not None for row in rows], dtype=bool)
    if reader.index(Holds.CASE) is not None:
        placed &= np.array([cases[row] is not None for row in rows], dtype=bool)
    if not placed.all() and not reader.faults.found:
        for row in rows[~placed].tolist():
            reader.refuse(index, row, "a number without its tooth or case", "a tooth in every row", "Write the tooth.")
    kept: NDArray[np.intp] = rows[placed]
    return kept


def _check_datums(
    reader: SheetReader, index: int, rows: NDArray[np.intp], quantities: Sequence[str], datums: Sequence[Datum | None]
) -> None:
    column = reader.columns[index]
    common = column.datum or reader.chosen.datum
    has_column = reader.index(Holds.DATUM) is not None
    if common is not None and not has_column:
        return
    levels = {quantity: bool(quantity) and is_level(quantity) for quantity in set(quantities)}
    for row in rows.tolist():
        is_one = levels[quantities[row]]
        if is_one and datums[row] is None and common is None:
            reader.refuse(
                index,
                row,
                f"a level ({quantities[row]}) without a datum",
                ", ".join(Datum),
                "Say from what it was read.",
            )
        elif not is_one and datums[row] is not None:
            reader.refuse(
                index, row, f"{quantities[row]} with a datum", "a datum for levels only", "Leave the datum empty."
            )


def _check_all_ranges(
    reader: SheetReader,
    index: int,
    rows: NDArray[np.intp],
    quantities: Sequence[str],
    datums: Sequence[Datum | None],
    numbers: Numbers,
    sites: Sequence[Site | None],
) -> None:
    column = reader.columns[index]
    common = column.datum or reader.chosen.datum
    if column.quantity is not None and reader.index(Holds.DATUM) is None:
        check_ranges(reader, index, column.quantity, numbers, sites, rows, common)
        return
    groups: dict[tuple[str, Datum | None], list[int]] = {}
    for row in rows.tolist():
        if quantities[row]:
            groups.setdefault((quantities[row], datums[row] or common), []).append(row)
    for (quantity, datum), mine in groups.items():
        check_ranges(reader, index, quantity, numbers, sites, np.array(mine, dtype=np.intp), datum)

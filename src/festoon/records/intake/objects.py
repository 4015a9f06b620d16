"""JSON and YAML into cells: a list of rows, or a file of readings (``festoon-readings/1``)."""

from __future__ import annotations

from festoon.records.document import Entry, Faults, Listing, Node, Scalar, Table, decoded, described, shown
from festoon.records.intake.sheets import READING_KEYS, READINGS_FORMAT, Cell, Sheet, cell_text, even
from festoon.records.json_syntax import compose_json
from festoon.records.yaml_syntax import compose_yaml

_SYNTAX = {".json": compose_json, ".yaml": compose_yaml, ".yml": compose_yaml}


def read_objects(data: bytes, suffix: str, faults: Faults) -> Sheet:
    """The rows of a JSON or YAML file.

    Raises
    ------
    InputRefusedError
        If it is no list of rows: what was found is told with its line.
    """
    root = _SYNTAX[suffix](decoded(data, faults), faults)
    declared: dict[str, str] = {}
    own = False
    listing: Node | None = root
    if isinstance(root, Table):
        listing = _listing(root)
        for entry in root.entries:
            if isinstance(entry.value, Scalar) and entry.key in ("format", "case", "notation"):
                declared[entry.key] = cell_text(entry.value.value)
        own = declared.get("format") == READINGS_FORMAT
        known = {"format", "case", "notation"}
        for entry in root.entries:
            if own and entry.key not in known and entry.value is not listing:
                faults.add(
                    where=(entry.key,),
                    line=entry.line,
                    found=f"the key {shown(entry.key)}",
                    expected="format, case and readings",
                    do="Take it out.",
                )
    if not isinstance(listing, Listing):
        faults.refuse(
            line=None if root is None else root.line,
            found="nothing" if root is None else described(root),
            expected="a list of rows, each with its keys, or a file of readings",
            do="Write one table per row: {tooth: ..., site: ..., quantity: ..., value: ...}.",
        )
    rows, lines, names = _rows(listing, own, faults)
    if faults.found:
        raise faults.error()
    if not rows:
        faults.refuse(line=listing.line, found="no rows", expected="rows", do="Check that the file was saved.")
    # The head stands on a line of its own, so that rows keep the lines they have in the file.
    return Sheet(faults.file, even([list[Cell](names), *rows]), [listing.line, *lines], declared=declared)


def _listing(root: Table) -> Node | None:
    named = root.entry("readings") or root.entry("rows")
    return named.value if named is not None else None


def _rows(listing: Listing, own: bool, faults: Faults) -> tuple[list[list[Cell]], list[int], list[str]]:
    names: dict[str, int] = {}
    rows: list[list[Cell]] = []
    lines: list[int] = []
    for index, item in enumerate(listing.items):
        if not isinstance(item, Table):
            faults.add(
                where=(index,), line=item.line, found=described(item), expected="a row with keys", do="Write its keys."
            )
            continue
        row: dict[int, Cell] = {}
        for entry in item.entries:
            if own and entry.key not in READING_KEYS:
                _unknown(entry, index, faults)
            elif isinstance(entry.value, Scalar):
                row[names.setdefault(entry.key, len(names))] = entry.value.value
            else:
                faults.add(
                    where=(index, entry.key),
                    line=entry.line,
                    found=described(entry.value),
                    expected="one value",
                    do="Write one row for every value.",
                )
        rows.append([row.get(column) for column in range(len(names))])
        lines.append(item.line)
    return rows, lines, list(names)


def _unknown(entry: Entry, index: int, faults: Faults) -> None:
    faults.add(
        where=(index, entry.key),
        line=entry.line,
        found=f"the key {shown(entry.key)}",
        expected=", ".join(READING_KEYS),
        do="Take it out, or write the name the format has for it.",
    )

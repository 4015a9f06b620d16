"""Numbers typed at the keyboard, one line for a tooth and a quantity, every number with its site named.

    notation: fdi
    11 margin midfacial=8.1 mesial=4.4 from present_edge
    11 sounding midfacial=2.3 mesial=3.8 distal=3.6 by sounding
    11 width 8.6

The order of numbers on a chart differs between sides and practices, so a bare row of numbers is refused.
"""

from __future__ import annotations

import re

from festoon.model.dentition import Notation
from festoon.model.quantities import Quantity
from festoon.records.document import Faults, shown
from festoon.records.intake.sheets import Cell, Sheet, cell_text
from festoon.records.intake.vocabulary import meaning

_HEAD = ("tooth", "site", "quantity", "value", "method", "datum")
_SHORT = {quantity.case_key.removesuffix("_mm"): str(quantity) for quantity in Quantity if quantity.case_key}
"""``margin`` for ``margin_level``: the key of the case file without its unit."""


def read_typed(text: str, faults: Faults) -> Sheet:
    """The readings of typed lines.

    Raises
    ------
    InputRefusedError
        If any line is not understood: all of them together.
    """
    rows: list[list[Cell]] = [list(_HEAD)]
    lines = [0]
    declared: dict[str, str] = {}
    for number, line in enumerate(text.splitlines(), start=1):
        line = line.split("#", 1)[0].strip() if not line.lstrip().startswith("#") else ""
        if not line:
            continue
        said = re.fullmatch(r"(notation|case)\s*[:=]\s*(\S+)", line, re.IGNORECASE)
        if said:
            declared[said[1].lower()] = said[2]
            continue
        made = _rows(line, number, faults)
        rows += made
        lines += [number] * len(made)
    notation = declared.get("notation")
    if notation is not None and notation.lower() not in list(Notation):
        faults.add(line=None, found=f"notation {shown(notation)}", expected="fdi, universal or palmer", do="Mend it.")
    if len(rows) == 1 and not faults.found:
        faults.refuse(line=1, found="no readings", expected="lines of readings", do="Type at least one.")
    if faults.found:
        raise faults.error()
    return Sheet(faults.file, rows, lines, declared=declared)


def _rows(line: str, number: int, faults: Faults) -> list[list[Cell]]:
    line = re.sub(r"\s*=\s*", "=", line)
    method = datum = None
    tail = re.search(r"\s+(from|by)\s+(\S+)(?:\s+(from|by)\s+(\S+))?\s*$", line, re.IGNORECASE)
    if tail:
        for word, value in ((tail[1], tail[2]), (tail[3], tail[4])):
            if word:
                method, datum = (value, datum) if word.lower() == "by" else (method, value)
        line = line[: tail.start()]
    tooth, _, rest = line.partition(" ")
    body, bare = rest.strip(), None
    named = re.findall(r"(\S+?)=(\S+)", body)
    words = re.sub(r"\S+?=\S+", "", body).split()
    if not named and len(words) >= 2:
        bare = words.pop()
        if len(words) > 1 and meaning("site", words[-1]):
            named, bare = [(words.pop(), bare)], None
        elif len(words) > 1 and meaning("site", words[0]):
            named, bare = [(words.pop(0), bare)], None
    quantity = _SHORT.get("_".join(words).lower()) or meaning("quantity", " ".join(words))
    if quantity is None or (not named and bare is None):
        faults.add(
            line=number,
            found=shown(cell_text(line)),
            expected="a tooth, what was read, and each number with its site: 11 sounding midfacial=2.3 mesial=3.8",
            do="Name the site of every number: the order of a bare row differs between sides and practices.",
        )
        return []
    return [[tooth, site, quantity, value, method, datum] for site, value in (named or [(None, bare)])]

"""A case with some of its entries changed, checked like a file that was read.

An entry is named as it stands in the case file: ``teeth.11.sites.midfacial.margin_mm`` or
``subject.health.smoker``. A tooth, site or papilla that was not charted yet is begun by its first entry.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Mapping
from typing import Any

from festoon.model.case import Case
from festoon.model.dentition import Notation
from festoon.records.casefile import CaseFile, parse_case


def edited(case: Case, changes: Mapping[str, Any]) -> CaseFile:
    """The case with every change made, and what is unusual about it.

    Parameters
    ----------
    case : Case
        The case; it is not changed.
    changes : mapping of key path to value
        Teeth by ISO 3950 code. ``None`` takes the entry away: not measured, or the default of a setting. A bare number for a
        reading is a new reading by the default method; a long form or a list of them says more.

    Raises
    ------
    InputRefusedError
        If the changed case has faults: all of them together, by key path; nothing is changed then.
    """
    document = document_of(case)
    for path, value in changes.items():
        _set(document, path.split("."), value)
    file = parse_case(json.dumps(document).encode(), f"{case.case}.json")
    return CaseFile(file.case.model_copy(update={"notation": case.notation}), file.sha256, file.name, file.notes)


def document_of(case: Case) -> dict[str, Any]:
    """The case as a table of keys and plain values, teeth by ISO 3950 code, without what is unknown."""
    document: dict[str, Any] = case.model_dump(mode="json", exclude_defaults=True, exclude_none=True)
    # What is required or tells the reader how to read is said, default or not.
    said = {"format": case.format, "case": case.case, "purpose": case.purpose.value, "notation": Notation.FDI.value}
    return said | copy.deepcopy({key: value for key, value in document.items() if key not in said})


def _set(part: dict[str, Any], steps: list[str], value: Any) -> None:
    """Set one entry; what lies on the way and is not there yet is begun, and what is then empty is taken away."""
    step, rest = steps[0], steps[1:]
    if not rest:
        if value is None:
            part.pop(step, None)
        else:
            part[step] = value
        return
    below = part.get(step)
    if below is None:
        if value is None:
            return
        below = part[step] = {}
    if isinstance(below, dict):
        _set(below, rest, value)
    else:
        part[step] = {rest[0]: value}  # refused by the reader, in its words

"""A file of corrections to a measured scan: what a person set, kept so that it can be given again."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

import numpy as np

from festoon.errors import Fault, InputRefusedError
from festoon.model.dentition import Tooth
from festoon.scan.by_hand import PLACES, Place
from festoon.workflow.measuring_scan import SetPoint

FORMAT = "festoon-scan-corrections/1"
_KEYS = ("format", "by", "numbers", "points")


@dataclass(frozen=True)
class Corrections:
    """What a person set on a scan."""

    numbers: Mapping[Tooth, Tooth]
    """Numbers of teeth, found to given."""
    points: tuple[SetPoint, ...]
    """Points by the given numbers, mm in the pose of the file."""
    by: str | None
    """Who set them, as a pseudonymous code."""


def read_corrections(path: Path) -> Corrections:
    """Read a file of corrections (JSON).

    ``{"format": "festoon-scan-corrections/1", "by": "op-2", "numbers": {"13": "12"}, "points": [{"tooth": "11", "place": "zenith",
    "at_mm": [x, y, z]}]}``: places are those of :data:`festoon.scan.by_hand.PLACES`.

    Raises
    ------
    InputRefusedError
        Naming the key that is wrong; every fault at once.
    """
    faults: list[Fault] = []

    def wrong(key: str, found: object, expected: str) -> None:
        faults.append(Fault(path.name, key, repr(found), expected, "Correct the file."))

    try:
        data: Any = json.loads(path.read_text(encoding="utf-8"))
    except (UnicodeDecodeError, json.JSONDecodeError) as error:
        raise InputRefusedError(
            [Fault(path.name, "", str(error), "a JSON file of corrections", "Write it anew.")]
        ) from error
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        found = repr(data.get("format")) if isinstance(data, dict) else "no object"
        raise InputRefusedError([Fault(path.name, "format", found, repr(FORMAT), "Name the format.")])
    for key in data:
        if key not in _KEYS:
            wrong(key, data[key], f"one of the keys {', '.join(_KEYS)}")
    by = data.get("by")
    if by is not None and not isinstance(by, str):
        wrong("by", by, "a pseudonymous code")
    numbers: dict[Tooth, Tooth] = {}
    given = data.get("numbers", {})
    if not isinstance(given, dict):
        wrong("numbers", given, "an object of ISO 3950 numbers, found to given")
        given = {}
    for old, new in given.items():
        try:
            numbers[Tooth(old)] = Tooth(new)
        except (TypeError, ValueError):
            wrong(f"numbers.{old}", new, "ISO 3950 numbers, found to given")
    listed = data.get("points", [])
    if not isinstance(listed, list):
        wrong("points", listed, "a list of points")
        listed = []
    points = []
    for k, one in enumerate(listed):
        try:
            place, at = one["place"], [float(v) for v in one["at_mm"]]
            if (
                place not in PLACES
                or len(at) != 3
                or not np.isfinite(at).all()
                or set(one) != {"tooth", "place", "at_mm"}
            ):
                raise ValueError(place)
            points.append(SetPoint(Tooth(one["tooth"]), (at[0], at[1], at[2]), cast("Place", place)))
        except (KeyError, TypeError, ValueError):
            wrong(f"points.{k}", one, f"tooth, place ({', '.join(PLACES)}) and at_mm (three numbers)")
    if faults:
        raise InputRefusedError(faults)
    return Corrections(numbers, tuple(points), by)

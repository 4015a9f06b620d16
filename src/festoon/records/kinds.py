"""Lays a tree over a pydantic model: is each thing of the kind its place wants, and where does it stand in the file?

Kinds are settled here and not by pydantic, whose lax mode takes "8.1" for a number, 1 for yes and 20000 for a day.
Values (ranges, words of a list, patterns, unknown and missing keys) are left to the model.
"""

from __future__ import annotations

import datetime as dt
import math
import re
import types
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import Enum
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel

from festoon.model.case import Case
from festoon.model.reading import Reading
from festoon.records.document import Faults, Listing, Node, Path, Scalar, Table, described
from festoon.records.number_words import not_a_number

MAX_READINGS = 12
"""Readings of one quantity. They are compared each with each, and with those of other quantities."""


@dataclass(frozen=True)
class Place:
    """Where something of the model stands in the file."""

    path: Path
    """In the file's own keys."""
    line: int
    node: Node
    wanted: Any
    """The annotation of the model for this place."""


@dataclass
class Draft:
    """Plain data for a model, with the place of everything in it."""

    data: dict[str, Any] = field(default_factory=dict)
    places: dict[Path, Place] = field(default_factory=dict)
    """By path in the model's keys."""
    model: type[BaseModel] = Case
    """The model of the whole document."""
    dropped: set[Path] = field(default_factory=set)
    """What was of a wrong kind, has its fault, and is not in ``data``."""

    def place(self, path: Path) -> Place:
        """The place of a path of the model, or of the nearest thing above it that stands in the file."""
        while path not in self.places:
            path = path[:-1]
        return self.places[path]


def bare(annotation: Any) -> Any:
    """An annotation without ``Annotated`` and without ``None``."""
    while True:
        if get_origin(annotation) is Annotated:
            annotation = get_args(annotation)[0]
        elif get_origin(annotation) in (Union, types.UnionType):
            (annotation,) = (part for part in get_args(annotation) if part is not type(None))
        else:
            return annotation


def is_model(annotation: Any) -> bool:
    """True for a pydantic model class."""
    return isinstance(annotation, type) and issubclass(annotation, BaseModel)


class _Omitted:
    """Says that a value had a fault and was left out."""


_OMITTED = _Omitted()


def drafted(model: type[BaseModel], root: Table, rename: Mapping[Path, str], faults: Faults) -> Draft:
    """Plain data for ``model`` from a tree; things of a wrong kind are left out and noted in ``faults``.

    Parameters
    ----------
    model : type
        The model to be filled.
    root : Table
        The whole document.
    rename : mapping
        Path in the file to the key the model wants there: tooth keys in other notations.
    faults : Faults
        Takes the faults.
    """
    return _Drafting(rename, faults).run(model, root)


class _Drafting:
    def __init__(self, rename: Mapping[Path, str], faults: Faults) -> None:
        self._rename = rename
        self._faults = faults
        self._draft = Draft()

    def run(self, model: type[BaseModel], root: Table) -> Draft:
        self._draft.model = model
        data = self._value(model, root, (), (), root.line)
        if isinstance(data, dict):
            self._draft.data = data
        return self._draft

    def _value(self, annotation: Any, node: Node, path: Path, at: Path, line: int) -> Any:
        wanted = bare(annotation)
        self._draft.places[at] = Place(path, line, node, wanted)
        if is_model(wanted) or get_origin(wanted) is dict:
            if isinstance(node, Table):
                return self._table(wanted, node, path, at)
            if isinstance(node, Scalar) and node.value is None and not node.is_quoted and is_model(wanted):
                return {}
            return self._omit(at, path, node, line, *_TABLE_WORDS)
        if get_origin(wanted) is tuple:
            item = get_args(wanted)[0]
            if issubclass(item, Reading):
                return self._readings(item, node, path, at, line)
            return self._records(item, node, path, at, line)
        if not isinstance(node, Scalar):
            return self._omit(at, path, node, line, f"{_kind_words(wanted, path)}, one value", _UNLIST)
        return self._leaf(wanted, node, path, at)

    def _table(self, wanted: Any, node: Table, path: Path, at: Path) -> dict[str, Any]:
        data: dict[str, Any] = {}
        for entry in node.entries:
            here = (*path, entry.key)
            key = self._rename.get(here, entry.key)
            there = (*at, key)
            is_null = isinstance(entry.value, Scalar) and entry.value.value is None and not entry.value.is_quoted
            if not is_model(wanted):
                value = self._value(get_args(wanted)[1], entry.value, here, there, entry.line)
            elif key not in wanted.model_fields:
                self._draft.places[there] = Place(here, entry.line, entry.value, None)
                value = None  # the model says that the key is unknown
            elif is_null:
                continue  # the same as a key left out: unknown
            else:
                value = self._value(wanted.model_fields[key].annotation, entry.value, here, there, entry.line)
            if value is not _OMITTED:
                data[key] = value
        return data

    def _records(self, model: type[BaseModel], node: Node, path: Path, at: Path, line: int) -> Any:
        """A list of tables. One that is no table leaves an empty one, so that the others keep their places."""
        if not isinstance(node, Listing):
            return self._omit(at, path, node, line, "a list of tables of keys", "Begin each with a dash.")
        items = (
            self._value(model, item, (*path, index), (*at, index), item.line) for index, item in enumerate(node.items)
        )
        return [{} if item is _OMITTED else item for item in items]

    def _readings(self, model: type[Reading], node: Node, path: Path, at: Path, line: int) -> Any:
        """Readings as a bare number, a long form, or a list of these: what the model's own validator writes out."""
        if isinstance(node, Listing):
            if len(node.items) > MAX_READINGS:
                expected = f"at most {MAX_READINGS} readings of one quantity"
                return self._omit(at, path, node, line, expected, "Keep the readings that count.")
            items = [
                self._reading(model, item, (*path, index), (*at, index), item.line)
                for index, item in enumerate(node.items)
            ]
            if _OMITTED in items:
                self._draft.dropped.add(at)
                return _OMITTED
            return items
        if isinstance(node, Scalar) and node.value is None and not node.is_quoted:
            return None
        return self._reading(model, node, path, at, line)

    def _reading(self, model: type[Reading], node: Node, path: Path, at: Path, line: int) -> Any:
        if isinstance(node, Table):
            self._draft.places[at] = Place(path, line, node, model)
            # A single long form is the first of a list of one to the model.
            first = at if isinstance(at[-1], int) else (*at, 0)
            return self._table(model, node, path, first)
        if isinstance(node, Listing):
            return self._omit(at, path, node, line, "a number or a long form", "Take the inner list apart.")
        return self._value(float, node, path, at, line)

    def _leaf(self, wanted: Any, node: Scalar, path: Path, at: Path) -> Any:
        fits, words = _LEAVES.get(wanted, (_as_text, "text"))
        value = fits(node)
        if value is not None:
            return value
        expected = _kind_words(wanted, path)
        do = _leaf_advice(wanted, node, path)
        return self._omit(at, path, node, node.line, expected or words, do)

    def _omit(self, at: Path, path: Path, node: Node, line: int, expected: str, do: str) -> _Omitted:
        self._faults.add(where=path, line=line, found=described(node), expected=expected, do=do)
        self._draft.dropped.add(at)
        return _OMITTED


_TABLE_WORDS = ("a table of keys", "Write keys and values under it, indented, or leave it out.")
_UNLIST = "Write one value; several readings can be given only of a level, a depth, a width or a thickness."


def _as_number(node: Scalar) -> float | None:
    if isinstance(node.value, bool) or not isinstance(node.value, int | float) or not math.isfinite(node.value):
        return None
    return float(node.value)


def _as_whole(node: Scalar) -> int | None:
    value = _as_number(node)
    return int(value) if value is not None and value.is_integer() else None


def _as_flag(node: Scalar) -> bool | None:
    return node.value if isinstance(node.value, bool) else None


def _as_day(node: Scalar) -> dt.date | None:
    if not isinstance(node.value, str) or not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", node.value):
        return None
    try:
        return dt.date.fromisoformat(node.value)
    except ValueError:
        return None


def _as_text(node: Scalar) -> str | None:
    return node.value if isinstance(node.value, str) else None


_LEAVES: dict[Any, tuple[Callable[[Scalar], Any], str]] = {
    float: (_as_number, "a number"),
    int: (_as_whole, "a whole number"),
    bool: (_as_flag, "true or false"),
    dt.date: (_as_day, "a day as 2026-02-11"),
    str: (_as_text, "text"),
}


def _kind_words(wanted: Any, path: Path) -> str:
    """What a place wants, in words with the unit its key names."""
    if wanted is float:
        return f"a number{unit_words(path)}"
    if isinstance(wanted, type) and issubclass(wanted, Enum):
        return "one of " + ", ".join(str(word) for word in wanted)
    if get_origin(wanted) is Literal:
        return "one of " + ", ".join(str(word) for word in get_args(wanted))
    return _LEAVES.get(wanted, (_as_text, "text"))[1]


def unit_words(path: Path) -> str:
    """The unit that the keys of a path name, in words: " of millimetres" and the like."""
    for step in reversed(path):
        if isinstance(step, str):
            for ending, words in (("_mm", " of millimetres"), ("_deg", " of degrees"), ("_years", " of years")):
                if step.endswith(ending):
                    return words
    return ""


def _leaf_advice(wanted: Any, node: Scalar, path: Path) -> str:
    if wanted in (float, int):
        return not_a_number(node, unit_words(path))
    if wanted is bool:
        return (
            "Write true or false, without quotes; leave the key out where nobody asked: "
            "an unanswered question stays unknown."
        )
    if wanted is dt.date:
        return "Write the day as year-month-day, e.g. 2026-02-11, a day that exists, without a time."
    if path[-1:] == ("notation",):
        return "Write how the teeth are named."
    if node.is_quoted or node.value is None:
        return "Write the text."
    return f'Put it in double quotes: "{node.text}".'

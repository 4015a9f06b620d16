"""What the model refuses, in plain words: where, what was found, what was expected, what to do."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Mapping
from typing import Any, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from festoon.model.quantities import QuantityReading
from festoon.model.reading import Datum, DepthReading, LevelReading
from festoon.records.document import Faults, Path, Table, described, shown
from festoon.records.kinds import Draft, Place, bare, is_model, unit_words

Words = tuple[str, str]
"""What was expected, and what to do."""

_SYNONYMS = (
    ("buccal", "facial"),
    ("labial", "facial"),
    ("vestibular", "facial"),
    ("palatal", "lingual"),
    ("mucogingival_junction", "mucogingival"),
    ("mgj", "mucogingival"),
    ("bone_level", "crest"),
    ("bone_sounding", "sounding"),
    ("pocket", "probing"),
    ("gingival_margin", "margin"),
)
"""Other people's words for ours, to find the key that was meant."""
_DATUM = f"Say from what it was read: datum: {', '.join(datum.value for datum in Datum)}."


def add_refusals(error: ValidationError, draft: Draft, faults: Faults) -> None:
    """Every refusal of the model as a fault in plain words; what has its fault already is passed over."""
    for detail in error.errors(include_url=False):
        path: Path = tuple(detail["loc"])
        if any(path[:length] in draft.dropped for length in range(len(path) + 1)):
            continue
        is_key = path[-1:] == ("[key]",)
        place = draft.place(path[:-1] if is_key else path)
        expected, do = words_for(detail, place, path, draft.model)
        found = _found(detail, place, is_key, path)
        where = place.path
        if detail["type"] == "missing":
            where = (*place.path, path[-1])
        elif place.wanted is QuantityReading:
            where, found = (*place.path, "datum"), "a datum" if _has_datum(place) else "no datum"
        faults.add(where=where, line=place.line, found=found, expected=expected, do=do)


def words_for(detail: ErrorDetails, place: Place, path: Path, model: type[BaseModel]) -> Words:
    """What was expected and what to do, for one refusal of the model of a whole document."""
    kind = detail["type"]
    context = detail.get("ctx", {})
    if kind == "missing":
        return _missing(str(path[-1]))
    if kind == "extra_forbidden":
        return _unknown_key(str(path[-1]), path, model)
    if path[-1:] == ("[key]",):
        return _unknown_name(str(path[-2]), str(context.get("expected", "")))
    return WORDS[kind](context, place)


def _found(detail: ErrorDetails, place: Place, is_key: bool, path: Path) -> str:
    if detail["type"] == "missing":
        return "nothing"
    if is_key:
        return f"the key {shown(str(path[-2]))}"
    if detail["type"] == "extra_forbidden":
        return f"the key {shown(str(path[-1]))}"
    return described(place.node)


def _missing(key: str) -> Words:
    advice = {
        "case": "Give the case a pseudonymous code: case: demo-a. No names of persons.",
        "notation": "Add notation: fdi, universal or palmer.",
        "teeth": 'Add teeth: and under it each tooth with its key in quotes, e.g. "11":.',
        "quantity": "Say what was read, e.g. quantity: margin_level.",
        "value": "Give the value that was read; where nothing was read, leave the whole entry out.",
        "reason": "Say why, in a few words: the reason is kept and printed.",
    }
    return f"{key}, which must be there", advice.get(key, f"Add {key}.")


def _fields_at(path: Path, model: type[BaseModel]) -> Mapping[str, Any]:
    """The keys known at a path of the model."""
    wanted: Any = model
    for step in path:
        if is_model(wanted):
            info = wanted.model_fields.get(str(step))
            wanted = None if info is None else bare(info.annotation)
        elif get_origin(wanted) is dict:
            wanted = bare(get_args(wanted)[1])
        elif get_origin(wanted) is tuple:
            wanted = get_args(wanted)[0]
    return wanted.model_fields if is_model(wanted) else {}


def _homes(wanted: Any, path: tuple[str, ...] = ()) -> dict[str, str]:
    """Each key of the file and one place where it belongs, the outermost first."""
    placeholder = {"teeth": "<tooth>", "sites": "<site>", "papillae": "<papilla>", "limits": "<limit>"}
    found: dict[str, str] = {}
    inner: dict[str, str] = {}
    for key, info in wanted.model_fields.items():
        annotation = bare(info.annotation)
        here = (*path, key)
        found[key] = ".".join(here)
        if get_origin(annotation) is dict:
            annotation = bare(get_args(annotation)[1])
            here = (*here, placeholder.get(key, "<name>"))
        if isinstance(annotation, type) and issubclass(annotation, BaseModel):
            inner = _homes(annotation, here) | inner
    return inner | found


def nearest(key: str, known: list[str]) -> str | None:
    """The known key that ``key`` was probably meant to be."""
    tried = key.strip().lower().replace("-", "_").replace(" ", "_")
    for theirs, ours in _SYNONYMS:
        tried = tried.replace(theirs, ours)
    for candidate in (tried, f"{tried}_mm"):
        if candidate in known:
            return candidate
    close = difflib.get_close_matches(tried, known, n=1, cutoff=0.6)
    return close[0] if close else None


def _unknown_key(key: str, path: Path, model: type[BaseModel]) -> Words:
    known = list(_fields_at(path[:-1], model))
    stem, _, ending = key.rpartition("_")
    if f"{stem}_mm" in known and ending.lower() in ("cm", "dm", "m", "um", "µm", "in", "inch", "inches"):
        return (
            f"{stem}_mm: lengths are in millimetres only",
            f"Convert the value to millimetres and write it under {stem}_mm; festoon never converts in silence.",
        )
    if key == "<<":
        return (
            "every value written where it belongs",
            "Write the merged keys out: a reference hides whose number it is.",
        )
    if re.fullmatch(r"[0-9.]+", key.strip()):
        return (
            "a key of this place, which is a word",
            "If it is the rest of a number: write a decimal point; between { and } a comma begins the next key.",
        )
    close = nearest(key, known)
    if close:
        return (
            f"a key of this place, such as {close}",
            f"Write {close} if that was meant; otherwise take the key out.",
        )
    home = _homes(model).get(key)
    if home:
        return f"{key} at its own place, {home}", "Move it there."
    listed = ", ".join(known) if len(known) <= 20 else ", ".join(known[:20]) + ", …"
    return f"one of the keys {listed}", "Take the key out; remarks go into flag in the long form of a reading."


def _unknown_name(name: str, expected: str) -> Words:
    known = [word.strip().strip("'") for part in expected.split(", ") for word in part.split(" or ")]
    close = nearest(name, known)
    do = f"Write {close} if that was meant." if close else "Use one of these names."
    return "one of " + ", ".join(known), do


def _has_datum(place: Place) -> bool:
    return isinstance(place.node, Table) and place.node.entry("datum") is not None


_IN_MM = ("mm", "Convert the value to millimetres and write unit: mm, or leave unit out.")


def _one_of(context: Mapping[str, Any], place: Place) -> Words:
    if place.path[-1:] == ("unit",):
        return _IN_MM
    known = [word.strip().strip("'") for part in str(context["expected"]).split(", ") for word in part.split(" or ")]
    text = getattr(place.node, "text", "")
    close = nearest(text, known)
    return "one of " + ", ".join(known), f"Write {close} if that was meant." if close else "Use one of these words."


def _bound(words: str, key: str) -> Callable[[Mapping[str, Any], Place], Words]:
    def said(context: Mapping[str, Any], place: Place) -> Words:
        bound = f"{context[key]:g}"
        return f"a number{unit_words(place.path)} {words} {bound}", "Check the number, its sign and its unit."

    return said


def _pattern(_context: Mapping[str, Any], place: Place) -> Words:
    if place.path[-1:] == ("unit",):
        return _IN_MM
    return (
        "a code of letters, digits, dots, dashes and underscores, at most 64, beginning with a letter or digit",
        "Give the case a pseudonymous code without blanks; names of persons do not belong in a case file.",
    )


def _own_words(context: Mapping[str, Any], place: Place) -> Words:
    """A rule of the model itself: its message is ``what is wrong: what to do``."""
    if place.wanted is LevelReading:
        return "a level with its datum", _DATUM
    if place.wanted is QuantityReading:
        if _has_datum(place):
            return "no datum: only a level has one", "Take the datum out."
        return "a level with its datum", _DATUM
    if place.wanted is DepthReading:
        return "no datum: a depth, a width or a thickness has none", "Take the datum out."
    said, _, do = str(context["error"]).partition(": ")
    return said, f"{do[:1].upper()}{do[1:]}." if do else "Mend it or leave it out."


WORDS: dict[str, Callable[[Mapping[str, Any], Place], Words]] = {
    "enum": _one_of,
    "literal_error": _one_of,
    "greater_than": _bound("above", "gt"),
    "greater_than_equal": _bound("of at least", "ge"),
    "less_than": _bound("below", "lt"),
    "less_than_equal": _bound("of at most", "le"),
    "string_pattern_mismatch": _pattern,
    "string_too_short": lambda context, _: (
        f"at least {context['min_length']} characters",
        "Say it in a few words: they are kept and printed.",
    ),
    "too_short": lambda _, __: (
        "at least one tooth",
        'Add the teeth, each with its key in quotes, e.g. "11":.',
    ),
    "value_error": _own_words,
}
"""By the model's own name of a refusal. A test holds this against everything the model can refuse."""


def without_refused(error: ValidationError, draft: Draft) -> None:
    """Take out of the draft whatever the model refused, so that the rest of the file can still be checked."""
    for detail in error.errors(include_url=False, include_context=False, include_input=False):
        path: Path = tuple(step for step in detail["loc"] if step != "[key]")
        if detail["type"] == "missing":
            path = path[:-1]
        while path and (isinstance(path[-1], int) or not _take_out(draft.data, path)):
            path = path[:-1]
        draft.dropped.add(path)


def _take_out(data: Any, path: Path) -> bool:
    for step in path[:-1]:
        if not isinstance(data, dict) or step not in data:
            return False
        data = data[step]
    return isinstance(data, dict) and data.pop(path[-1], data) is not data

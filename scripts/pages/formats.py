"""The file formats, key by key, from the models that read and write them."""

from __future__ import annotations

import ast
import datetime as dt
import inspect
import textwrap
import types
from collections.abc import Iterator
from enum import Enum
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from annotated_types import Ge, Gt, Le, Lt, MinLen
from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from festoon.evidence.defaults import SETTINGS
from festoon.model.case import Case
from festoon.model.plan import PaperSite, PaperTooth, Plan, SitePlan, ToothPlan
from festoon.model.practice_files import PlannedLevels, SurgeryNote
from festoon.model.quantities import FRAME_DEFINITIONS, Quantity, QuantityReading, Readings
from festoon.model.reading import DepthReading, LevelReading, Reading
from festoon.model.recall import RecallState
from festoon.model.surgery import SurgeryState
from festoon.model.verification import Verification
from pages.markdown import NOTICE, cell, code, prose, table
from pages.meanings import MEANINGS

_UNITS = {"_mm": "mm", "_deg": "degrees", "_years": "years", "_kg": "kg"}
_SIGNS = ((Ge, "≥", "ge"), (Gt, ">", "gt"), (Le, "≤", "le"), (Lt, "<", "lt"))
_PLAIN = {str: "text", float: "number", int: "whole number", bool: "true or false", dt.date: "date, YYYY-MM-DD"}
_SAME_AS: dict[type[BaseModel], type[BaseModel]] = {PaperTooth: ToothPlan, PaperSite: SitePlan}
_QUANTITY = {quantity.case_key: quantity.definition for quantity in Quantity if quantity.case_key}

_INTRODUCTIONS: dict[type[BaseModel], str] = {
    Case: """# The case file

Format `festoon-case/1`, YAML or JSON, UTF-8. Everything not given is *unknown*: never zero, never a silent default. An unknown
key is refused, with its file, line, what was found, what was expected and what to do; all faults of a file are told together.
`festoon schema case` prints the JSON Schema.

**A reading** is written as a bare number in millimetres (`margin_mm: 8.1`, by the default method of that quantity, a level then
being from the present edge), in the long form (`{value: 8.1, se: 0.1, method: scan, datum: present_edge, by: op-2, at:
2026-03-02}`), or as a list of either where one quantity was read several times. Only a *level* has a datum.

Keys of teeth are quoted (`"11"`), in the notation that the file declares; papillae are named by their two teeth (`"11-21"`).
`null` is the same as leaving the key out. What every word means is in the [glossary](../glossary.md), what a level, a depth
and a height are in the [conventions](../conventions.md).

""",
    Plan: """# The plan

Format `festoon-plan/1`, JSON, as `festoon plan` writes it to `plan.json`. Levels are millimetres from the **planned** edge, apical
positive, unless a name says otherwise; *planned* means at the end of surgery. `null` means unknown: it is never zero. The same
case, version and evidence give the same bytes. `festoon schema plan` prints the JSON Schema. How the numbers come about is in
[the method](../method/plan.md).

""",
    Readings: """# Readings

Format `festoon-readings/1`, JSON: readings of one case from one source, such as a scan, a photograph or the chair. `festoon
schema readings` prints the JSON Schema with these definitions.

""",
    SurgeryNote: """# The note of a surgery

Format `festoon-surgery/1`, YAML or JSON: who operated how and when, beside the readings of the visits in a folder of a case, for
`festoon audit`. What the records hold of a surgery is more: [the state](surgery-state.md). `festoon schema surgery` prints the JSON Schema.

""",
    SurgeryState: """# The state of a surgery

Format `festoon-surgery-state/1`, JSON, as `festoon surgery show --json` prints it and the app draws it: what was read, what remains site by
site, where the flap is sutured. Levels are millimetres from the **planned** edge, apical positive, unless a name says otherwise. `null` means
unknown: it is never zero. `festoon schema surgery-state` prints the JSON Schema. How it comes about is in [the method](../method/surgery.md).

""",
    RecallState: """# The state of a recall

Format `festoon-recall/1`, JSON, as `festoon recall show --json` prints it: the visits after a surgery against the band that healing was expected
to keep. Levels are millimetres from the **planned** edge, apical positive. `null` means unknown. `festoon schema recall` prints the JSON Schema.
How it comes about is in [the method](../method/recall.md).

""",
    PlannedLevels: """# Planned levels

Format `festoon-planned-levels/1`, JSON: the levels that the hands work to, for `festoon audit`, where a whole [plan](plan.md) is not at hand.
Millimetres from the **planned** edge, apical positive. `festoon schema planned-levels` prints the JSON Schema.

""",
    Verification: """# The verification

Format `festoon-verification/1`, JSON, as `festoon verify --json` prints it: readings of one moment held against a plan. Levels are
millimetres from the **planned** edge, apical positive, unless a name says otherwise; differences are apical positive. `null` means
unknown: it is never zero. How the comparisons are made is in [the method](../method/verification.md).

""",
}


def format_page(root: type[BaseModel]) -> str:
    """The page of one format: a table per record, the record itself first, then its parts as they appear."""
    parts = [NOTICE, _INTRODUCTIONS[root]]
    if root is Readings:
        parts += ["## Quantities\n\n", *_quantities()]
    for model in records_of(root):
        parts.append(f"## {_title(model, root)}\n\n")
        if model is not root:
            parts.append(f"{prose(model.__doc__)}\n\n")
        parts.append(table(("key", "type", "unit", "meaning"), (_row(model, *field) for field in _fields(model))))
    names = list(_enums(root))
    if names:
        parts.append("## Words\n\n")
        for enum in names:
            parts.append(f"### {_spoken(enum.__name__)}\n\n{prose(enum.__doc__)}\n\n")
            words = member_words(enum)
            parts.append(table(("word", "meaning"), ((code(m.value), cell(words[m.name])) for m in enum)))
    return "".join(parts).rstrip() + "\n"


def records_of(root: type[BaseModel]) -> list[type[BaseModel]]:
    """Every record reached from a format, in the order in which it first appears."""
    found: list[type[BaseModel]] = []

    def visit(model: type[BaseModel]) -> None:
        if model not in found:
            found.append(model)
            for _, field in _fields(model):
                for inner in _classes(field.annotation):
                    if issubclass(inner, BaseModel):
                        visit(inner)

    visit(root)
    return found


def meaning_of(model: type[BaseModel], key: str, field: FieldInfo) -> str:
    """What a key means; empty where nobody says."""
    own = field.description or MEANINGS.get(f"{model.__name__}.{key}")
    if own:
        return prose(own)
    like = _SAME_AS.get(model)
    if like is not None and key in like.model_fields:
        return meaning_of(like, key, like.model_fields[key])
    setting = SETTINGS.get(key) if model.__name__ == "PolicyChoice" else None
    if setting is not None:
        return f"{setting.meaning[0].upper()}{setting.meaning[1:]}."
    if key in _QUANTITY and model.__module__ == "festoon.model.case":
        return _QUANTITY[key]
    if key in MEANINGS:
        return MEANINGS[key]
    inner = [one for one in _classes(field.annotation) if issubclass(one, BaseModel | Enum)]
    inner = [one for one in inner if not issubclass(one, Reading)]
    return prose((inner[0].__doc__ or "").split("\n\n")[0]) if len(inner) == 1 else ""


def _title(model: type[BaseModel], root: type[BaseModel]) -> str:
    if model is root:
        return "The whole file"
    return _spoken(model.__name__)


def _spoken(name: str) -> str:
    words = "".join(f" {letter.lower()}" if letter.isupper() else letter for letter in name).strip()
    return words[0].upper() + words[1:]


def _fields(model: type[BaseModel]) -> Iterator[tuple[str, FieldInfo]]:
    yield from model.model_fields.items()


def _row(model: type[BaseModel], key: str, field: FieldInfo) -> tuple[str, str, str, str]:
    shown = field.alias or key
    unit = "mm" if issubclass(model, Reading | QuantityReading) and key in ("value", "se") else ""
    unit = unit or next((unit for ending, unit in _UNITS.items() if key.endswith((ending, f"{ending[1:]}_by"))), "")
    kind = _kind(field)
    must = " **Must be given.**" if field.is_required() and not issubclass(model, Plan) else ""
    return code(shown), kind, unit or "–", cell(meaning_of(model, key, field)).replace("\\*\\*", "**") + must


def _kind(field: FieldInfo) -> str:
    kind = _type(field.annotation)
    bounds = _bounds(field.metadata) or _bounds(_metadata(field.annotation))
    default = field.default
    if default not in (None, PydanticUndefined, (), {}) and not isinstance(default, BaseModel | Enum):
        kind += f", default {code(str(default).lower() if isinstance(default, bool) else default)}"
    return kind + bounds


def _metadata(annotation: Any) -> list[Any]:
    found = list(getattr(annotation, "__metadata__", ()))
    for part in get_args(annotation):
        found += _metadata(part) if get_origin(part) is Annotated else []
    flat: list[Any] = []
    for item in found:
        flat += [*item.metadata] if isinstance(item, FieldInfo) else [item]
    return flat


def _bounds(metadata: list[Any]) -> str:
    signs = [
        f"{sign} {getattr(item, name):g}"
        for item in metadata
        for kind, sign, name in _SIGNS
        if isinstance(item, kind) and isinstance(getattr(item, name), int | float)
    ]
    signs += [f"at least {item.min_length} entry" for item in metadata if isinstance(item, MinLen)]
    return f", {' and '.join(signs)}" if signs else ""


def _type(annotation: Any) -> str:
    """A type in words."""
    origin, arguments = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        return _type(arguments[0])
    if origin in (Union, types.UnionType):
        return " or ".join(dict.fromkeys(_type(part) for part in arguments if part is not type(None)))
    if origin is Literal:
        return ", ".join(code(word) for word in arguments)
    if origin is tuple:
        if len(arguments) == 2 and arguments[1] is not Ellipsis:
            return f"pair of {_type(arguments[0])}s"
        inner = arguments[0]
        if inner in (LevelReading, DepthReading):
            return "reading of a level" if inner is LevelReading else "reading"
        return f"list of {_type(inner)}"
    if origin is dict:
        return f"table from {_type(arguments[0])} to {_type(arguments[1])}"
    if annotation is Quantity:
        return "[quantity](readings.md#quantities)"
    if isinstance(annotation, type) and issubclass(annotation, Enum | BaseModel):
        return f"[{_spoken(annotation.__name__).lower()}](#{_spoken(annotation.__name__).lower().replace(' ', '-')})"
    return _PLAIN[annotation]


def _classes(annotation: Any) -> Iterator[type]:
    if isinstance(annotation, type) and not get_args(annotation):
        yield annotation
    for part in get_args(annotation):
        yield from _classes(part)


def _enums(root: type[BaseModel]) -> Iterator[type[Enum]]:
    seen: set[type] = set()
    for model in records_of(root):
        for _, field in _fields(model):
            for inner in _classes(field.annotation):
                if issubclass(inner, Enum) and inner is not Quantity and inner not in seen:
                    seen.add(inner)
                    yield inner


def member_words(enum: type[Enum]) -> dict[str, str]:
    """The sentence under each member, which Python itself does not keep: read from the source."""
    (definition,) = ast.parse(textwrap.dedent(inspect.getsource(enum))).body
    words: dict[str, str] = {member.name: "" for member in enum}
    if not isinstance(definition, ast.ClassDef):
        raise TypeError(f"{enum} is no class")
    for node, after in zip(definition.body, definition.body[1:], strict=False):
        is_text = isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant)
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name) and is_text:
            words[node.targets[0].id] = prose(str(after.value.value))
    return words


def _quantities() -> Iterator[str]:
    yield "What was read, by its trade name. A level must say its datum; nothing else has one. Unit: mm, but degrees for an angle and 1 for a ratio.\n\n"
    yield table(
        ("quantity", "kind", "key in the case file", "definition"),
        (
            (
                code(quantity.value),
                "level" if quantity.is_level else {"mm": "length", "deg": "angle", "1": "ratio"}[quantity.unit],
                code(quantity.case_key) if quantity.case_key else "derived",
                cell(quantity.definition),
            )
            for quantity in Quantity
        ),
    )
    yield "What these rest on:\n\n"
    yield table(("word", "definition"), ((cell(word), cell(text)) for word, text in FRAME_DEFINITIONS.items()))

"""JSON Schemas (2020-12) of the file formats, derived from the models so that they accept what is accepted."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pydantic import BaseModel

from festoon.model.case import Case
from festoon.model.dentition import Notation
from festoon.model.plan import Plan
from festoon.model.practice_files import PlannedLevels, SurgeryNote
from festoon.model.quantities import FRAME_DEFINITIONS, Quantity, Readings
from festoon.model.recall import RecallState
from festoon.model.surgery import SurgeryState
from festoon.model.verification import Verification
from festoon.records.kinds import MAX_READINGS

_DIALECT = "https://json-schema.org/draft/2020-12/schema"
_TOOTH = {
    "fdi": "[1-4][1-8]",
    "universal": "([1-9]|[12][0-9]|3[0-2])",
    "palmer": "([Uu][Rr]|[Uu][Ll]|[Ll][Ll]|[Ll][Rr])[1-8]",
}
_BLANK = "[ \\t]*"

Schema = dict[str, Any]


def case_schema() -> Schema:
    """Schema of a case file, ``festoon-case/1``.

    A reading is a bare number, a long form or a list of these; null is the same as a key left out. What a mouth allows
    (a margin coronal to the mucogingival junction, readings that agree) no schema can say: the reader checks it.
    """
    schema = _schema(Case, "urn:festoon:case-1", mode="validation")
    definitions = schema["$defs"]
    _say_datum(definitions)
    for holder in (schema, *definitions.values()):
        for key, wanted in holder.get("properties", {}).items():
            if key not in holder.get("required", ()):
                holder["properties"][key] = _or_null(wanted)
    for array in list(_reading_arrays(schema)):
        item = array.pop("items")
        array.pop("type")
        array.pop("default", None)
        array["anyOf"] = [
            {"type": "number"},
            item,
            {"type": "array", "maxItems": MAX_READINGS, "items": {"anyOf": [{"type": "number"}, item]}},
            {"type": "null"},
        ]
    for name in ("teeth", "papillae"):
        _let_entries_be_null(schema["properties"][name])
    _let_entries_be_null(definitions["ToothChart"]["properties"]["sites"])
    schema["allOf"] = [_keys_in(notation, tooth) for notation, tooth in _TOOTH.items()]
    return schema


def plan_schema() -> Schema:
    """Schema of a plan, ``festoon-plan/1``, as it is written."""
    return _schema(Plan, "urn:festoon:plan-1", mode="serialization")


def verification_schema() -> Schema:
    """Schema of a verification, ``festoon-verification/1``, as it is printed."""
    return _schema(Verification, "urn:festoon:verification-1", mode="serialization")


def surgery_schema() -> Schema:
    """Schema of the note of a surgery beside plain readings, ``festoon-surgery/1``."""
    return _schema(SurgeryNote, "urn:festoon:surgery-1", mode="validation")


def surgery_state_schema() -> Schema:
    """Schema of a surgery as it is printed, ``festoon-surgery-state/1``."""
    return _schema(SurgeryState, "urn:festoon:surgery-state-1", mode="serialization")


def recall_schema() -> Schema:
    """Schema of the recalls of a surgery as they are printed, ``festoon-recall/1``."""
    return _schema(RecallState, "urn:festoon:recall-1", mode="serialization")


def planned_levels_schema() -> Schema:
    """Schema of planned levels without a plan, ``festoon-planned-levels/1``."""
    return _schema(PlannedLevels, "urn:festoon:planned-levels-1", mode="validation")


def readings_schema() -> Schema:
    """Schema of a list of readings, ``festoon-readings/1``, with the definition of every quantity.

    Teeth are in ISO 3950; a file may declare another notation, as a case file does.
    """
    schema = _schema(Readings, "urn:festoon:readings-1", mode="validation")
    schema["description"] += " " + " ".join(f"{name}: {text}" for name, text in FRAME_DEFINITIONS.items())
    definitions = schema["$defs"]
    definitions["Quantity"] = {
        "title": "Quantity",
        "description": "What was read, with its definition.",
        "oneOf": [
            {
                "const": quantity.value,
                "title": quantity.value.replace("_", " "),
                "description": f"{quantity.definition} Unit: {quantity.unit}."
                + (" A level: its datum must be said." if quantity.is_level else ""),
            }
            for quantity in Quantity
        ],
    }
    reading = definitions["QuantityReading"]
    levels = [quantity.value for quantity in Quantity if quantity.is_level]
    reading["if"] = {"properties": {"quantity": {"enum": levels}}, "required": ["quantity"]}
    reading["then"] = {"required": ["datum"], "properties": {"datum": {"not": {"type": "null"}}}}
    reading["else"] = {"properties": {"datum": {"type": "null"}}}
    other = {quantity.value: quantity.unit for quantity in Quantity if quantity.unit != "mm"}
    reading["allOf"] = [_unit_of([name], unit, said=True) for name, unit in other.items()]
    reading["allOf"].append(_unit_of([q.value for q in Quantity if q.value not in other], "mm", said=False))
    about = {key: text for key, text in reading["properties"]["tooth"].items() if key == "description"}
    reading["properties"]["tooth"] = about | {"type": ["string", "integer", "null"]}
    schema["properties"]["notation"] = {"enum": [*Notation], "default": "fdi", "description": "How teeth are named."}
    schema["allOf"] = [_teeth_in(notation, tooth) for notation, tooth in _TOOTH.items()]
    return schema


def _unit_of(quantities: list[str], unit: str, *, said: bool) -> Schema:
    """The unit that readings of some quantities have; mm need not be said."""
    then: Schema = {"properties": {"unit": {"const": unit}}} | ({"required": ["unit"]} if said else {})
    return {"if": {"properties": {"quantity": {"enum": quantities}}, "required": ["quantity"]}, "then": then}


def _teeth_in(notation: str, tooth: str) -> Schema:
    """Teeth of readings where one notation is declared; ISO 3950 where none is."""
    teeth = {"items": {"properties": {"tooth": {"pattern": f"^{_BLANK}{tooth}{_BLANK}$"}}}}
    declared = {"properties": {"notation": {"const": notation}}} | (
        {} if notation == "fdi" else {"required": ["notation"]}
    )
    return {"if": declared, "then": {"properties": {"readings": teeth}}}


def _schema(model: type[BaseModel], name: str, *, mode: Any) -> Schema:
    schema = {"$schema": _DIALECT, "$id": name} | model.model_json_schema(mode=mode, by_alias=True)
    for day in _days(schema):
        day["pattern"] = "^[0-9]{4}-[0-9]{2}-[0-9]{2}$"
    return schema


def _days(node: Any) -> Iterator[Schema]:
    if isinstance(node, dict):
        if node.get("format") == "date":
            yield node
        node = list(node.values())
    if isinstance(node, list):
        for value in node:
            yield from _days(value)


def _say_datum(definitions: Schema) -> None:
    """What the readings' own validators hold: a level has a datum, nothing else has."""
    level, depth = definitions["LevelReading"], definitions["DepthReading"]
    level["required"] = [*level["required"], "datum"]
    level["properties"]["datum"] = {"$ref": "#/$defs/Datum", "description": level["properties"]["datum"]["description"]}
    depth["properties"]["datum"] = {"type": "null"}


def _or_null(wanted: Schema) -> Schema:
    if wanted.get("type") in ("array", "null") or {"type": "null"} in wanted.get("anyOf", ()):
        return wanted
    about = {key: wanted.pop(key) for key in ("title", "description", "default") if key in wanted}
    return {"anyOf": [wanted, {"type": "null"}]} | about


def _reading_arrays(node: Any) -> Iterator[Schema]:
    if isinstance(node, dict):
        if node.get("type") == "array" and node.get("items", {}).get("$ref", "").endswith("Reading"):
            yield node
        for value in node.values():
            yield from _reading_arrays(value)
    elif isinstance(node, list):
        for value in node:
            yield from _reading_arrays(value)


def _let_entries_be_null(table: Schema) -> None:
    """A tooth, a site or a papilla with nothing after its colon is one of which nothing is known."""
    for part in (table, *table.get("anyOf", ())):
        entry = part.get("additionalProperties")
        if isinstance(entry, dict):
            part["additionalProperties"] = {"anyOf": [entry, {"type": "null"}]}


def _keys_in(notation: str, tooth: str) -> Schema:
    """Tooth keys, papilla keys and roles where one notation is declared."""
    key = f"^{_BLANK}{tooth}{_BLANK}$"
    pair = f"^{_BLANK}{tooth}{_BLANK}[-/–]{_BLANK}{tooth}{_BLANK}$"
    role = {"properties": {"role": {"anyOf": [{"type": "string", "pattern": key}, {"type": "null"}]}}}
    return {
        "if": {"properties": {"notation": {"const": notation}}},
        "then": {
            "properties": {
                "teeth": {"propertyNames": {"pattern": key}, "additionalProperties": role},
                "papillae": {"propertyNames": {"pattern": pair}},
            }
        },
    }

"""Whatever the model can refuse has a message in plain words."""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml

from festoon.errors import InputRefusedError
from festoon.model.case import Case, SiteChart
from festoon.records.casefile import parse_case
from festoon.records.plain_words import WORDS, nearest

FULL = yaml.safe_load((Path(__file__).parents[2] / "cases" / "full.yaml").read_text(encoding="utf-8"))

BY_KEYS_OF_THE_TABLE = {"missing", "extra_forbidden"}
"""Refusals whose words depend on the key and not on the value."""
REFUSALS: dict[str, dict[str, str]] = {
    # Core schema type: its constraint, and the refusal the constraint gives. Kinds (float_type and the like) are
    # settled before the model sees the value; the test of junk below shows that none gets through.
    "model": {},
    "model-fields": {"": "missing extra_forbidden"},
    "model-field": {},
    "definitions": {},
    "definition-ref": {},
    "default": {},
    "nullable": {},
    "bool": {},
    "date": {},
    "literal": {"": "literal_error"},
    "enum": {"": "enum"},
    "str": {"pattern": "string_pattern_mismatch", "min_length": "string_too_short"},
    "float": {
        "gt": "greater_than",
        "ge": "greater_than_equal",
        "lt": "less_than",
        "le": "less_than_equal",
        "allow_inf_nan": "",
    },
    "int": {"ge": "greater_than_equal", "le": "less_than_equal"},
    "function-before": {},
    "function-after": {"": "value_error"},
    "no-info": {},
    "tuple": {},
    "dict": {"min_length": "too_short"},
}
NOT_CONSTRAINTS = {
    "type", "schema", "ref", "metadata", "serialization", "root_model", "custom_init", "config", "cls", "model_name",
    "fields", "computed_fields", "default", "expected", "members", "sub_type", "function", "items_schema",
    "definitions", "variadic_item_index", "schema_ref", "keys_schema", "values_schema",
}  # fmt: skip


def core_schemas(node: Any) -> Iterator[dict[str, Any]]:
    if isinstance(node, dict):
        if isinstance(node.get("type"), str):
            yield node
        node = list(node.values())
    if isinstance(node, list | tuple):
        for value in node:
            yield from core_schemas(value)


def test_every_refusal_of_the_model_has_plain_words() -> None:
    """A new constraint on the case must get its words here before it can be released."""
    possible: set[str] = set()
    for schema in core_schemas(Case.__pydantic_core_schema__):
        refusals = REFUSALS[schema["type"]]
        possible.update(refusals.get("", "").split())
        for constraint in set(schema) - NOT_CONSTRAINTS:
            possible.update(refusals[constraint].split())
    assert len(possible) > 8
    assert possible - BY_KEYS_OF_THE_TABLE <= set(WORDS)
    assert set(WORDS) <= possible, "words for what cannot happen"


def paths(node: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    if path:
        yield path
    entries = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    for key, value in entries:
        yield from paths(value, (*path, key))


def small() -> dict[str, Any]:
    """The full example with one tooth, two of its sites and one papilla."""
    case = json.loads(json.dumps(FULL, default=str))
    tooth = case["teeth"]["11"]
    tooth["sites"] = {name: tooth["sites"][name] for name in ("mesial", "midfacial")}
    tooth["furcation_mm"] = {"facial": 12.0}
    case["teeth"] = {"11": tooth}
    case["papillae"] = {"11-21": case["papillae"]["11-21"]}
    return case


JUNK = ["8.1", "zzz", "", -7000, 1.5, True, None, [], [[]], {}, {"zzz": 1}]


@pytest.mark.parametrize("junk", JUNK, ids=repr)
def test_junk_in_any_place_is_a_case_or_a_refusal_in_plain_words(junk: Any) -> None:
    """Put in every place of a filled case, junk never gives another error nor a word of the validator's."""
    base = small()
    n_refused = 0
    for path in paths(base):
        case = copy.deepcopy(base)
        holder = case
        for step in path[:-1]:
            holder = holder[step]
        holder[path[-1]] = junk
        try:
            parse_case(json.dumps(case).encode(), "a.json")
        except InputRefusedError as refused:
            n_refused += 1
            for fault in refused.faults:
                assert fault.line is not None
                assert fault.found
                assert fault.expected
                assert fault.do
                assert "Input should" not in str(fault)
                assert "_type" not in fault.expected
    assert n_refused > (0 if junk is None else 10)


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("margin", "margin_mm"),
        ("Margin-mm", "margin_mm"),
        ("soundng_mm", "sounding_mm"),
        ("mgj_mm", "mucogingival_mm"),
        ("pocket", "probing_mm"),
        ("mucogingival_junction_mm", "mucogingival_mm"),
        ("xyzzy", None),
    ],
)
def test_the_key_that_was_meant_is_found(typed: str, meant: str | None) -> None:
    """Slips, missing units and other people's words lead to our key; nonsense leads to none."""
    assert nearest(typed, list(SiteChart.model_fields)) == meant

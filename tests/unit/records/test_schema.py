"""The published schemas accept what the reader accepts and refuse what it refuses by form."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import yaml
from jsonschema import Draft202012Validator

from festoon.errors import InputRefusedError
from festoon.model.case import Case, SiteChart, ToothChart
from festoon.model.quantities import Quantity, QuantityReading, Readings
from festoon.records.casefile import parse_case
from festoon.records.schema import case_schema, plan_schema, readings_schema

CASES = Path(__file__).parents[2] / "cases"
CASE = Draft202012Validator(case_schema())
READINGS = Draft202012Validator(readings_schema())


def accepts(case: Any) -> bool:
    """Does the reader accept this case, written as JSON?"""
    try:
        parse_case(json.dumps(case, default=str).encode(), "a.json")
    except InputRefusedError:
        return False
    return True


def case_with(**tooth: Any) -> dict[str, Any]:
    return {"format": "festoon-case/1", "case": "demo", "notation": "fdi", "teeth": {"11": tooth}}


def with_site(**values: Any) -> dict[str, Any]:
    return case_with(sites={"mesial": values})


@pytest.mark.parametrize("schema", [case_schema(), plan_schema(), readings_schema()], ids=lambda s: s["$id"])
def test_a_schema_is_sound_and_names_itself(schema: dict[str, Any]) -> None:
    """Valid under the dialect it names, with a name that no host answers to."""
    Draft202012Validator.check_schema(schema)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert schema["$id"].startswith("urn:festoon:")
    assert json.dumps(schema)


@pytest.mark.parametrize("name", ["full.yaml", "minimal.yaml"])
def test_the_examples_fit_the_schema(name: str) -> None:
    """What the reader reads, the schema accepts."""
    data = json.loads(json.dumps(yaml.safe_load((CASES / name).read_text(encoding="utf-8")), default=str))
    assert list(CASE.iter_errors(data)) == []


GOOD = [
    case_with(),
    case_with(width_mm=8),
    case_with(width_mm=None, sites=None, furcation_mm=None),
    with_site(margin_mm=4),
    with_site(margin_mm=[4, {"value": 4.1, "datum": "template"}]) | {"policy": None},
    with_site(sounding_mm={"value": 3, "se": None, "unit": None}),
    with_site(sounding_mm=[3.0, {"value": 3, "at": "2026-02-11"}]),
    case_with(sites={"mesial": None}),
    {"case": "demo", "notation": "universal", "teeth": {"8": None}, "papillae": {"9-8": {"root_distance_mm": 2}}},
    {"case": "demo", "notation": "palmer", "teeth": {"ur1": {"role": "UR2"}}, "phenotype": None},
]
for case in GOOD:
    template = case["teeth"].get("11")
    if template and (template.get("sites") or {}).get("mesial"):
        template["datum_offset_mm"] = {"template": 0}

BAD = [
    case_with(colour="A2"),
    case_with(width_mm="8"),
    case_with(width_mm=[[8]]),
    case_with(width_mm={"value": 8, "datum": "template"}),
    case_with(width_mm={"value": 8, "unit": "cm"}),
    case_with(width_mm={"value": None}),
    case_with(width_mm={"se": 1}),
    case_with(mobility=4),
    case_with(mobility=1.5),
    case_with(ankylosed="no"),
    case_with(status="naturel"),
    case_with(role="8"),
    case_with(target_ratio=0.3),
    with_site(margin_mm={"value": 4}),
    with_site(margin_mm={"value": 4, "datum": None}),
    with_site(margin_mm=[None]),
    case_with(sites={"midbuccal": {}}),
    case_with(furcation_mm={"buccal": 9}),
    {"case": "demo", "teeth": {"11": {}}},
    {"case": "demo", "notation": "fdi", "teeth": {}},
    {"case": "demo", "notation": "fdi", "teeth": {"8": {}}},
    {"case": "demo", "notation": "universal", "teeth": {"33": {}}},
    {"case": "demo", "notation": "palmer", "teeth": {"11": {}}},
    {"case": "demo", "notation": "fdi", "teeth": {"11": {}}, "papillae": {"11": {}}},
    {"case": "Jo Doe", "notation": "fdi", "teeth": {"11": {}}},
    {"case": "demo", "notation": None, "teeth": {"11": {}}},
    {"case": "demo", "notation": "fdi", "teeth": {"11": {}}, "examined_at": "11.2.2026"},
    {"format": "festoon-case/2", "case": "demo", "notation": "fdi", "teeth": {"11": {}}},
    [],
]


@pytest.mark.parametrize("case", GOOD, ids=str)
def test_schema_and_reader_accept_the_same(case: Any) -> None:
    """Scalar, long form, list of both, and null wherever a key may be left out."""
    assert list(CASE.iter_errors(case)) == []
    assert accepts(case)


@pytest.mark.parametrize("case", BAD, ids=str)
def test_schema_and_reader_refuse_the_same(case: Any) -> None:
    """What is wrong by form is wrong for both."""
    assert list(CASE.iter_errors(case)) != []
    assert not accepts(case)


def test_every_key_of_the_schema_is_explained_or_speaks_for_itself() -> None:
    """Keys of the model and keys of the schema are the same ones."""
    schema = case_schema()
    assert set(schema["properties"]) == set(Case.model_fields)
    assert set(schema["$defs"]["ToothChart"]["properties"]) == set(ToothChart.model_fields)
    assert set(schema["$defs"]["SiteChart"]["properties"]) == set(SiteChart.model_fields)
    for key, info in SiteChart.model_fields.items():
        if info.description:
            assert info.description in json.dumps(schema["$defs"]["SiteChart"]["properties"][key], ensure_ascii=False)


def test_the_schema_lists_every_quantity_with_its_definition() -> None:
    """A reading from any source means the same thing."""
    listed = {entry["const"]: entry["description"] for entry in readings_schema()["$defs"]["Quantity"]["oneOf"]}
    assert set(listed) == {quantity.value for quantity in Quantity}
    for quantity in Quantity:
        assert listed[quantity.value].startswith(quantity.definition)
    for named_by_design in (
        "crown_width",
        "crown_length",
        "zenith_offset",
        "papilla_height",
        "margin_level",
        "sounding",
    ):
        assert named_by_design in listed


def test_quantities_that_the_case_file_holds_are_levels_where_it_holds_levels() -> None:
    """A level in one format is a level in the other."""
    for quantity in Quantity:
        if quantity.case_key is not None:
            models = [model for model in (ToothChart, SiteChart) if quantity.case_key in model.model_fields]
            wanted = str(models[0].model_fields[quantity.case_key].annotation) if models else "DepthReading"
            assert quantity.is_level == ("LevelReading" in wanted), quantity


@pytest.mark.parametrize(
    ("reading", "is_good"),
    [
        ({"quantity": "margin_level", "value": 8.1, "datum": "present_edge", "tooth": "11", "site": "midfacial"}, True),
        ({"quantity": "margin_level", "value": 8.1, "tooth": "11", "site": "midfacial"}, False),
        ({"quantity": "sounding", "value": 2.3, "tooth": "11", "site": "midfacial", "datum": None}, True),
        ({"quantity": "sounding", "value": 2.3, "datum": "present_edge"}, False),
        ({"quantity": "crown_width", "value": 8.6, "unit": "cm"}, False),
        ({"quantity": "crown_length", "value": 8.6, "datum": "present_edge", "tooth": "8"}, False),
        ({"quantity": "colour", "value": 1}, False),
    ],
)
def test_a_list_of_readings_is_held_to_the_same_rules(reading: dict[str, Any], is_good: bool) -> None:
    """Schema and model agree on datums, units, teeth and quantities."""
    data = {"format": "festoon-readings/1", "case": "demo", "readings": [reading]}
    assert (list(READINGS.iter_errors(data)) == []) is is_good
    if is_good:
        assert Readings.model_validate(data).readings == (QuantityReading.model_validate(reading),)
    else:
        with pytest.raises(ValueError, match="readings"):
            Readings.model_validate(data)

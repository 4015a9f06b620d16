"""What the commands write and print is what the printed schemas say."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from festoon.cli.main import cli
from festoon.workflow.practising import make_practice_files


def schema(name: str) -> dict[str, Any]:
    """A schema as the command prints it."""
    done = CliRunner().invoke(cli, ["schema", name])
    assert done.exit_code == 0, done.output
    found: dict[str, Any] = json.loads(done.stdout)
    Draft202012Validator.check_schema(found)
    return found


@pytest.mark.parametrize("name", ["surgery", "surgery-state", "recall", "planned-levels"])
def test_a_schema_names_its_format(name: str) -> None:
    """The format's one name and version stands in it."""
    assert f"festoon-{name}/1" in str(schema(name)["properties"]["format"])


@pytest.mark.parametrize("name", ["surgery", "planned-levels"])
def test_a_synthetic_practice_is_written_as_its_schema_says(name: str, tmp_path: Path) -> None:
    """Every file of three cases is accepted, and one with a word more is not."""
    make_practice_files(3, 5, tmp_path)
    check = Draft202012Validator(schema(name))
    written = sorted(tmp_path.rglob(f"{name}.json"))
    assert len(written) == 3
    for path in written:
        found = json.loads(path.read_text())
        check.validate(found)
        assert not check.is_valid(found | {"surgeon": "somebody"})

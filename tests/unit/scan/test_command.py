"""The command `festoon measure scan` on a phantom's file."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from festoon.cli.exits import Exit
from festoon.cli.main import cli, run
from festoon.model.quantities import Readings
from festoon.phantom.meshfiles import mesh_bytes


@pytest.fixture(scope="module")
def scan_file(mouth, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The phantom as PLY."""
    path = tmp_path_factory.mktemp("scan") / "upper jaw.ply"
    path.write_bytes(mesh_bytes(mouth.scan.mesh, "ply", mouth.scan.colours))
    return path


def test_it_answers_with_readings_and_writes_the_picture(scan_file: Path, tmp_path: Path) -> None:
    """--json prints valid readings of the teeth asked for; -o writes three files and nothing else."""
    out = tmp_path / "out"
    result = CliRunner().invoke(cli, ["measure", "scan", str(scan_file), "--teeth", "12-21", "--json", "-o", str(out)])
    assert result.exit_code == 0, result.output
    readings = Readings.model_validate(json.loads(result.stdout))
    assert {r.tooth for r in readings.readings} == {"12", "11", "21"}
    assert readings.case == "upper-jaw"
    assert sorted(p.name for p in out.iterdir()) == ["frames.json", "readings.json", "scan.png"]
    assert json.loads((out / "readings.json").read_text("utf-8")) == json.loads(result.stdout)


def test_a_wrong_unit_and_a_wrong_range_are_refused(scan_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Centimetres would make a jaw of half a metre; 21-12 runs backwards."""
    assert run(["measure", "scan", str(scan_file), "--unit", "cm"]) == Exit.INPUT_REFUSED
    assert "size of a dental arch" in capsys.readouterr().err
    assert run(["measure", "scan", str(scan_file), "--teeth", "21-12"]) == Exit.COMMAND_WRONG
    assert run(["measure", "scan", str(scan_file), "--teeth", "45-35"]) == Exit.INPUT_REFUSED

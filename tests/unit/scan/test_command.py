"""The command `festoon measure scan` on a phantom's file."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from festoon.cli.exits import Exit
from festoon.cli.main import cli, run
from festoon.model.quantities import Quantity, Readings
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


def test_corrections_of_a_file_are_taken_and_their_faults_refused(
    scan_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A zenith set in a file is said in the reading with who set it; a place that is none is refused with its key."""
    out = tmp_path / "out"
    first = CliRunner().invoke(cli, ["measure", "scan", str(scan_file), "--teeth", "11-11", "-o", str(out)])
    assert first.exit_code == 0, first.output
    frames = json.loads((out / "frames.json").read_text("utf-8"))
    margin = np.array(frames["teeth"]["11"]["margin_mm"])
    matrix = np.array(frames["file_mm_to_arch"])
    point = np.linalg.inv(matrix)[:3] @ [*margin[len(margin) // 4], 1.0]
    given = {
        "format": "festoon-scan-corrections/1",
        "by": "op-2",
        "points": [{"tooth": "11", "place": "zenith", "at_mm": point.tolist()}],
    }
    path = tmp_path / "set.json"
    path.write_text(json.dumps(given), encoding="utf-8")
    command = ["measure", "scan", str(scan_file), "--teeth", "11-11", "--corrections", str(path), "--json"]
    result = CliRunner().invoke(cli, command)
    assert result.exit_code == 0, result.output
    every = Readings.model_validate(json.loads(result.stdout)).readings
    offset = next(r for r in every if r.quantity is Quantity.ZENITH_OFFSET)
    assert offset.flag is not None
    assert "zenith set by hand" in offset.flag
    assert offset.by == "op-2"
    given["points"][0]["place"] = "cusp"
    path.write_text(json.dumps(given), encoding="utf-8")
    assert run(command) == Exit.INPUT_REFUSED
    assert "points.0" in capsys.readouterr().err

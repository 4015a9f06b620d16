"""``festoon measure photo``: millimetres with something known, ratios without, nothing half written."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from PIL import Image

from festoon.cli.main import cli
from festoon.errors import InputRefusedError
from festoon.model.quantities import Readings
from photographed import chain_marks

WIDTHS = {"12": 6.7, "11": 8.6, "21": 8.6, "22": 6.7}


@pytest.fixture
def sitting(tmp_path: Path) -> tuple[Path, Path]:
    """A photograph, with a dpi that would make its centrals 14 mm wide, and its marks."""
    photo = tmp_path / "front.png"
    Image.fromarray(np.full((600, 920, 3), 120, np.uint8)).save(photo, dpi=(300, 300))
    marks = chain_marks(WIDTHS, 20.0)
    marks["photo"] |= {"sha256": hashlib.sha256(photo.read_bytes()).hexdigest()}
    (tmp_path / "marks.json").write_text(json.dumps(marks))
    return photo, tmp_path / "marks.json"


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(cli, ["measure", "photo", *map(str, words)], catch_exceptions=True)


def test_with_a_known_width_there_are_millimetres_and_files(sitting: tuple[Path, Path], tmp_path: Path) -> None:
    """Readings by the schema, method photo, each with its error; readings.json, photo.png and marks.json written whole."""
    photo, marks = sitting
    made = run(photo, "--marks", marks, "--known-width", "11=8.6:0.05", "--json", "-o", tmp_path / "out")
    assert made.exit_code == 0
    readings = Readings.model_validate_json(made.stdout)
    by = {(r.tooth, r.quantity.value): r for r in readings.readings}
    assert by["21", "crown_width"].value == pytest.approx(8.6, abs=0.2)
    assert all(r.method == "photo" and r.se for r in readings.readings)
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == ["marks.json", "photo.png", "readings.json"]
    assert (tmp_path / "out" / "readings.json").read_text() == made.stdout


def test_without_one_millimetres_are_refused_in_words(sitting: tuple[Path, Path]) -> None:
    """The dpi of the file gives no millimetre; ratios stand, with their caution."""
    photo, marks = sitting
    made = run(photo, "--marks", marks)
    assert made.exit_code == 0
    assert "no millimetres" in made.stdout
    assert "dpi" in made.stdout
    readings = Readings.model_validate_json(run(photo, "--marks", marks, "--json").stdout)
    assert {r.unit for r in readings.readings} == {"1"}


@pytest.mark.parametrize(
    ("width", "said"),
    [
        ("11", "TOOTH=MM"),
        ("11=86", "2.5 to 14"),
        ("11=8.6:0", "without error"),
        ("51=8.6", "TOOTH=MM"),
        ("11=8,6", "TOOTH=MM"),
    ],
)
def test_a_width_that_cannot_be_meant_is_refused(sitting: tuple[Path, Path], width: str, said: str) -> None:
    """No number, a width in tenths, an error of nothing, no such tooth, a comma."""
    photo, marks = sitting
    made = run(photo, "--marks", marks, "--known-width", width)
    assert made.exit_code == 2
    assert said in made.output


def test_a_width_of_an_unmarked_tooth_and_pictures_without_a_folder_are_refused(
    sitting: tuple[Path, Path], tmp_path: Path
) -> None:
    """Nothing is written: the tooth is named, the missing folder asked for, the missing scan too."""
    photo, marks = sitting
    made = run(photo, "--marks", marks, "--known-width", "13=7.6", "-o", tmp_path / "out")
    assert isinstance(made.exception, InputRefusedError)
    assert "no marks of 13" in str(made.exception)
    assert not (tmp_path / "out").exists()
    assert "-o" in run(photo, "--marks", marks, "--plan", marks).output
    assert "--scan" in run(photo, "--marks", marks, "--beside", photo, marks, "-o", tmp_path / "out").output


def test_a_file_that_is_no_plan_is_refused(sitting: tuple[Path, Path], tmp_path: Path) -> None:
    """Marks given as a plan: said, and nothing written."""
    photo, marks = sitting
    made = run(photo, "--marks", marks, "--known-width", "11=8.6", "--plan", marks, "-o", tmp_path / "out")
    assert "no plan" in str(made.exception)
    assert not (tmp_path / "out").exists()


def test_exchanged_points_are_refused(sitting: tuple[Path, Path]) -> None:
    """Mesial and distal exchanged: the tooth is named, no negative width goes on."""
    photo, marks = sitting
    data = json.loads(marks.read_text())
    data["teeth"] = {"11": {"mesial": [280, 300], "distal": [450, 300], "edge": [365, 410], "zenith": [365, 200]}}
    marks.write_text(json.dumps(data))
    assert "teeth.11" in str(run(photo, "--marks", marks, "--known-width", "11=8.6").exception)

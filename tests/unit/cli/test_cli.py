"""The command line: what it answers, with which exit code, and what it leaves on disk."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from festoon import __version__
from festoon.cli.exits import Exit
from festoon.cli.main import cli, run
from festoon.records.demo import TITLES, demo_case
from festoon.records.schema import plan_schema


@pytest.fixture
def chart(tmp_path: Path) -> Path:
    """A demo case on disk."""
    path = tmp_path / "case.yaml"
    path.write_bytes(demo_case("linden-04"))
    return path


def test_a_plan_is_written_whole(chart: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """plan.json, profile.svg and sheet.pdf, and nothing else; exit 0."""
    out = tmp_path / "out"
    assert run(["plan", str(chart), "-o", str(out)]) == Exit.DONE
    assert sorted(path.name for path in out.iterdir()) == ["plan.json", "profile.svg", "sheet.pdf"]
    assert (out / "sheet.pdf").read_bytes().startswith(b"%PDF-")
    assert "<svg" in (out / "profile.svg").read_text(encoding="utf-8")
    printed = capsys.readouterr().out
    # Cautions come before the numbers.
    assert printed.index("Cautions") < printed.index("Teeth, facing the patient")


def test_json_is_the_plan_and_nothing_else(chart: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Standard output is the file's bytes, and obeys the published schema."""
    assert run(["plan", str(chart), "--json", "-o", str(tmp_path / "out")]) == Exit.DONE
    printed = capsys.readouterr().out
    Draft202012Validator(plan_schema()).validate(json.loads(printed))
    assert printed == (tmp_path / "out" / "plan.json").read_text(encoding="utf-8")


def test_the_same_case_gives_the_same_files_in_another_process(chart: Path, tmp_path: Path) -> None:
    """Byte for byte, whatever the hash seed of the interpreter."""
    made = []
    for seed in ("1", "2"):
        out = tmp_path / seed
        subprocess.run(
            [sys.executable, "-m", "festoon", "plan", str(chart), "-o", str(out)],
            check=True, capture_output=True, env={"PYTHONHASHSEED": seed, "PATH": ""},
        )  # fmt: skip
        made.append({path.name: path.read_bytes() for path in out.iterdir()})
    assert made[0] == made[1]


def test_seen_from_behind_turns_the_chairside_page_alone(chart: Path, tmp_path: Path) -> None:
    """The plan and the profile are the same bytes; a side that is not known is exit 2."""
    for side in ("front", "behind"):
        assert run(["plan", str(chart), "-o", str(tmp_path / side), "--seen-from", side]) == Exit.DONE
    same = {
        name: (tmp_path / "front" / name).read_bytes() == (tmp_path / "behind" / name).read_bytes()
        for name in ("plan.json", "profile.svg", "sheet.pdf")
    }
    assert same == {"plan.json": True, "profile.svg": True, "sheet.pdf": False}
    assert run(["plan", str(chart), "--seen-from", "above"]) == Exit.COMMAND_WRONG


def test_wishes_that_cannot_be_met_are_in_the_plan(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit 0: a furcation that stops a finish line is an answer."""
    path = tmp_path / "case.yaml"
    path.write_bytes(demo_case("kiln-45"))
    assert run(["plan", str(path)]) == Exit.DONE
    assert "the furcation stops a further" in capsys.readouterr().out


def test_a_refused_case_writes_nothing(chart: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit 3; every fault with file, line, key, found, expected and what to do; no folder, no file."""
    broken = (
        chart.read_text(encoding="utf-8")
        .replace("sounding_mm: 2.5", "sounding_mm: 15")
        .replace("notation: fdi", "notation: fdi\ncolour: red")
    )
    chart.write_text(broken, encoding="utf-8")
    out = tmp_path / "out"
    assert run(["plan", str(chart), "-o", str(out)]) == Exit.INPUT_REFUSED
    assert not out.exists()
    complaint = capsys.readouterr().err
    assert "case.yaml:" in complaint
    assert "colour" in complaint
    assert "sounding_mm" in complaint
    assert "found 15" in complaint
    assert "expected" in complaint


@pytest.mark.parametrize(
    "arguments",
    [["plan"], ["plan", "no-such-file.yaml"], ["plan", "--no-such-option"], ["no-such-command"], ["schema", "nothing"]],
)
def test_a_wrong_command_is_exit_2(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """And says what was wrong."""
    assert run(arguments) == Exit.COMMAND_WRONG
    assert capsys.readouterr().err


def test_a_folder_that_cannot_be_written(chart: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file stands where the folder should be: exit 2, and nothing is put in place."""
    (tmp_path / "taken").write_text("mine")
    assert run(["plan", str(chart), "-o", str(tmp_path / "taken" / "deeper")]) == Exit.COMMAND_WRONG
    assert (tmp_path / "taken").read_text() == "mine"
    assert "nothing was put in place" in capsys.readouterr().err


def test_the_demo_runs_the_whole_job(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """At least three very different mouths; in one surgery is not the answer; three files and the case each."""
    assert run(["demo", str(tmp_path / "demo"), "--no-app"]) == Exit.DONE
    folders = sorted(path.name for path in (tmp_path / "demo").iterdir())
    assert folders == sorted(TITLES)
    answers = {
        name: json.loads((tmp_path / "demo" / name / "plan.json").read_text(encoding="utf-8"))["answer"]
        for name in folders
    }
    assert len(folders) >= 3
    assert answers["sandbar-31"] == "not_surgery"
    assert {"surgery", "surgery_with_reservations"} & set(answers.values())
    capsys.readouterr()


@pytest.mark.parametrize("name", ["case", "plan", "readings"])
def test_schemas_are_schemas(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Valid JSON Schema 2020-12 with a title of their own."""
    assert run(["schema", name]) == Exit.DONE
    Draft202012Validator.check_schema(json.loads(capsys.readouterr().out))


def test_the_version(capsys: pytest.CaptureFixture[str]) -> None:
    """The package's own."""
    assert run(["--version"]) == Exit.DONE
    assert capsys.readouterr().out.strip() == f"festoon, version {__version__}"


@pytest.mark.parametrize("command", sorted(cli.commands))
def test_every_command_has_help_with_an_example(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    """A sentence, the options, and a line to copy."""
    assert run([command, "--help"]) == Exit.DONE
    printed = capsys.readouterr().out
    assert "Example" in printed or "Commands" in printed
    assert f"festoon {command}" in printed


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_scripts(shell: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Each names the command and its variable."""
    assert run(["completion", shell]) == Exit.DONE
    printed = capsys.readouterr().out
    assert "_FESTOON_COMPLETE" in printed


def test_a_blank_form_is_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """For the teeth asked for; a range that is none is a wrong command."""
    assert run(["form", "-o", str(tmp_path), "--teeth", "14-24", "--paper", "letter"]) == Exit.DONE
    assert (tmp_path / "blank-form.pdf").read_bytes().startswith(b"%PDF-")
    assert run(["form", "-o", str(tmp_path), "--teeth", "13-43"]) == Exit.COMMAND_WRONG
    capsys.readouterr()


def test_explain_opens_a_number(chart: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Sum, rule, error and reading of one site."""
    assert run(["explain", str(chart), "11", "midfacial"]) == Exit.DONE
    printed = capsys.readouterr().out
    assert "bone = max(0, need − left) = max(0, 3.00 − 0.71) = 2.29 mm" in printed
    assert "supracrestal space" in printed
    assert "±" in printed
    assert "teeth.11.sites.midfacial.sounding_mm = 2.5 mm" in printed
    assert run(["explain", str(chart), "31"]) == Exit.COMMAND_WRONG


def test_what_if_says_what_changes(chart: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A nearer CEJ holds 11 back; a finding that falls away opens a plan; a wrong key is refused."""
    before = chart.read_bytes()
    assert run(["what-if", str(chart), "teeth.11.sites.midfacial.cej_mm=9.0"]) == Exit.DONE
    assert "11: the margin moves 1.00 mm instead of 1.79 mm" in capsys.readouterr().out
    assert run(["what-if", str(chart), "subject.growth_complete=false"]) == Exit.DONE
    assert "not advised instead of gingivectomy with ostectomy" in capsys.readouterr().out
    assert run(["what-if", str(chart), "teeth.11.nothing=1"]) == Exit.INPUT_REFUSED
    assert run(["what-if", str(chart), "teeth.11"]) == Exit.COMMAND_WRONG
    assert chart.read_bytes() == before


def test_no_name_of_a_folder_reaches_a_message(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A path can hold a person's name: messages show the file's own name alone."""
    folder = tmp_path / "Someone Private"
    folder.mkdir()
    path = folder / "case.yaml"
    path.write_text("format: festoon-case/1\ncase: x\n", encoding="utf-8")
    assert run(["plan", str(path)]) == Exit.INPUT_REFUSED
    assert "Someone Private" not in capsys.readouterr().err

"""``festoon verify``: words, signs, JSON and exit codes."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from festoon.cli.exits import Exit
from festoon.cli.main import run
from festoon.cli.verify import _SIGNS
from festoon.model.verification import Verdict, Verification
from festoon.records.schema import verification_schema
from verify_worked import FILES, worked

CASE = str(FILES / "case.yaml")


def test_what_remains_is_the_default(capsys: pytest.CaptureFixture[str]) -> None:
    """Without a moment bone is being lowered: signs and words, no colour."""
    assert run(["verify", CASE, str(FILES / "bone.yaml")]) == Exit.DONE
    printed = capsys.readouterr().out
    assert "[ ]  11 midfacial" in printed
    assert "0.8 mm of bone still to remove (±0.2 mm)" in printed
    assert "[!!] 12 midfacial" in printed
    assert "\x1b" not in printed


def test_json_is_the_verification(capsys: pytest.CaptureFixture[str]) -> None:
    """The same numbers as from Python, and a file that reads back."""
    assert run(["verify", CASE, str(FILES / "suture.yaml"), "--moment", "suture", "--json"]) == Exit.DONE
    printed = capsys.readouterr().out
    assert Verification.model_validate_json(printed) == worked("suture")
    assert list(Draft202012Validator(verification_schema()).iter_errors(json.loads(printed))) == []
    assert json.loads(printed)["format"] == "festoon-verification/1"


def test_a_day_of_surgery_makes_it_a_recall(capsys: pytest.CaptureFixture[str]) -> None:
    """Visits, course, readiness."""
    assert run(["verify", CASE, str(FILES / "recall.yaml"), "--surgery-at", "2026-03-10"]) == Exit.DONE
    printed = capsys.readouterr().out
    assert "Final restorations: NOT YET" in printed
    assert "creeping: 0.7 mm coronally" in printed


def test_resolve_says_what_changes(capsys: pytest.CaptureFixture[str]) -> None:
    """The plan solved anew."""
    assert run(["verify", CASE, str(FILES / "before.yaml"), "--moment", "before", "--resolve"]) == Exit.DONE
    assert "21: the margin moves 0.80 mm instead of 1.50 mm" in capsys.readouterr().out


@pytest.mark.parametrize(
    "options",
    [
        ["--moment", "recall"],
        ["--surgery-at", "10.3.2026"],
        ["--moment", "suture", "--resolve"],
        ["--moment", "bone", "--surgery-at", "2026-03-10"],
        ["--recheck", "2"],
        ["--moment", "lunch"],
    ],
)
def test_a_wrong_command_is_exit_two(options: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """And nothing is printed as an answer."""
    assert run(["verify", CASE, str(FILES / "bone.yaml"), *options]) == Exit.COMMAND_WRONG
    assert capsys.readouterr().out == ""


def test_a_file_that_is_refused_is_exit_three(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With its line."""
    bad = tmp_path / "bad.yaml"
    bad.write_text((FILES / "bone.yaml").read_text("utf-8").replace("bonded_mark", "restored_edge"), "utf-8")
    assert run(["verify", CASE, str(bad)]) == Exit.INPUT_REFUSED
    caught = capsys.readouterr()
    assert caught.out == ""
    assert "bad.yaml:8: readings[3].datum" in caught.err


def test_every_verdict_has_a_sign() -> None:
    """None is printed without."""
    assert set(_SIGNS) == {verdict.value for verdict in Verdict}


def test_the_worst_of_all_sites_stands_first(capsys: pytest.CaptureFixture[str]) -> None:
    """Before cutting one answer is wanted: 12 was sounded 1.4 mm deeper than charted."""
    assert run(["verify", CASE, str(FILES / "before.yaml"), "--moment", "before"]) == Exit.DONE
    printed = capsys.readouterr().out
    answer = "[!!] STOP and rethink: 12 (7) midfacial (more than 0.5 mm: recompute; more than 1 mm: stop)"
    assert answer in printed
    assert printed.index(answer) < printed.index("Site by site")

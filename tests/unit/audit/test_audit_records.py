"""The audit of what a practice really has: records and folders made by the commands, not by the phantom."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from festoon.cli.main import cli
from festoon.records.demo import demo_case
from festoon.records.schema import recall_schema, surgery_state_schema
from festoon.workflow.auditing import audit_paths

CASE = "linden-04"
SUTURED = {"11": 10.5, "21": 10.5}
"""Midfacial margins after suturing, from the planned edge, mm."""


def run(*words: str, home: Path) -> str:
    """What a command prints."""
    done = CliRunner().invoke(cli, list(words), env={"FESTOON_HOME": str(home), "FESTOON_BY": "nurse-1"})
    assert done.exit_code == 0, f"{words}: {done.output} {done.exception}"
    return done.stdout


@pytest.fixture(scope="module")
def practice(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with ``home``, the records of one case from chart to six months, and ``cases``, the same as files."""
    folder = tmp_path_factory.mktemp("practice")
    home, files = folder / "home", folder / "cases" / CASE
    files.mkdir(parents=True)
    (files / "case.yaml").write_bytes(demo_case(CASE))
    run("records", "import", str(files / "case.yaml"), home=home)
    (files / "plan.json").write_text(run("records", "plan", CASE, "--json", home=home))
    run("records", "sign", CASE, "1", "--role", "surgeon", "--reason", "agreed", home=home)
    run("surgery", "start", CASE, "--plan", "1", "--at", "2026-03-02", "--datum", "planned_edge", "--operator", "op-7",
        "--template", "gingival-line", "--why", "test", home=home)  # fmt: skip
    plan = json.loads((files / "plan.json").read_text())
    charted = {s["tooth"]: s for s in plan["sites"] if s["site"] == "midfacial"}
    targets = {s["tooth"]: s for s in plan["paper"]["sites"] if s["site"] == "midfacial"}
    for tooth in SUTURED:
        run("surgery", "enter", CASE, f"{tooth} f g {charted[tooth]['margin_present_mm']}", home=home)
        run("surgery", "enter", CASE, f"{tooth} f s {charted[tooth]['sounding_present_mm']}", home=home)
    run("surgery", "step", CASE, "probe_cut", home=home)
    for tooth in SUTURED:  # bone is found 0.4 mm further apical than sounded
        run("surgery", "enter", CASE, f"{tooth} f b {charted[tooth]['crest_present_mm'] + 0.4:.2f}", home=home)
    run("surgery", "step", CASE, "probe_bone", home=home)
    for tooth in SUTURED:  # and left 0.2 mm coronal of the printed target
        run("surgery", "enter", CASE, f"{tooth} f b {targets[tooth]['crest_planned_mm'] - 0.2:.2f}", home=home)
    run("surgery", "step", CASE, "probe_suture", home=home)
    for tooth, level in SUTURED.items():
        run("surgery", "enter", CASE, f"{tooth} f g {level}", home=home)
        run("surgery", "enter", CASE, f"{tooth} f s 3", home=home)
    readings = {
        "format": "festoon-readings/1", "case": CASE,
        "readings": [
            {"tooth": tooth, "site": "midfacial", "quantity": "margin_level", "value": level - 0.3, "unit": "mm", "datum": "planned_edge"}
            for tooth, level in SUTURED.items()
        ],
    }  # fmt: skip
    (folder / "visit.json").write_text(json.dumps(readings))
    run("recall", "visit", CASE, "--at", "2026-09-01", "--readings", str(folder / "visit.json"), home=home)
    (files / "surgery.json").write_text(run("surgery", "show", CASE, "--json", home=home))
    (files / "recall.json").write_text(run("recall", "show", CASE, "--json", home=home))
    return folder


def bias(found: dict, dimension: str, measure: str) -> dict[str, float]:
    """Bias by value of a dimension."""
    return {
        e["value"]: e["bias_mm"] for e in found["estimates"] if (e["dimension"], e["measure"]) == (dimension, measure)
    }


def test_records_made_at_the_chair_are_audited_where_they_lie(practice: Path) -> None:
    """Each figure is the one that was entered: bone 0.4 mm further than sounded, 0.2 mm left, 0.3 mm of rebound."""
    found = audit_paths([practice / "home"]).as_dict()
    assert found["counts"]["cases"] == 1
    assert bias(found, "operator", "sounding") == pytest.approx({"home/op-7": -0.4}, abs=0.01)
    assert bias(found, "template_kind", "crest_cut") == pytest.approx({"gingival-line": -0.2}, abs=0.01)
    assert bias(found, "distance", "rebound") == pytest.approx({"2.5 to 3.5": 0.3}, abs=1e-6)
    assert found["redo"]["share"] == 0.0  # seen after half a year, and no second surgery on record
    assert {"gingivectomy", "gingivectomy_with_ostectomy"} & set(bias(found, "procedure", "healed"))


def test_what_the_commands_print_is_audited_as_files(practice: Path) -> None:
    """The same surgery as case, plan, surgery and recall in a folder gives the same figures."""
    records = audit_paths([practice / "home"]).as_dict()
    files = audit_paths([practice / "cases"]).as_dict()
    for one, other in zip(records["estimates"], files["estimates"], strict=True):
        assert one["measure"] == other["measure"]
        assert one["bias_mm"] == pytest.approx(other["bias_mm"])


@pytest.mark.parametrize(("file", "schema"), [("surgery", surgery_state_schema), ("recall", recall_schema)])
def test_what_the_commands_print_is_what_the_schemas_say(
    practice: Path, file: str, schema: Callable[[], dict[str, Any]]
) -> None:
    """A whole surgery and its recalls are accepted."""
    Draft202012Validator(schema()).validate(json.loads((practice / "cases" / CASE / f"{file}.json").read_text()))


def test_several_practices_are_read_together(practice: Path) -> None:
    """The same code in two practices is two patients, and a practice keeps its own line."""
    both = audit_paths([practice / "home", practice / "cases"]).as_dict()
    assert both["counts"]["cases"] == 2
    assert set(bias(both, "practice", "rebound")) == {"home", "cases"}


def test_nothing_is_written_into_the_records(practice: Path, tmp_path: Path) -> None:
    """The database keeps its bytes."""
    before = (practice / "home" / "records.db").read_bytes()
    run("audit", str(practice / "home"), "-o", str(tmp_path / "out"), home=practice / "home")
    assert (practice / "home" / "records.db").read_bytes() == before
    assert CASE not in (tmp_path / "out" / "sites.csv").read_text()


def test_every_surgery_of_a_store_counts_once_and_the_unread_are_told(practice: Path, tmp_path: Path) -> None:
    """Two patients read, one operated again, one begun and never read: two cases, half of those known operated again."""
    home = tmp_path / "home"
    shutil.copytree(practice / "home", home)
    run("surgery", "start", CASE, "--plan", "1", "--at", "2026-10-05", "--datum", "planned_edge", "--operator", "op-7",
        "--why", "touch-up", home=home)  # fmt: skip
    for other, day in (("kiln-45", "2026-06-01"), ("millrace-12", "2026-03-09")):
        (tmp_path / "case.yaml").write_bytes(demo_case(other))
        run("records", "import", str(tmp_path / "case.yaml"), home=home)
        plan = json.loads(run("records", "plan", other, "--json", home=home))
        run("records", "sign", other, "1", "--role", "surgeon", "--reason", "agreed", home=home)
        run("surgery", "start", other, "--plan", "1", "--at", day, "--datum", "planned_edge", "--operator", "op-8",
            "--why", "test", home=home)  # fmt: skip
        if other == "kiln-45":
            target = next(s for s in plan["paper"]["sites"] if (s["tooth"], s["site"]) == ("45", "midfacial"))
            run("surgery", "step", other, "probe_bone", home=home)
            run("surgery", "enter", other, f"45 f b {target['crest_planned_mm'] + 0.3:.2f}", home=home)
            visit = ("recall", "visit", other, "--at", "2026-12-01", "--satisfaction", "8")
            run(*visit, home=home)
    found = audit_paths([home]).as_dict()
    assert found["counts"]["cases"] == 2
    assert bias(found, "operator", "crest_cut") == pytest.approx({"home/op-7": -0.2, "home/op-8": 0.3}, abs=0.01)
    assert found["redo"]["share"] == 0.5
    assert any("LEFT OUT" in note and "1 of home" in note for note in found["notes"])

"""Tables and case files through the API: looked at without a trace, kept as one new version, refused row by row."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from desks import client_of, desk_at

TABLE = "tooth\tsite\tmargin level\tsounding\n11\tmidfacial\t8,1\t2,3\n11\tmesial\t4,4\t\n21\tmidfacial\t8,3\t\n"
SAID = {"notation": "fdi", "datum": "present_edge"}


@pytest.fixture
def client(tmp_path: Path) -> TestClient:
    client = client_of(desk_at(tmp_path))
    client.post("/api/demo-cases")
    return client


def _kept(client: TestClient, seen: dict[str, Any], **form: str) -> Any:
    return client.post("/api/imports", data={**SAID, **form, "base": str(seen["base"]), "sha256": seen["sha256"]})


def test_a_pasted_block_begins_a_case_after_a_preview_that_keeps_nothing(client: TestClient) -> None:
    """Decimal commas and a blank: three levels and one depth, each with its place; the preview left no trace."""
    form = {"text": TABLE, "case": "pasted-1"}
    seen = client.post("/api/imports/preview", data=SAID | form).json()
    assert [(line["line"], line["value_mm"], line["becomes"]) for line in seen["lines"]] == [
        (2, 8.1, "new"), (3, 4.4, "new"), (4, 8.3, "new"), (2, 2.3, "new"),
    ]  # fmt: skip
    assert client.get("/api/cases/pasted-1").status_code == 404
    assert _kept(client, seen, **form).status_code == 201
    sites = client.get("/api/cases/pasted-1").json()["document"]["teeth"]["11"]["sites"]
    assert (
        sites["midfacial"]["margin_mm"][0] | {"value": 8.1, "datum": "present_edge"}
        == sites["midfacial"]["margin_mm"][0]
    )
    assert sites["mesial"]["sounding_mm"] == []


def test_what_nobody_declared_is_asked_in_the_words_of_the_form(client: TestClient) -> None:
    """The notation is not guessed; the advice names the field, not an option of the command line."""
    form = {"text": TABLE, "case": "pasted-1", "datum": "present_edge"}
    seen = client.post("/api/imports/preview", data=form).json()
    assert not seen["can_be_kept"]
    assert "“Teeth are named in”" in seen["faults"][0]["do"]
    assert "--" not in seen["faults"][0]["do"]


def test_a_reading_that_contradicts_the_chart_is_refused_with_its_row_and_can_be_left_out(client: TestClient) -> None:
    """9.9 mm beside 8.3: row 4 is named; without it the rest comes in as one version, and undo takes all of it back."""
    form = {"text": TABLE.replace("8,3", "9,9").replace("4,4", "4,6"), "case": "linden-04"}
    seen = client.post("/api/imports/preview", data=SAID | form).json()
    assert [(fault["line"], fault["where"]) for fault in seen["faults"]] == [(4, "teeth.21.sites.midfacial.margin_mm")]
    assert _kept(client, seen, **form).status_code == 422
    refused = next(str(line["number"]) for line in seen["lines"] if line["becomes"] == "refused")
    again = client.post("/api/imports/preview", data=SAID | form | {"left": refused}).json()
    assert again["can_be_kept"]
    kept = _kept(client, again, **form, left=refused)
    assert kept.json()["version"] == 2
    place = ("document", "teeth", "11", "sites", "midfacial", "margin_mm")
    assert len(_at(client.get("/api/cases/linden-04").json(), place)) == 2
    client.post("/api/cases/linden-04/undo")
    assert len(_at(client.get("/api/cases/linden-04").json(), place)) == 1


def test_what_the_chart_has_already_is_not_taken_twice(client: TestClient) -> None:
    """A second look would halve the variance of a reading that was made once."""
    form = {"text": TABLE, "case": "pasted-1"}
    _kept(client, client.post("/api/imports/preview", data=SAID | form).json(), **form)
    seen = client.post("/api/imports/preview", data=SAID | form).json()
    assert {line["becomes"] for line in seen["lines"]} == {"same"}
    assert not seen["can_be_kept"]
    assert _kept(client, seen, **form).status_code == 422


def test_a_case_file_comes_in_and_a_wrong_one_does_not(client: TestClient) -> None:
    """What differs from the case as it stands is named; a broken file tells line, found, expected and what to do; never its name."""
    good = (Path(__file__).parents[2] / "cases" / "full.yaml").read_bytes()
    seen = client.post("/api/imports/preview", files={"file": ("somebody.yaml", good)}).json()
    assert (seen["base"], seen["can_be_kept"]) == (0, True)
    form = {"base": "0", "sha256": seen["sha256"]}
    assert client.post("/api/imports", data=form, files={"file": ("somebody.yaml", good)}).status_code == 201
    other = good.replace(b"age_years: 29", b"age_years: 30")
    changed = client.post("/api/imports/preview", files={"file": ("somebody.yaml", other)}).json()
    assert (changed["base"], changed["changed"]) == (1, ["subject.age_years"])
    assert client.post("/api/imports", data=form, files={"file": ("somebody.yaml", other)}).status_code == 422
    wrong = client.post("/api/imports/preview", files={"file": ("somebody.yaml", good.replace(b": fdi", b": x"))})
    assert not wrong.json()["can_be_kept"]
    assert all(wrong.json()["faults"][0][part] for part in ("line", "where", "found", "expected", "do"))
    assert "somebody" not in wrong.text


def _at(document: Any, steps: tuple[str, ...]) -> Any:
    for step in steps:
        document = document[step]
    return document

"""Tables and case files through the API: looked at without a trace, kept as one new version, refused row by row."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from starlette.testclient import TestClient

from desks import client_of, demo_desk_at

TABLE = "tooth\tsite\tmargin level\tsounding\n11\tmidfacial\t8,1\t2,3\n11\tmesial\t4,4\t\n21\tmidfacial\t8,3\t\n"
SAID = {"notation": "fdi", "datum": "present_edge"}


@pytest.fixture
def client(tmp_path: Path) -> TestClient:
    return client_of(demo_desk_at(tmp_path))


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


def test_a_workbook_is_read_by_its_sheet(client: TestClient) -> None:
    """A number cell of a spreadsheet is that number; the sheet is named where there are two."""
    book = openpyxl.Workbook()
    for title, value in (("first", 8.1), ("second", 7.9)):
        sheet = book.create_sheet(title)
        sheet.append(["tooth", "site", "margin level"])
        sheet.append([11, "midfacial", value])
    del book["Sheet"]
    data = io.BytesIO()
    book.save(data)
    form = SAID | {"case": "book-1", "sheet": "second"}
    seen = client.post("/api/imports/preview", data=form, files={"file": ("somebody.xlsx", data.getvalue())}).json()
    assert [line["value_mm"] for line in seen["lines"]] == [7.9]


def test_of_a_table_of_two_cases_one_is_chosen(client: TestClient) -> None:
    """Without a choice it is asked; with one, the other case's readings stay outside and say so."""
    text = "case\ttooth\tsite\tmargin level\none\t11\tmidfacial\t8.1\ntwo\t11\tmidfacial\t8.4\n"
    asked = client.post("/api/imports/preview", data=SAID | {"text": text}).json()
    assert asked["faults"][0]["found"] == "readings of one, two"
    seen = client.post("/api/imports/preview", data=SAID | {"text": text, "case": "two"}).json()
    assert [(line["becomes"], line["why"]) for line in seen["lines"]] == [("left", "it is of case one"), ("new", "")]


def test_two_readings_of_one_place_that_contradict_each_other_are_refused_before_anything_is_kept(
    client: TestClient,
) -> None:
    """8.1 and 9.9 mm for one margin in one table: a person settles it, never an average."""
    text = TABLE + "11\tmidfacial\t9,9\t\n"
    seen = client.post("/api/imports/preview", data=SAID | {"text": text, "case": "two-ways"}).json()
    assert not seen["can_be_kept"]
    assert [fault["where"] for fault in seen["faults"]] == ["teeth.11.sites.midfacial.margin_mm"]
    assert seen["faults"][0]["line"] == 5


def _at(document: Any, steps: tuple[str, ...]) -> Any:
    for step in steps:
        document = document[step]
    return document

"""Cases through the API: begun, edited, undone, drafted, planned, signed; nothing is ever overwritten."""

from __future__ import annotations

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from desks import client_of, demo_desk_at, desk_at
from festoon.store.keeping import keep_readings
from festoon.store.looking import open_case, versions_of
from festoon.web.desk import Desk


@pytest.fixture
def desk(tmp_path: Path, request: pytest.FixtureRequest) -> Desk:
    return demo_desk_at(tmp_path) if "linden" in request.fixturenames else desk_at(tmp_path)


@pytest.fixture
def client(desk: Desk) -> TestClient:
    return client_of(desk)


@pytest.fixture
def linden(client: TestClient) -> TestClient:
    """With the demo cases."""
    return client


def test_a_case_is_begun_with_places_and_nothing_measured(client: TestClient) -> None:
    """Unknown is unknown: no reading is there, and the list says what it waits for."""
    assert client.post("/api/cases", json={"case": "mine", "teeth": "12-22"}).json()["version"] == 1
    document = client.get("/api/cases/mine").json()["document"]
    assert list(document["teeth"]) == ["12", "11", "21", "22"]
    assert all(chart["sites"] == {} for chart in document["teeth"].values())
    assert "nothing was measured yet" in client.get("/cases/mine/chart").text


def test_the_list_says_what_each_case_waits_for_without_opening_it(client: TestClient) -> None:
    """A case in which nothing was measured waits for its chart, one with margins for its plan."""
    client.post("/api/cases", json={"case": "empty-1", "teeth": "13-23"})
    client.post("/api/demo-cases")
    waits = {line["case"]: line["waits_for"] for line in client.get("/api/cases").json()}
    assert (waits["empty-1"], waits["linden-04"]) == ("chart", "plan")


@pytest.mark.parametrize(
    ("body", "where"),
    [({"case": "mine"}, "case"), ({"case": "no name"}, "case"), ({"case": "b", "teeth": "23-13"}, "teeth")],
)
def test_a_wrong_start_is_refused_with_its_place(client: TestClient, body: dict[str, str], where: str) -> None:
    """Taken, no code, no range: nothing is begun."""
    client.post("/api/cases", json={"case": "mine"})
    answer = client.post("/api/cases", json=body)
    assert answer.status_code == 422
    assert where in answer.json()["error"]["faults"][0]["where"]
    assert len(client.get("/api/cases").json()) == 1


def test_an_edit_is_a_new_version_and_a_stale_one_loses_nothing(linden: TestClient) -> None:
    """Two people at one case: the second is told, and both versions are on record."""
    path = "teeth.11.sites.midfacial.margin_mm"
    first = linden.patch("/api/cases/linden-04", json={"base": 1, "changes": {path: 7.7}})
    assert first.json()["version"] == 2
    second = linden.patch("/api/cases/linden-04", json={"base": 1, "changes": {path: 7.9}})
    assert second.status_code == 409
    assert second.json()["error"]["kind"] == "stale"
    margin = linden.get("/api/cases/linden-04").json()["document"]["teeth"]["11"]["sites"]["midfacial"]["margin_mm"]
    assert margin[0]["value"] == 7.7


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"teeth.11.sites.midfacial.margin_mm": 80}, "margin_mm"),
        ({"teeth.11.sites.midfacial.margin_mm": "high"}, "margin_mm"),
        ({"teeth.99.width_mm": 8}, "99"),
        ({"policy.gum_mm": 3}, "gum_mm"),
    ],
)
def test_what_no_mouth_allows_is_not_kept(linden: TestClient, changes: dict[str, object], said: str) -> None:
    """The fault names the entry, what was found and what to do; the version stays."""
    answer = linden.patch("/api/cases/linden-04", json={"base": 1, "changes": changes})
    assert answer.status_code == 422
    assert said in str(answer.json()["error"]["faults"])
    assert linden.get("/api/cases/linden-04").json()["version"] == 1


def test_undo_and_redo_walk_the_changes_and_erase_none(linden: TestClient, desk: Desk) -> None:
    """Three edits, two steps back, one forth, a new edit: redo is gone, every version is still there."""
    path = "teeth.11.target_length_mm"

    def target() -> float | None:
        return linden.get("/api/cases/linden-04").json()["document"]["teeth"]["11"]["target_length_mm"]

    start = target()
    for base, value in ((1, 10.0), (2, 10.1), (3, 10.2)):
        linden.patch("/api/cases/linden-04", json={"base": base, "changes": {path: value}})
    linden.post("/api/cases/linden-04/undo")
    linden.post("/api/cases/linden-04/undo")
    assert target() == 10.0
    linden.post("/api/cases/linden-04/redo")
    assert target() == 10.1
    head = linden.get("/api/cases/linden-04").json()
    linden.patch("/api/cases/linden-04", json={"base": head["version"], "changes": {path: 9.9}})
    assert linden.post("/api/cases/linden-04/redo").json()["version"] is None
    for _ in range(5):
        linden.post("/api/cases/linden-04/undo")
    assert target() == start
    assert len(versions_of(desk.store, "linden-04")) >= 10


def test_a_draft_is_the_plan_of_the_changed_case_and_keeps_nothing(linden: TestClient) -> None:
    """The drawing, the numbers and the handles follow the wish; the record does not."""
    wish = {"teeth.11.target_length_mm": 10.4, "teeth.21.target_length_mm": 10.4}
    drafted = linden.post("/api/cases/linden-04/draft", json={"changes": wish}).json()
    lengths = {h["tooth"]: h["value"] for h in drafted["handles"] if h["kind"] == "length"}
    assert lengths["11"] == lengths["21"] == 10.4
    assert drafted["svg"].startswith("<svg")
    opened = linden.get("/api/cases/linden-04").json()
    assert opened["version"] == 1
    linden.patch("/api/cases/linden-04", json={"base": 1, "changes": wish})
    kept = linden.post("/api/cases/linden-04/draft", json={}).json()
    assert (kept["said"], kept["handles"]) == (drafted["said"], drafted["handles"])


def test_a_limit_pushes_back_and_says_why(linden: TestClient) -> None:
    """A wish beyond the CEJ is not reached, and the handle names what stops it."""
    drafted = linden.post("/api/cases/linden-04/draft", json={"changes": {"teeth.11.target_length_mm": 13.0}}).json()
    handle = next(h for h in drafted["handles"] if h["kind"] == "length" and h["tooth"] == "11")
    assert handle["reached"] < 11.0
    assert handle["why"]


def test_zeniths_and_contacts_are_handles_that_move_both_sides(tmp_path: Path) -> None:
    """A zenith moves across its tooth to what the design says; a contact's twin is read from its own tooth's edge."""
    client = client_of(desk_at(tmp_path))
    client.post("/api/demo-cases")
    wish = {"teeth.11.zenith_target_mm": 1.3, "papillae.12-11.future_contact_mm": 4.4}
    handles = {
        (h["kind"], h["tooth"]): h
        for h in client.post("/api/cases/linden-04/draft", json={"changes": wish}).json()["handles"]
    }
    zenith, contact = handles["zenith", "11"], handles["contact", "12"]
    assert (zenith["value"], zenith["across"], zenith["twin_path"]) == (1.3, True, "teeth.21.zenith_target_mm")
    assert handles["zenith", "21"]["value"] < 1.0
    assert (contact["value"], contact["level"], contact["twin_path"]) == (4.4, 4.4, "papillae.21-22.future_contact_mm")
    document = client.get("/api/cases/linden-04").json()["document"]["teeth"]
    assert contact["twin_shift"] == pytest.approx(document["12"]["edge_height_mm"] - document["11"]["edge_height_mm"])


def test_an_edge_moved_by_half_a_millimetre_moves_every_level_by_it(linden: TestClient) -> None:
    """planned-edge level = present-edge level + extension, on the page as in the plan."""
    linden.patch("/api/cases/linden-04", json={"base": 1, "changes": {"teeth.11.incisal_extension_mm": 0.5}})
    plan = linden.get("/cases/linden-04/print/plan.json").json()
    site = next(s for s in plan["sites"] if s["tooth"] == "11" and s["site"] == "midfacial")
    charted = linden.get("/api/cases/linden-04").json()["document"]["teeth"]["11"]["sites"]["midfacial"]
    assert site["margin_present_mm"] == pytest.approx(charted["margin_mm"][0]["value"] + 0.5)


def test_a_plan_is_kept_signed_and_goes_stale(linden: TestClient) -> None:
    """Signed by a code with a reason; a later edit is said on the page."""
    kept = linden.post("/api/cases/linden-04/plans", json={}).json()
    assert kept["signable"], kept["signable_reasons"]
    body = {"by": "op-1", "role": "operator", "reason": "agreed with the restorative dentist"}
    assert linden.post("/api/cases/linden-04/plans/1/signatures", json=body).json() == {"since": []}
    assert "day of surgery" in linden.get("/cases/linden-04/plan").text
    linden.patch("/api/cases/linden-04", json={"base": 1, "changes": {"teeth.11.target_length_mm": 10.1}})
    assert "stale" in linden.get("/cases/linden-04/plan").text


def test_what_cannot_be_signed_is_refused_with_its_reasons(linden: TestClient) -> None:
    """The mouth in which surgery is not the answer."""
    linden.post("/api/cases/sandbar-31/plans", json={})
    body = {"by": "op-1", "role": "operator", "reason": "wanted"}
    answer = linden.post("/api/cases/sandbar-31/plans/1/signatures", json=body)
    assert answer.status_code == 409
    assert "cannot be signed" in answer.json()["error"]["text"]


def test_a_contradiction_of_kept_readings_is_settled_on_the_page(linden: TestClient, desk: Desk) -> None:
    """Two soundings of one day, 2.5 and 4.5 mm: no plan; the wrong one is set aside with a reason, stays on record, and a plan is made."""
    row = {
        "tooth": "11",
        "site": "midfacial",
        "quantity": "sounding",
        "se": 0.2,
        "method": "sounding",
        "at": "2026-03-01",
        "source": "test",
    }
    keep_readings(desk.store, {"linden-04": [row | {"value": 2.5}, row | {"value": 4.5}]}, by="op-1", why="test")
    page = linden.get("/cases/linden-04/chart").text
    assert "contradict each other" in page
    assert 'data-api="POST /api/cases/linden-04/verdicts"' in page
    assert linden.post("/api/cases/linden-04/verdicts", json={"reading": 2, "why": ""}).status_code == 422
    body = {"reading": 2, "why": "the probe slipped"}
    assert linden.post("/api/cases/linden-04/verdicts", json=body).status_code == 201
    assert "contradict each other" not in linden.get("/cases/linden-04/chart").text
    kept = open_case(desk.store, "linden-04").readings
    assert [(reading.number, reading.is_set_aside) for reading in kept] == [(1, False), (2, True)]
    assert "Take it back" in linden.get("/cases/linden-04/chart").text
    back = {"reading": 2, "is_kept": "true", "why": "it was the other one"}  # as the form of that page sends it
    assert linden.post("/api/cases/linden-04/verdicts", json=back).status_code == 201
    assert "contradict each other" in linden.get("/cases/linden-04/chart").text


def test_an_unknown_case_is_a_page_for_a_person_and_a_shape_for_a_component(client: TestClient) -> None:
    """404 either way; no path, no stack."""
    page, answer = client.get("/cases/nobody/plan"), client.get("/api/cases/nobody")
    assert page.status_code == answer.status_code == 404
    assert "there is no case nobody" in page.text
    assert answer.json()["error"]["kind"] == "unknown"
    assert "Traceback" not in page.text


def test_the_list_says_what_a_case_waits_for_as_its_own_pages_do(linden: TestClient) -> None:
    """The list solves nothing: it asks case by case, and says it by itself from then on; a change asks anew."""
    for case in ("linden-04", "sandbar-31"):
        said = linden.get(f"/cases/{case}/waits").text
        assert said
        assert said in linden.get(f"/cases/{case}/plan").text
    first = linden.get("/").text
    assert 'data-case="linden-04"' not in first
    assert 'data-case="millrace-12"' in first
    change = {"base": 1, "changes": {"subject.health.smoker": None}}
    assert linden.patch("/api/cases/linden-04", json=change).status_code == 200
    assert 'data-case="linden-04"' in linden.get("/").text
    assert "health questions" in linden.get("/cases/linden-04/waits").text
    assert linden.get("/cases/nobody/waits").status_code == 404

"""From a signed plan to the recall through the API: every entry counts once, and the page says what the state says."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from desks import client_of, demo_desk_at

AT = "/api/cases/linden-04/surgeries/1"


@pytest.fixture
def client(tmp_path: Path) -> TestClient:
    client = client_of(demo_desk_at(tmp_path))
    client.post("/api/cases/linden-04/plans", json={})
    signed = {"by": "op-1", "role": "operator", "reason": "agreed with the restorative dentist"}
    client.post("/api/cases/linden-04/plans/1/signatures", json=signed)
    assert client.post("/api/cases/linden-04/surgeries", json={"plan": 1}).json() == {"surgery": 1}
    return client


def test_an_unsigned_plan_begins_no_surgery(client: TestClient) -> None:
    """A plan that nobody signed is not what a surgery is held against."""
    client.post("/api/cases/millrace-12/plans", json={})
    assert client.post("/api/cases/millrace-12/surgeries", json={"plan": 1}).status_code == 409


def test_the_same_key_twice_is_one_entry(client: TestClient) -> None:
    """A retry after a lost network adds nothing."""
    body = {"key": "first-entry-1", "text": "4.5"}
    one, two = (client.post(f"{AT}/entries", json=body).json() for _ in range(2))
    assert one["entry"] == two["entry"] == 1
    assert len(two["state"]["entries"]) == 1


def test_a_reading_says_what_remains_and_the_page_says_it_too(client: TestClient) -> None:
    """Crest 11 to be 12.5 from the edge, read 11.7: 0.8 mm of bone still to remove."""
    client.post(f"{AT}/steps", json={"key": "step-probe-bone", "step": "probe_bone"})
    now = client.post(f"{AT}/entries", json={"key": "crest-of-11", "text": "11 f b 11.7"}).json()
    site = next(s for s in now["state"]["sites"] if s["tooth"] == "11" and s["site"] == "midfacial")
    assert site["target_mm"] == 12.5
    assert "0.8 mm" in site["short"]
    assert site["short"] in now["shown"]
    assert site["short"] in client.get("/cases/linden-04/surgery").text


def test_keys_that_mean_nothing_are_refused_in_words(client: TestClient) -> None:
    """Nothing is kept."""
    answer = client.post(f"{AT}/entries", json={"key": "no-number-1", "text": "11 f b x"})
    assert answer.status_code == 422
    assert client.get(AT).json()["entries"] == []


def test_signing_off_needs_a_reason_for_what_was_not_done(client: TestClient) -> None:
    """Without reasons it stays open; with them nothing more is entered."""
    end = {"key": "sign-off-01", "by": "op-1", "role": "operator"}
    assert client.post(f"{AT}/sign-off", json=end).status_code == 409
    reasons = {item["name"]: "stopped at the patient's wish" for item in client.get(AT).json()["not_done"]}
    waits = {line["case"]: line["waits_for"] for line in client.get("/api/cases").json()}
    assert waits["linden-04"] == "sign_off"
    assert client.post(f"{AT}/sign-off", json=end | {"reasons": reasons}).status_code == 201
    waits = {line["case"]: line["waits_for"] for line in client.get("/api/cases").json()}
    assert waits["linden-04"] == "recall"
    assert "waits for the visits of its recall" in client.get("/cases/linden-04/recall").text
    assert client.post(f"{AT}/entries", json={"key": "too-late-01", "text": "4.5"}).status_code == 409


def test_a_visit_is_held_against_the_band_and_says_why_no_crown_yet(client: TestClient) -> None:
    """Two weeks after surgery: on record, on the page, and too early for restorations."""
    at = (dt.date.today() + dt.timedelta(days=14)).isoformat()
    reading = {
        "tooth": "11",
        "site": "midfacial",
        "quantity": "margin_level",
        "value": 9.4,
        "datum": "planned_edge",
        "at": at,
    }
    visit = {"at": at, "readings": [reading], "is_without_complications": True}
    body = {"key": "visit-00001", "visit": visit}
    assert client.post(f"{AT}/visits", json=body).status_code == 201, client.post(f"{AT}/visits", json=body).text
    page = client.get("/cases/linden-04/recall").text
    assert "not yet" in page
    assert "Margins over time" in page


@pytest.mark.parametrize("name", ["record", "letter-colleague", "letter-laboratory", "letter-patient"])
def test_what_is_handed_out_after_a_surgery_is_printed(client: TestClient, name: str) -> None:
    """A PDF each, also of a surgery in which nothing was read yet."""
    answer = client.get(f"/cases/linden-04/print/surgery-1/{name}.pdf")
    assert answer.status_code == 200, answer.text[:400]
    assert answer.content.startswith(b"%PDF")
    assert f"/print/surgery-1/{name}.pdf" in client.get("/cases/linden-04/print").text

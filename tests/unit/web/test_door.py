"""Who may drive the app: this computer, with the token, from a page of the app."""

from __future__ import annotations

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from desks import TOKEN, client_of, desk_at
from festoon.web import security


@pytest.fixture
def client(tmp_path: Path) -> TestClient:
    return client_of(desk_at(tmp_path))


@pytest.mark.parametrize("path", ["/", "/api/cases", "/api/openapi.json", "/cases/x/chart"])
def test_without_the_token_nothing_is_told(tmp_path: Path, path: str) -> None:
    """Another user of this computer sees no record."""
    stranger = client_of(desk_at(tmp_path), is_let_in=False)
    assert stranger.get(path).status_code == 403


@pytest.mark.parametrize("host", ["evil.example:8737", "127.0.0.1:1", "127.0.0.1.evil.example:8737", ""])
def test_another_host_name_is_refused(client: TestClient, host: str) -> None:
    """A page elsewhere that lets its own name point here gets nothing, token or not."""
    assert client.get("/", headers={"host": host}).status_code == 421


def test_the_token_opens_and_is_not_a_way_out(tmp_path: Path) -> None:
    """The printed address sets the cookie; a wrong token does not, and nobody is sent to another site."""
    stranger = client_of(desk_at(tmp_path), is_let_in=False)
    assert stranger.get("/enter?token=wrong").status_code == 403
    page = stranger.get(f"/enter?token={TOKEN}&to=//evil.example/x")
    assert page.status_code == 200
    assert "evil.example" not in page.text
    assert "HttpOnly; SameSite=Strict" in page.headers["set-cookie"]
    assert stranger.get("/api/cases").status_code == 200


@pytest.mark.parametrize(
    "headers", [{"X-Festoon-Token": "wrong"}, {"origin": "http://evil.example"}, {"origin": "http://127.0.0.1:9"}]
)
def test_another_page_cannot_write(client: TestClient, headers: dict[str, str]) -> None:
    """The cookie alone writes nothing."""
    assert client.post("/api/demo-cases", headers=headers).status_code == 403
    assert client.get("/api/cases").json() == []


def test_every_answer_forbids_what_it_does_not_need(client: TestClient) -> None:
    """A strict policy without inline script or style, and nothing kept by the browser."""
    headers = client.get("/").headers
    assert "'unsafe-inline'" not in headers["content-security-policy"]
    assert "default-src 'none'" in headers["content-security-policy"]
    assert headers["cache-control"] == "no-store"
    assert headers["x-content-type-options"] == "nosniff"


def test_pages_hold_no_inline_script_or_style(client: TestClient) -> None:
    """What the policy forbids is not there either."""
    client.post("/api/demo-cases")
    for path in ("/", "/cases/linden-04/chart", "/cases/linden-04/design", "/cases/linden-04/plan"):
        text = client.get(path).text
        assert "style=" not in text
        assert "<script>" not in text
        assert " onclick" not in text
        assert "http://" not in text.replace("http://www.w3.org/2000/svg", "")
        assert "https://" not in text or "doi" in text or path.endswith("plan")


def test_a_request_that_is_too_large_is_refused_in_the_one_shape(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Counted while it streams in, so that no header has to be believed."""
    monkeypatch.setattr(security, "LARGEST_REQUEST", 1000)
    answer = client.post("/api/cases", content=b"x" * 2000, headers={"content-type": "application/json"})
    assert answer.status_code == 413
    assert answer.json()["error"]["kind"] == "too_large"
    streamed = client.post(
        "/api/cases", content=iter([b"x" * 600, b"x" * 600]), headers={"content-type": "application/json"}
    )
    assert streamed.status_code == 413


def test_a_token_of_any_signs_is_refused_in_words(tmp_path: Path) -> None:
    """Signs outside ASCII are no fault of the app's; in the address, the cookie and the header alike."""
    stranger = client_of(desk_at(tmp_path), is_let_in=False)
    assert stranger.get("/enter?token=%C3%BC%ED%A0%80").status_code == 403
    own = client_of(desk_at(tmp_path / "own"))
    assert own.post("/api/demo-cases", headers={"X-Festoon-Token": b"\xfc\xff"}).status_code == 403
    stranger.cookies.clear()
    answer = stranger.get("/api/cases", headers={"cookie": "festoon-8737=\u00fc".encode("latin-1")})
    assert answer.status_code == 403
    assert answer.json()["error"]["text"]


def test_a_shut_door_is_told_from_a_refused_entry(client: TestClient) -> None:
    """The chairside view keeps what a shut door did not take, and gives up what was refused."""
    answer = client.post("/api/demo-cases", headers={"X-Festoon-Token": "of an app that was stopped"})
    assert (answer.status_code, answer.json()["error"]["kind"]) == (403, "door")

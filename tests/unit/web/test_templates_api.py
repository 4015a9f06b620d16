"""Templates through the app: what is asked for is checked at once, what is kept is shown with its checks and never with another's part."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from desks import client_of, demo_desk_at
from festoon.store.keeping import attach_file
from festoon.web.desk import Desk
from festoon.workflow.template_on_record import templates_of


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """A desk with the demo cases."""
    return demo_desk_at(tmp_path)


@pytest.fixture
def client(desk: Desk) -> TestClient:
    """In, at that desk."""
    return client_of(desk)


def test_a_scan_that_is_not_there_is_said_before_any_work(client: TestClient) -> None:
    """No line of progress for work that cannot begin."""
    answer = client.post("/api/cases/linden-04/templates", json={"scan": "0" * 64})
    assert (answer.status_code, answer.json()["error"]["kind"]) == (404, "unknown")


def test_a_scan_that_is_no_arch_is_refused_in_the_last_line(client: TestClient, desk: Desk) -> None:
    """Nothing is kept of a template that could not be made."""
    stl = "solid a\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 9 0 0\nvertex 0 9 0\nendloop\nendfacet\nendsolid a\n"
    kept = client.post("/api/cases/linden-04/files", files={"file": ("a.stl", stl.encode())}).json()
    answer = client.post("/api/cases/linden-04/templates", json={"scan": kept["sha256"]})
    assert json.loads(answer.text.splitlines()[-1])["error"]["faults"][0]["do"]
    assert templates_of(desk.store, "linden-04") == ()


def test_the_page_never_shows_a_part_beside_the_checks_of_another_making(client: TestClient, desk: Desk) -> None:
    """The second making failed its checks: the part of the first stays with the first."""

    def kept(number: int, name: str, data: bytes) -> None:
        attach_file(desk.store, "linden-04", data, kind=f"template {number} {name}", removed=(), by="op", why="test")

    def about(printable: bool) -> bytes:
        return json.dumps(
            {
                "kind": "two-piece", "plan_sha256": "ab" * 32, "printable": printable, "why": "", "parts": [], "notes": [],
            }
        ).encode()  # fmt: skip

    kept(1, "checks.json", about(True))
    kept(1, "gingival-line.stl", b"solid")
    kept(2, "checks.json", about(False))
    newest, first = templates_of(desk.store, "linden-04")
    assert (newest.number, set(newest.files)) == (2, {"checks.json"})
    assert "gingival-line.stl" in first.files
    page = client.get("/cases/linden-04/template").text
    head, tail = page.split("Template 1 ·")
    assert "NOT PRINTABLE" in head
    assert "gingival-line.stl" not in head
    assert "gingival-line.stl" in tail
    assert page.count("Stale:") == 2
    assert (
        "template"
        not in client.get("/cases/linden-04/scan")
        .text.split('id="desk"')[1]
        .split("<footer")[0]
        .replace("/template", "")
        .lower()
    )

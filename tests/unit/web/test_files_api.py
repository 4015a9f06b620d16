"""Files of a case through the API: attached, given back byte for byte, measured, refused in words."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from desks import client_of, demo_desk_at

CUBE = """solid cube
facet normal 0 0 -1
outer loop
vertex 0 0 0
vertex 0 9 0
vertex 9 0 0
endloop
endfacet
facet normal 0 0 1
outer loop
vertex 0 0 9
vertex 9 0 9
vertex 0 9 9
endloop
endfacet
endsolid cube
"""


@pytest.fixture
def client(tmp_path: Path) -> TestClient:
    return client_of(demo_desk_at(tmp_path))


def test_a_file_comes_back_byte_for_byte_to_its_own_case_only(client: TestClient) -> None:
    """By its hash; another case does not have it."""
    kept = client.post("/api/cases/linden-04/files", files={"file": ("somebody.stl", CUBE.encode())})
    assert kept.status_code == 201
    place = f"files/{kept.json()['sha256']}"
    assert client.get(f"/api/cases/linden-04/{place}").content == CUBE.encode()
    assert client.get(f"/api/cases/millrace-12/{place}").status_code == 404
    assert "somebody" not in client.get("/cases/linden-04/scan").text


def test_what_is_no_arch_is_refused_in_words(client: TestClient) -> None:
    """Two triangles are no dental arch; nothing is measured, and no path is told."""
    kept = client.post("/api/cases/linden-04/files", files={"file": ("arch.stl", CUBE.encode())}).json()
    answer = client.post(f"/api/cases/linden-04/files/{kept['sha256']}/measure", json={})
    lines = [json.loads(line) for line in answer.text.splitlines()]
    assert lines[-1]["error"]["kind"] == "refused"
    assert lines[-1]["error"]["faults"][0]["do"]
    assert [line["what"] for line in lines[:-1]]
    assert "/tmp" not in answer.text


def test_readings_go_into_the_chart_through_one_request(client: TestClient) -> None:
    """A reading taken is a new version of the case; nothing is kept of one that contradicts what stands there."""
    version = client.get("/api/cases/linden-04").json()["version"]
    reading = {"tooth": "11", "quantity": "zenith_offset", "value": 0.9, "se": 0.2, "method": "scan"}
    body = {"base": version, "readings": {"case": "linden-04", "readings": [reading]}, "at": "2026-02-11"}
    assert client.post("/api/cases/linden-04/readings", json=body).json()["version"] == version + 1
    assert client.get("/api/cases/linden-04").json()["document"]["teeth"]["11"]["zenith_offset_mm"] == 0.9
    width = reading | {"quantity": "crown_width", "value": 5.0, "se": 0.1}
    refused = client.post(
        "/api/cases/linden-04/readings",
        json={"base": version + 1, "readings": {"case": "linden-04", "readings": [width]}, "at": "2026-02-11"},
    )
    assert refused.status_code == 422
    assert client.get("/api/cases/linden-04").json()["version"] == version + 1


@pytest.mark.parametrize(
    ("name", "data"), [("a.exe", b"MZ\x00\x00"), ("a.jpg", b"no picture"), ("a", b""), ("a.pdf", b"%PDF-1.7")]
)
def test_what_is_neither_scan_nor_picture_is_not_kept(client: TestClient, name: str, data: bytes) -> None:
    """Nobody could take identity out of it; the refusal says what to do, and the case has no file afterwards."""
    answer = client.post("/api/cases/linden-04/files", files={"file": (name, data)})
    assert answer.status_code == 422
    assert "attach that" in answer.json()["error"]["faults"][0]["do"]
    assert "Nothing was attached yet." in client.get("/cases/linden-04/scan").text

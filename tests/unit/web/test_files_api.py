"""Files of a case through the API: attached, given back byte for byte, measured, refused in words."""

from __future__ import annotations

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from desks import client_of, desk_at

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
    client = client_of(desk_at(tmp_path))
    client.post("/api/demo-cases")
    return client


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
    assert answer.status_code == 422
    assert answer.json()["error"]["faults"][0]["do"]
    assert "/tmp" not in answer.text

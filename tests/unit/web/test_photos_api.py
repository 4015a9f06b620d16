"""Photographs through the API: one upright grid, lines along edges, ratios without a scale and millimetres with one."""

from __future__ import annotations

import io
import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw
from starlette.testclient import TestClient

from desks import client_of, demo_desk_at

WIDE, HIGH = 400, 300


def drawn(orientation: int | None = None, kind: str = "JPEG") -> bytes:
    """Two light crowns on red, a hundred pixels wide each; the grain of the picture is seeded."""
    picture = Image.new("RGB", (WIDE, HIGH), (180, 90, 90))
    pen = ImageDraw.Draw(picture)
    pen.rectangle((100, 100, 198, 220), fill=(235, 230, 215))
    pen.rectangle((202, 100, 300, 220), fill=(235, 230, 215))
    grain = np.random.default_rng(3).normal(0, 2, (HIGH, WIDE, 1))
    picture = Image.fromarray(np.clip(np.asarray(picture) + grain, 0, 255).astype(np.uint8))
    exif = Image.Exif()
    if orientation:
        exif[0x0112] = orientation
    out = io.BytesIO()
    picture.save(out, kind, exif=exif)
    return out.getvalue()


@pytest.fixture
def client(tmp_path: Path) -> TestClient:
    """A client with the demo cases."""
    return client_of(demo_desk_at(tmp_path))


def attached(client: TestClient, data: bytes, name: str = "a.jpg") -> tuple[str, str]:
    """Its SHA-256 and its address."""
    sha256 = client.post("/api/cases/linden-04/files", files={"file": (name, data)}).json()["sha256"]
    return sha256, f"/api/cases/linden-04/files/{sha256}"


def test_the_picture_is_shown_upright_and_a_mirroring_file_is_asked_about(client: TestClient) -> None:
    """Clicks, computation and print share one grid; nobody turns a mouth in silence."""
    _, turned = attached(client, drawn(orientation=6))
    shown = Image.open(io.BytesIO(client.get(f"{turned}/picture.jpg").content))
    assert shown.size == (HIGH, WIDE)
    _, mirrored = attached(client, drawn(orientation=2))
    assert client.get(f"{mirrored}/picture.jpg").status_code == 422
    assert client.get(f"{mirrored}/picture.jpg?mirrored=as_tagged").status_code == 200


def test_a_tiff_is_kept_as_pixels_alone(client: TestClient) -> None:
    """What a file of that kind says of place and person cannot be cut out of it, so only the picture is kept."""
    kept = client.post("/api/cases/linden-04/files", files={"file": ("a.tiff", drawn(kind="TIFF"))}).json()
    assert any("pixels alone" in text for text in kept["removed"])
    bytes_kept = client.get(f"/api/cases/linden-04/files/{kept['sha256']}").content
    assert bytes_kept.startswith(b"\x89PNG")
    assert client.get(f"/api/cases/linden-04/files/{kept['sha256']}/picture.jpg").status_code == 200


def test_a_line_between_clicks_follows_the_edge(client: TestClient) -> None:
    """Two clicks on the upper border of a crown, and the line runs on it, ends where they were set."""
    _, src = attached(client, drawn())
    line = client.post(f"{src}/snap", json={"segments": [[[110, 100], [190, 100]]]}).json()["segments"][0]
    assert (line[0], line[-1]) == ([110, 100], [190, 100])
    assert max(abs(y - 99.5) for _, y in line) < 2.5
    outside = client.post(f"{src}/snap", json={"segments": [[[110, 100], [900, 100]]]})
    assert (outside.status_code, outside.json()["error"]["kind"]) == (422, "refused")


def test_ratios_without_a_scale_and_millimetres_with_one(client: TestClient) -> None:
    """Nothing of known size, no millimetre."""
    sha256, src = attached(client, drawn())

    def crown(left: float, mesial_is_right: bool) -> dict[str, object]:
        right = left + 98
        mesial, distal = (right, left) if mesial_is_right else (left, right)
        middle = left + 49
        return {"mesial": [mesial, 160], "distal": [distal, 160], "edge": [middle, 220], "zenith": [middle, 100]}

    marks = {
        "photo": {"sha256": sha256, "width_px": WIDE, "height_px": HIGH},
        "teeth": {"11": crown(100, True), "21": crown(202, False)},
    }

    def measured(**more: object) -> dict[str, dict[str, object]]:
        answer = client.post(f"{src}/photo-readings", json={"marks": marks, **more})
        return json.loads(answer.text.splitlines()[-1])

    ratios = measured()["done"]["readings"]["readings"]
    assert {one["unit"] for one in ratios} == {"1"}
    readings = measured(known=[{"tooth": "11", "mm": 8.6, "se": 0.05}])["done"]["readings"]["readings"]
    length = next(one for one in readings if one["quantity"] == "crown_length" and one["tooth"] == "21")
    assert length["value"] == pytest.approx(8.6 / 98 * 120, abs=2 * length["se"])
    assert measured(known=[{"tooth": "13", "mm": 8.0}])["error"]["kind"] == "refused"


def test_what_is_no_photograph_of_the_case_is_not_found(client: TestClient) -> None:
    """A scan has no picture."""
    _, src = attached(client, b"solid a\nendsolid a\n", "a.stl")
    assert client.get(f"{src}/picture.jpg").status_code == 404
    assert client.post(f"{src}/outlines", json={}).status_code == 404

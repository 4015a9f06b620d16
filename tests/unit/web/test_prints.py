"""What leaves the app names every tooth under two notations, the reader's first, and marks right and left."""

from __future__ import annotations

import pypdfium2
import pytest
from starlette.testclient import TestClient

from desks import client_of, demo_desk_at
from festoon.web.desk import PREFERENCES


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> TestClient:
    return client_of(demo_desk_at(tmp_path_factory.mktemp("home")))


def text_of(pdf: bytes) -> str:
    """The words of a PDF."""
    return "\n".join(page.get_textpage().get_text_bounded() for page in pypdfium2.PdfDocument(pdf))


@pytest.mark.parametrize(
    ("notation", "names"), [("fdi", ("11", "8")), ("universal", ("8", "11")), ("palmer", ("UR1", "8"))]
)
@pytest.mark.parametrize("paper", ["sheet.pdf", "before-surgery.pdf", "profile.svg"])
def test_every_paper_names_teeth_twice_as_the_reader_prefers(
    client: TestClient, paper: str, notation: str, names: tuple[str, str]
) -> None:
    """FDI, Universal or Palmer first, another beside it; patient's right and left in words."""
    client.cookies.set(PREFERENCES, f"{notation}.auto.en")
    try:
        answer = client.get(f"/cases/linden-04/print/{paper}")
    finally:
        client.cookies.delete(PREFERENCES)
    text = answer.text if paper.endswith("svg") else text_of(answer.content)
    words = set(text.replace("<", " ").replace(">", " ").replace("(", " ").replace(")", " ").split())
    assert set(names) <= words
    assert "right" in text.lower()
    assert "left" in text.lower()

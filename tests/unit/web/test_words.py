"""The catalogues are up to date, say the same with the same gaps in every language, and English stands where there is no other word."""

from __future__ import annotations

import re
from enum import StrEnum
from io import BytesIO

import pytest
from babel.messages.pofile import read_po
from starlette.testclient import TestClient

import collect_words
from desks import client_of, desk_at
from festoon.model.case import Health, Status
from festoon.model.dentition import Site
from festoon.model.plan import Procedure
from festoon.model.quantities import Quantity
from festoon.model.reading import Datum, Method
from festoon.model.recall import ComplicationKind, PapillaFill
from festoon.planning.limits import Limit
from festoon.web.desk import PREFERENCES
from festoon.web.vocabulary import EVERY
from festoon.web.words import NAMES, catalogue, languages

LANGUAGES = sorted(collect_words.catalogues())
GAP = re.compile(r"%\(\w+\)s|\{\w+\}")


def test_the_catalogue_is_what_templates_and_code_say() -> None:
    """Otherwise a translator would miss a text: run scripts/collect_words.py."""
    assert collect_words.TARGET.read_bytes() == collect_words.collected()


def test_without_a_catalogue_the_text_stands_as_it_is() -> None:
    """English in, English out; a language that is not there is not offered."""
    assert catalogue("xx").gettext("Begin") == "Begin"
    assert "xx" not in languages()


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_language_keeps_the_gaps_of_every_text_and_is_compiled(language: str) -> None:
    """A gap that is lost loses a number; what is compiled is what the translator wrote; at least nine tenths are translated."""
    path = collect_words.catalogues()[language]
    said = read_po(BytesIO(path.read_bytes()), locale=language)
    wrong = [m.id for m in said if m.id and m.string and sorted(GAP.findall(m.id)) != sorted(GAP.findall(m.string))]
    assert wrong == []
    spoken = catalogue(language)
    assert [m.id for m in said if m.id and m.string and spoken.gettext(m.id) != m.string] == []
    ids = {m.id for m in collect_words.template() if m.id}
    assert sum(spoken.gettext(text) != text or text == said[text].string for text in ids if text in said) > 0.9 * len(
        ids
    )
    assert language in NAMES


@pytest.mark.parametrize(
    "kind", [Site, Procedure, Status, Datum, Method, Quantity, ComplicationKind, PapillaFill, Limit]
)
def test_every_word_out_of_the_data_is_asked_of_translators(kind: type[StrEnum]) -> None:
    """A page shows these by their names, so they must be in the catalogue though no template holds them."""
    assert {member.value.replace("_", " ") for member in kind} - EVERY == set()
    assert {key.replace("_", " ") for key in Health.model_fields} - EVERY == set()


def test_a_page_speaks_the_language_that_was_chosen(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Chosen on the page, kept in the cookie; the language of the page is told to a screen reader."""
    client: TestClient = client_of(desk_at(tmp_path_factory.mktemp("home")))
    assert client.get("/prefer?language=de&to=/", follow_redirects=False).cookies[PREFERENCES].endswith(".de")
    page = client.get("/").text
    assert '<html lang="de"' in page
    assert "Noch keine Fälle" in page
    assert 'value="de" selected>Deutsch' in page

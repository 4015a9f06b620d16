"""The catalogue of texts is up to date, and the app speaks English where there is no other."""

from __future__ import annotations

import collect_words
from festoon.web.words import catalogue, languages


def test_the_catalogue_is_what_templates_and_code_say() -> None:
    """Otherwise a translator would miss a text: run scripts/collect_words.py."""
    assert collect_words.TARGET.read_bytes() == collect_words.collected()


def test_without_a_catalogue_the_text_stands_as_it_is() -> None:
    """English in, English out; a language that is not there is not offered."""
    assert catalogue("xx").gettext("Begin") == "Begin"
    assert "xx" not in languages()

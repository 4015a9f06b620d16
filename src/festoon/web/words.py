"""The words of the app: English in the code, other languages from gettext catalogues in ``locale``.

``python scripts/collect_words.py`` collects every text of templates and code into ``locale/festoon.pot``.
"""

from __future__ import annotations

import gettext
from functools import cache
from importlib.resources import files

DOMAIN = "festoon"
SOURCE = "en"
NAMES = {"en": "English", "de": "Deutsch (ungeprüft)"}
"""Each language by its own name. A catalogue that no clinician of that language has reviewed says so in its name."""
MARKED = "x-marked"
"""No language: every text that came through a catalogue stands in brackets, so that one that did not is seen."""


class _Marked(gettext.NullTranslations):
    def gettext(self, message: str) -> str:
        return f"⟦{message}⟧" if message else message

    def ngettext(self, singular: str, plural: str, n: int) -> str:
        return f"⟦{singular if n == 1 else plural}⟧"


@cache
def catalogue(language: str) -> gettext.NullTranslations:
    """The catalogue of a language; English as it stands in the code where there is none."""
    if language == MARKED:
        return _Marked()
    place = str(files("festoon.web") / "locale")
    return gettext.translation(DOMAIN, place, languages=[language], fallback=True)


def languages() -> tuple[str, ...]:
    """The languages that there are catalogues for."""
    there = files("festoon.web") / "locale"
    found = [p.name for p in there.iterdir() if p.is_dir() and (p / "LC_MESSAGES" / f"{DOMAIN}.mo").is_file()]
    return (SOURCE, *sorted(found))


def N_(text: str) -> str:  # noqa: N802  gettext's own name for a text that is translated where it is shown
    """Mark a text for the catalogue without translating it here."""
    return text

"""The usual words of charts for columns, quantities, sites, methods and datums, in six languages.

The words stand in ``vocabulary.csv`` and are compared without case, accents and punctuation. Names of festoon's own
format are always among them. A heading with a word that nobody knows is not understood as a whole.
"""

from __future__ import annotations

import csv
import re
import unicodedata
from collections.abc import Mapping
from functools import cache
from importlib.resources import files

from festoon.model.dentition import Site
from festoon.model.quantities import Quantity
from festoon.model.reading import Datum, Method
from festoon.records.intake.column_map import Holds
from festoon.records.intake.quantities import FromCej

_GERMAN = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "ß": "ss", "æ": "ae", "ø": "o"})
_FILLERS = {"mm", "cm", "in", "of", "the", "de", "da", "do", "di", "der", "des", "la", "le", "en", "em"}
"""Units are understood apart (:mod:`festoon.records.intake.headings`)."""


def plain(text: str) -> str:
    """Text without case, accents and punctuation: ``Mésio-vestibulaire`` becomes ``mesio vestibulaire``."""
    spelled = unicodedata.normalize("NFC", text).casefold().translate(_GERMAN)
    unaccented = "".join(c for c in unicodedata.normalize("NFKD", spelled) if not unicodedata.combining(c))
    return " ".join(re.findall(r"[a-z0-9]+|#", unaccented.replace("_", " ")))


@cache
def words(kind: str) -> Mapping[str, str]:
    """Plain word to meaning, for one kind: ``column``, ``quantity``, ``site``, ``method`` or ``datum``."""
    text = files("festoon.records.intake").joinpath("vocabulary.csv").read_text("utf-8")
    found: dict[str, str] = {}
    for row in csv.DictReader(text.splitlines()):
        if row["kind"] == kind:
            found |= {plain(word): row["meaning"] for word in row["words"].split("|")}
    own = {
        "column": tuple(holds for holds in Holds if holds not in (Holds.READING, Holds.NOTHING)),
        "quantity": (*Quantity, *FromCej),
        "site": tuple(Site),
        "method": tuple(Method),
        "datum": tuple(Datum),
    }[kind]
    return found | {plain(name): str(name) for name in own}


def meaning(kind: str, text: str) -> str | None:
    """What a whole text means, as one kind; None where nobody says so."""
    return words(kind).get(plain(text))


def phrase_meanings(text: str, kinds: tuple[str, ...]) -> dict[str, str] | None:
    """Every word of a heading understood: meaning by kind, longest phrases first; None where a word is left over.

    Each kind may be said once: a heading that names two quantities is not understood.
    """
    tokens = plain(text).split()
    found: dict[str, str] = {}
    at = 0
    while at < len(tokens):
        for length in range(len(tokens) - at, 0, -1):
            phrase = " ".join(tokens[at : at + length])
            kind = next((k for k in kinds if k not in found and phrase in words(k)), None)
            if kind is not None:
                found[kind] = words(kind)[phrase]
                at += length
                break
        else:
            if tokens[at] not in _FILLERS:
                return None
            at += 1
    return found or None

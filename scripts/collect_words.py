"""Collect the texts of the app for translators: ``python scripts/collect_words.py`` writes ``locale/festoon.pot``.

A language is ``locale/<language>/LC_MESSAGES/festoon.po``, made from it and compiled with ``pybabel compile -D festoon``.
"""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import write_po

WEB = Path(__file__).resolve().parent.parent / "src" / "festoon" / "web"
TARGET = WEB / "locale" / "festoon.pot"


def collected() -> bytes:
    """The catalogue as it follows from templates and code, without dates, so that it is the same bytes each time."""
    catalog = Catalog(project="festoon", version="", copyright_holder="the festoon authors", charset="utf-8")
    keywords = {"_": None, "N_": None, "gettext": None}
    found = extract_from_dir(WEB, [("**.py", "python"), ("**.html", "jinja2")], keywords=keywords)
    for file, _, message, _, _ in found:
        catalog.add(message, locations=[(Path(file).as_posix(), 0)])
    out = BytesIO()
    write_po(out, catalog, omit_header=True, sort_by_file=True, include_lineno=False, width=110)
    return out.getvalue()


if __name__ == "__main__":
    TARGET.parent.mkdir(exist_ok=True)
    TARGET.write_bytes(collected())

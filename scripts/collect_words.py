"""Collect the texts of the app for translators, and bring every language up to date: ``python scripts/collect_words.py``.

Writes ``locale/festoon.pot``, lays its texts into each ``locale/<language>/LC_MESSAGES/festoon.po`` (what was translated stays, what is
new stays empty and is shown in English), and compiles the catalogues. A new language is begun by ``python scripts/collect_words.py xx``.
"""

from __future__ import annotations

import datetime as dt
import sys
from io import BytesIO
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

WEB = Path(__file__).resolve().parent.parent / "src" / "festoon" / "web"
LOCALE = WEB / "locale"
TARGET = LOCALE / "festoon.pot"


def template() -> Catalog:
    """Every text of templates and code."""
    catalog = Catalog(project="festoon", version="", copyright_holder="the festoon authors", charset="utf-8")
    keywords = {"_": None, "N_": None, "gettext": None}
    found = extract_from_dir(WEB, [("**.py", "python"), ("**.html", "jinja2")], keywords=keywords)
    for file, _, message, _, _ in found:
        catalog.add(message, locations=[(Path(file).as_posix(), 0)])
    return catalog


def collected() -> bytes:
    """The catalogue as it follows from templates and code, without dates, so that it is the same bytes each time."""
    return _written(template(), omit_header=True)


def catalogues() -> dict[str, Path]:
    """The catalogue of each language."""
    return {path.parents[1].name: path for path in sorted(LOCALE.glob("*/LC_MESSAGES/festoon.po"))}


def updated(path: Path, texts: Catalog) -> Catalog:
    """A language with the texts of today: none is guessed from a likeness, since a wrong word on a plan is worse than an English one."""
    said = read_po(BytesIO(path.read_bytes()), locale=path.parents[1].name)
    said.update(texts, no_fuzzy_matching=True, update_header_comment=False)
    said.obsolete.clear()
    # That of the translator, so that the same texts give the same bytes.
    said.creation_date = dt.datetime.fromisoformat(str(said.revision_date))
    return said


def compiled(catalog: Catalog) -> bytes:
    """The catalogue as the app reads it."""
    out = BytesIO()
    write_mo(out, catalog)
    return out.getvalue()


def _written(catalog: Catalog, *, omit_header: bool) -> bytes:
    out = BytesIO()
    write_po(out, catalog, omit_header=omit_header, sort_by_file=True, include_lineno=False, width=110)
    return out.getvalue()


def main(new: str | None) -> None:
    """Write all of them."""
    LOCALE.mkdir(exist_ok=True)
    TARGET.write_bytes(collected())
    if new is not None:
        path = LOCALE / new / "LC_MESSAGES" / "festoon.po"
        path.parent.mkdir(parents=True)
        path.write_bytes(_written(Catalog(locale=new, project="festoon", version=""), omit_header=False))
    for path in catalogues().values():
        catalog = updated(path, template())
        path.write_bytes(_written(catalog, omit_header=False))
        path.with_suffix(".mo").write_bytes(compiled(catalog))
        empty = sum(not message.string for message in catalog if message.id)
        print(f"{path.parents[1].name}: {len(catalog) - empty} of {len(catalog)} translated")


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else None)

"""Templates to pages: the language, the numbers and the names of teeth as the reader prefers them."""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import cache
from hashlib import sha256
from importlib.resources import files
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from festoon import __version__
from festoon.drawings.palette import as_css
from festoon.model.dentition import Notation, Site, Tooth
from festoon.model.surgery import shape_of
from festoon.web import words
from festoon.web.desk import Prefers, desk_of, prefers_of
from festoon.web.faults import Wrong

NOT_KNOWN = words.N_("not measured")


class Pages:
    """Renders templates."""

    def render(self, request: Request, template: str, status: int = 200, **shown: Any) -> HTMLResponse:
        """A page as a response."""
        return HTMLResponse(self.text(request, template, **shown), status)

    def text(self, request: Request, template: str, **shown: Any) -> str:
        """A page, or a part of one, as text."""
        prefers = prefers_of(request)
        desk = desk_of(request)
        return (
            _environment(prefers.language)
            .get_template(template)
            .render(
                prefers=prefers,
                form_token=desk.door.form_token,
                by=desk.by,
                version=__version__,
                languages=words.languages(),
                language_names=words.NAMES,
                look=look_version(),
                path=request.url.path,
                name=names_for(request),
                short=lambda code: Tooth(code).shown(prefers.notation),
                **shown,
            )
        )

    def fault_page(self, request: Request, status: int, wrong: Wrong) -> str:
        """A page that says what went wrong and what to do."""
        return self.text(request, "fault.html", status=status, wrong=wrong)


def names_for(request: Request) -> Callable[[str], str]:
    """How teeth and papillae are named for the reader of a request."""
    prefers = prefers_of(request)
    return lambda code: tooth_names(code, prefers)


def tooth_names(code: str, prefers: Prefers) -> str:
    """A tooth, or a papilla between two, under the preferred and a second name: ``11 (8)``."""
    first, second = prefers.notations
    try:
        teeth = [Tooth(part) for part in code.split("-")]
    except ValueError:
        return code
    return f"{'-'.join(t.shown(first) for t in teeth)} ({'-'.join(t.shown(second) for t in teeth)})"


@cache
def _environment(language: str) -> Environment:
    catalogue = words.catalogue(language)
    environment = Environment(
        loader=PackageLoader("festoon.web"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        extensions=["jinja2.ext.i18n", "jinja2.ext.do"],
    )
    environment.install_gettext_callables(catalogue.gettext, catalogue.ngettext, newstyle=True)  # type: ignore[attr-defined]

    def mm(value: float | None, digits: int = 1) -> str:
        return catalogue.gettext(NOT_KNOWN) if value is None else f"{value + 0.0:.{digits}f}".replace("-0.0", "0.0")

    def english(text: object) -> object:
        """Text that only English has, such as a sentence of the plan: said so, where the page speaks another language."""
        return text if language == words.SOURCE or not text else Markup('<span lang="en">{}</span>').format(text)

    environment.filters |= {
        "mm": mm,
        "english": english,
        "wish": lambda value: "–" if value is None else mm(value),
        "mm2": lambda value: mm(value, 2),
        "percent": lambda value: "" if value is None else f"{100 * value:.0f} %",
        "shape": lambda verdict: shape_of(verdict).value,
        "site": lambda site: site_words(Site(site), catalogue.gettext),
        "plain": lambda word: catalogue.gettext(str(word).replace("_", " ")),
        "data": lambda value: Markup(json.dumps(value, ensure_ascii=False).replace("<", "\\u003c")),
        "day": lambda text: str(text)[:10] if text else "",
    }
    environment.globals |= {"notations": tuple(Notation), "zip": zip}
    return environment


def site_words(site: Site, _: Any) -> str:
    """A site in words."""
    return str(_(site.value.replace("_", " ")))


@cache
def look_version() -> str:
    """What tells these components and this style sheet from another version's, for their addresses."""
    place = files("festoon.web") / "look"
    names = sorted(path.name for path in place.iterdir())
    return sha256(b"".join((place / name).read_bytes() for name in names)).hexdigest()[:10]


def palette_css() -> str:
    """The colours of pages and drawings, light and dark, from the one palette of the drawings."""
    light, dark = as_css("light"), as_css("dark")
    return (
        f":root{{color-scheme:light;{light}}}\n"
        f"@media (prefers-color-scheme: dark){{:root:not([data-theme=light]){{color-scheme:dark;{dark}}}}}\n"
        f":root[data-theme=dark]{{color-scheme:dark;{dark}}}\n"
        f"@media print{{:root,:root[data-theme]{{color-scheme:light;{as_css('print')}}}}}\n"
    )

"""Setting a template in type: the data go in as JSON and are printed as text, never read as markup.

Only the family shipped with the dependency ``font-source-sans-pro`` (SIL Open Font License) and the typesetter's own
fonts are used, never the fonts of the machine, and no date of the day is written: the same data give the same bytes.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Literal

import typst

Paper = Literal["a4", "letter"]
PAPERS: dict[Paper, tuple[float, float]] = {"a4": (297.0, 210.0), "letter": (279.4, 215.9)}
"""Width and height in mm, landscape."""

_TEMPLATES = Path(__file__).parent / "templates"
_FONT_PACKAGE = "font_source_sans_pro"


def _font_folder() -> Path:
    """Folder of the font files.

    Raises
    ------
    ModuleNotFoundError
        If the dependency that carries the fonts is not installed: another font would change every line break.
    """
    spec = find_spec(_FONT_PACKAGE)
    if spec is None or spec.origin is None:
        raise ModuleNotFoundError(
            "the fonts of the printed sheets are not installed; install the dependencies of festoon again "
            "(package font-source-sans-pro)"
        )
    return Path(spec.origin).parent / "files"


def paper_size(paper: Paper) -> tuple[float, float]:
    """Width and height of a paper in mm, landscape.

    Raises
    ------
    ValueError
        If the paper is neither ``a4`` nor ``letter``.
    """
    if paper not in PAPERS:
        raise ValueError(f"paper {paper!r} is not known; use {' or '.join(PAPERS)}")
    return PAPERS[paper]


def typeset(template: str, data: Mapping[str, Any]) -> bytes:
    """The PDF of a template with its data."""
    return bytes(
        typst.compile(
            str(_TEMPLATES / template),
            root=str(_TEMPLATES),
            font_paths=[str(_font_folder())],
            ignore_system_fonts=True,
            format="pdf",
            sys_inputs={"data": json.dumps(data, ensure_ascii=False, sort_keys=True)},
        )
    )

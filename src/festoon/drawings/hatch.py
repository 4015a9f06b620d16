"""Hatches: gingiva to remove leans one way in fine lines, bone to remove the other way in heavy pairs."""

from __future__ import annotations

from festoon.drawings.palette import Theme
from festoon.drawings.svg import element, line


def hatch_definitions(theme: Theme, prefix: str) -> str:
    """The two patterns; ``prefix`` keeps their ids apart when several drawings stand in one page."""
    fine = element(
        "pattern",
        line(0.55, -0.1, 0.55, 1.2, stroke=theme.margin, stroke_width=0.22),
        id=f"{prefix}-gingiva",
        width=1.1,
        height=1.1,
        patternUnits="userSpaceOnUse",
        patternTransform="rotate(45)",
    )
    heavy = element(
        "pattern",
        line(0.4, -0.1, 0.4, 1.7, stroke=theme.crest, stroke_width=0.34),
        line(1.0, -0.1, 1.0, 1.7, stroke=theme.crest, stroke_width=0.34),
        id=f"{prefix}-bone",
        width=1.6,
        height=1.6,
        patternUnits="userSpaceOnUse",
        patternTransform="rotate(-45)",
    )
    return fine + heavy


def gingiva_hatch(prefix: str) -> str:
    """Fill of gingiva to remove."""
    return f"url(#{prefix}-gingiva)"


def bone_hatch(prefix: str) -> str:
    """Fill of bone to remove."""
    return f"url(#{prefix}-bone)"

"""The themes of a drawing.

Hues come from the trade's own things (gingiva, bone, tooth) and differ in lightness as well, so that they survive grey
paper and the usual colour-blind eyes. No hue carries a meaning alone: each line also has its dash, weight and label.
Colour never stands for a size, a tooth class or an instrument.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Literal

ThemeName = Literal["light", "dark", "print", "screen"]


@dataclass(frozen=True)
class Theme:
    """Colours by use."""

    paper: str
    ink: str
    quiet: str
    """Secondary text; at least 4.5 : 1 on paper."""
    hairline: str
    grid: str
    tooth: str
    """Tint of the crown."""
    tooth_outline: str
    gingiva: str
    """Tint of the tissue between margin and crest."""
    bone: str
    """Tint of the bone."""
    margin: str
    crest: str
    cej: str
    mucogingival: str
    finish: str
    """Restorative finish line."""
    target: str
    stamp: str
    stamp_text: str


_ON_SCREEN = {field.name: f"var(--{field.name.replace('_', '-')})" for field in fields(Theme)}
THEMES: dict[ThemeName, Theme] = {
    "screen": Theme(**_ON_SCREEN),
    "light": Theme(
        paper="#ffffff",
        ink="#1b242b",
        quiet="#55616b",
        hairline="#aeb8c0",
        grid="#e3e8ec",
        tooth="#fbfaf5",
        tooth_outline="#b9b4a3",
        gingiva="#f9e6e6",
        bone="#efe6d3",
        margin="#a11d4a",
        crest="#6b4a12",
        cej="#1f5c99",
        mucogingival="#2b7a68",
        finish="#5f3d8f",
        target="#1b242b",
        stamp="#1b242b",
        stamp_text="#ffffff",
    ),
    "dark": Theme(
        paper="#14191d",
        ink="#eef2f4",
        quiet="#a9b5be",
        hairline="#53606a",
        grid="#283138",
        tooth="#20272c",
        tooth_outline="#6b7378",
        gingiva="#35232a",
        bone="#332d20",
        margin="#ff86aa",
        crest="#e4b968",
        cej="#7db8f2",
        mucogingival="#6fd0b6",
        finish="#c9adf7",
        target="#eef2f4",
        stamp="#eef2f4",
        stamp_text="#14191d",
    ),
    "print": Theme(
        paper="#ffffff",
        ink="#000000",
        quiet="#3a3a3a",
        hairline="#8a8a8a",
        grid="#dcdcdc",
        tooth="#ffffff",
        tooth_outline="#a8a8a8",
        gingiva="#f4f4f4",
        bone="#e6e6e6",
        margin="#000000",
        crest="#000000",
        cej="#333333",
        mucogingival="#333333",
        finish="#000000",
        target="#000000",
        stamp="#000000",
        stamp_text="#ffffff",
    ),
}
"""By name. ``print`` is grey by design, so that a copy loses nothing; ``screen`` leaves the colours to the page that holds the
drawing, which gives them by the names of :func:`as_css`."""


def as_css(theme: ThemeName) -> str:
    """A theme as declarations of CSS custom properties, for pages that show drawings of the theme ``screen``."""
    colours = THEMES[theme]
    return "".join(f"--{f.name.replace('_', '-')}: {getattr(colours, f.name)};" for f in fields(Theme))

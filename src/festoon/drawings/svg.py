"""A small writer of SVG elements: escaped, ordered, the same bytes every time. Lengths are millimetres on paper."""

from __future__ import annotations

import re
from collections.abc import Iterable

FONT = "Source Sans Pro"
"""The family of drawings and reports; the reports load this very family, so that no text is substituted."""
FONT_STACK = f"'{FONT}', 'Source Sans 3', 'Helvetica Neue', Arial, sans-serif"

_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_ESCAPES = {"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;"}
Value = str | float | None


def escape(text: str) -> str:
    """Text for an element or an attribute: markup escaped, characters that XML forbids shown as a box."""
    return re.sub('[&<>"]', lambda match: _ESCAPES[match[0]], _NOT_XML.sub("\N{REPLACEMENT CHARACTER}", text))


def number(value: float) -> str:
    """A coordinate to a hundredth of a millimetre, without trailing zeros."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def element(tag: str, *children: str, **attributes: Value) -> str:
    """One element round markup that is already escaped. ``stroke_width`` becomes ``stroke-width``; an attribute that is None is left out."""
    parts = [tag]
    for name, value in attributes.items():
        if value is None:
            continue
        shown = number(value) if isinstance(value, int | float) else escape(value)
        parts.append(f'{name.rstrip("_").replace("_", "-")}="{shown}"')
    head = " ".join(parts)
    return f"<{head}>{''.join(children)}</{tag}>" if children else f"<{head}/>"


def group(children: Iterable[str], **attributes: Value) -> str:
    """A group; nothing at all when it would be empty."""
    inner = [child for child in children if child]
    return element("g", *inner, **attributes) if inner else ""


def line(x1: float, y1: float, x2: float, y2: float, **attributes: Value) -> str:
    """A straight line."""
    return element("line", x1=x1, y1=y1, x2=x2, y2=y2, **attributes)


def rect(x: float, y: float, width: float, height: float, **attributes: Value) -> str:
    """A rectangle."""
    return element("rect", x=x, y=y, width=width, height=height, **attributes)


def polygon(points: Iterable[tuple[float, float]], **attributes: Value) -> str:
    """A closed polygon."""
    return element("polygon", points=" ".join(f"{number(x)},{number(y)}" for x, y in points), **attributes)


def text(
    x: float, y: float, content: str, size: float, *, anchor: str = "start", turn: float = 0.0, **attributes: Value
) -> str:
    """One line of text on its baseline; ``turn`` in degrees, clockwise."""
    return element(
        "text",
        escape(content),
        x=x,
        y=y,
        font_size=size,
        text_anchor=None if anchor == "start" else anchor,
        transform=f"rotate({number(turn)} {number(x)} {number(y)})" if turn else None,
        **attributes,
    )


# Advance widths in em, by group, rounded up from the hmtx table of Source Sans Pro; the stand-in families of
# FONT_STACK run up to a tenth wider, which the callers' margins allow for.
_ADVANCE = ((" ,.;:'|!iljI()[]/ft-r", 0.34), ("mwMW@%—…", 0.86), ("ABCDEGHKNOPQRSTUVXYZ+−=±", 0.61))


def text_width(content: str, size: float) -> float:
    """Approximate width of a line of text, in the unit of ``size``; errs on the wide side."""
    total = 0.0
    for character in content:
        total += next((advance for letters, advance in _ADVANCE if character in letters), 0.53)
    return total * size


def wrap(content: str, size: float, width: float) -> list[str]:
    """Break text into lines no wider than ``width``; a single longer word is cut with an ellipsis."""
    lines: list[str] = []
    for word in content.split():
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(joined, size) <= width:
            lines[-1] = joined
        else:
            lines.append(_cut(word, size, width))
    return lines


def fitted(content: str, size: float, width: float, smallest: float = 1.4) -> float:
    """The size at which the longest word of a text fits into ``width``, between ``smallest`` and ``size``."""
    longest = max((text_width(word, 1.0) for word in content.split()), default=0.0)
    return size if longest * size <= width else max(smallest, width / longest)


def _cut(word: str, size: float, width: float) -> str:
    if text_width(word, size) <= width:
        return word
    while len(word) > 1 and text_width(word + "…", size) > width:
        word = word[:-1]
    return word + "…"

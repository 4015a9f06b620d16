"""A frame for the plots of the audit: a millimetre axis, a grid, a title. Black and greys only; marks differ by shape."""

from __future__ import annotations

from collections.abc import Iterable
from math import ceil, floor

from festoon.drawings.palette import THEMES
from festoon.drawings.svg import FONT_STACK, Value, element, group, line, rect, text

THEME = THEMES["print"]
WIDTH = 190.0


def page(height: float, parts: Iterable[str]) -> str:
    """A whole drawing of the audit, in paper mm."""
    return element(
        "svg",
        rect(0, 0, WIDTH, height, fill=THEME.paper),
        *parts,
        xmlns="http://www.w3.org/2000/svg",
        width=f"{WIDTH:g}mm",
        height=f"{height:g}mm",
        viewBox=f"0 0 {WIDTH:g} {height:g}",
        font_family=FONT_STACK,
    )


def span(values: Iterable[float], step: float = 0.5) -> tuple[float, float]:
    """Whole steps that hold all values and zero."""
    stated = [0.0, *values]
    return floor(min(stated) / step - 0.1) * step, ceil(max(stated) / step + 0.1) * step


class Axis:
    """Millimetres along a line of paper; ``upright`` counts upwards."""

    def __init__(self, low: float, high: float, start: float, end: float, *, upright: bool = False) -> None:
        self.low, self.high, self.start, self.end, self.upright = low, high, start, end, upright

    def at(self, value: float) -> float:
        """Place on paper."""
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)

    def draw(self, across: tuple[float, float]) -> str:
        """Grid lines and their numbers; zero is heavy."""
        parts = []
        steps = round((self.high - self.low) / 0.5)
        for k in range(steps + 1):
            value = self.low + 0.5 * k
            place, zero = self.at(value), abs(value) < 1e-9
            pen: dict[str, Value] = {"stroke": THEME.ink if zero else THEME.grid, "stroke_width": 0.4 if zero else 0.2}
            if self.upright:
                parts.append(line(across[0], place, across[1], place, **pen))
                parts.append(
                    text(
                        across[0] - 1.5,
                        place + 0.9,
                        f"{value:+.1f}" if not zero else "0",
                        2.8,
                        anchor="end",
                        fill=THEME.ink,
                    )
                )
            else:
                parts.append(line(place, across[0], place, across[1], **pen))
                parts.append(
                    text(
                        place,
                        across[1] + 3.6,
                        f"{value:+.1f}" if not zero else "0",
                        2.8,
                        anchor="middle",
                        fill=THEME.ink,
                    )
                )
        return group(parts)

"""From levels to paper: which way is apical, where level 0 lies, the ruler at the side, the check line."""

from __future__ import annotations

from dataclasses import dataclass

from festoon.drawings.palette import Theme
from festoon.drawings.svg import group, line, text

CHECK_LINE_MM = 50.0


@dataclass(frozen=True)
class LevelScale:
    """Maps a level (mm in the mouth, from the planned edge, apical positive) to a height on paper (mm, downwards)."""

    datum_y: float
    """Where level 0 lies."""
    scale: float
    """Paper millimetres per millimetre of the mouth."""
    apical_is_up: bool
    """True in the upper jaw: the drawing shows the mouth as one faces it."""

    def y(self, level: float) -> float:
        """Height on paper of a level."""
        return self.datum_y - level * self.scale if self.apical_is_up else self.datum_y + level * self.scale


def level_ruler(scale: LevelScale, low: int, high: int, x: float, *, side: int, theme: Theme) -> str:
    """A ruler of levels at ``x``, ticks pointing to ``side`` (-1 left, +1 right): each mm, longer and named each 5."""
    parts = [line(x, scale.y(low), x, scale.y(high), stroke=theme.quiet, stroke_width=0.2)]
    for level in range(low, high + 1):
        major = level % 5 == 0
        y = scale.y(level)
        parts.append(
            line(x, y, x + side * (2.0 if major else 1.0), y, stroke=theme.quiet, stroke_width=0.3 if major else 0.15)
        )
        if major:
            parts.append(
                text(
                    x + side * 2.8,
                    y + 0.8,
                    f"{level}",
                    2.3,
                    anchor="end" if side < 0 else "start",
                    fill=theme.quiet,
                )
            )
    return group(parts)


def check_line(x: float, y: float, theme: Theme) -> str:
    """A line of 50 mm with ticks each 10 mm, to be measured on the print before anything is laid on it."""
    parts = [line(x, y, x + CHECK_LINE_MM, y, stroke=theme.ink, stroke_width=0.3)]
    parts += [
        line(x + k * 10, y - (1.6 if k in (0, 5) else 0.9), x + k * 10, y, stroke=theme.ink, stroke_width=0.3)
        for k in range(6)
    ]
    return group(parts)

"""Names at the ends of the lines, kept apart without losing their order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from festoon.drawings.svg import element, group, line, number, text, wrap

SIZE = 2.15
LEADING = 2.35


@dataclass(frozen=True)
class Label:
    """A name, the point its leader starts from, and how its sample is drawn."""

    words: str
    at: tuple[float, float]
    colour: str
    weight: float
    dash: str | None
    cap: str = "butt"


def spread(wanted: Sequence[float], heights: Sequence[float], low: float, high: float) -> list[float]:
    """Centres as near as simple pushing allows to the wanted ones, in their order, not overlapping.

    Raises
    ------
    ValueError
        If the heights do not fit between ``low`` and ``high``.
    """
    if sum(heights) > high - low + 1e-9:
        raise ValueError("the labels are taller than the room for them")
    order = sorted(range(len(wanted)), key=lambda k: wanted[k])
    centres = list(wanted)
    floor_ = low
    for k in order:
        centres[k] = max(wanted[k], floor_ + heights[k] / 2)
        floor_ = centres[k] + heights[k] / 2
    ceiling = high
    for k in reversed(order):
        centres[k] = min(centres[k], ceiling - heights[k] / 2)
        ceiling = centres[k] - heights[k] / 2
    return centres


def end_labels(labels: Sequence[Label], x: float, width: float, low: float, high: float, leader: str) -> str:
    """Labels in a gutter that starts at ``x``, with leaders from the ends of their lines."""
    sample, gap = 4.0, 1.8
    lines = [wrap(label.words, SIZE, width - gap - sample - 0.8) for label in labels]
    heights = [len(rows) * LEADING + 0.5 for rows in lines]
    room = max(high - low, sum(heights))
    centres = spread([label.at[1] for label in labels], heights, (low + high - room) / 2, (low + high + room) / 2)
    parts = []
    for label, rows, centre in zip(labels, lines, centres, strict=True):
        parts.append(
            element(
                "path",
                d=f"M{number(label.at[0])} {number(label.at[1])}L{number(x)} {number(label.at[1])}"
                f"L{number(x + gap)} {number(centre)}",
                fill="none",
                stroke=leader,
                stroke_width=0.12,
            )
        )
        parts.append(
            line(
                x + gap,
                centre,
                x + gap + sample,
                centre,
                stroke=label.colour,
                stroke_width=label.weight,
                stroke_dasharray=label.dash,
                stroke_linecap=label.cap if label.cap != "butt" else None,
            )
        )
        top = centre - len(rows) * LEADING / 2 + LEADING * 0.78
        parts += [
            text(x + gap + sample + 0.8, top + k * LEADING, row, SIZE, fill=label.colour) for k, row in enumerate(rows)
        ]
    return group(parts)

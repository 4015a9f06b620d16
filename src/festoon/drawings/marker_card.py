"""A square marker to be printed: cut-out squares in their white border, and a ruler by which the print is checked."""

from __future__ import annotations

from collections.abc import Sequence

from festoon.drawings.svg import FONT_STACK, element, group, line, number, rect, text, wrap

CARD_MM = (148.0, 105.0)
"""Width and height of the drawing: a postcard."""
SIDES_MM = (4.0, 16.0)
"""Smallest and largest square that is printed: below, cells blur in a usual photograph; above, it does not fit on the card."""
_MARGIN, _RULER_MM = 12.0, 50
_BORDER_CELLS = 2
"""White round the black square: the finder needs one cell, a cut askew takes another."""
_WORDS = (
    "Print at 100 %, matt. The ruler must measure 50.0 mm.",
    "Measure the black square itself with a calliper, both ways: that number is the marker size, not the one in the file.",
    "Cut along the dashed line, mount it flat on something stiff.",
    "Hold it square to the camera, touching or just below the front teeth, as far from the camera as they are. 3 mm nearer or further are 1 %.",
    "Paper is not sterile: cover it, or use it for one patient and throw it away. It must not be able to be swallowed.",
)


def draw_marker_card(cells: Sequence[Sequence[bool]], side_mm: float, name: str) -> str:
    """SVG of a card with as many copies of a marker as stand in a row, in true size.

    Parameters
    ----------
    cells : sequence of rows of bool
        True where white; as many rows as columns.
    side_mm : float
        Side of the black square.
    name : str
        What is printed beside it.

    Raises
    ------
    ValueError
        If the side lies outside ``SIDES_MM``.
    """
    if not SIDES_MM[0] <= side_mm <= SIDES_MM[1]:
        raise ValueError(f"a side of {side_mm:g} mm; {SIDES_MM[0]:g} to {SIDES_MM[1]:g} mm are printed")
    wide, high = CARD_MM
    cell = side_mm / len(cells)
    border = _BORDER_CELLS * cell
    pitch = side_mm + 2 * border + 4.0
    top = 26.0
    count = min(int((wide - 2 * _MARGIN + 4.0) // pitch), 5)
    ruler_at = top + pitch + 4.0
    copies = [_marker(cells, cell, _MARGIN + border + k * pitch, top + border, border) for k in range(count)]
    words = []
    for said in _WORDS:
        words += wrap(said, 3.0, wide - 2 * _MARGIN)
    at = ruler_at + 15
    return element(
        "svg",
        rect(0, 0, wide, high, fill="#ffffff"),
        text(_MARGIN, 14, f"Marker {name}", 6.5, font_weight="bold", fill="#1b242b"),
        text(_MARGIN, 20.5, f"black square {side_mm:g} mm as drawn; measure it on the print", 3.6, fill="#1b242b"),
        group(copies),
        _ruler(_MARGIN, ruler_at),
        group((text(_MARGIN, at + 4.1 * k, said, 3.0) for k, said in enumerate(words)), fill="#1b242b"),
        xmlns="http://www.w3.org/2000/svg",
        width=f"{number(wide)}mm",
        height=f"{number(high)}mm",
        viewBox=f"0 0 {number(wide)} {number(high)}",
        font_family=FONT_STACK,
    )


def _marker(cells: Sequence[Sequence[bool]], cell: float, x: float, y: float, border: float) -> str:
    """One marker: the black square first and its white cells over it, so that no seam is seen between two black cells."""
    side = cell * len(cells)
    runs = []
    for row, line_of_cells in enumerate(cells):
        start = None
        for column, white in enumerate([*line_of_cells, False]):
            if white and start is None:
                start = column
            elif not white and start is not None:
                runs.append(
                    f"M{x + start * cell:.4f} {y + row * cell:.4f}h{(column - start) * cell:.4f}v{cell:.4f}h{(start - column) * cell:.4f}z"
                )
                start = None
    outer = rect(
        x - border,
        y - border,
        side + 2 * border,
        side + 2 * border,
        fill="none",
        stroke="#8a949b",
        stroke_width=0.15,
        stroke_dasharray="1.2 0.9",
    )
    black = element("path", d=f"M{x:.4f} {y:.4f}h{side:.4f}v{side:.4f}h{-side:.4f}z", fill="#000000")
    return group([outer, black, element("path", d="".join(runs), fill="#ffffff")])


def _ruler(x: float, y: float) -> str:
    """Fifty millimetres with a mark at each."""
    marks = [
        line(x + k, y, x + k, y - (4.5 if k % 10 == 0 else 3.2 if k % 5 == 0 else 2.0)) for k in range(_RULER_MM + 1)
    ]
    numbers = [
        text(x + k, y + 4.2, str(k), 3.0, anchor="middle", stroke="none", fill="#1b242b")
        for k in range(0, _RULER_MM + 1, 10)
    ]
    beside = text(x + _RULER_MM + 5, y + 1, "mm: lay a calliper on it", 3.0, stroke="none", fill="#1b242b")
    return group([line(x, y, x + _RULER_MM, y), *marks, *numbers, beside], stroke="#1b242b", stroke_width=0.18)

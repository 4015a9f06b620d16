"""The use case of printing a square marker: PDF and SVG of a card in true size, and the bare square as PNG."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
from PIL import Image

from festoon.drawings.marker_card import CARD_MM, draw_marker_card
from festoon.photo.marker import CELLS, pattern
from festoon.records.writing import write_whole
from festoon.reports.marker_sheet import write_true_size

_CELL_PX, _BORDER_CELLS = 64, 2


def marker_files(side_mm: float, number: int) -> dict[str, bytes]:
    """``marker.pdf``, ``marker.svg`` and ``marker.png`` by name; the PNG carries its size as dots per metre, the square alone in its white border.

    Raises
    ------
    ValueError
        If the side or the number lies outside what is printed.
    """
    cells = pattern(number)
    name = f"{number}, AprilTag 36h11"
    card = draw_marker_card(cells.tolist(), side_mm, name)
    bare = np.pad(np.kron(cells, np.ones((_CELL_PX, _CELL_PX), bool)), _BORDER_CELLS * _CELL_PX, constant_values=True)
    dots = _CELL_PX * CELLS / side_mm * 25.4
    made = io.BytesIO()
    Image.fromarray(bare.astype(np.uint8) * 255).save(made, "PNG", dpi=(dots, dots))
    return {
        "marker.pdf": write_true_size(card, CARD_MM, f"Marker {name}, {side_mm:g} mm"),
        "marker.svg": card.encode(),
        "marker.png": made.getvalue(),
    }


def write_marker(side_mm: float, number: int, folder: Path) -> tuple[Path, ...]:
    """Write the files of a marker into ``folder``, all or none. See :func:`marker_files`."""
    return write_whole(folder, marker_files(side_mm, number))

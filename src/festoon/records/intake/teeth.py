"""Tooth labels of a column, in a declared notation. Which one is asked, never guessed."""

from __future__ import annotations

import re
from collections.abc import Iterable

from festoon.model.dentition import Notation, Tooth, tooth_from
from festoon.records.intake.sheets import Cell, cell_text

_CORNERS = {"┘": "UR", "⏌": "UR", "└": "UL", "⎿": "UL", "┐": "LR", "⏋": "LR", "┌": "LL", "⎾": "LL"}
"""Palmer's corner, drawn as one faces the patient: the sign encloses the quadrant."""
_WORDS = {
    Notation.FDI: "fdi (ISO 3950: 11-18, 21-28, 31-38, 41-48)",
    Notation.UNIVERSAL: "universal (1-32)",
    Notation.PALMER: "palmer (UR1-UR8, UL1-UL8, LL1-LL8, LR1-LR8)",
}


def label(cell: Cell) -> str:
    """The label of a cell, without decoration: ``#11``, ``11.0`` and ``1┘`` are 11, 11 and UR1."""
    text = cell_text(cell).lstrip("#").strip()
    text = re.sub(r"\.0+$", "", text)
    corner = next((sign for sign in _CORNERS if sign in text), None)
    return text if corner is None else _CORNERS[corner] + text.replace(corner, "").strip()


def tooth_of(cell: Cell, notation: Notation) -> Tooth | None:
    """The tooth of a cell in the declared notation; None where it names none."""
    text = label(cell)
    if notation is Notation.FDI and re.fullmatch(r"[1-4][.\-/ ][1-8]", text):
        text = text[0] + text[2]  # 1.1, as quadrant and position are written apart
    try:
        return tooth_from(text, notation)
    except ValueError:
        return None


def fitting(cells: Iterable[Cell]) -> tuple[Notation, ...]:
    """The notations in which every label is a tooth."""
    labels = {label(cell) for cell in cells} - {""}
    return tuple(n for n in Notation if labels and all(tooth_of(text, n) is not None for text in labels))


def question(cells: Iterable[Cell]) -> str:
    """What to ask where no notation was declared, with what the labels themselves rule out."""
    labels = sorted({label(cell) for cell in cells} - {""}, key=lambda text: (len(text), text))
    fits = fitting(labels)
    if len(fits) == 1:
        return (
            f"These labels ({_few(labels)}) are all teeth only in {_WORDS[fits[0]]}: is that right? "
            f"Then declare it with --notation {fits[0]}; a mistyped label could make it look so."
        )
    if fits:
        both = next(text for text in labels)
        meanings = " or ".join(f"the {tooth_from(both, n).name} in {n}" for n in fits)
        options = " or ".join(f"--notation {n}" for n in fits)
        return f"{both} may be {meanings}, and festoon does not guess: declare {options}."
    return (
        f"No one notation has a tooth for each of these labels ({_few(labels)}): check them, then declare --notation."
    )


def _few(labels: list[str]) -> str:
    return ", ".join(labels[:8]) + (", …" if len(labels) > 8 else "")

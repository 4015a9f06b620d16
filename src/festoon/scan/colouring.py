"""How far the colour of a place is that of gingiva rather than of a tooth, where a scan has colours that tell."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from festoon.scan.raw import Floats

_TELLS = 0.75
"""Share of the variance of redness that two classes must explain before colours are believed."""
_APART = 0.04
"""Least difference of redness between the classes: a grey or evenly stained scan does not tell."""


@dataclass(frozen=True)
class Colouring:
    """Gingiva-likeness by corner."""

    gum: Floats
    """0 tooth, 1 gingiva, shape (N,)."""
    explained: float
    """Share of the variance of redness that the two classes explain."""


def find_colouring(colours: Floats | None, near_teeth: NDArray[np.bool_]) -> Colouring | None:
    """Part the colours into tooth and gingiva by redness, (red - green) / (red + green + blue); None where they do not tell.

    The threshold is the one that leaves least variance inside the classes; 0 and 1 are the medians of the classes.

    Parameters
    ----------
    colours : array (N, 3), optional
    near_teeth : array (N,) of bool
        Which corners decide.
    """
    if colours is None:
        return None
    red = (colours[:, 0] - colours[:, 1]) / np.maximum(colours.sum(axis=1), 0.05)
    values = np.sort(red[near_teeth])
    n = len(values)
    if n < 100:
        return None
    total = np.cumsum(values)
    count = np.arange(1, n)
    low, high = total[:-1] / count, (total[-1] - total[:-1]) / (n - count)
    between = count * (n - count) * (high - low) ** 2 / n**2
    k = int(np.argmax(between))
    explained = float(between[k] / max(values.var(), 1e-12))
    tooth, gum = float(np.median(values[: k + 1])), float(np.median(values[k + 1 :]))
    if explained < _TELLS or gum - tooth < _APART:
        return None
    return Colouring(np.clip((red - tooth) / (gum - tooth), 0.0, 1.0), explained)

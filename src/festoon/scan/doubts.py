"""What makes the numbers of a tooth doubtful, in words. A failure is flagged, never silent."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from festoon.model.dentition import Site
from festoon.model.quantities import Quantity
from festoon.scan.landmarks import zenith
from festoon.scan.margin import Traced
from festoon.scan.sizes import expected_width
from festoon.scan.tooth import ScannedTooth
from festoon.scan.trace import TracedArch
from festoon.scan.view import CELL, View

_WEAK = 0.25
"""Median evidence of a margin below which it is doubtful."""
_WEAK_STRETCH = 0.15
_WEAK_LONGEST = 1.2
"""A stretch this long (mm) of a margin with next to no evidence is doubtful."""
_DISAGREE = 0.35
"""Shape and colour further apart than this are doubtful, mm."""
_WIDTH_WITHIN = 0.25
"""A width this share off its expected size is doubtful."""
_LENGTH_RANGE = (4.0, 14.0)
"""Crown lengths outside are doubtful, mm (common practice, no source)."""
_TILT_LARGEST = 25.0
"""An axis further from the arch's vertical is doubtful, degrees."""
_WIDER = 3.0
"""Doubtful numbers get a standard error so many times larger."""
_MARGINS = (Quantity.CROWN_LENGTH, Quantity.ZENITH_OFFSET, Quantity.PAPILLA_HEIGHT, Quantity.MARGIN_LEVEL)


@dataclass(frozen=True)
class Doubts:
    """Doubts about one tooth."""

    margin: tuple[str, ...]
    """About everything that rests on the facial margin."""
    sides: tuple[str, ...]
    """About everything that rests on the crown's mesial and distal limits."""
    all: tuple[str, ...]

    def of(self, quantity: Quantity, site: Site | None) -> tuple[str, ...]:
        """The doubts that concern a reading."""
        out = self.all
        if quantity in _MARGINS and (site is None or site.is_facial):
            out += self.margin
        if quantity in (Quantity.CROWN_WIDTH, Quantity.ZENITH_OFFSET):
            out += self.sides
        return out

    def widening(self, quantity: Quantity) -> float:
        """Factor on the standard error."""
        return _WIDER if self.of(quantity, None) else 1.0


def doubts_of(arch: TracedArch, tooth: ScannedTooth) -> Doubts:
    """The doubts about a tooth."""
    traced, view, frame = tooth.facial.traced, tooth.facial.view, tooth.frame
    margin, sides, every = [], [], []
    if float(np.median(traced.strength)) < _WEAK:
        margin.append("the margin hardly shows")
    elif _longest(traced) > _WEAK_LONGEST:
        margin.append("part of the margin hardly shows")
    if traced.disagreement > _DISAGREE:
        margin.append(f"shape and colour put the margin {traced.disagreement:.1f} mm apart")
    if _over_hole(view, traced):
        margin.append("the margin runs over a hole of the scan")
    found = zenith(tooth)
    if not _LENGTH_RANGE[0] < found.level < _LENGTH_RANGE[1]:
        margin.append("an unusual length")
    if abs(found.offset) > 0.3 * frame.width:
        margin.append("the margin's highest point is far from the middle")
    usual = expected_width(arch.frame.upper, tooth.tooth.position)
    if abs(frame.width / usual - 1) > _WIDTH_WITHIN:
        sides.append(f"an unusual width for this place (usually {usual:.1f} mm): is the number right?")
    if tooth.standing.stretch.cut:
        every.append("the scan ends in this tooth or it is not parted from its neighbour")
    lean = float(np.degrees(np.arccos(np.clip(frame.axis @ arch.frame.apical, -1, 1))))
    if lean > _TILT_LARGEST:
        every.append(f"its axis leans {lean:.0f} degrees")
    return Doubts(tuple(margin), tuple(sides), tuple(every))


def _longest(traced: Traced) -> float:
    """Length of the longest stretch with next to no evidence, mm."""
    step = np.hypot(np.diff(traced.columns), np.diff(traced.rows))
    best = run = 0.0
    for length, weak in zip(step, traced.strength[1:] < _WEAK_STRETCH, strict=True):
        run = run + float(length) if weak else 0.0
        best = max(best, run)
    return best


def _over_hole(view: View, traced: Traced) -> bool:
    rows = np.clip(np.round((traced.rows - view.w[0]) / CELL).astype(int), 0, len(view.w) - 1)
    columns = np.clip(np.round((traced.columns - view.x[0]) / CELL).astype(int), 0, len(view.x) - 1)
    return bool((~view.seen[rows, columns]).sum() > 4)

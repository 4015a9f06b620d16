"""What makes the numbers of a tooth doubtful, in words. A failure is flagged, never silent."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from festoon.model.dentition import Site
from festoon.model.quantities import Quantity
from festoon.scan.by_hand import ByHand
from festoon.scan.landmarks import crossing, zenith
from festoon.scan.margin import Traced
from festoon.scan.sizes import expected_width
from festoon.scan.tooth import ScannedTooth
from festoon.scan.trace import TracedArch
from festoon.scan.view import CELL, View

BY_HAND = "set by hand"
"""In the remark on what rests on a point that a person set."""
_WEAK = 0.25
"""Median evidence of a margin below which it is doubtful."""
_WEAK_STRETCH = 0.15
_WEAK_LONGEST = 1.2
"""A stretch this long (mm) of a margin with next to no evidence is doubtful."""
_DISAGREE = 0.35
"""Shape and colour further apart than this are doubtful, mm."""
_HOLE = 0.25
"""A hole in a crown larger than this is doubtful, mm2."""
_JUMP = 0.7
"""An outline that jumps by more from row to row is broken, mm."""
_NOTCH = 0.5
"""An edge so much further incisal on both sides than in the middle is notched, mm."""
_LINGUAL_OFF = 2.5
"""Midlingual and midfacial margin further apart than this are doubtful, mm."""
_WIDTH_WITHIN = 0.25
"""A width this share off its expected size is doubtful."""
_UNLIKE = 0.9
"""Left and right differ in width by less but for a peg-shaped or restored tooth, mm (common practice, no source)."""
_LENGTH_RANGE = (4.0, 14.0)
"""Crown lengths outside are doubtful, mm (common practice, no source)."""
_TILT_LARGEST = 25.0
"""An axis further from the arch's vertical is doubtful, degrees."""
_TURNED = 12.0
"""A facial direction further from square to the arch is doubtful, degrees: the tooth is turned, or its facial surface is not what was seen."""
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
    lingual: tuple[str, ...]
    """About the lingual margin."""
    all: tuple[str, ...]
    """About everything."""
    hand: ByHand
    """What a person set: said, but no doubt."""

    def of(self, quantity: Quantity, site: Site | None) -> tuple[str, ...]:
        """The doubts that concern a reading."""
        out = self.all
        if quantity in _MARGINS and (site is None or site.is_facial):
            out += self.margin
        if site is not None and not site.is_facial:
            out += self.lingual
        if quantity in (Quantity.CROWN_WIDTH, Quantity.ZENITH_OFFSET):
            out += self.sides
        return out

    def set_by_hand(self, quantity: Quantity, site: Site | None) -> tuple[str, ...]:
        """What of a reading rests on a point that a person set, in words."""
        hand, out = self.hand, []
        facial = quantity in _MARGINS and (site is None or site.is_facial)
        if facial and (count := hand.many("margin")):
            out.append(f"margin {BY_HAND} at {count} place{'s'[: count != 1]}")
        if quantity in (Quantity.CROWN_LENGTH, Quantity.ZENITH_OFFSET, Quantity.PAPILLA_HEIGHT) and hand.has("zenith"):
            out.append(f"zenith {BY_HAND}")
        if hand.has("edge") and (quantity.is_level or quantity is Quantity.EDGE_HEIGHT):
            out.append(f"edge point {BY_HAND}")
        if quantity in (Quantity.CROWN_WIDTH, Quantity.ZENITH_OFFSET) and hand.has("mesial_end", "distal_end"):
            out.append(f"end of the crown {BY_HAND}")
        return tuple(out)

    def widening(self, quantity: Quantity, site: Site | None) -> float:
        """Factor on the standard error."""
        return _WIDER if self.of(quantity, site) else 1.0


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
    if not tooth.bare and _over_hole(view, traced):
        margin.append("the margin runs over a hole of the scan")
    if _hole_in_crown(tooth) > _HOLE:
        every.append("the scan has a hole in this crown")
    elif not tooth.bare and _outline_jumps(tooth):
        every.append("the outline of the crown is broken")
    if _notched(tooth):
        every.append("the edge is notched, or the scan has a gap there")
    found = zenith(tooth)
    if not _LENGTH_RANGE[0] < found.level < _LENGTH_RANGE[1]:
        margin.append("an unusual length")
    if abs(found.offset) > 0.3 * frame.width:
        margin.append("the margin's highest point is far from the middle")
    for name, end in zip(("mesial", "distal"), tooth.outline.ends, strict=True):
        if not end.fitted:
            sides.append(f"the {name} side hardly shows")
    usual = expected_width(arch.frame.upper, tooth.tooth.position)
    if abs(frame.width / usual - 1) > _WIDTH_WITHIN:
        sides.append(f"an unusual width for this place (usually {usual:.1f} mm): is the number right?")
    other = arch.teeth.get(tooth.tooth.contralateral)
    if other is not None and abs(other.frame.width - frame.width) > _UNLIKE:
        sides.append(f"{abs(other.frame.width - frame.width):.1f} mm wider or narrower than {other.tooth}")
    if tooth.by_hand.has("margin", "zenith"):
        margin = []  # a person has looked
    if tooth.bare:
        margin.append("a bare crown: its rim stands for the margin")
    elif not len(arch.surface.boundary):
        every.append("a closed surface: readings are made for open scans with gingiva")
    if tooth.standing.stretch.cut and not tooth.bare:
        every.append("the scan ends in this tooth or it is not parted from its neighbour")
    lean = float(np.degrees(np.arccos(np.clip(frame.axis @ arch.frame.apical, -1, 1))))
    if lean > _TILT_LARGEST:
        every.append(f"its axis leans {lean:.0f} degrees")
    turned = float(
        np.degrees(np.arccos(np.clip(frame.facial[:2] @ tooth.start[:2] / np.linalg.norm(frame.facial[:2]), -1, 1)))
    )
    if turned > _TURNED:
        every.append(f"its facial surface is turned by {turned:.0f} degrees against the arch")
    lingual = []
    if not all(tooth.standing.neighbours):
        lingual.append("no neighbour on one side: the lingual margin has no papilla to end at")
    facing = [crossing(tooth, 0.0), crossing(tooth, 0.0, lingual=True)]
    if facing[0] is not None and facing[1] is not None and abs(float(facing[0][2] - facing[1][2])) > _LINGUAL_OFF:
        lingual.append("far from the level of the facial margin")
    if tooth.lingual is not None and float(np.median(tooth.lingual.traced.strength)) < _WEAK:
        lingual.append("the lingual margin hardly shows")
    return Doubts(tuple(margin), tuple(sides), tuple(lingual), tuple(every), tooth.by_hand)


def _hole_in_crown(tooth: ScannedTooth) -> float:
    """Area of the holes between the crown's limits and coronal to the margin, mm2."""
    view, side = tooth.facial.view, tooth.facial
    columns, rows = side.traced.columns, side.traced.rows
    order = np.argsort(columns)
    end = np.interp(view.x, columns[order], rows[order], left=-np.inf, right=-np.inf)
    top = float(view.w[int(np.argmax(view.surface[:, len(view.x) // 2]))])
    within = (view.w[:, None] < end[None, :]) & (view.w[:, None] > top)
    return float((view.holes & within).sum()) * CELL**2


def _notched(tooth: ScannedTooth) -> bool:
    """Whether the edge stands clearly more incisally on both sides of the edge point than at it."""
    at = tooth.frame.coordinates(tooth.outline.tips)
    third = tooth.frame.width / 3
    beside = [at[(s * at[:, 0] > 0.6) & (s * at[:, 0] < third), 2] for s in (-1, 1)]
    return all(len(b) > 0 and float(b.min()) < -_NOTCH for b in beside)


def _outline_jumps(tooth: ScannedTooth) -> bool:
    view = tooth.facial.view
    for limit in tooth.facial.limits:
        rows = np.flatnonzero(np.isfinite(limit) & (view.w > 2.0))
        if len(rows) > 2 and float(np.abs(np.diff(limit[rows])).max()) > _JUMP:
            return True
    return False


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

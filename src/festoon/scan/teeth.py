"""Teeth found and numbered along the row, in one optimal division of the whole row (dynamic programming).

Every tooth is a stretch of the row between two places where its section is small. The division chosen is the one whose
stretches have the sizes of consecutive teeth, whose ends lie in valleys, that leaves no crown out and takes in no gap.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from scipy.ndimage import gaussian_filter1d

from festoon.model.dentition import Tooth
from festoon.scan.orientation import NO_ARCH
from festoon.scan.raw import Floats, Ints, Jaw, refusal
from festoon.scan.row import STEP, Row
from festoon.scan.sizes import expected_section, expected_width

UPPER_SLOTS = tuple(f"1{p}" for p in range(8, 0, -1)) + tuple(f"2{p}" for p in range(1, 9))
LOWER_SLOTS = tuple(f"3{p}" for p in range(8, 0, -1)) + tuple(f"4{p}" for p in range(1, 9))
"""Teeth along the row, whose places grow to the patient's left in the upper and to the right in the lower jaw."""

_WIDTH_SPREAD = {1: 0.11, 2: 0.18}
"""Spread of the logarithm of a width by position (the first unless given): some 5 % of person and tooth, the rest turning and crowding.
Laterals vary most: from peg-shaped to as wide as a canine."""
_SECTION_SPREAD = 0.3
"""Spread of the logarithm of a section."""
_VALLEY, _LEFT_OUT, _EMPTY, _MISSING, _GAP = 4.0, 3.0, 2.0, 5.0, 0.5
"""Costs: of an end in no valley, per mm of crown left out, per mm of gap taken in, of a missing tooth, per mm of open gap."""
_CLOSED = 7.0
"""Further cost of a missing tooth without a gap: extracted or never there, and the space closed."""
_SPACE = 4.0
"""A gap under this for each tooth passed over counts as none, mm: the narrowest tooth takes more. A setting of ours."""
_INNER = 10.0
"""Cost of a valley inside a stretch, by its relative depth beyond :data:`_INNER_FREE` (cusps have shallow ones)."""
_INNER_FREE = 0.2
_MIDLINE_SPREAD = 5.0
"""How far the midline may lie from the foremost place of the arch, mm (one standard deviation)."""
_LARGEST_GAP = 24.0
_WIDEST = 18.0
"""No tooth is wider, mm."""
_STRANGE = 7.2
"""Cost per tooth above which the numbering is said to be doubtful; synthetic mouths that were numbered rightly cost 3 to 7."""
_UNPARTED, _ENDS = 0.85, 0.7
"""A stretch is cut into where the section at its end is this share of its top: towards a neighbour; at an end of the row."""
_SPAN_WITHIN, _ELSEWHERE = 0.8, 15.0
"""How near the start of a known crown a stretch begins, mm, and what it costs to begin elsewhere."""
_UNSURE = 4.0
"""The next best numbering costs less than this more: said."""


@dataclass(frozen=True)
class Stretch:
    """One tooth's stretch of the row."""

    tooth: Tooth
    start: float
    """Place along the row where it begins, mm."""
    end: float
    cut: bool
    """The scan's border or a neighbour cuts into it: there is no valley at one of its ends."""

    @property
    def middle(self) -> float:
        """Place of its middle."""
        return (self.start + self.end) / 2

    @property
    def width(self) -> float:
        """Length of the stretch, mm: a first guess of the crown's width."""
        return self.end - self.start


@dataclass(frozen=True)
class Division:
    """The row divided into teeth."""

    jaw: Jaw
    stretches: tuple[Stretch, ...]
    jaw_gap: float
    """How much worse the other jaw explains the row (costs); small: ask."""
    notes: tuple[str, ...]

    def renumbered(self, names: Mapping[Tooth, Tooth]) -> Division:
        """The same stretches under other numbers, old to new; what is not named keeps its number.

        Raises
        ------
        ValueError
            If a number is not on the scan or of the other jaw, two teeth would have one number, or the order along the arch would break.
        """
        found = [s.tooth for s in self.stretches]
        absent = [t for t in names if t not in found]
        if absent:
            raise ValueError(f"{', '.join(t.fdi for t in absent)} not found on the scan")
        new = [names.get(t, t) for t in found]
        slots = UPPER_SLOTS if self.jaw == "upper" else LOWER_SLOTS
        wrong = [t for t in new if t.fdi not in slots]
        if wrong:
            raise ValueError(f"{wrong[0]} is a number of the other jaw: measure again with the other jaw")
        if len(set(new)) < len(new):
            raise ValueError("two teeth would have the same number")
        places = [slots.index(t.fdi) for t in new]
        if places != sorted(places):
            raise ValueError(f"along the arch the numbers would be {', '.join(t.fdi for t in new)}: out of order")
        stretches = tuple(replace(s, tooth=t) for s, t in zip(self.stretches, new, strict=True))
        said = tuple(f"{old} numbered {t} by hand" for old, t in zip(found, new, strict=True) if t != old)
        return replace(self, stretches=stretches, notes=(*self.notes, *said))


def find_teeth(
    row: Row, name: str, jaw: Jaw | None = None, spans: Sequence[tuple[float, float]] | None = None
) -> Division:
    """Divide the row into teeth and number them.

    Parameters
    ----------
    row : Row
    name : str
        File name, for a refusal.
    jaw : {"upper", "lower"}, optional
        None: found from the sizes of the teeth.
    spans : sequence of (start, end), optional
        Places between which single crowns are known to stand: no tooth begins or ends elsewhere.

    Raises
    ------
    InputRefusedError
        If fewer than three teeth stand in the row.
    """
    found = {j: _divide(row, j == "upper", spans) for j in ("upper", "lower")}
    costs = {j: cost for j, (cost, _) in found.items()}
    best: Jaw = jaw or ("upper" if costs["upper"] <= costs["lower"] else "lower")
    other = "lower" if best == "upper" else "upper"
    cost, stretches = found[best]
    if len(stretches) < 3 or not np.isfinite(cost) or cost / len(stretches) > 14.0:
        raise refusal(
            name,
            f"{len(stretches)} stretches that could be teeth: {NO_ARCH}",
            "a row of at least three teeth",
            "Check the file.",
        )
    notes = []
    gap = costs[other] - cost
    if jaw is None:
        notes.append(
            f"{best} jaw by the sizes of the teeth" + (": UNSURE, confirm it with --jaw" if gap < _UNSURE else "")
        )
    elif gap < -_UNSURE:
        notes.append(f"the sizes of the teeth are rather those of the {other} jaw: check --jaw")
    if cost / len(stretches) > _STRANGE:
        notes.append("UNSURE: these teeth do not have the usual sizes; confirm their numbers")
    notes += _skipped(stretches, best)
    return Division(best, stretches, gap, tuple(notes))


def _skipped(stretches: tuple[Stretch, ...], jaw: Jaw) -> list[str]:
    """Places passed over between two teeth: a tooth that is not there, or a number that is wrong behind it."""
    slots = UPPER_SLOTS if jaw == "upper" else LOWER_SLOTS
    out = []
    for one, other in pairwise(stretches):
        passed = slots[slots.index(one.tooth.fdi) + 1 : slots.index(other.tooth.fdi)]
        if passed:
            gap = other.start - one.end
            room = "with no gap there" if gap < 1.0 else f"with a gap of {gap:.1f} mm"
            out.append(
                f"UNSURE: {', '.join(passed)} not found between {one.tooth} and {other.tooth}, {room}: confirm the numbers"
            )
    return out


def _divide(
    row: Row, upper: bool, spans: Sequence[tuple[float, float]] | None = None
) -> tuple[float, tuple[Stretch, ...]]:
    slots = UPPER_SLOTS if upper else LOWER_SLOTS
    area = gaussian_filter1d(row.sections(), 0.35 / STEP)
    solid = area > 0.8
    crown = np.concatenate([[0.0], np.cumsum(solid)]) * STEP
    start_cost, end_cost = _valleys(area) if spans is None else _at_spans(row.places, spans)
    n = len(area)
    best = np.full((len(slots), n), np.inf)
    from_ = np.full((len(slots), n), -1, dtype=np.int64)
    before = np.full((len(slots), n, 2), -1, dtype=np.int64)
    top, inner = _largest_within(area), _largest_within(_depth(area))
    for k, slot in enumerate(slots):
        position = int(slot[1])
        opening, came = _openings(best, k, crown, n)
        usual, section = expected_width(upper, position), expected_section(upper, position)
        for wide in range(int(0.55 * usual / STEP), int(1.4 * usual / STEP) + 1):
            i = np.arange(0, n - wide)
            j = i + wide
            size: float | Floats = (np.log(wide * STEP / usual) / _WIDTH_SPREAD.get(position, _WIDTH_SPREAD[1])) ** 2
            thick = ((np.log(np.maximum(top[wide][i], 0.5)) - np.log(section)) / _SECTION_SPREAD) ** 2
            empty = _EMPTY * (wide * STEP - (crown[j] - crown[i]))
            margin = min(int(1.2 / STEP), wide // 3)
            if k in (7, 8):  # the midline is near the foremost place of the arch
                off = (row.places[j if k == 7 else i] - row.foremost) / _MIDLINE_SPREAD
                size = size + np.minimum(off**2, 6.0) / 2
            split = _INNER * np.maximum(inner[wide - 2 * margin][i + margin] - _INNER_FREE, 0)
            total = opening[i] + size + np.minimum(thick, 9.0) + empty + split + start_cost[i] + end_cost[j]
            better = total < best[k, j]
            best[k, j[better]], from_[k, j[better]] = total[better], i[better]
        has = from_[k] >= 0
        before[k, has] = came[from_[k, has]]
    final = best + _LEFT_OUT * (crown[-1] - crown[None, :n])
    slot_at, end_at = (int(v) for v in np.unravel_index(int(np.argmin(final)), final.shape))
    cost, chain = float(final[slot_at, end_at]), []
    while slot_at >= 0 and np.isfinite(cost):
        chain.append((slots[slot_at], int(from_[slot_at, end_at]), end_at))
        slot_at, end_at = (int(v) for v in before[slot_at, end_at])
    return cost, _stretches(chain[::-1], area, start_cost, end_cost)


def _openings(best: Floats, k: int, crown: Floats, n: int) -> tuple[Floats, Ints]:
    """Least cost of all that lies before a stretch of slot ``k`` that begins at each place, and (slot, end) of the stretch before."""
    cost = _LEFT_OUT * crown[:n] + 0.0
    came = np.full((n, 2), -1, dtype=np.int64)
    for skipped in range(min(k, 4)):
        last = k - 1 - skipped
        if not np.isfinite(best[last]).any():
            continue
        for gap in range(0, int((1.5 + _LARGEST_GAP * min(skipped, 1)) / STEP) + int(2.5 / STEP), 1):
            price = (
                (_MISSING + (_CLOSED if gap * STEP < _SPACE * skipped else 0.0)) * skipped
                + _GAP * gap * STEP * (0.25 if skipped else 1.0)
                + (0.3 if gap else 0.0)
            )
            i = np.arange(gap, n)
            total = best[last, i - gap] + price + _LEFT_OUT * (crown[i] - crown[i - gap])
            better = total < cost[i]
            cost[i[better]] = total[better]
            came[i[better], 0], came[i[better], 1] = last, i[better] - gap
    return cost, came


def _valleys(area: Floats) -> tuple[Floats, Floats]:
    """Cost of a stretch's start and end at each place: how little the section has fallen from its top on that stretch's side."""
    reach = int(4.0 / STEP)
    after = np.array([area[i : i + reach].max() for i in range(len(area))])
    prior = np.array([area[max(0, i - reach + 1) : i + 1].max() for i in range(len(area))])
    return _VALLEY * area / np.maximum(after, 1.0), _VALLEY * area / np.maximum(prior, 1.0)


def _at_spans(places: Floats, spans: Sequence[tuple[float, float]]) -> tuple[Floats, Floats]:
    """The same where single crowns are known: nothing near a known start or end, much elsewhere."""
    starts, ends = (np.array([span[k] for span in spans]) for k in (0, 1))
    away = [np.abs(places[:, None] - known[None]).min(axis=1) for known in (starts, ends)]
    return np.where(away[0] < _SPAN_WITHIN, 0.0, _ELSEWHERE), np.where(away[1] < _SPAN_WITHIN, 0.0, _ELSEWHERE)


def _depth(area: Floats) -> Floats:
    """How far each place lies below the tops within 4 mm on either side, as a share of the lower top."""
    reach = int(4.0 / STEP)
    after = np.array([area[i : i + reach].max() for i in range(len(area))])
    prior = np.array([area[max(0, i - reach + 1) : i + 1].max() for i in range(len(area))])
    return np.asarray(1 - area / np.maximum(np.minimum(after, prior), 1.0))


def _largest_within(area: Floats) -> dict[int, Floats]:
    """For each length in steps, the largest section of the stretch that begins at each place."""
    out = {0: area.copy()}
    running = area.copy()
    for wide in range(1, int(_WIDEST / STEP)):
        running = np.maximum(running[:-1], area[wide:])
        out[wide] = running
    return out


def _stretches(
    chain: list[tuple[str, int, int]], area: Floats, start_cost: Floats, end_cost: Floats
) -> tuple[Stretch, ...]:
    shared = {j for _, _, j in chain} & {i for _, i, _ in chain}

    def cut(place: int, cost: float) -> bool:
        return cost > _VALLEY * (_UNPARTED if place in shared else _ENDS)

    out = [
        Stretch(Tooth(slot), i * STEP, j * STEP, cut(i, float(start_cost[i])) or cut(j, float(end_cost[j])))
        for slot, i, j in chain
    ]
    # A shared end settles in the bottom of its valley.
    for k in range(len(out) - 1):
        if out[k].end == out[k + 1].start:
            i = round(out[k].end / STEP)
            low = max(i - 4, 0)
            bottom = (low + int(np.argmin(area[low : i + 5]))) * STEP
            out[k], out[k + 1] = replace(out[k], end=bottom), replace(out[k + 1], start=bottom)
    return tuple(out)

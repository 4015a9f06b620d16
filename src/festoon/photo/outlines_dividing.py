"""The row of teeth divided into teeth, and the teeth numbered from the midline."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.signal import find_peaks

from festoon.photo.edges import Floats, dark_lines
from festoon.photo.enamel import Arch

_LEAST_PAPILLA = 3.0
"""Crop pixels by which gingiva must reach between two teeth to be looked at as a papilla."""
_SURE_PAPILLA = 20.0
"""Crop pixels (about 1 mm) by which it is one whatever lies below it. A setting of ours."""
_DARK = 2.0
"""Mean depth in L* of the dark line below a small papilla for it to divide two teeth. A setting of ours."""
_UNLIKE, _OFF = 0.25, 0.2
"""Largest difference of the three pairs next to the midline, and largest distance of it from the middle of the row in parts of the row,
for a view from the front. Settings of ours."""
_LATERAL = 0.9
"""Lateral and canine are narrower than this part of their central as seen from the front, else the view is from the side. A setting
of ours."""
_SLIVER = 0.1
"""A tooth is no narrower than this part of the widest. A setting of ours."""
_SQUEEZED, _CLEAR = 0.5, 0.6
"""Nor narrower than this part of both its neighbours, unless it parts from both more clearly than the second. Settings of ours."""
_ASIDE = 12
"""Crop pixels above and below the margin where gingiva and tooth are compared."""
_PAPILLA_RUN = 80
"""Crop pixels below a papilla over which that line is followed."""


@dataclass(frozen=True)
class Between:
    """Where two neighbours part, or where the row ends."""

    left: float
    """Where the tooth on the left of the picture ends, crop pixels; beyond a space it differs from ``right``."""
    right: float
    tip: tuple[float, float]
    """Lowest point of the gingiva between them (x, y); at an end of the row: where it ends at the gingiva."""
    clear: float
    """How clearly they part, 0 to 1."""


@dataclass(frozen=True)
class Standing:
    """One tooth of the row, before its outline is sought."""

    left: Between
    right: Between
    zenith: tuple[float, float]
    """Highest point of the margin (x, y)."""

    @property
    def width(self) -> float:
        """Crop pixels."""
        return self.right.left - self.left.right


def upper_margin(arch: Arch) -> NDArray[np.float64]:
    """Row of the first tooth pixel from above by column; nan where there is none."""
    mask = ndimage.binary_opening(arch.enamel > 0.5, iterations=2)
    top = np.where(mask.any(axis=0), mask.argmax(axis=0), mask.shape[0])
    smooth = ndimage.median_filter(top, 5).astype(np.float64)
    smooth[smooth >= mask.shape[0]] = np.nan
    return np.asarray(smooth)


def divide(arch: Arch) -> list[Standing]:
    """Teeth from left to right of the picture, parted where the gingiva reaches down or a dark line runs up to the margin."""
    top = upper_margin(arch)
    here = np.nonzero(~np.isnan(top))[0]
    if len(here) < 20:
        return []
    floor = np.where(np.isnan(top), arch.enamel.shape[0], top)
    dark = np.minimum(dark_lines(arch.lab[..., 0], 2.0), 6.0)
    first, last = int(here[0]), int(here[-1])
    peaks, about = find_peaks(floor[first : last + 1], prominence=_LEAST_PAPILLA, plateau_size=1)
    parts = [Between(first, first, (first, float(top[first])), 1.0)]
    for index, peak in enumerate(peaks):
        x = int(peak) + first
        reach = float(about["prominences"][index])
        gap = bool(np.isnan(top[x]))
        left = float(about["left_edges"][index] + first - (1 if gap else 0))
        right = float(about["right_edges"][index] + first + (1 if gap else 0))
        y = float(np.nanmax(top[[int(left), int(right)]])) if gap else float(top[x])
        line = _darkness_below(dark, x, int(y))
        if gap or reach >= _SURE_PAPILLA or line >= _DARK:
            clear = 1.0 if gap else min(1.0, reach / 60) * 0.5 + min(1.0, line / 4) * 0.5
            parts.append(Between(left if gap else x, right if gap else x, (float(x), y), clear))
    parts.append(Between(last, last, (last, float(top[last])), 1.0))
    parts = _without_slivers(parts)
    out = []
    for a, b in pairwise(parts):
        inside = top[int(a.right) : int(b.left) + 1]
        if len(inside) < 8 or np.isnan(inside).all():
            continue
        x = int(np.nanargmin(inside))
        out.append(Standing(a, b, (a.right + x, float(inside[x]))))
    return out


def _without_slivers(parts: list[Between]) -> list[Between]:
    """Without the less clear side of pieces too narrow for a tooth, such as the tip of a blunt papilla or a notch of blood."""
    parts = list(parts)
    while len(parts) > 3:
        widths = [b.left - a.right for a, b in pairwise(parts)]
        for i, width in enumerate(widths):
            beside = [widths[j] for j in (i - 1, i + 1) if 0 <= j < len(widths)]
            worst = min((k for k in (i, i + 1) if 0 < k < len(parts) - 1), key=lambda k: parts[k].clear)
            squeezed = width < _SQUEEZED * min(beside) and parts[worst].clear < _CLEAR
            if width < _SLIVER * max(widths) or squeezed:
                del parts[worst]
                break
        else:
            break
    return parts


def redder_above(arch: Arch) -> float:
    """By how much a* is higher above the upper margin than below it: the median over the columns of the row."""
    top = upper_margin(arch)
    columns = np.nonzero(~np.isnan(top))[0]
    rows = top[columns].astype(np.int64)
    red = ndimage.gaussian_filter(arch.lab[..., 1], 2.0)
    last = red.shape[0] - 1
    above, below = red[np.clip(rows - _ASIDE, 0, last), columns], red[np.clip(rows + _ASIDE, 0, last), columns]
    return float(np.median(above - below)) if len(columns) else 0.0


def _darkness_below(dark: Floats, x: int, y: int) -> float:
    """Mean depth of the darkest line that runs down from a point."""
    total = np.full(dark.shape[1], -np.inf)
    total[max(0, x - 4) : x + 5] = 0
    rows = range(y, min(dark.shape[0], y + _PAPILLA_RUN))
    for row in rows:
        beside = np.maximum(np.append(total[1:], -np.inf), np.append(-np.inf, total[:-1]))
        total = np.maximum(total, beside) + dark[row]
    return float(total.max()) / max(1, len(rows))


def midline(row: Sequence[Standing]) -> tuple[int, float, str | None]:
    """Which tooth stands right of the midline in the picture, how clear that is, and why the view is not from the front, if so.

    The two central incisors are the widest neighbours seen from the front, alike in width, and what follows on both sides is alike
    and no wider.

    Returns
    -------
    index : int
        Tooth ``index`` is the first on the right of the picture.
    clear : float
        Lead over the next best place, 0 to 1.
    uneven : str or None
        In words, where left and right differ too much for a view from the front.
    """
    widths = np.array([tooth.width for tooth in row])
    widest = float(np.sort(widths)[-2:].mean())
    middle = (row[0].left.right + row[-1].right.left) / 2
    span = row[-1].right.left - row[0].left.right
    scores = []
    for index in range(1, len(row)):
        sides = widths[index - 1 :: -1], widths[index:]
        wider = sum(max(0.0, side[1] - side[0]) for side in sides if len(side) > 1) / widest
        off = abs(row[index].left.tip[0] - middle) / span
        scores.append((sides[0][0] + sides[1][0]) / (2 * widest) - _unlike(*sides) - wider - 1.5 * off)
    order = np.argsort(scores)[::-1]
    index = int(order[0]) + 1
    lead = float(scores[order[0]] - scores[order[1]]) if len(scores) > 1 else 1.0
    sides = widths[index - 1 :: -1], widths[index:]
    off = abs(row[index].left.tip[0] - middle) / span
    uneven = None
    if min(index, len(row) - index) < 3:
        uneven = f"{index} and {len(row) - index} teeth left and right of the likeliest midline"
    elif _unlike(*sides) > _UNLIKE or off > _OFF or max(max(side[1:3]) / side[0] for side in sides) > _LATERAL:
        uneven = "teeth beside the likeliest midline whose widths are those of a view from the side"
    return index, float(np.clip(lead / 0.3, 0, 1)), uneven


def _unlike(left: NDArray[np.float64], right: NDArray[np.float64]) -> float:
    """Mean relative difference of width of the three pairs next to the midline, 0 to 1."""
    pairs = list(zip(left, right, strict=False))[:3]
    return float(sum(abs(a - b) / (a + b) for a, b in pairs) / len(pairs))

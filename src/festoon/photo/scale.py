"""Millimetres per pixel from known lengths in the plane of the teeth, each with its error; never from dpi.

A length is a width of a tooth, two marks of a ruler or probe, or a printed square.

The scale holds only in the plane of the known length and where it is seen square on. What the perspective and the turn of
the teeth add is not in its error: whoever uses it elsewhere adds that.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import hypot, sqrt

from festoon.photo.marker import marker_scale
from festoon.photo.marks import Marks


@dataclass(frozen=True)
class KnownLength:
    """A length measured on the person and seen in the photograph."""

    name: str
    """What it is, e.g. the tooth's ISO 3950 code."""
    length_mm: float
    length_se_mm: float
    """Standard error; must be said."""
    length_px: float
    length_se_px: float
    behind_mm: float = 0.0
    """Behind the facial surface of the centrals."""

    def __post_init__(self) -> None:
        if not min(self.length_mm, self.length_px, self.length_se_mm, self.length_se_px) > 0:
            raise ValueError(f"{self.name}: lengths and their errors must be above 0")

    @property
    def mm_per_px(self) -> float:
        """The scale this length gives alone."""
        return self.length_mm / self.length_px

    @property
    def relative_se(self) -> float:
        """Relative standard error of that scale: the two errors are independent, so their squares add."""
        return sqrt((self.length_se_mm / self.length_mm) ** 2 + (self.length_se_px / self.length_px) ** 2)


@dataclass(frozen=True)
class Scale:
    """Millimetres per pixel."""

    mm_per_px: float
    se: float
    conflicts: tuple[str, ...]
    """Pairs of known lengths that disagree by more than two combined standard errors, in words."""


def scale_from(known: Sequence[KnownLength]) -> Scale | None:
    """The scale that known lengths give together, combined by inverse variance.

    Where they disagree by more than their errors explain, the error is widened by the square root of the reduced chi-square.

    Returns
    -------
    Scale or None
        None without a known length: then there are ratios and no millimetres.
    """
    if not known:
        return None
    weights = [1 / (k.mm_per_px * k.relative_se) ** 2 for k in known]
    total = sum(weights)
    mean = sum(w * k.mm_per_px for w, k in zip(weights, known, strict=True)) / total
    misfit = sum(w * (k.mm_per_px - mean) ** 2 for w, k in zip(weights, known, strict=True))
    wider = max(1.0, sqrt(misfit / max(1, len(known) - 1)))  # lengths that disagree do not make the scale surer
    conflicts = []
    for a, b in combinations(known, 2):
        apart = abs(a.mm_per_px - b.mm_per_px)
        if apart > 2 * sqrt((a.mm_per_px * a.relative_se) ** 2 + (b.mm_per_px * b.relative_se) ** 2):
            conflicts.append(f"{a.name} and {b.name} give scales {100 * apart / mean:.1f} % apart")
    return Scale(mean, wider / sqrt(total), tuple(conflicts))


def known_lengths(marks: Marks) -> tuple[KnownLength, ...]:
    """Rulers, probes and square markers of a picture as known lengths."""
    out = []
    for ruler in marks.lengths:
        px = hypot(ruler.end[0] - ruler.start[0], ruler.end[1] - ruler.start[1])
        out.append(KnownLength(ruler.name, ruler.length_mm, ruler.se_mm, px, sqrt(2) * marks.mark_se, ruler.behind_mm))
    for square in marks.markers:
        scale = marker_scale(square.corners, square.side_mm)
        px = scale.px_per_mm * square.side_mm
        out.append(KnownLength(square.name, square.side_mm, square.se_mm, px, scale.relative_se * px, square.behind_mm))
    return tuple(out)

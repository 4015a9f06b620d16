"""Use cases of marking a photograph: outlines drafted for correction, lines between clicks drawn to the true edge."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from skimage.measure import approximate_polygon

from festoon.photo.outlines import found_outlines
from festoon.photo.reading import Photo
from festoon.photo.snapping import Snapper

Points = NDArray[np.float64]
Segment = tuple[tuple[float, float], tuple[float, float]]
_CLICKS = 12
"""Clicks that hold a drafted outline, at most: few enough to be moved one by one. A matter of handling."""


@dataclass(frozen=True)
class DraftOutline:
    """An outline to be corrected: clicks, and the line from each to the next, the last back to the first."""

    clicks: Points
    """Photo pixels (x, y), shape (n, 2)."""
    segments: tuple[Points, ...]
    """Each from its click to the next one, both ends included, shape (m, 2)."""
    quality: float
    """How sure the outline is, 0 to 1; no probability."""


@dataclass(frozen=True)
class Drafts:
    """Outlines found in a photograph."""

    teeth: dict[str, DraftOutline]
    """By ISO 3950 code."""
    notes: tuple[str, ...]


def draft_outlines(photo: Photo) -> Drafts:
    """Find the outlines of a frontal view and hold each by a few clicks.

    Raises
    ------
    InputRefusedError
        If the photograph shows no row of teeth from the front.
    """
    found = found_outlines(photo)
    return Drafts({tooth: _held(line, found.quality[tooth]) for tooth, line in found.outlines.items()}, found.notes)


def snapped(snapper: Snapper, segments: Sequence[Segment]) -> list[Points]:
    """The edge between the clicks of each segment, in photo pixels.

    Raises
    ------
    ValueError
        If a click lies outside the photograph.
    """
    return [snapper.segment(start, end) for start, end in segments]


def _held(line: Points, quality: float) -> DraftOutline:
    """The clicks that a closed line needs most: the tolerance of the simplified line grows until they are few."""
    closed = np.vstack([line, line[:1]])
    tolerance = 0.5
    while len(kept := approximate_polygon(closed, tolerance)) - 1 > _CLICKS:
        tolerance *= 1.3
    clicks = np.asarray(kept[:-1], dtype=np.float64)
    at = [int(np.argmin(np.hypot(*(line - click).T))) for click in clicks]
    ends = [*at[1:], at[0] + len(line)]
    around = np.vstack([line, line])
    return DraftOutline(clicks, tuple(around[a : b + 1] for a, b in zip(at, ends, strict=True)), quality)

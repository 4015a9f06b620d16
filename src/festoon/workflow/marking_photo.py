"""Use cases of marking a photograph: outlines drafted for correction, lines between clicks drawn to the true edge, a printed marker found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from skimage.measure import approximate_polygon

from festoon.errors import Fault, InputRefusedError
from festoon.photo.marker import FoundMarker, found_markers, marker_scale
from festoon.photo.marks import MarkedSquare, Marks
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
class KnownSquare:
    """A printed marker whose side was measured on the print."""

    side_mm: float
    se_mm: float
    behind_mm: float = 0.0
    """How far behind the facial surface of the centrals it was held."""


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


def with_marker(photo: Photo, marks: Marks, square: KnownSquare) -> tuple[Marks, tuple[str, ...]]:
    """Marks with the printed marker of the photograph, and what is to be said of it. Of several the one nearest to the teeth counts.

    Raises
    ------
    InputRefusedError
        If no marker is found, or its corners are not those of a flat square.
    """
    found = found_markers(photo)
    expected = "one square of the family AprilTag 36h11, whole, in its white border, with cells of at least 4 pixels"
    do = "Take the photograph again with the marker flat, dry and whole beside the teeth, or give a known width."
    if not found:
        raise InputRefusedError([Fault(photo.name, "", "no marker that can be read", expected, do)])
    marked = np.array([p for one in marks.teeth.values() for p in one.points])
    nearest = min(found, key=lambda one: float(np.linalg.norm(one.corners.mean(axis=0) - marked.mean(axis=0))))
    scale = marker_scale(nearest.corners, square.side_mm)
    if scale.is_bent:
        what = f"marker {nearest.number}, whose corners are not those of a flat square"
        raise InputRefusedError([Fault(photo.name, "", what, expected, do)])
    error = 100 * float(np.hypot(scale.relative_se, square.se_mm / square.side_mm))
    notes = [
        f"marker {nearest.number}: {square.side_mm:g} mm are {scale.px_per_mm * square.side_mm:.1f} pixels (+/- {error:.1f} %), tilted by "
        f"{scale.tilt_deg:.0f} degrees; it gives the scale where it was held, {square.behind_mm:g} mm behind the centrals' facial surface"
    ]
    if len(found) > 1:
        others = ", ".join(str(one.number) for one in found if one is not nearest)
        notes.append(f"other markers were not used: {others}")
    if scale.is_slanting:
        notes.append(
            f"marker {nearest.number} is tilted: was it held in the plane of the teeth? Take it again square to the camera"
        )
    return marks.model_copy(update={"markers": (_marked(nearest, square),)}), tuple(notes)


def unmeasured_marker(photo: Photo) -> str | None:
    """What to say of a marker whose size nobody told; None where there is none."""
    found = found_markers(photo)
    if not found:
        return None
    return f"marker {found[0].number} is in the picture: measure its black square on the print and give it (--marker-size 9.97:0.05)"


def _marked(found: FoundMarker, square: KnownSquare) -> MarkedSquare:
    return MarkedSquare(
        name=f"marker {found.number}",
        corners=tuple((round(float(x), 2), round(float(y), 2)) for x, y in found.corners),
        side_mm=square.side_mm,
        se_mm=square.se_mm,
        behind_mm=square.behind_mm,
    )


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

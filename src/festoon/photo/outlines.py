"""The outlines of the upper front teeth in the usual frontal view: found, numbered, and each with how sure it is.

A proposal for a person to correct. Nothing here was learnt from photographs: every step is a rule that can be read and argued with
(docs/method/photo-outlines.md).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from festoon.errors import Fault, InputRefusedError
from festoon.model.dentition import Tooth
from festoon.photo.edges import Points, looks_of
from festoon.photo.enamel import find_arch
from festoon.photo.outlines_contour import Contour, Evidence, closed_line, evidence_of
from festoon.photo.outlines_dividing import Standing, divide, midline, redder_above
from festoon.photo.outlines_doubts import margin_doubts
from festoon.photo.reading import Photo

_LENGTH_TO_WIDTH = 1.15
"""Expected length of a crown, in widths of a central incisor as seen: where the search starts, not what it finds. A setting of ours."""
_FEWEST = 6
"""Teeth that a frontal view must show."""
_MOST = 16
"""Teeth of one jaw; a longer row is none of teeth."""
_GINGIVA_REDDER = 4.0
"""Gingiva above the teeth is redder than they are by at least this much a*. A setting of ours."""
_FARTHEST = 5
"""Last tooth from the midline whose outline is given: those behind are seen from the side."""
_DOUBTFUL = 0.5
"""Quality below which a note asks for correction."""
_HIDDEN = 0.4
"""Quality of an outline whose margin may be hidden, at most. A setting of ours."""
_WORTHLESS = 0.2
"""Quality below which an outline is not given."""


@dataclass(frozen=True)
class FoundOutlines:
    """Outlines of teeth in one photograph."""

    outlines: dict[str, Points]
    """By ISO 3950 code: closed line, the first point not repeated, clockwise as seen, photo pixels (x, y), shape (n, 2)."""
    margin: dict[str, Points]
    """The part of each outline along the gingiva, from left to right of the picture, photo pixels."""
    quality: dict[str, float]
    """How sure each outline is, 0 to 1: evidence along its faintest part, and whether its shape is that of a tooth. No probability."""
    notes: tuple[str, ...]
    """What to look at, in words."""

    @property
    def doubtful(self) -> frozenset[str]:
        """Teeth whose outline a person must look at."""
        return frozenset(code for code, sure in self.quality.items() if sure < _DOUBTFUL)


def found_outlines(photo: Photo, *, teeth: Iterable[str] | None = None, mirrored: bool = False) -> FoundOutlines:
    """Find the outlines of the upper front teeth in a frontal view.

    Parameters
    ----------
    photo : Photo
        The patient's right is on the left of the picture.
    teeth : iterable of str, optional
        ISO 3950 codes of upper teeth wanted; without it all that are found up to the second premolars.
    mirrored : bool
        The picture was taken in a mirror or turned over: the patient's right is on its right.

    Raises
    ------
    InputRefusedError
        If the photograph shows no row of teeth from the front.
    ValueError
        If a wanted tooth is no upper tooth.
    """
    wanted = None if teeth is None else [Tooth(code).fdi for code in teeth]
    if wanted is not None and not all(Tooth(code).is_upper for code in wanted):
        raise ValueError("outlines are found for upper teeth only")
    looks = looks_of(photo)
    arch = find_arch(looks)
    if arch is None or redder_above(arch) < _GINGIVA_REDDER:
        raise _refused(photo, "no row of teeth, lighter and less red than what is round it")
    row = divide(arch)
    if not _FEWEST <= len(row) <= _MOST:
        raise _refused(photo, f"{len(row)} teeth side by side")
    first_left, clear, uneven = midline(row)
    if uneven is not None:
        raise _refused(photo, uneven)
    notes = [] if clear > 0.3 else ["The midline is not clear: check the numbers of the teeth."]
    evidence = evidence_of(arch)
    length = _LENGTH_TO_WIDTH * (row[first_left - 1].width + row[first_left].width) / 2
    outlines, margin, quality = {}, {}, {}
    for index, standing in enumerate(row):
        code = _code(index - first_left, mirrored)
        if code is None or (wanted is not None and code not in wanted):
            continue
        contour = _outline(evidence, standing, length)
        along, sure, why = _judged(contour, standing)
        if sure < _WORTHLESS:
            notes.append(f"{code}: no outline that can be trusted ({why}); draw it.")
            continue
        if sure < _DOUBTFUL:
            notes.append(f"{code}: {why}; check the outline.")
        outlines[code], margin[code], quality[code] = contour.points, along, round(sure, 2)
    for code, doubts in margin_doubts(arch, margin, outlines).items():
        quality[code] = min(quality[code], _HIDDEN)
        notes += [f"{code}: {doubt}; check the outline." for doubt in doubts]
    notes += _gaps(row, first_left, mirrored)
    notes += [f"{code}: not found." for code in wanted or [] if code not in outlines]

    def in_photo(line: Points) -> Points:
        return looks.to_photo(arch.to_grid(line))

    return FoundOutlines(
        {code: in_photo(line) for code, line in outlines.items()},
        {code: in_photo(line) for code, line in margin.items()},
        quality,
        tuple(notes),
    )


def _outline(evidence: Evidence, standing: Standing, length: float) -> Contour:
    width = standing.width
    middle = ((standing.left.right + standing.right.left) / 2, standing.zenith[1] + length / 2)
    reach = (standing.left.right - 0.25 * width, standing.right.left + 0.25 * width)
    return closed_line(evidence, middle, (width / 2, length / 2), reach)


def _judged(contour: Contour, standing: Standing) -> tuple[Points, float, str]:
    """The margin of an outline, how sure the outline is, and its weakest point in words."""
    points, count = contour.points, len(contour.points)
    ends = [int(np.hypot(*(points - np.array(side.tip)).T).argmin()) for side in (standing.left, standing.right)]
    upper = np.arange(ends[0], ends[0] + (ends[1] - ends[0]) % count + 1) % count
    box = np.ptp(points, axis=0)
    low = points[:, 1] > points[:, 1].max() - 0.2 * box[1]
    rest = np.ones(count, dtype=bool)
    rest[upper] = rest[low] = False
    parts = {"the margin is faint": upper, "the incisal edge is faint": low, "a contact is faint": rest}
    seen = {words: _seen(contour.strength[part]) for words, part in parts.items()}
    shape = box[1] / box[0]
    doubts = {
        **seen,
        "it parts faintly from its neighbours": min(standing.left.clear, standing.right.clear) / 0.4,
        "its shape is not that of a tooth": 1.0 if 0.7 < shape < 2.6 else 0.3 if 0.5 < shape < 3.2 else 0.0,
    }
    why = min(doubts, key=lambda words: doubts[words])
    return points[upper], float(min(1.0, *doubts.values())), why


def _seen(strength: NDArray[np.float64]) -> float:
    """Part of a line that has an edge under it."""
    return float((strength > 0.35).mean()) if len(strength) else 0.0


def _gaps(row: list[Standing], first_left: int, mirrored: bool) -> list[str]:
    """Spaces as wide as a tooth, behind which the numbers may be wrong."""
    notes = []
    for index in range(len(row) - 1):
        between, codes = row[index].right, [_code(i - first_left, mirrored) for i in (index, index + 1)]
        if between.right - between.left > 0.5 * row[first_left].width and None not in codes:
            notes.append(
                f"{codes[0]} and {codes[1]} stand apart: if a tooth is absent there, the numbers behind it are wrong."
            )
    return notes


def _code(place: int, mirrored: bool) -> str | None:
    """ISO 3950 code of a tooth by its place, 0 the first right of the midline in the picture, -1 the first left of it."""
    position = place + 1 if place >= 0 else -place
    if position > _FARTHEST:
        return None
    return f"{2 if (place >= 0) != mirrored else 1}{position}"


def _refused(photo: Photo, found: str) -> InputRefusedError:
    expected = "a frontal view with the upper front teeth and the gingiva above them"
    return InputRefusedError(
        [Fault(photo.name, "", found, expected, "Take or choose a frontal view, or draw the outlines.")]
    )

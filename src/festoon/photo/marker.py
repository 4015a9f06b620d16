"""A printed square of known size, found in the picture: the length that gives the scale without a click.

The patterns are those of an open, general-purpose family of square markers, AprilTag 36h11 (Olson 2011, from memory): each differs from every
other in at least 11 of its 36 cells, so that nothing else in a mouth is taken for one. The pattern says which square it is, never how large:
the side is measured on the print and told.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from festoon.photo.reading import Photo, linear_light

Floats = NDArray[np.float64]

CELLS = 8
"""Cells along a side: six of the pattern and a black one at either end."""
NUMBERS = 587
"""Patterns of the family."""
LEAST_CELL_PX = 4.0
"""A marker with smaller cells is not measured: its sides blur into its pattern. A setting of ours."""
CORNER_SE_PX = 0.15
"""Standard error of a corner, pixels (seen on rendered squares: blur of 0.6 to 2.5 px, noise of 3 levels; docs/method/photo-marker.md)."""
_TONE_PX = 0.3
"""By how much all of a square looks larger or smaller: cameras do not keep to the tone curve of sRGB, and an edge blurred over 1.2 pixels then moves by
some 0.15 (a setting, from memory)."""
_DISTANCE_MM = 300.0
"""Usual distance of the camera: the perspective within so small a square hardly hangs on it (common practice, no source)."""
_TILT_DEG = 15.0
"""Spread of the square's tilt about either of its own directions: it is held square to the camera, as well as a hand can. A setting of ours."""
_SLANTING_DEG = 25.0
"""A square tilted further than this was not held against the teeth."""
_BENT = 4.0
"""Corners further off than so many of their errors (root mean square) are no flat square's."""
_ROUNDS, _PLACES, _STEP_PX = 4, 48, 0.25
_ENDS = 0.12
"""Part of a side next to a corner where its edge is not looked for: the other side's blur lies there."""


@dataclass(frozen=True)
class FoundMarker:
    """A marker in the picture."""

    number: int
    corners: Floats
    """Outer corners of the black square in the marker's own order, clockwise from its upper left; (column, row), shape (4, 2)."""

    @property
    def side_px(self) -> float:
        """Mean length of a side."""
        return float(np.linalg.norm(self.corners - np.roll(self.corners, 1, axis=0), axis=1).mean())


@dataclass(frozen=True)
class MarkerScale:
    """What a square of known side says at its place."""

    px_per_mm: float
    """At the depth of its middle, square to the camera, whatever its tilt."""
    relative_se: float
    """Of the corners and of the camera's tone curve; the error of the side is not in it."""
    tilt_deg: float
    """Between the square and the picture."""
    off_se: float
    """How far the corners lie from those of a flat square, root mean square, in their standard errors."""

    @property
    def is_bent(self) -> bool:
        """True where the corners are not those of a flat square: it is bent, or a corner is covered."""
        return self.off_se > _BENT

    @property
    def is_slanting(self) -> bool:
        """True where it is tilted further than in the plane of the teeth."""
        return self.tilt_deg > _SLANTING_DEG


def pattern(number: int) -> NDArray[np.bool_]:
    """Cells of a marker, True where white, shape (8, 8).

    Raises
    ------
    ValueError
        If the family has no such number.
    """
    if not 0 <= number < NUMBERS:
        raise ValueError(f"marker {number}: the family has the numbers 0 to {NUMBERS - 1}")
    import cv2

    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    return np.asarray(cv2.aruco.generateImageMarker(family, number, CELLS)) > 127


def found_markers(photo: Photo) -> tuple[FoundMarker, ...]:
    """Markers in a photograph, by number; those with cells under 4 pixels are left out.

    The library finds them and reads their numbers. Corners are then found anew as crossings of lines fitted to the sides, at the level half-way
    between black and white *in linear light*: in the levels of a file the black square looks smaller than it is, by 0.6 to 3 pixels as it is
    more or less blurred.
    """
    import cv2

    grey = photo.pixels @ np.array([0.299, 0.587, 0.114])
    wishes = cv2.aruco.DetectorParameters()
    wishes.minDistanceToBorder = 0  # else a square whose white border touches that of the picture is lost
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11), wishes)
    corners, numbers, _ = detector.detectMarkers(np.ascontiguousarray(grey.round().astype(np.uint8)))
    if numbers is None:
        return ()
    light = linear_light(photo.pixels[..., 1])
    out = []
    for number, ring in sorted(zip(numbers.ravel().tolist(), corners, strict=True), key=lambda found: found[0]):
        rough = FoundMarker(int(number), np.asarray(ring, dtype=np.float64).reshape(4, 2))
        if rough.side_px >= LEAST_CELL_PX * CELLS:
            out.append(FoundMarker(rough.number, _refined(light, rough.corners)))
    return tuple(out)


def marker_scale(corners: Floats | Sequence[tuple[float, float]], side_mm: float) -> MarkerScale:
    """Pixels of a millimetre at a square of known side, from all four corners and its tilt together.

    Least squares over place, rotation and scale of a flat square seen from the usual distance; the covariance is the Jacobian's.

    Parameters
    ----------
    corners : array (4, 2)
        Clockwise in the picture.
    side_mm : float
    """
    seen = np.asarray(corners, dtype=np.float64)
    half = side_mm / 2
    square = np.array([[-half, -half, 0.0], [half, -half, 0.0], [half, half, 0.0], [-half, half, 0.0]])
    along = seen[1] - seen[0]
    first = np.linalg.norm(seen - np.roll(seen, 1, axis=0), axis=1).max() / side_mm
    start = np.array([0.0, 0.0, np.arctan2(along[1], along[0]), *seen.mean(axis=0), np.log(first)])

    def residuals(p: Floats) -> Floats:
        turned = square @ (Rotation.from_rotvec([0, 0, p[2]]) * Rotation.from_rotvec([p[0], p[1], 0])).as_matrix().T
        shown = p[3:5] + np.exp(p[5]) * turned[:, :2] / (1 + turned[:, 2:] / _DISTANCE_MM)
        return np.concatenate([((shown - seen) / CORNER_SE_PX).ravel(), p[:2] / np.radians(_TILT_DEG)])

    found = min(
        (least_squares(residuals, start + 0.3 * np.array([a, b, 0, 0, 0, 0]), method="lm") for a, b in _STARTS),
        key=lambda one: float(one.cost),
    )
    covariance = np.linalg.inv(found.jac.T @ found.jac)
    side_px = float(np.exp(found.x[5])) * side_mm
    off = float(np.sqrt((found.fun[:8] ** 2).mean()))
    tilt = Rotation.from_rotvec([found.x[0], found.x[1], 0]).as_matrix()[2, 2]
    return MarkerScale(
        float(np.exp(found.x[5])),
        float(np.hypot(np.sqrt(covariance[5, 5]) * max(1.0, off), _TONE_PX / side_px)),
        float(np.degrees(np.arccos(np.clip(tilt, -1, 1)))),
        off,
    )


_STARTS = ((0.5, 0.5), (0.5, -0.5), (-0.5, 0.5), (-0.5, -0.5))
"""A small square looks nearly alike tilted either way: each is tried."""


def _refined(light: Floats, corners: Floats) -> Floats:
    """Corners as crossings of the sides; as they were where a side cannot be seen."""
    at = corners
    for _ in range(_ROUNDS):
        sides = [_side(light, at[k], at[(k + 1) % 4]) for k in range(4)]
        lines = [line for line in sides if line is not None]
        if len(lines) < 4:
            return corners
        at = np.array([_crossing(lines[k - 1], lines[k]) for k in range(4)])
    return at


def _side(light: Floats, a: Floats, b: Floats) -> tuple[Floats, Floats] | None:
    """The side between two corners: a point and a unit direction; None where too little of it is seen."""
    along = b - a
    length = float(np.linalg.norm(along))
    along = along / length
    outward = np.array([along[1], -along[0]])  # corners go clockwise as seen, rows down
    reach = 0.6 * length / CELLS
    offsets = np.arange(-reach, reach, _STEP_PX)
    foot = a + np.linspace(_ENDS, 1 - _ENDS, _PLACES)[:, None] * length * along
    where = foot[:, None] + offsets[:, None] * outward
    seen = map_coordinates(light, [where[..., 1], where[..., 0]], order=1, mode="nearest")
    fifth = len(offsets) // 5
    middle = (seen[:, :fifth].mean(axis=1) + seen[:, -fifth:].mean(axis=1)) / 2
    step = seen[:, -fifth:].mean(axis=1) - seen[:, :fifth].mean(axis=1)
    above = seen > middle[:, None]
    first = above.argmax(axis=1)
    clear = (step > 0.3 * np.median(step)) & (step > 0.02) & (first > 0) & above[:, -1]
    if clear.sum() < _PLACES // 3:
        return None
    row, k = np.flatnonzero(clear), first[clear]
    before, after = seen[row, k - 1], seen[row, k]
    share = (middle[row] - before) / (after - before)
    edge = foot[row] + (offsets[k - 1] + share * _STEP_PX)[:, None] * outward
    for _ in range(3):  # a smear or glare on the side is left out
        centre = edge.mean(axis=0)
        direction = np.linalg.svd(edge - centre)[2][0]
        off = np.abs((edge - centre) @ np.array([direction[1], -direction[0]]))
        kept = off <= max(3 * float(np.median(off)), 0.05)
        edge = edge[kept]
    return centre, direction


def _crossing(one: tuple[Floats, Floats], other: tuple[Floats, Floats]) -> Floats:
    (p, u), (q, v) = one, other
    share = np.linalg.solve(np.column_stack([u, -v]), q - p)[0]
    return np.asarray(p + share * u)

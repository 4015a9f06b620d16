"""Two photographs of one person beside each other in one pose, once their poses and scales agree; else the reasons why not."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from festoon.photo.pose import Pose, ScannedFront
from festoon.photo.reading import Photo

Floats = NDArray[np.float64]

LARGEST_TURN_DEG = 6.0
"""Photographs whose cameras look along directions further apart are not laid on each other: flat warping cannot make up for more (a setting)."""
LARGEST_MISFIT_MM = 0.35
"""Nor are those whose teeth then lie further apart than this, root mean square (a setting)."""


def reasons_apart(front: ScannedFront, before: Pose, after: Pose) -> tuple[str, ...]:
    """Why two photographs cannot be compared as they are; empty: they can.

    Parameters
    ----------
    front : ScannedFront
        The scan that both poses were solved with.
    before, after : Pose
    """
    turn = float(np.degrees(np.arccos(np.clip(before.sight @ after.sight, -1, 1))))
    out = []
    if turn > LARGEST_TURN_DEG:
        out.append(
            f"the cameras look at the teeth along directions {turn:.0f} degrees apart; at most {LARGEST_TURN_DEG:g}"
        )
    far = misfit_mm(front, before, after)
    if far > LARGEST_MISFIT_MM:
        out.append(f"laid on each other the teeth lie {far:.2f} mm apart; at most {LARGEST_MISFIT_MM:g}")
    return tuple(out)


def misfit_mm(front: ScannedFront, before: Pose, after: Pose) -> float:
    """How far the teeth lie apart once the later photograph is laid on the earlier, root mean square, mm."""
    points = _facial(front)
    away = mapped(_between(front, after, before), after.project(points)) - before.project(points)
    return float(np.sqrt((away**2).sum(axis=1).mean()) * before.distance_mm / before.focal_px)


def in_pose_of(front: ScannedFront, before: Pose, after: Pose, picture: Photo) -> NDArray[np.uint8]:
    """The later photograph as the earlier camera would have framed it; black beyond its edges.

    A projective map from the front surfaces of the scanned teeth, seen by both: exact for a plane, within :func:`misfit_mm` for these teeth.
    """
    wide, high = before.size
    column, row = np.meshgrid(np.arange(wide, dtype=np.float64), np.arange(high, dtype=np.float64))
    at = mapped(_between(front, before, after), np.stack([column.ravel(), row.ravel()], axis=1))
    made = [map_coordinates(picture.pixels[..., k], at.T[::-1], order=1, cval=0).reshape(high, wide) for k in range(3)]
    return np.stack(made, axis=-1)


def homography(a: Floats, b: Floats) -> Floats:
    """The projective map of points ``a`` to points ``b``, each (N, 2), N at least 4, shape (3, 3).

    Direct linear transform on coordinates brought to middle 0 and mean length root 2 (Hartley and Zisserman 2004, algorithm 4.2).
    """
    ta, tb = _normal(a), _normal(b)
    p, q = mapped(ta, a), mapped(tb, b)
    one, zero = np.ones((len(p), 1)), np.zeros((len(p), 3))
    whole = np.hstack([p, one])
    rows = np.vstack([np.hstack([whole, zero, -q[:, :1] * whole]), np.hstack([zero, whole, -q[:, 1:] * whole])])
    found = np.linalg.eigh(rows.T @ rows)[1][:, 0].reshape(3, 3)  # the direction that the equations leave smallest
    back = np.linalg.inv(tb) @ found @ ta
    return np.asarray(back / back[2, 2])


def mapped(by: Floats, points: Floats) -> Floats:
    """Points (N, 2) by a projective map."""
    out = np.hstack([points, np.ones((len(points), 1))]) @ by.T
    return np.asarray(out[:, :2] / out[:, 2:])


def _normal(points: Floats) -> Floats:
    middle = points.mean(axis=0)
    scale = np.sqrt(2) / np.linalg.norm(points - middle, axis=1).mean()
    return np.array([[scale, 0, -scale * middle[0]], [0, scale, -scale * middle[1]], [0, 0, 1]])


def _between(front: ScannedFront, one: Pose, other: Pose) -> Floats:
    """Pixels of one photograph to those of the other."""
    points = _facial(front)
    return homography(one.project(points), other.project(points))


def _facial(front: ScannedFront) -> Floats:
    """Points of the facial surfaces of the scanned teeth."""
    out = []
    for tooth, frame in front.frames.items():
        crown = front.crown(tooth)
        outward = frame.coordinates(crown)[:, 1]
        out.append(crown[outward > np.quantile(outward, 0.6)])
    return np.concatenate(out)

"""A true camera: every pixel is a known ray, lens distortion included, and every point has a known place in the picture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Camera:
    """A pinhole with radial distortion, in the arch frame.

    A point at (x, y) in units of the focal length lands at (x, y) (1 + k1 r^2 + k2 r^4), r^2 = x^2 + y^2.
    """

    position: Floats
    """Centre of projection, mm."""
    rotation: Floats
    """Rows: the directions right, down and forward of the picture in the arch frame."""
    focal_px: float
    width: int
    height: int
    k1: float = 0.0
    k2: float = 0.0

    def project(self, points: Floats) -> Floats:
        """Pixels (column, row) of points (N, 3); (0, 0) is the middle of the first pixel."""
        local = (points - self.position) @ self.rotation.T
        flat = local[:, :2] / local[:, 2:]
        r2 = (flat**2).sum(axis=1, keepdims=True)
        bent = flat * (1 + self.k1 * r2 + self.k2 * r2 * r2)
        return np.asarray(bent * self.focal_px + [(self.width - 1) / 2, (self.height - 1) / 2])

    def rays(self) -> Floats:
        """Unit directions of all pixels, row by row, shape (height * width, 3)."""
        column, row = np.meshgrid(np.arange(self.width), np.arange(self.height))
        bent = np.stack([column - (self.width - 1) / 2, row - (self.height - 1) / 2], -1).reshape(-1, 2) / self.focal_px
        bent2, stretch = (bent**2).sum(axis=1), np.ones(len(bent))
        for _ in range(12):
            r2 = bent2 / (stretch * stretch)
            stretch = 1 + r2 * (self.k1 + self.k2 * r2)
        flat = bent / stretch[:, None]
        out = np.concatenate([flat, np.ones((len(flat), 1))], axis=1) @ self.rotation
        return np.asarray(out / np.linalg.norm(out, axis=1, keepdims=True))

    def about(self) -> dict[str, Any]:
        """The camera as plain data, to stand beside its picture."""
        return {
            "position_mm": [round(float(v), 6) for v in self.position],
            "right_down_forward": [[round(float(v), 9) for v in row] for row in self.rotation],
            "focal_px": round(self.focal_px, 6),
            "width_px": self.width,
            "height_px": self.height,
            "principal_point_px": [(self.width - 1) / 2, (self.height - 1) / 2],
            "k1": self.k1,
            "k2": self.k2,
            "formula": "pixel = principal point + focal x (x, y)(1 + k1 r^2 + k2 r^4); (x, y) = right, down over forward",
        }


def looking(
    target: Floats,
    yaw_deg: float,
    pitch_deg: float,
    roll_deg: float,
    distance: float,
    *,
    focal_mm: float,
    sensor_mm: float,
    width: int,
    height: int,
    k1: float = 0.0,
    k2: float = 0.0,
) -> Camera:
    """A camera that looks at ``target`` from the front.

    Parameters
    ----------
    target : array of shape (3,)
        Arch frame, mm.
    yaw_deg : float
        0 from straight in front; positive from the patient's left.
    pitch_deg : float
        Positive from above.
    roll_deg : float
        Positive turns the camera clockwise, so the picture anticlockwise.
    distance : float
        Of the centre of projection from the target, mm.
    focal_mm, sensor_mm : float
        Image distance behind the lens, and width of the sensor.
    """
    yaw, pitch, roll = np.radians([yaw_deg, pitch_deg, roll_deg])
    back = np.array([np.sin(yaw) * np.cos(pitch), -np.cos(yaw) * np.cos(pitch), np.sin(pitch)])
    forward = -back
    up = np.array([0.0, 0.0, 1.0]) if abs(np.cos(pitch)) > 0.2 else np.array([0.0, 1.0 if back[2] < 0 else -1.0, 0.0])
    right = np.cross(forward, up)
    right /= np.linalg.norm(right)
    down = np.cross(forward, right)
    right, down = np.cos(roll) * right + np.sin(roll) * down, np.cos(roll) * down - np.sin(roll) * right
    return Camera(
        position=target + distance * back,
        rotation=np.stack([right, down, forward]),
        focal_px=focal_mm / sensor_mm * width,
        width=width,
        height=height,
        k1=k1,
        k2=k2,
    )

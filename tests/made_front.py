"""A made row of six front teeth, and what a camera sees of it."""

from __future__ import annotations

import numpy as np
import trimesh

from festoon.kernels.tooth_frame import ToothFrame
from festoon.model.dentition import Tooth
from festoon.photo.marks import MarkedPicture, Marks, ToothMarks
from festoon.photo.pose import Pose, ScannedFront, seen_borders

SIZE = (1200, 800)


def pose(
    rotation: tuple[float, ...], shift: tuple[float, float], distance: float, focal: float, k1: float = 0.0
) -> Pose:
    parameters = np.array([*rotation, *shift, np.log(distance), np.log(focal), k1])
    return Pose(np.concatenate([parameters, [0.0, 0.0]]), np.diag([1e-6] * 10), SIZE)


def made_front() -> ScannedFront:
    """Six egg-shaped crowns on an arch, with the frames they were made with."""
    vertices, faces, tooth_of_face, frames, count = [], [], [], {}, 0
    for sign, quadrant in ((-1.0, "1"), (1.0, "2")):
        at = np.zeros(2)
        for position, turn, width in ((1, 4.0, 8.5), (2, 30.0, 6.8), (3, 55.0, 7.6)):
            phi = np.radians(turn)
            distal = np.array([sign * np.cos(phi), np.sin(phi), 0.0])
            facial = np.array([sign * np.sin(phi), -np.cos(phi), 0.0])
            middle = np.array([*(at * [sign, 1.0]), 0.0]) + width / 2 * distal
            at = at + width * np.array([np.cos(phi), np.sin(phi)])
            high = 10.0 if position != 2 else 9.0
            ball = trimesh.creation.icosphere(subdivisions=3)
            p = np.asarray(ball.vertices)
            p = np.sign(p) * np.abs(p) ** 0.8  # squarer than an egg, as crowns are
            placed = middle + p[:, :1] * width / 2 * distal + p[:, 1:2] * 2.6 * facial
            placed = placed + (1 + p[:, 2:]) * high / 2 * np.array([0, 0, 1.0])
            vertices.append(placed)
            faces.append(np.asarray(ball.faces) + count)
            count += len(placed)
            code = f"{quadrant}{position}"
            tooth_of_face.append(np.full(len(ball.faces), int(code)))
            frames[Tooth(code)] = ToothFrame(middle, np.array([0, 0, 1.0]), facial, distal, 0.0, width)
    return ScannedFront(np.concatenate(vertices), np.concatenate(faces), np.concatenate(tooth_of_face), frames)


def marks_from(front: ScannedFront, camera: Pose, rng: np.random.Generator | None = None) -> Marks:
    """What a camera sees of each crown, as marks."""
    borders = seen_borders(front, camera)
    teeth = {}
    for tooth, border in borders.items():
        line = border.pixels[::3]
        line = line if rng is None else line + 0.7 * rng.standard_normal(line.shape)
        teeth[tooth.fdi] = ToothMarks(outline=tuple((float(x), float(y)) for x, y in line))
    return Marks(photo=MarkedPicture(sha256="a" * 64, width_px=SIZE[0], height_px=SIZE[1]), mark_se_px=1.0, teeth=teeth)


CAMERA = pose((0.06, -0.08, 0.03), (0.01, -0.02), 260.0, 5000.0, 0.4)

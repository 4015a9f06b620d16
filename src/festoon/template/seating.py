"""The insertion axis: found so that little of the bearing surfaces is undercut, shown, and changeable."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from festoon.model.dentition import Tooth
from festoon.template.inputs import Floats, Sheet, ToothOnScan
from festoon.template.prepare import told_apart

_LEANS = np.arange(-20.0, 20.1, 2.5)
"""Leans that are tried, degrees."""
_GRIP = 0.002
"""Weight of each squared degree of lean: among axes that block out alike, the one along the teeth holds best (no source)."""


@dataclass(frozen=True)
class Seating:
    """The seated pose: ``turn @ p + shift`` takes the file to it. x along the arch, y posterior, z apical along the axis."""

    turn: Floats
    shift: Floats
    lean: tuple[float, float]
    """Lean from the mean of the teeth's axes, degrees: facially, and to the patient's left."""
    undercut: float
    """Share of the crowns' surface that looks apically along the axis and is blocked out, 0 to 1."""

    def back(self, points: Floats) -> Floats:
        """Seated pose to file coordinates."""
        return np.asarray((points - self.shift) @ self.turn)


def find_seating(sheet: Sheet, teeth: list[ToothOnScan], lean: tuple[float, float] | None) -> Seating:
    """The axis with the least undercut on the crowns of ``teeth``, or the given lean."""
    axis = np.mean([t.axis for t in teeth], axis=0)
    axis /= np.linalg.norm(axis)
    front = np.mean([t.facial for t in teeth], axis=0)
    front = front - (front @ axis) * axis
    front /= np.linalg.norm(front)
    aside = np.cross(-front, axis)
    upper = Tooth(teeth[0].fdi).is_upper
    left = aside if upper else -aside
    own = told_apart(sheet, teeth)
    faces = sheet.faces[(own[sheet.faces] > 0).all(axis=1)]
    p = sheet.vertices[faces]
    normal = np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0])
    area = np.linalg.norm(normal, axis=1)
    normal /= np.maximum(area[:, None], 1e-12)

    def leaned(a: float, b: float) -> Floats:
        z = axis + np.tan(np.radians(a)) * front + np.tan(np.radians(b)) * left
        return np.asarray(z / np.linalg.norm(z))

    def undercut(z: Floats) -> float:
        return float((area * (normal @ z > 0.03)).sum() / area.sum())

    def cost(a: float, b: float) -> float:
        steep = np.maximum(normal @ leaned(a, b), 0)
        return float((area * steep).sum() / area.sum() * 10 + _GRIP * (a * a + b * b))

    if lean is None:
        lean = min(((float(a), float(b)) for a in _LEANS for b in _LEANS), key=lambda ab: cost(*ab))
    z = leaned(*lean)
    y = -front - (-front @ z) * z
    y /= np.linalg.norm(y)
    turn = np.stack([np.cross(y, z), y, z])
    edges = np.array([t.edge for t in teeth])
    return Seating(turn, -turn @ edges.mean(axis=0), lean, undercut(z))

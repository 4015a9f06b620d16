"""Colours of the surfaces as seen and scanned: enamel, root, gingiva, alveolar mucosa. Looks only; nothing is measured on them."""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from festoon.phantom import curves
from festoon.phantom.truth import Truth

Floats = NDArray[np.float64]

ENAMEL, CERVICAL, INCISAL = (0.93, 0.90, 0.83), (0.89, 0.81, 0.64), (0.82, 0.84, 0.85)
ROOT, CROWN = (0.84, 0.70, 0.46), (0.95, 0.94, 0.91)
GINGIVA, FREE, MUCOSA, PALATE = (0.87, 0.57, 0.55), (0.83, 0.48, 0.48), (0.74, 0.33, 0.34), (0.86, 0.60, 0.57)


class Palette:
    """Colours of one jaw."""

    def __init__(self, truth: Truth) -> None:
        self.truth, self.tissues = truth, truth.tissues

    @cached_property
    def junction(self) -> tuple[Floats, Floats]:
        """Mucogingival junction: place along the arch line and height, by tooth."""
        points = np.array([
            curves.surface_point(self.tissues, c.placed, self.truth.mucogingival(c.placed)) for c in self.tissues.collars
        ])  # fmt: skip
        places = self.tissues.along_line(points)
        order = np.argsort(places)
        return places[order], points[order, 2]

    def above_junction(self, points: Floats) -> Floats:
        """How far apical to the mucogingival junction points of the facial mucosa lie (negative coronal)."""
        places, heights = self.junction
        curve = PchipInterpolator(places, heights)
        at = np.clip(self.tissues.along_line(points), places[0], places[-1])
        return np.asarray(points[:, 2] - curve(at))

    def of(self, points: Floats, rng: np.random.Generator | None = None) -> Floats:
        """Colours (N, 3) of surface points in jaw coordinates, 0 to 1."""
        hard, soft = self.tissues.tooth_and_gingiva(points)
        out = self._mucosa(points)
        tooth = hard < soft
        out[tooth] = self.of_teeth(points[tooth])
        # The free gingiva is a little redder.
        rim = ~tooth & (hard < 0.9)
        share = np.clip(hard[rim] / 0.9, 0, 1)[:, None]
        out[rim] = out[rim] * share + np.array(FREE) * (1 - share)
        if rng is not None:
            out = out + 0.015 * rng.standard_normal((len(points), 1)) + 0.008 * rng.standard_normal(points.shape)
        return np.clip(out, 0, 1)

    def _mucosa(self, points: Floats) -> Floats:
        out = np.tile(np.array(GINGIVA), (len(points), 1))
        facial = self.tissues.from_wall(points)
        past = np.clip(self.above_junction(points) / 0.5 + 0.5, 0, 1) * (facial > -4.0)
        out += past[:, None] * (np.array(MUCOSA) - np.array(GINGIVA))
        if self.tissues.arch.mouth.upper:
            inside = np.clip((-facial - 5.0) / 4.0, 0, 1)[:, None]
            out += inside * (np.array(PALATE) - out)
        # Stippling of the attached gingiva.
        x, y, z = (points * 5.3).T
        spots = np.sin(x + 1.3 * np.sin(z)) * np.sin(z + 1.1 * np.sin(y)) * np.sin(y + 0.7 * np.sin(x))
        return np.asarray(out * (1 + 0.05 * spots * (1 - past))[:, None])

    def of_teeth(self, points: Floats) -> Floats:
        """Colours (N, 3) of points on teeth."""
        out = np.tile(np.array(ENAMEL), (len(points), 1))
        best = np.full(len(points), 1.0)
        for collar in self.tissues.collars:
            low, high = collar.reach
            near = np.flatnonzero(((points > low) & (points < high)).all(axis=1))
            if not len(near):
                continue
            body = collar.placed.body
            local = collar.placed.to_local(points[near])
            d, phi, w = body.polar(local)
            d = np.maximum(d, body.above_cap(local))
            own = d < best[near]
            at, t = near[own], (w[own] / body.shape.crown)[:, None]
            colour = np.array(ENAMEL) + np.clip((t - 0.55) / 0.45, 0, 1) * (np.array(CERVICAL) - np.array(ENAMEL))
            colour += np.clip(1 - t / 0.14, 0, 1) * (np.array(INCISAL) - np.array(ENAMEL))
            root = np.clip((w[own] - body.cej(phi[own])) / 0.12 + 0.5, 0, 1)[:, None]
            colour += root * (np.array(ROOT) - colour)
            if collar.placed.plan.crowned:
                colour = np.tile(np.array(CROWN), (len(at), 1))
            out[at] = colour
            best[at] = d[own]
        return out

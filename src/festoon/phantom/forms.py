"""The form of each class of teeth, in shares of its width, depth, crown and root.

Outlines and cusp places are drawn after dental-anatomy teaching (from memory, no measured source) and were looked at beside
real teeth; sizes come from :mod:`festoon.phantom.population`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

Floats = NDArray[np.float64]
Points = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Form:
    """Profiles of a class of teeth, from the edge (0) to the neck (1); shares of half the width or depth."""

    facial: Points
    lingual: Points
    corner_mesial: Points
    """Half-width between the edge (0) and the contact (1)."""
    corner_distal: Points
    neck: float
    """Width at the neck over the greatest width."""
    power: tuple[float, float, float]
    """Squareness of the section at the edge, at mid-crown and at the neck."""
    taper: tuple[float, float, float]
    """How much narrower the lingual side is, at the same places."""
    cusps: Points = ()
    """Cusps by (distal, facial) shares of half the width and depth; the first is the facial one at level 0."""
    cusp_levels: tuple[float, ...] = ()
    """Level of each cusp tip, mm."""
    fossa: float = 0.0
    """Depth of the lingual fossa, share of the radius."""
    lobes: float = 0.0
    """Depth of the facial grooves, share of the radius."""

    def profiles(self, w: Floats, shape: ToothShape) -> dict[str, Floats]:
        """The four half-extents, the squareness and the taper at the levels ``w``."""
        crown, half, deep = shape.crown, shape.width / 2, shape.depth / 2
        x = np.clip((w - crown) / shape.root, 0, 1)
        # Nearly straight walls, rounded at the apex.
        apex = np.sqrt(np.clip(1 - x**7, 0, None)) + 1e-4
        root, narrower = (1 - 0.62 * x**1.25) * apex, (1 - 0.64 * x**0.95) * apex
        out = {}
        for name, corner, contact in (
            ("mesial", self.corner_mesial, shape.contact_mesial),
            ("distal", self.corner_distal, shape.contact_distal),
        ):
            at = [level * contact for level, _ in corner]
            size = [share for _, share in corner]
            rest = crown - contact
            at += [contact + 0.35 * rest, contact + 0.75 * rest, crown]
            size += [1 - 0.36 * (1 - self.neck), 1 - 0.84 * (1 - self.neck), self.neck]
            out[name] = half * _smooth(w, at, size, crown) * narrower
        for name, outline in (("facial", self.facial), ("lingual", self.lingual)):
            out[name] = (
                deep * _smooth(w, [level * crown for level, _ in outline], [s for _, s in outline], crown) * root
            )
        # The apex leans distally, as most do.
        lean = 0.05 * shape.root * x**2
        out["mesial"], out["distal"] = out["mesial"] - lean, out["distal"] + lean
        t = np.clip(w / crown, 0, 1)
        out["power"] = np.interp(t, [0, 0.5, 1], self.power) + (2.1 - self.power[2]) * np.clip(x * 4, 0, 1)
        out["taper"] = np.interp(t, [0, 0.5, 1], self.taper)
        return {name: _rounded(values) if name in ("power", "taper") else values for name, values in out.items()}

    def relief(self, phi: Floats, w: Floats, shape: ToothShape) -> Floats:
        """What the facial grooves and the lingual fossa take from the radius."""
        phi, w = np.broadcast_arrays(phi, w)
        out = np.zeros(phi.shape)
        if not self.fossa and not self.lobes:
            return out
        crown = w < 1.25 * shape.crown  # nothing is left of them on the root
        angle, t = phi[crown], w[crown] / shape.crown
        taken = np.zeros(angle.shape)
        if self.fossa:
            away = (_turned(angle, -np.pi / 2) / 0.62) ** 2
            taken += self.fossa * np.exp(-away * away - ((t - 0.42) / 0.24) ** 2)
        if self.lobes:
            for side in (-1, 1):
                away = (_turned(angle, np.pi / 2 + side * 0.42) / 0.2) ** 2
                taken += self.lobes * np.exp(-away - ((t - 0.3) / 0.26) ** 2)
        out[crown] = -taken
        return out

    def occlusal(self, u: Floats, v: Floats, shape: ToothShape) -> Floats:
        """Level of the occlusal surface over (u, v); 0 where the edge is a line."""
        if not self.cusps:
            return np.zeros(np.broadcast(u, v).shape)
        parts = []
        for (du, dv), level in zip(self.cusps, self.cusp_levels, strict=True):
            away2 = (u - du * shape.width / 2) ** 2 + (v - dv * shape.depth / 2) ** 2
            parts.append(level + 0.62 * (np.sqrt(away2 + 0.25) - 0.5))
        # Soft minimum, shifted so that the first cusp stays at its level.
        low = parts[0]
        for part in parts[1:]:
            low = np.minimum(low, part)
        soft = 0.16
        total = np.zeros(low.shape)
        for part in parts:
            total += np.exp((low - part) / soft)
        return np.asarray(low - soft * np.log(total), dtype=np.float64)


def _turned(angle: Floats, zero: float) -> Floats:
    """The angle from ``zero``, between -pi and pi."""
    away = angle - zero
    return np.asarray(away - 2 * np.pi * np.rint(away / (2 * np.pi)))


def _smooth(w: Floats, at: list[float], size: list[float], crown: float) -> Floats:
    """Monotone cubic through the points, constant apical to the neck and coronal to the edge."""
    curve = PchipInterpolator(np.array(at), np.array(size), extrapolate=False)
    return np.asarray(curve(np.clip(w, at[0], crown)), dtype=np.float64)


def _rounded(values: Floats) -> Floats:
    """A table with its corners taken off (moving mean of a twentieth)."""
    n = len(values) // 20
    kernel = np.ones(n) / n
    padded = np.pad(values, n, mode="edge")
    return np.asarray(np.convolve(np.convolve(padded, kernel, "same"), kernel, "same")[n:-n], dtype=np.float64)


_UPPER_INCISOR = Form(
    facial=((0, 0.16), (0.04, 0.25), (0.15, 0.43), (0.35, 0.67), (0.55, 0.84), (0.75, 0.96), (0.88, 1.0), (1.0, 0.93)),
    lingual=((0, 0.02), (0.04, 0.07), (0.15, 0.16), (0.35, 0.36), (0.5, 0.56), (0.68, 0.86), (0.82, 1.0), (0.9, 1.0), (1.0, 0.92)),
    corner_mesial=((0, 0.86), (0.1, 0.925), (0.25, 0.965), (0.6, 0.99), (1, 1)),
    corner_distal=((0, 0.66), (0.08, 0.78), (0.2, 0.87), (0.5, 0.96), (1, 1)),
    neck=0.80,
    power=(3.4, 2.7, 2.2),
    taper=(0.08, 0.20, 0.20),
    fossa=0.16,
    lobes=0.012,
)  # fmt: skip
_LOWER_INCISOR = Form(
    facial=((0, 0.12), (0.05, 0.2), (0.3, 0.5), (0.6, 0.78), (0.85, 0.98), (1.0, 0.95)),
    lingual=((0, 0.06), (0.05, 0.14), (0.3, 0.34), (0.55, 0.6), (0.8, 0.96), (0.92, 1.0), (1.0, 0.96)),
    corner_mesial=((0, 0.86), (0.15, 0.94), (0.5, 0.985), (1, 1)),
    corner_distal=((0, 0.82), (0.15, 0.92), (0.5, 0.98), (1, 1)),
    neck=0.72,
    power=(3.2, 2.5, 2.1),
    taper=(0.05, 0.12, 0.10),
    fossa=0.05,
)
_CANINE = Form(
    facial=((0, 0.28), (0.06, 0.40), (0.2, 0.57), (0.4, 0.78), (0.6, 0.93), (0.8, 1.0), (1.0, 0.93)),
    lingual=((0, -0.10), (0.06, 0.04), (0.2, 0.25), (0.4, 0.48), (0.6, 0.78), (0.8, 1.0), (0.9, 1.0), (1.0, 0.94)),
    corner_mesial=((0, 0.10), (0.12, 0.30), (0.35, 0.64), (0.6, 0.88), (0.8, 0.97), (1, 1)),
    corner_distal=((0, 0.10), (0.12, 0.27), (0.35, 0.58), (0.6, 0.83), (0.8, 0.95), (1, 1)),
    neck=0.76,
    power=(2.1, 2.3, 2.15),
    taper=(0.05, 0.24, 0.24),
    fossa=0.06,
    lobes=0.010,
)
_PREMOLAR = Form(
    facial=((0, 0.72), (0.12, 0.80), (0.35, 0.93), (0.6, 1.0), (0.8, 0.97), (1.0, 0.90)),
    lingual=((0, 0.62), (0.15, 0.76), (0.35, 0.92), (0.55, 1.0), (0.8, 0.97), (1.0, 0.90)),
    corner_mesial=((0, 0.72), (0.35, 0.88), (0.7, 0.98), (1, 1)),
    corner_distal=((0, 0.70), (0.35, 0.87), (0.7, 0.98), (1, 1)),
    neck=0.74,
    power=(2.4, 2.5, 2.3),
    taper=(0.08, 0.10, 0.06),
    cusps=((0.0, 0.52), (0.0, -0.50)),
    cusp_levels=(0.0, 0.7),
)
_UPPER_MOLAR = Form(
    facial=((0, 0.74), (0.15, 0.84), (0.4, 0.96), (0.65, 1.0), (0.85, 0.97), (1.0, 0.93)),
    lingual=((0, 0.66), (0.2, 0.82), (0.45, 0.98), (0.6, 1.0), (0.85, 0.96), (1.0, 0.91)),
    corner_mesial=((0, 0.80), (0.35, 0.92), (0.7, 0.985), (1, 1)),
    corner_distal=((0, 0.78), (0.35, 0.90), (0.7, 0.98), (1, 1)),
    neck=0.80,
    power=(2.9, 3.0, 2.7),
    taper=(0.04, 0.04, 0.02),
    cusps=((-0.42, 0.52), (0.45, 0.50), (-0.40, -0.50), (0.50, -0.50)),
    cusp_levels=(0.0, 0.15, 0.1, 0.6),
)
FORMS: dict[tuple[bool, int], Form] = {
    **{(True, position): _UPPER_INCISOR for position in (1, 2)},
    **{(False, position): _LOWER_INCISOR for position in (1, 2)},
    **{(upper, 3): _CANINE for upper in (True, False)},
    **{(upper, position): _PREMOLAR for upper in (True, False) for position in (4, 5)},
    **{(upper, position): _UPPER_MOLAR for upper in (True, False) for position in (6, 7)},
}
"""The form by jaw (upper is True) and position."""


@dataclass(frozen=True)
class ToothShape:
    """What a tooth is made from, mm."""

    position: int
    """1 at the midline to 7."""
    upper: bool
    width: float
    """Greatest mesiodistal extent of the section, before contact facets."""
    depth: float
    """Greatest faciolingual extent."""
    crown: float
    """Edge to CEJ, midfacially, unworn."""
    root: float
    """CEJ to apex."""
    contact_mesial: float
    """Level of the greatest width on the mesial side."""
    contact_distal: float
    cej_rise_mesial: float
    """How much more coronal the CEJ is there than midfacially."""
    cej_rise_distal: float
    worn: float = 0.0
    """Height lost from the edge."""

    @property
    def form(self) -> Form:
        """The form of the class of this tooth."""
        return FORMS[self.upper, self.position]

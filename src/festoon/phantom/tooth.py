"""One tooth as a smooth body: sections across its axis, each star-shaped, and an occlusal surface that caps them.

Local frame of a tooth, mm: ``u`` distal, ``v`` facial, ``w`` apical; w = 0 is the unworn edge or facial cusp tip. A section at
level w has the half-axes ``a``, ``b`` and the centre (``u0``, ``v0``); in stretched polar coordinates (q, phi) round it the
surface is q = kappa(phi, w). phi = 0 looks distally, pi/2 facially. Points, normals, offsets and distances all come from
that one definition, so that every solid and every true value does.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from festoon.phantom.forms import ToothShape

Floats = NDArray[np.float64]

_NODES = 1600
_NECK_LEDGE = 0.012
"""Enamel stands out at the neck by this share of the radius: a modelling choice, about 0.04 mm."""

_OPENING, _SOFT = 0.1, 0.2
"""Apical to its contact a tooth draws back from its neighbour by at least this slope, from this length on (mm): a modelling
choice, a sixth of what outlines of teeth do by themselves where they stand upright."""
_ROOT_BACK, _BENDS = 0.3, 3.0
"""A root that would come nearer than this to the wall between it and its neighbour bends away from there over this length, mm, and is
flat where that does not do: so roots stand 0.6 mm apart and bone has room between them (modelling choices)."""


@dataclass(frozen=True)
class Facet:
    """A flat contact: the body stays where ``normal . p <= offset`` (local frame)."""

    normal: Floats
    offset: float
    end: float = float("inf")
    """Local level at which the contact ends and the embrasure opens."""

    def room(self, w: Floats, free: Floats) -> Floats:
        """The offset at a level: apical to the contact the wall draws back by a tenth, softly, and is given back ``free`` near the neck.

        A root keeps its distance from a wall with a neighbour behind it.
        """
        if not np.isfinite(self.end):
            return self.offset + free
        below = np.clip(w - self.end, 0, None)
        back = _OPENING * (np.sqrt(below * below + _SOFT**2) - _SOFT)
        return self.offset - np.maximum(back - free, np.minimum(back, _ROOT_BACK))


@dataclass(frozen=True)
class ToothBody:
    """The geometry of one tooth in its local frame."""

    shape: ToothShape
    facets: tuple[Facet, ...] = field(default=())

    @cached_property
    def end(self) -> float:
        """Level of the apex."""
        return self.shape.crown + self.shape.root

    @cached_property
    def _levels(self) -> Floats:
        return np.linspace(-1.0, self.end, _NODES)

    @cached_property
    def _table(self) -> Floats:
        """By level: a, b, u0, v0, squareness, taper."""
        made = self.shape.form.profiles(self._levels, self.shape)
        mesial, distal, facial, lingual = made["mesial"], made["distal"], made["facial"], made["lingual"]
        section = [(mesial + distal) / 2, (facial + lingual) / 2, (distal - mesial) / 2, (facial - lingual) / 2]
        for facet in self.facets:
            away = self._bent(facet, *section)
            section[2], section[3] = section[2] + away[0], section[3] + away[1]
        return np.stack([*section, made["power"], made["taper"]])

    def _bent(self, facet: Facet, a: Floats, b: Floats, u0: Floats, v0: Floats) -> Floats:
        """How far the middle of a root is moved, by level, so that the root bends away from a wall that it would cross, shape (2, N)."""
        w, n = self._levels, facet.normal
        reach = n[0] * u0 + n[1] * v0 + n[2] * w + np.hypot(n[0] * a, n[1] * b)
        over = np.clip(reach - facet.room(w, self._free(w)), 0, None)
        over *= np.clip((w - self.shape.crown) / _BENDS, 0, 1)
        over = ndimage.gaussian_filter1d(over, _BENDS / 3 / (w[1] - w[0]), mode="nearest")
        return np.asarray(-over * n[:2, None] / (n[0] ** 2 + n[1] ** 2))

    def _free(self, w: Floats) -> Floats:
        """What a crown's wall gives back near the neck, so that a leaning root is hardly cut."""
        return np.asarray(0.25 * np.clip(w - 0.75 * self.shape.crown, 0, None) ** 2)

    def _at(self, w: Floats, rows: slice = slice(None)) -> list[Floats]:
        """Rows of the table at the levels ``w``, linear between its nodes (0.02 mm apart)."""
        at = np.clip((w + 1.0) * ((_NODES - 1) / (self.end + 1.0)), 0, _NODES - 1.001)
        i = at.astype(np.int64)
        share = at - i
        rest = 1 - share
        return [row.take(i) * rest + row.take(i + 1) * share for row in self._table[rows]]

    def section(self, w: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """Half-axes a, b and centre u0, v0 of the section at level ``w``."""
        a, b, u0, v0 = self._at(w, slice(0, 4))
        return a, b, u0, v0

    def half_width(self, w: Floats, side: str) -> Floats:
        """Mesial or distal half-width of the section at level ``w``."""
        a, _, u0, _ = self.section(w)
        return a + u0 if side == "distal" else a - u0

    def cej(self, phi: Floats) -> Floats:
        """Level of the cemento-enamel junction at the stretched angle ``phi``."""
        return self._cej(np.cos(phi), np.sin(phi))

    def _cej(self, cos: Floats, sin: Floats) -> Floats:
        shape = self.shape
        rise = np.where(cos > 0, shape.cej_rise_distal, shape.cej_rise_mesial)
        # The square gives the facial and the lingual arc; lingually the line lies a little more coronal.
        lingual = np.clip(-sin, 0, None) ** 2
        return np.asarray(shape.crown - rise * np.abs(cos) ** 2.2 - 0.3 * lingual, dtype=np.float64)

    def _kappa(self, phi: Floats, cos: Floats, sin: Floats, w: Floats, table: list[Floats]) -> Floats:
        """The surface in stretched polar coordinates, of angles with their cosine and sine, given the table at ``w``."""
        a, b, u0, v0, p, taper = table
        across = np.abs(cos) / (1 + taper * sin)
        kappa = (across**p + np.abs(sin) ** p) ** (-1 / p)
        # The enamel ends in a low ledge at the neck.
        ledge = _NECK_LEDGE / (1 + np.exp((w - self._cej(cos, sin)) / 0.12))
        kappa = kappa + self.shape.form.relief(phi, w, self.shape) + ledge
        free = self._free(w)  # contacts are flat
        for facet in self.facets:
            n = facet.normal
            along = n[0] * a * cos + n[1] * b * sin
            room = facet.room(w, free) - n[0] * u0 - n[1] * v0 - n[2] * w
            limit = np.where(along > 1e-9, room / np.maximum(along, 1e-9), np.inf)
            kappa = np.minimum(kappa, np.maximum(limit, 1e-3))
        return np.asarray(kappa, dtype=np.float64)

    def surface(self, phi: Floats, w: Floats) -> Floats:
        """Points of the lateral surface, shape (..., 3)."""
        cos, sin = np.cos(phi), np.sin(phi)  # before broadcasting: most callers give one angle to many levels
        phi, w, cos, sin = np.broadcast_arrays(phi, w, cos, sin)
        table = self._at(w)
        a, b, u0, v0 = table[:4]
        q = self._kappa(phi, cos, sin, w, table)
        return np.stack([u0 + q * a * cos, v0 + q * b * sin, w], axis=-1)

    def normals(self, phi: Floats, w: Floats, step: float = 2e-3) -> Floats:
        """Outward unit normals of the lateral surface, shape (..., 3)."""
        round_ = self.surface(phi + step, w) - self.surface(phi - step, w)
        down = self.surface(phi, w + step) - self.surface(phi, w - step)
        n = np.cross(round_, down)
        return np.asarray(n / np.maximum(np.linalg.norm(n, axis=-1, keepdims=True), 1e-12), dtype=np.float64)

    def spokes(self, phi: Floats, w: Floats) -> Floats:
        """Unit directions from the middle of the section to its surface, shape (..., 3).

        A surface moved along its spokes stays star-shaped and cannot cross itself, as one moved along its normals can.
        """
        a, b, _, _ = self.section(w)
        along = np.stack([a * np.cos(phi), b * np.sin(phi), np.zeros(np.broadcast(phi, w).shape)], axis=-1)
        return np.asarray(along / np.linalg.norm(along, axis=-1, keepdims=True))

    def cap(self, u: Floats, v: Floats) -> Floats:
        """Level of the incisal or occlusal surface over (u, v): the tooth lies apical to it."""
        level = self.shape.form.occlusal(u, v, self.shape)
        if self.shape.worn > 0:
            # The facet slopes: the upper tooth loses more lingually, the lower more facially (a modelling choice).
            away = (0.15 * self.shape.depth - v) if self.shape.upper else (v + 0.15 * self.shape.depth)
            level = np.maximum(level, self.shape.worn + 0.25 * np.clip(away, 0, None))
        return np.asarray(level, dtype=np.float64)

    def rim(self, phi: Floats) -> Floats:
        """Level at which the lateral surface meets the cap, for each angle."""
        if not self.shape.form.cusps and self.shape.worn <= 0:
            return np.zeros_like(phi)  # the cap is flat
        low = np.full_like(phi, -0.5)
        high = np.full_like(phi, 0.75 * self.shape.crown)
        for _ in range(32):
            mid = (low + high) / 2
            p = self.surface(phi, mid)
            inside = mid > self.cap(p[..., 0], p[..., 1])
            high, low = np.where(inside, mid, high), np.where(inside, low, mid)
        return high

    def polar(self, points: Floats) -> tuple[Floats, Floats, Floats]:
        """Signed distance to the lateral surface (first order), stretched angle and level of points, shape (N, 3)."""
        w = points[:, 2]
        held = np.clip(w, -0.9, self.end - 0.02)
        table = self._at(held)
        a, b, u0, v0 = table[:4]
        x, y = (points[:, 0] - u0) / a, (points[:, 1] - v0) / b
        q = np.sqrt(x * x + y * y)
        some = np.maximum(q, 1e-9)
        phi = np.arctan2(y, x)
        cos, sin = np.where(q > 0, x / some, 1.0), y / some
        steep = np.sqrt((x / a) ** 2 + (y / b) ** 2) / some
        d = (q - self._kappa(phi, cos, sin, held, table)) / np.maximum(steep, 1e-9)
        beyond = w - held
        deep = beyond > 0
        if deep.any():
            d[deep] = np.hypot(np.maximum(d[deep], 0), beyond[deep]) + np.minimum(d[deep], 0)
        return d, phi, w

    def above_cap(self, points: Floats) -> Floats:
        """Signed distance (first order) to the incisal or occlusal surface, positive coronal to it, shape (N,)."""
        u, v = points[:, 0], points[:, 1]
        step = 0.02
        level = self.cap(u, v)
        if not self.shape.form.cusps and self.shape.worn <= 0:
            return np.asarray(level - points[:, 2])  # the cap is flat
        steep = np.hypot((self.cap(u + step, v) - level) / step, (self.cap(u, v + step) - level) / step)
        return np.asarray((level - points[:, 2]) / np.hypot(1, steep))

    def distance(self, points: Floats) -> Floats:
        """Signed distance to the whole tooth (first order), negative inside, shape (N,)."""
        return np.maximum(self.polar(points)[0], self.above_cap(points))

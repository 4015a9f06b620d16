"""Teeth on the arch: where each stands, how it is turned, and the flat contacts between neighbours."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from festoon.model.dentition import Tooth
from festoon.phantom import shells
from festoon.phantom.axes import FacialFrame, Lines, facial_frame
from festoon.phantom.mouth import Mouth, ToothPlan
from festoon.phantom.tooth import Facet, ToothBody, ToothShape

Floats = NDArray[np.float64]

CONTACT_GAP = 0.02
"""Left between two teeth in contact, mm, so that every tooth stays a body of its own."""
CONTACT_WITHIN = 0.05
"""Teeth nearer than this touch: the definition behind ``contact_level`` here."""


@dataclass(frozen=True)
class Placed:
    """A tooth in its place. Jaw coordinates: x to the patient's left, y posterior, h apical."""

    plan: ToothPlan
    body: ToothBody
    matrix: Floats
    """Rows: the local directions distal, facial, apical in jaw coordinates."""
    origin: Floats
    outward: Floats | None = None
    """Horizontal, square to the line through the neighbours' crowns, jaw coordinates."""

    @property
    def tooth(self) -> Tooth:
        """Which tooth."""
        return self.plan.tooth

    def to_jaw(self, points: Floats) -> Floats:
        """Local to jaw coordinates."""
        return np.asarray(self.origin + points @ self.matrix)

    def to_local(self, points: Floats) -> Floats:
        """Jaw to local coordinates."""
        return np.asarray((points - self.origin) @ self.matrix.T)

    @cached_property
    def lines(self) -> Lines:
        """Dense lines of the surface, local."""
        return Lines(self.body)

    @cached_property
    def local_frame(self) -> FacialFrame:
        """The facial frame in local coordinates."""
        vertical = self.matrix[:, 2] if self.tooth.position >= 4 else None
        outward = None if self.outward is None else self.matrix @ self.outward
        return facial_frame(self.lines, vertical, outward)

    @cached_property
    def frame(self) -> FacialFrame:
        """The facial frame in jaw coordinates."""
        return self.local_frame.placed(self.matrix, self.origin)


class ArchCurve:
    """The line of the arch: y = depth (|x| / half)^3.6, symmetric, by signed arc length from the midline."""

    def __init__(self, perimeter: float) -> None:
        # Fitted to a half of 52 mm from memory: 29 mm half-width and 45 mm depth at the second molar, 17.5 and 7 at the canine.
        scale = perimeter / 57.0
        x = np.linspace(0, 31.5 * scale, 4000)
        y = 45 * scale * (x / (29 * scale)) ** 3.6
        s = np.concatenate([[0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
        self._x, self._y, self._s = x, y, s
        self.length = float(s[-1])

    def point(self, s: float) -> Floats:
        """Point (x, y) at arc length ``s``."""
        side = np.sign(s)
        return np.array([side * np.interp(abs(s), self._s, self._x), np.interp(abs(s), self._s, self._y)])

    def tangent(self, s: float) -> Floats:
        """Unit direction of growing ``s``."""
        d = self.point(s + 0.05) - self.point(s - 0.05)
        return np.asarray(d / np.linalg.norm(d))

    def outline(self, back: float) -> Floats:
        """The whole curve as a polyline (N, 2), patient's right first, ending ``back`` mm behind its last point."""
        x = np.concatenate([-self._x[::-1][:-1], self._x])
        y = np.concatenate([self._y[::-1][:-1], self._y])
        extra = np.linspace(0, back, 200)[1:]
        right = np.stack([np.full(199, x[0]), y[0] + extra[::-1]], 1)
        left = np.stack([np.full(199, x[-1]), y[-1] + extra], 1)
        return np.vstack([right, np.stack([x, y], 1), left])


@dataclass(frozen=True)
class Arch:
    """The placed teeth of a mouth."""

    mouth: Mouth
    curve: ArchCurve
    teeth: tuple[Placed, ...]
    tip_heights: dict[str, float]
    """Height wanted of each papilla tip."""
    gaps: tuple[Floats, ...]
    """Places (x, y, height of the ridge) where a tooth is missing."""

    def of(self, tooth: Tooth) -> Placed:
        """The placed tooth."""
        return next(placed for placed in self.teeth if placed.tooth == tooth)


def build_arch(mouth: Mouth) -> Arch:
    """Place the teeth of a mouth and cut their contacts."""
    tips = _tip_heights(mouth)
    bodies = {plan.tooth.fdi: _body(mouth, plan, tips) for plan in mouth.teeth}
    slots = {plan.tooth.fdi: plan.width for plan in mouth.teeth}
    half = max(sum(slots[p.tooth.fdi] for p in mouth.teeth if p.tooth.is_right == right) for right in (True, False))
    missing = sum(7.0 for tooth in mouth.missing) / 2
    front = sum(7.6 for position in range(max(p.tooth.position for p in mouth.teeth) + 1, 8))
    curve = ArchCurve(half + missing + front)
    placed: dict[str, Placed] = {}
    gaps: list[Floats] = []
    for right in (True, False):
        side = sorted(
            (plan for plan in mouth.teeth if plan.tooth.is_right == right), key=lambda plan: plan.tooth.position
        )
        sign = -1.0 if right else 1.0
        wall: tuple[Floats, float] | None = None
        position = 0
        s = 0.0
        for plan in side:
            while plan.tooth.position > position + 1:  # a tooth is missing here
                position += 1
                width = 7.5
                centre = curve.point(sign * (s + width / 2))
                gaps.append(np.array([*centre, 0.0]))
                s += width
                wall = None
            position = plan.tooth.position
            body, drops = bodies[plan.tooth.fdi]
            one, wall, s = _stand(curve, plan, body, drops, sign, wall, s, mouth)
            placed[plan.tooth.fdi] = one
    teeth = _square_to_the_arch([placed[plan.tooth.fdi] for plan in mouth.teeth])
    ridge = float(np.mean([plan.edge_height + plan.length for plan in mouth.teeth if plan.tooth.position <= 5]))
    return Arch(mouth, curve, teeth, tips, tuple(np.array([gap[0], gap[1], ridge]) for gap in gaps))


def _square_to_the_arch(teeth: list[Placed]) -> tuple[Placed, ...]:
    """The teeth, each knowing what is square to the line through the middles of its neighbours' enamel caps."""
    centres = []
    for placed in teeth:
        cap = shells.enamel(placed.body)
        a, b, c = (cap.vertices[cap.faces[:, k]] for k in range(3))
        volume = np.einsum("ij,ij->i", a, np.cross(b, c))
        centres.append(placed.to_jaw(((a + b + c) * volume[:, None]).sum(axis=0) / (4 * volume.sum())))
    out = []
    for i, placed in enumerate(teeth):
        along = centres[min(i + 1, len(teeth) - 1)] - centres[max(i - 1, 0)]
        outward = np.array([along[1], -along[0], 0.0])  # as seen: the patient's right first
        out.append(replace(placed, outward=outward / np.linalg.norm(outward)))
    return tuple(out)


def _tip_heights(mouth: Mouth) -> dict[str, float]:
    """Height of each papilla tip: what its two teeth ask for, in the middle."""
    heights = {}
    for pair in mouth.pairs:
        asked = []
        for tooth in (pair.right, pair.left):
            plan = mouth.plan(tooth)
            papilla = plan.papilla_mesial if pair.site_of(tooth).value == "mesial" else plan.papilla_distal
            asked.append(plan.edge_height + plan.length - papilla)
        low = max(mouth.plan(t).edge_height for t in (pair.right, pair.left)) + 1.6
        # An open space lets the papilla sink: 0.5 mm for every mm of space (a modelling choice).
        heights[str(pair)] = max(float(np.mean(asked)), low) + 0.5 * mouth.spaces.get(str(pair), 0.0)
    return heights


def _body(mouth: Mouth, plan: ToothPlan, tips: dict[str, float]) -> tuple[ToothBody, tuple[float, float]]:
    """The body of a tooth, and how much each contact facet takes from its sides (mesial, distal)."""
    ends = {"mesial": 0.0, "distal": 0.0}
    heights = {"mesial": 2.0, "distal": 1.5}
    for pair in mouth.pairs:
        if plan.tooth in (pair.right, pair.left):
            side = pair.site_of(plan.tooth).value
            ends[side] = max(1.5, tips[str(pair)] - plan.edge_height + plan.worn - 0.25)
            heights[side] = mouth.contact_height[str(pair)]
    unworn = plan.length + plan.worn
    for side in ends:
        ends[side] = min(ends[side] or 0.55 * unworn, 0.78 * plan.cej)
        heights[side] = min(heights[side], 0.55 * ends[side])
    shape = ToothShape(
        position=plan.tooth.position,
        upper=mouth.upper,
        width=plan.width,
        depth=plan.depth,
        crown=plan.cej,
        root=plan.root,
        contact_mesial=max(0.8, ends["mesial"] - heights["mesial"] / 2),
        contact_distal=max(0.8, ends["distal"] - heights["distal"] / 2),
        cej_rise_mesial=plan.cej_rise,
        cej_rise_distal=0.8 * plan.cej_rise,
    )
    # The crown is measured along the facial long axis, which leans against the root's: correct the local length for it.
    body = ToothBody(shape)
    lines = Lines(body, 360, 120)
    frame = facial_frame(lines, steps=3)
    neck = frame.coordinates(body.surface(np.array([np.pi / 2]), np.array([shape.crown])))[0, 2]
    shape = replace(shape, crown=shape.crown * plan.cej / float(neck), worn=plan.worn)
    body = ToothBody(shape)
    drops = []
    for side in ("mesial", "distal"):
        level = np.array([ends[side], getattr(shape, f"contact_{side}")])
        sizes = body.half_width(level, side)
        drops.append(float(np.clip(sizes[1] - sizes[0], 0.05, 0.25)))
    # A tapered, squarish section is a little wider than its half-axes say.
    # The facets lie oblique to the width, so they take less from it than from the side (measured: a third).
    wider = (plan.width + 0.35 * (drops[0] + drops[1])) / frame.width
    return ToothBody(replace(shape, width=shape.width * wider)), (drops[0], drops[1])


def _directions(plan: ToothPlan, distal: Floats, facial: Floats, lean: float, tilt: float) -> Floats:
    """Rows distal, facial, apical for the wanted inclination of the facial long axis, whose local lean and tilt are given."""
    torque, tip = np.radians(plan.torque_deg) + lean, np.radians(plan.tip_deg) - tilt
    up = np.array([0.0, 0.0, 1.0])
    d, f = np.array([*distal, 0.0]), np.array([*facial, 0.0])
    a = np.cos(torque) * up - np.sin(torque) * f
    f = np.cos(torque) * f + np.sin(torque) * up
    d, a = np.cos(tip) * d - np.sin(tip) * a, np.cos(tip) * a + np.sin(tip) * d
    turn = np.radians(plan.turned_deg)
    # Turned with the mesial edge to the facial: the distal direction swings to the lingual.
    d, f = np.cos(turn) * d - np.sin(turn) * f, np.cos(turn) * f + np.sin(turn) * d
    return np.stack([d, f, a])


def _stand(
    curve: ArchCurve,
    plan: ToothPlan,
    body: ToothBody,
    drops: tuple[float, float],
    sign: float,
    wall: tuple[Floats, float] | None,
    s: float,
    mouth: Mouth,
) -> tuple[Placed, tuple[Floats, float], float]:
    """Stand a tooth against the wall left by its mesial neighbour; return it, its own distal wall and the next start.

    A wall is a plane (normal pointing distally, offset): what lies mesial of it belongs to the neighbour.
    """
    lines = Lines(body, 180, 90)
    frame = facial_frame(lines, steps=3)
    lean, tilt = float(np.arctan2(frame.axis[1], frame.axis[2])), float(np.arctan2(frame.axis[0], frame.axis[2]))
    cloud = np.concatenate([lines.points[lines.levels < 0.6 * body.shape.crown], lines.cap])
    at = s + plan.width / 2
    in_front = 0.6 * (0.5 * plan.depth - 3.2)  # between one line of facial surfaces and one line of contacts
    first = plan.tooth.position == 1
    if wall is None:
        normal = np.array([sign, 0.0, 0.0]) if first else np.array([*(curve.tangent(sign * s) * sign), 0.0])
        space = mouth.spaces.get("11-21" if mouth.upper else "41-31", 0.0) if first else 0.0
        start = np.array([0.0, 0.0]) if first else curve.point(sign * s)
        wall = (normal, float(normal[:2] @ start) + space / 2)
    for _ in range(12):
        tangent = curve.tangent(sign * at) * sign
        facial = np.array([tangent[1], -tangent[0]]) * sign
        matrix = _directions(plan, tangent, facial, lean, tilt)
        place = curve.point(sign * at) - (in_front + plan.set_back) * facial
        origin = np.array([*place, 0.0])
        origin[2] = plan.edge_height - (frame.edge @ matrix)[2]
        jaw = origin + cloud @ matrix
        reach = float((jaw @ wall[0]).min())
        wanted = wall[1] + CONTACT_GAP / 2 - drops[0]
        if mouth.spaces and first:
            wanted = wall[1]
        step = wanted - reach
        at += step / max(0.5, float(tangent @ wall[0][:2]))
        if abs(step) < 1e-6:
            break
    # The wall runs along the tooth's axis, as the contacts of leaning teeth do.
    distal = np.array([*(curve.tangent(sign * (at + plan.width / 2)) * sign), 0.0])
    distal -= (distal @ matrix[2]) * matrix[2]
    distal /= np.linalg.norm(distal)
    own = (distal, float((jaw @ distal).max()) - drops[1] + CONTACT_GAP / 2)
    facets = []
    for plane, (normal, offset) in (("mesial", wall), ("distal", own)):
        inward = -1.0 if plane == "mesial" else 1.0
        n = normal * inward
        limit = offset * inward - CONTACT_GAP / 2
        facets.append(Facet(matrix @ n, float(limit - n @ origin)))
    placed = Placed(plan, ToothBody(body.shape, tuple(facets)), matrix, origin)
    return placed, own, at + plan.width / 2

"""Teeth on the arch: where each stands, how it is turned, and the flat contacts between neighbours."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from festoon.kernels.tooth_frame import ToothFrame
from festoon.model.dentition import Site, Tooth
from festoon.phantom import shells
from festoon.phantom.axes import Lines, facial_frame
from festoon.phantom.forms import ToothShape
from festoon.phantom.mouth import Mouth, ToothPlan
from festoon.phantom.tooth import Facet, ToothBody

Floats = NDArray[np.float64]

CONTACT_GAP = 0.02
"""Left between two teeth in contact, mm, so that every tooth stays a body of its own."""
_DROP = (0.05, 0.4)
"""A contact facet takes at least and at most this from the side of a crown, mm (a modelling choice)."""
_UNDER_TIP = 0.35
"""A contact ends this far coronal to the papilla tip, mm (a modelling choice)."""
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
    def local_frame(self) -> ToothFrame:
        """The facial frame in local coordinates."""
        vertical = self.matrix[:, 2] if self.tooth.position >= 4 else None
        outward = None if self.outward is None else self.matrix @ self.outward
        return facial_frame(self.lines, vertical, outward)

    @cached_property
    def frame(self) -> ToothFrame:
        """The facial frame in jaw coordinates."""
        return self.local_frame.moved(self.matrix.T, self.origin)


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
    standing = {}
    for plan in mouth.teeth:
        ends = _contact_ends(mouth, plan, tips)
        standing[plan.tooth.fdi] = _Standing(plan, _body(mouth, plan, ends), ends)
    half = max(sum(p.width for p in mouth.teeth if p.tooth.is_right == right) for right in (True, False))
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
        space = mouth.spaces.get("11-21" if mouth.upper else "41-31", 0.0)
        wall = (np.array([sign, 0.0, 0.0]), space / 2)
        position = 0
        s = 0.0
        for plan, following in zip(side, [*side[1:], None], strict=True):
            while plan.tooth.position > position + 1:  # a tooth is missing here
                position += 1
                width = 7.5
                centre = curve.point(sign * (s + width / 2))
                gaps.append(np.array([*centre, 0.0]))
                s += width
                normal = np.array([*(curve.tangent(sign * s) * sign), 0.0])
                wall = (normal, float(normal[:2] @ curve.point(sign * s)))
            position = plan.tooth.position
            code = plan.tooth.fdi
            after = standing[following.tooth.fdi] if following and following.tooth.position == position + 1 else None
            placed[code], wall, s = _stand(curve, standing[code], after, sign, wall, s)
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
    """Height of each papilla tip: what the tooth asks for whose mesial papilla it is; between the centrals both, in the middle."""
    heights = {}
    for pair in mouth.pairs:
        asked = [_mesial_tip(mouth.plan(t)) for t in (pair.right, pair.left) if pair.site_of(t) is Site.MESIAL]
        two = [mouth.plan(t) for t in (pair.right, pair.left)]
        low = max(plan.edge_height for plan in two) + 1.6
        # A papilla stands coronal to both margins beside it (a modelling choice: by 1.2 mm at least).
        high = min(plan.edge_height + plan.length for plan in two) - 1.2
        # An open space lets the papilla sink: 0.5 mm for every mm of space (a modelling choice).
        heights[str(pair)] = max(min(float(np.mean(asked)), high), low) + 0.5 * mouth.spaces.get(str(pair), 0.0)
    return heights


_BEHIND = 2.0
"""How far a papilla tip lies lingually of the plane through the edge point, mm (measured on finished phantoms)."""


def _mesial_tip(plan: ToothPlan) -> float:
    """Height of the mesial papilla tip that a tooth asks for: its level is measured along an axis that leans."""
    tip, torque = np.radians(plan.tip_deg), np.radians(plan.torque_deg)
    level = plan.length - plan.papilla
    leaning = plan.width / 2 * np.sin(tip) - _BEHIND * np.sin(torque)
    return plan.edge_height + level * float(np.cos(tip) * np.cos(torque)) + float(leaning)


def _contact_ends(mouth: Mouth, plan: ToothPlan, tips: dict[str, float]) -> dict[str, float]:
    """Height of the apical end of the contact on each side that has one."""
    ends = {}
    for pair in mouth.pairs:
        if plan.tooth in (pair.right, pair.left) and not mouth.spaces.get(str(pair)):
            ends[pair.site_of(plan.tooth).value] = tips[str(pair)] - _UNDER_TIP
    return ends


def _body(mouth: Mouth, plan: ToothPlan, ends: dict[str, float]) -> ToothBody:
    """The body of a tooth, its greatest widths where its contacts are to be."""
    levels = {"mesial": 0.0, "distal": 0.0}
    heights = {"mesial": 2.0, "distal": 1.5}
    for pair in mouth.pairs:
        if plan.tooth in (pair.right, pair.left):
            heights[pair.site_of(plan.tooth).value] = mouth.contact_height[str(pair)]
    tip = np.radians(plan.tip_deg)
    for side, end in ends.items():
        # The axis leans: at one height the mesial side is at a lower level than the distal one.
        across = (-0.5 if side == "mesial" else 0.5) * plan.width
        level = (end - plan.edge_height + across * np.sin(tip)) / np.cos(tip) + plan.worn
        levels[side] = max(1.5, float(level))
    unworn = plan.length + plan.worn
    for side in levels:
        levels[side] = min(levels[side] or 0.55 * unworn, 0.78 * plan.cej)
        heights[side] = min(heights[side], 0.55 * levels[side])
    shape = ToothShape(
        position=plan.tooth.position,
        upper=mouth.upper,
        width=plan.width,
        depth=plan.depth,
        crown=plan.cej,
        root=plan.root,
        contact_mesial=max(0.8, levels["mesial"] - min(heights["mesial"] / 2, 0.8)),
        contact_distal=max(0.8, levels["distal"] - min(heights["distal"] / 2, 0.8)),
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
    drops = 0.0
    for side in ends:
        at = body.half_width(np.array([levels[side], getattr(shape, f"contact_{side}")]), side)
        drops += float(np.clip(at[1] - at[0], *_DROP))
    # A tapered, squarish section is a little wider than its half-axes say.
    # The facets lie oblique to the width, so they take less from it than from the side (measured: a third).
    wider = (plan.width + 0.35 * drops) / frame.width
    return ToothBody(replace(shape, width=shape.width * wider))


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


@dataclass(frozen=True)
class _Standing:
    """What is known of a tooth before it has its place."""

    plan: ToothPlan
    body: ToothBody
    ends: dict[str, float]
    """Height of the apical end of the contact on each side that has one."""

    @cached_property
    def lines(self) -> Lines:
        """Lines of the whole tooth, contacts not yet cut."""
        return Lines(self.body, 180, 90)

    @cached_property
    def cloud(self) -> Floats:
        """Points of the crown, local."""
        lines = self.lines
        return np.concatenate([lines.points[lines.levels < 0.75 * self.body.shape.crown], lines.cap])

    @cached_property
    def frame(self) -> ToothFrame:
        """Its facial frame, local."""
        return facial_frame(self.lines, steps=3)

    def placed_at(self, curve: ArchCurve, sign: float, at: float) -> tuple[Floats, Floats]:
        """Directions and origin of the tooth with its middle at an arc length."""
        tangent = curve.tangent(sign * at) * sign
        facial = np.array([tangent[1], -tangent[0]]) * sign
        axis = self.frame.axis
        lean, tilt = float(np.arctan2(axis[1], axis[2])), float(np.arctan2(axis[0], axis[2]))
        matrix = _directions(self.plan, tangent, facial, lean, tilt)
        in_front = 0.6 * (0.5 * self.plan.depth - 3.2)  # between one line of facial surfaces and one line of contacts
        origin = np.array([*(curve.point(sign * at) - (in_front + self.plan.set_back) * facial), 0.0])
        origin[2] = self.plan.edge_height - (self.frame.edge @ matrix)[2]
        return matrix, origin


def _stand(
    curve: ArchCurve, one: _Standing, after: _Standing | None, sign: float, wall: tuple[Floats, float], s: float
) -> tuple[Placed, tuple[Floats, float], float]:
    """Stand a tooth against the wall left by its mesial neighbour; return it, its own distal wall and the next start.

    A wall is a plane (normal pointing distally, offset): what lies mesial of it belongs to the neighbour. Both teeth reach it
    at the height where their contact ends.
    """
    at = s + one.plan.width / 2
    for _ in range(12):
        matrix, origin = one.placed_at(curve, sign, at)
        jaw = origin + one.cloud @ matrix
        reach, mesial_end = _reach(one, jaw, -wall[0], "mesial")
        step = wall[1] + CONTACT_GAP / 2 + reach
        at += step / max(0.5, float(curve.tangent(sign * at) @ wall[0][:2]) * sign)
        if abs(step) < 1e-6:
            break
    # The wall runs along the mean axis of both teeth, as the contacts of leaning teeth do.
    end = at + one.plan.width / 2
    axis = matrix[2]
    if after is not None:
        axis = axis + after.placed_at(curve, sign, end + after.plan.width / 2)[0][2]
        axis /= np.linalg.norm(axis)
    distal = np.array([*(curve.tangent(sign * end) * sign), 0.0])
    distal -= (distal @ axis) * axis
    distal /= np.linalg.norm(distal)
    reach, distal_end = _reach(one, jaw, distal, "distal")
    own = (distal, reach + CONTACT_GAP / 2)
    facets = []
    for inward, (normal, offset), level in ((-1.0, wall, mesial_end), (1.0, own, distal_end)):
        n = normal * inward
        limit = offset * inward - CONTACT_GAP / 2
        facets.append(Facet(matrix @ n, float(limit - n @ origin), level))
    return Placed(one.plan, ToothBody(one.body.shape, tuple(facets)), matrix, origin), own, end


def _reach(one: _Standing, jaw: Floats, direction: Floats, side: str) -> tuple[float, float]:
    """How far a crown reaches in a direction at the height where its contact is to end, and the local level there.

    Without a contact on that side, its whole reach, and no end (infinite).
    """
    along = jaw @ direction
    most, end = float(along.max()), one.ends.get(side)
    if end is None:
        return most, float("inf")
    near = np.flatnonzero(np.abs(jaw[:, 2] - end) < 0.15)
    if not len(near):
        return most - _DROP[0], float(one.cloud[np.argmax(along), 2])
    furthest = near[np.argmax(along[near])]
    return most - float(np.clip(most - along[furthest], *_DROP)), float(one.cloud[furthest, 2])

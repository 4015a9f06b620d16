"""Lines on the teeth as ruled surfaces in space, and so as heights over the plane square to the insertion axis."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import igl
import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline, LinearNDInterpolator, NearestNDInterpolator, RBFInterpolator
from scipy.ndimage import gaussian_filter1d, map_coordinates
from scipy.spatial import cKDTree

from festoon.model.dentition import Tooth
from festoon.template.inputs import Floats, Ints, Sheet
from festoon.template.targets import Target

_REACH = np.arange(-2.0, 5.1, 0.5)
"""How far the rulings go from the tooth's surface, inwards to outwards, mm: further in, those of neighbours would cross."""
_SQUARELY = (0.0, 1.2, 2.4)
"""How far before the tooth the lingual end is fixed, mm."""
_COARSE = 4
"""The lingual end is worked on every so manieth line of the grid."""
_ASIDE = 3.0
"""A surface further than this from the traced margin is not the one sought, mm."""
_EVEN = 3.0
"""The curve along the outer face is smoothed over so much, mm."""
MEET = 2.5
"""Ends of lines further apart leave a gap between the teeth, mm (no source)."""
JOINS = 0.7
"""The ends of two lines come to one height over so much of each tooth, mm (no source)."""
_TURNING = 0.8
"""Beyond this share of the half width a ruling turns from its tooth's facial direction to that between it and its neighbour."""


@dataclass(frozen=True)
class Path:
    """A curve along the arch, from the patient's right, and where a place stands beside it (seated pose)."""

    path: Floats
    """Points of the middle of the arch, xy, shape (K, 2), beyond the last tooth at both ends."""
    along: Floats
    """Arc length at each, mm, shape (K,)."""
    facing: Floats
    """Unit facial direction at each, shape (K, 2)."""

    def at(self, xy: Floats) -> tuple[Floats, Floats]:
        """Arc length and facial distance of places, shape (..., 2) to (...)."""
        flat = xy.reshape(-1, 2)
        _, k = cKDTree(self.path).query(flat)
        away = flat - self.path[k]
        tangent = np.stack([-self.facing[k, 1], self.facing[k, 0]], axis=1)
        forwards = np.sign((np.gradient(self.path, axis=0)[k] * tangent).sum(axis=1))
        s = self.along[k] + (away * tangent).sum(axis=1) * forwards
        n = (away * self.facing[k]).sum(axis=1)
        return s.reshape(xy.shape[:-1]), n.reshape(xy.shape[:-1])


@dataclass(frozen=True)
class Row:
    """The covered teeth side by side, from the patient's right."""

    targets: tuple[Target, ...]
    middle: Path
    """Through the middles of the teeth's margins."""
    face: Path
    """A plain curve along the outer face, on which text is laid."""

    def at(self, xy: Floats) -> tuple[Floats, Floats]:
        """Arc length and facial distance from the middle."""
        return self.middle.at(xy)

    def facing(self, target: Target) -> Floats:
        """Facial direction of the arch at a tooth, seated pose, unit."""
        (s,), _ = self.at(target.tooth.margin[:, :2].mean(axis=0)[None])
        k = int(np.argmin(np.abs(self.middle.along - s)))
        return np.asarray([*self.middle.facing[k], 0.0])


def row_of(targets: list[Target], wall: float) -> Row:
    """The covered teeth in a row. ``wall``: thickness of what stands before their faces, mm."""
    middles = np.array([t.tooth.margin[:, :2].mean(axis=0) for t in targets])
    facial = np.mean([t.tooth.facial[:2] for t in targets], axis=0)
    way = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(middles, axis=0), axis=1))])
    # The ends run along the last teeth: a premolar's middle lies further in than a canine's, and would turn the end aside.
    first, last = (_onwards(targets[k], middles) for k in (0, -1))
    spline = CubicSpline(way, middles, bc_type=((1, first), (1, last)))
    points, ends = spline(np.arange(0.0, way[-1], 0.1)), (spline(0.0, 1), spline(way[-1], 1))
    out = np.arange(0.1, 10.0, 0.1)[:, None]
    middle = _path(np.concatenate([middles[0] - out[::-1] * ends[0], points, middles[-1] + out * ends[1]]), facial)
    fronts = []
    for t in targets:
        front = t.tooth.coordinates(t.tooth.margin)[:, 1].max() - 0.5 + wall
        across = np.array([-0.5, 0.0, 0.5]) * t.half * (-1.0 if Tooth(t.tooth.fdi).is_right else 1.0)
        fronts.append(t.tooth.points(across, np.full(3, front), np.full(3, 3.0))[:, :2])
    s, n = middle.at(np.concatenate(fronts))
    order = np.argsort(s)
    # Beside the middle of the arch, so that it cannot turn back on itself where a tooth stands out of line.
    off = gaussian_filter1d(np.interp(middle.along, s[order], n[order]), _EVEN / 0.1, mode="nearest")
    return Row(tuple(targets), middle, _path(middle.path + off[:, None] * middle.facing, facial))


def _onwards(target: Target, middles: Floats) -> Floats:
    """Direction of a tooth along the row, from the patient's right, xy."""
    along = target.tooth.distal[:2] / np.linalg.norm(target.tooth.distal[:2])
    return np.asarray(along * np.sign(along @ (middles[-1] - middles[0]) or 1.0))


def _path(points: Floats, facial: Floats) -> Path:
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    tangent = np.gradient(points, along, axis=0)
    facing = np.stack([tangent[:, 1], -tangent[:, 0]], axis=1)
    facing *= np.sign((facial * facing[len(facing) // 2]).sum())
    return Path(points, along, facing / np.linalg.norm(facing, axis=1, keepdims=True))


@dataclass(frozen=True)
class Ruled:
    """A line with a direction at each of its points."""

    points: Floats
    """Shape (K, 3)."""
    rulings: Floats
    """Unit, facial, shape (K, 3)."""
    values: Floats
    """What else is carried along the rulings, shape (K, V)."""
    kept: tuple[tuple[float, float], ...]
    """From where to where across each tooth the line was laid, mm."""

    def over(self, x: Floats, y: Floats) -> Floats:
        """Height and values over a grid of places, shape (X, Y, 1 + V)."""
        away = _REACH[None, :, None] * self.rulings[:, None, :]
        space = (self.points[:, None, :] + away).reshape(-1, 3)
        carried = np.repeat(self.values, len(_REACH), axis=0)
        every = np.concatenate([space[:, 2:], carried], axis=1)
        xx, yy = np.meshgrid(x, y, indexing="ij")
        made = np.asarray(LinearNDInterpolator(space[:, :2], every)(xx, yy))
        lost = ~np.isfinite(made[..., 0])
        made[lost] = NearestNDInterpolator(space[:, :2], every)(xx[lost], yy[lost])
        return made


class Caster:
    """Finds the visible surface along a tooth's facial direction."""

    def __init__(self, sheet: Sheet) -> None:
        self._sheet = sheet
        self._tree: Any = igl.AABB()
        self._tree.init(sheet.vertices, sheet.faces)

    def depth(self, target: Target, across: Floats, level: Floats, side: float = 1.0) -> Floats:
        """Facial coordinate of the surface seen from the facial (1) or lingual (-1) side; gaps are spanned. Shape (K,)."""
        start = target.tooth.points(across, np.full(len(across), side * 15.0), level)
        along = np.tile(-side * target.tooth.facial, (len(across), 1))
        hit, t, _ = self._tree.intersect_ray_first(
            self._sheet.vertices, self._sheet.faces, np.ascontiguousarray(start), np.ascontiguousarray(along)
        )
        seen = np.asarray(hit) >= 0
        depth = side * (15.0 - np.asarray(t))
        ring = target.tooth.coordinates(target.tooth.margin)
        own = ring[side * (ring[:, 1] - np.median(ring[:, 1])) >= 0]
        order = np.argsort(own[:, 0])
        expected = np.interp(across, own[order, 0], own[order, 1])
        # Through a gap beside a papilla a ray goes on to the far side: the traced margin says where the surface should be.
        seen &= np.abs(depth - expected) < _ASIDE
        return np.interp(across, across[seen], depth[seen]) if seen.any() else expected

    def valley(self, here: Floats, there: Floats) -> Floats:
        """Most apical place of the surface, seen along the insertion axis, on the way between two places, shape (3,)."""
        way = here + np.linspace(0.2, 0.8, 61)[:, None] * (there - here)
        start = np.c_[way[:, :2], np.full(len(way), min(here[2], there[2]) - 15.0)]
        along = np.tile([0.0, 0.0, 1.0], (len(start), 1))
        hit, t, _ = self._tree.intersect_ray_first(self._sheet.vertices, self._sheet.faces, start, along)
        height = np.where(np.asarray(hit) >= 0, start[:, 2] + np.asarray(t), -np.inf)
        deep = np.flatnonzero(
            height > height.max() - 0.3
        )  # a cleft's floor, or its middle where rays are lost between two walls
        return np.asarray([*way[deep, :2].mean(axis=0), height.max()])


def lingual_heights(row: Row, caster: Caster, x: Floats, y: Floats) -> Floats:
    """Height at which the part ends lingually, over a grid of places, shape (X, Y): no blade follows it, so it is only smooth.

    It leaves the tooth squarely: an acute rim would be thin.
    """
    points = []
    for t in row.targets:
        inner = np.abs(t.across - (t.across[0] + t.across[-1]) / 2) < 0.8 * t.half
        across, level = t.across[inner][::4], t.lingual[inner][::4]
        depth, higher = (caster.depth(t, across, at, -1.0) for at in (level, level - 1.0))
        lean = float(np.clip(np.median(depth - higher), -1.2, 1.2))  # facial per mm apical
        square = -t.tooth.facial + lean * t.tooth.axis
        foot = t.tooth.points(across, depth, level)
        points += [foot + far * square / np.linalg.norm(square) for far in _SQUARELY]
    known = np.concatenate(points)
    height = RBFInterpolator(known[:, :2], known[:, 2], kernel="linear", smoothing=0.5, neighbors=40)
    coarse = np.meshgrid(x[::_COARSE], y[::_COARSE], indexing="ij")
    values = np.asarray(height(np.stack(coarse, axis=-1).reshape(-1, 2))).reshape(coarse[0].shape)
    at = np.meshgrid(np.arange(len(x)) / _COARSE, np.arange(len(y)) / _COARSE, indexing="ij")
    return np.asarray(map_coordinates(values, at, order=1, mode="nearest"))


def ruled(row: Row, caster: Caster, levels: list[Floats], values: list[Floats]) -> Ruled:
    """One continuous facial line over all covered teeth.

    Parameters
    ----------
    row : Row
    caster : Caster
    levels : list of array
        Level of the line on each tooth at its ``across``.
    values : list of array (K, V)
        What else is carried along.
    """
    points, rulings, carried, places = [], [], [], []
    turns = [t.tooth.facial if t.treated else row.facing(t) for t in row.targets]
    for k, (target, level, value) in enumerate(zip(row.targets, levels, values, strict=True)):
        across = target.across
        depth = caster.depth(target, across, level)
        middle, half = (across[0] + across[-1]) / 2, target.half
        out = np.clip((np.abs(across - middle) / half - _TURNING) / (1 - _TURNING), 0, 1) / 2
        right = Tooth(target.tooth.fdi).is_right
        before = turns[k - 1] if k else turns[k]
        after = turns[k + 1] if k + 1 < len(turns) else turns[k]
        towards_end = (across > middle) != right
        other = np.where(towards_end[:, None], after, before)
        f = (1 - out)[:, None] * turns[k] + out[:, None] * other
        order: Ints | slice = slice(None, None, -1) if right else slice(None)
        points.append(target.tooth.points(across, depth, level)[order])
        rulings.append((f / np.linalg.norm(f, axis=1, keepdims=True))[order])
        carried.append(value[order])
        places.append(across[order])
    for k in range(len(points) - 1):
        kept = _in_order(points[k], points[k + 1], rulings[k][-1] + rulings[k + 1][0])
        for own in (points, rulings, carried, places):
            own[k], own[k + 1] = own[k][kept[0]], own[k + 1][kept[1]]
        points[k], points[k + 1] = _at_one_height(points[k], points[k + 1])
    kept_across = tuple((float(p.min()), float(p.max())) for p in places)
    return Ruled(np.concatenate(points), np.concatenate(rulings), np.concatenate(carried), kept_across)


def _in_order(a: Floats, b: Floats, facial: Floats) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Which points of two neighbouring lines to keep, so that neither begins before the other ends: rulings would cross there.

    How deep a line lies on a turned or bulging tooth moves its ends along the row, so that this is known only of the points.
    """
    way = np.array([facial[1], -facial[0]])
    way *= np.sign(way @ (b.mean(axis=0) - a.mean(axis=0))[:2]) / np.linalg.norm(way)
    u, v = a[:, :2] @ way, b[:, :2] @ way
    meeting = (u.max() + v.min()) / 2 if u.max() > v.min() else None
    if meeting is None:
        return np.ones(len(a), dtype=bool), np.ones(len(b), dtype=bool)
    # What is kept is one run from the middle of each tooth.
    kept_a, kept_b = np.maximum.accumulate(u) < meeting, np.minimum.accumulate(v[::-1])[::-1] > meeting
    return kept_a, kept_b


def _at_one_height(a: Floats, b: Floats) -> tuple[Floats, Floats]:
    """Two lines that meet at one height, that of the more coronal, and come to it over a little of each tooth."""
    if not len(a) or not len(b) or np.linalg.norm(a[-1, :2] - b[0, :2]) > MEET:
        return a, b
    height = min(a[-1, 2], b[0, 2])
    out = []
    for line, end in ((a, a[-1]), (b, b[0])):
        near = np.clip(1 - np.linalg.norm(line[:, :2] - end[:2], axis=1) / JOINS, 0, 1)
        moved = line.copy()
        moved[:, 2] += (height - end[2]) * near * near * (3 - 2 * near)
        out.append(moved)
    return out[0], out[1]

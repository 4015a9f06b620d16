"""Gingiva and bone as smooth fields round the teeth: negative inside, zero on the surface.

Round each tooth lies a collar: what is nearer to the tooth than a thickness that grows from 0 at a level curve (gingival margin,
alveolar crest). The collars and the body of the ridge are joined by a soft minimum, which makes papillae and septa. Tooth and
ligament are cut out of the finished bodies later, so that a margin is a true intersection of two smooth surfaces.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq
from scipy.spatial import cKDTree

from festoon.phantom import shells
from festoon.phantom.arch import Arch, Placed

Floats = NDArray[np.float64]

LIGAMENT = 0.2
"""Width of the ligament, mm (from memory)."""
SULCUS_WIDTH = 0.08
"""Width of the open sulcus, mm: a modelling choice, collapsed at the margin."""
_OPENS = 0.3
"""Sulcus and ligament reach their width over this distance, mm."""
_BLEND, _BLEND_BONE = 0.7, 0.8
"""Reach of the soft minimum of gingiva and of bone, mm."""
_BELOW_CREST, _RISES, _BETWEEN = 0.5, 0.7, 3.0
"""Facially and lingually of a root, bone of the ridge and of the neighbours stays this far apical to its crest, mm, and may rise by this
much a mm away from the root; between the teeth it may stand this much higher, mm (modelling choices)."""
_FAR = 4.0
_INTO = 0.6
"""How far gingiva and bone go on into a tooth, coronal to their edge, mm."""


def _periodic(angle: list[float], level: list[float]) -> Floats:
    """A smooth level by angle on 0..359 degrees from control points (degrees, mm)."""
    order = np.argsort(angle)
    a, v = np.array(angle)[order], np.array(level)[order]
    a3, v3 = np.concatenate([a - 360, a, a + 360]), np.tile(v, 3)
    table = PchipInterpolator(a3, v3)(np.arange(0, 360, 0.5))
    return np.asarray(ndimage.gaussian_filter1d(table, 8.0, mode="wrap"))  # 4 degrees


@dataclass(frozen=True)
class LevelCurve:
    """A local level w by stretched angle, smooth and periodic."""

    table: Floats

    @cached_property
    def _cubics(self) -> Floats:
        """Coefficients of the cubic between each node and the next (Catmull-Rom), constant first, shape (4, nodes).

        A kink in the curve would be a kink in the gingiva.
        """
        before, here, after, beyond = (np.roll(self.table, -k) for k in (-1, 0, 1, 2))
        bend = before * 2 - 5 * here + 4 * after - beyond
        return np.stack([here, (after - before) / 2, bend / 2, (3 * (here - after) + beyond - before) / 2])

    def __call__(self, phi: Floats) -> Floats:
        """The level at stretched angles."""
        nodes = len(self.table)
        turns = phi * (nodes / (2 * np.pi))
        whole = np.floor(turns)
        share = turns - whole
        i = whole.astype(np.int64)
        i -= nodes * (i // nodes)
        constant, slope, bend, third = (row.take(i) for row in self._cubics)
        return np.asarray(constant + share * (slope + share * (bend + share * third)))


@dataclass(frozen=True)
class Collar:
    """Margin, crest, sulcus and thicknesses round one tooth, in its local levels."""

    placed: Placed
    margin: LevelCurve
    crest: LevelCurve
    gingiva: float
    """Far thickness of the free gingiva."""
    bone: float
    """Facial plate."""
    sulcus: float
    window: float | None
    """Level of the middle of a fenestration, if there is one."""

    @cached_property
    def reach(self) -> tuple[Floats, Floats]:
        """Corners of the box (jaw coordinates) outside of which this collar is far away."""
        low, high = self.room
        return low + 1 - _FAR, high - 1 + _FAR

    @cached_property
    def room(self) -> tuple[Floats, Floats]:
        """Corners of the box (jaw coordinates) that holds the tooth and its ligament."""
        points = self.placed.to_jaw(shells.whole(self.placed.body, 24, (8, 8)).vertices)
        return points.min(axis=0) - 1, points.max(axis=0) + 1

    def gingiva_reach(self, phi: Floats, w: Floats) -> Floats:
        """Distance from the tooth to the outer gingival surface; negative coronal to the margin."""
        below = w - self.margin(phi)
        slope = self.gingiva / 0.9
        grown = self.gingiva * (1 - np.exp(-np.clip(below, 0, None) / 0.9))
        # Over bone the mucosa needs room beside the plate.
        over = np.clip((w - self.crest(phi) + 2.0) / 4.5, 0, 1)
        want = LIGAMENT + self.plate(phi) + 0.72 * self.gingiva
        grown = grown + np.clip(want - self.gingiva, 0, None) * over * over * (3 - 2 * over)
        return np.asarray(np.where(below < 0, slope * below, grown))

    def plate(self, phi: Floats) -> Floats:
        """Thickness of the bone round the root: thin facially, thicker between teeth and lingually."""
        sin = np.sin(phi)
        facial = np.clip(sin, 0, None) ** 2
        lingual = np.clip(-sin, 0, None) ** 2
        return np.asarray(self.bone * facial + 2.0 * (1 - facial - lingual) + 1.3 * lingual)

    def bone_reach(self, phi: Floats, w: Floats) -> Floats:
        """Distance from the tooth to the outer bone surface; the ligament's width at the crest, where bone begins."""
        below = w - self.crest(phi)
        plate = self.plate(phi)
        # The facial and lingual crest is a rounded edge, the septum nearly flat.
        rate = 0.25 + 0.25 * np.sin(phi) ** 2
        full = plate + LIGAMENT
        grown = full * (1 - np.exp(-np.clip(below, 0, None) / rate))
        reach = np.where(below < 0, below * full / rate, grown)
        if self.window is not None:
            # A smooth hole where the root breaks through the plate.
            turned = np.mod(phi + np.pi / 2, 2 * np.pi) - np.pi
            hole = np.exp(-((turned / 0.33) ** 4) - ((w - self.window) / 1.6) ** 4)
            reach = reach - hole * (plate + LIGAMENT + 0.25)
        return np.asarray(reach)

    def gingiva_field(self, d: Floats, phi: Floats, w: Floats) -> Floats:
        """Field of the collar of gingiva at distances ``d`` from the tooth.

        Its surface goes on smoothly into the tooth and ends there, so that the cut along the tooth meets no corner of it.
        """
        return np.minimum(np.maximum(d - self.gingiva_reach(phi, w), 0.8 * (self.margin(phi) - w) - _INTO), _FAR)

    def bone_field(self, d: Floats, phi: Floats, w: Floats) -> Floats:
        """The same for bone and crest."""
        return np.minimum(np.maximum(d - self.bone_reach(phi, w), 0.8 * (self.crest(phi) - w) - _INTO), _FAR)

    def above_crest(self, d: Floats, phi: Floats, w: Floats) -> Floats:
        """Positive where bone of the ridge or of a neighbour has no room beside this tooth."""
        return np.asarray(self.crest(phi) + _BELOW_CREST - w - _RISES * np.maximum(d, 0) - _BETWEEN * np.cos(phi) ** 2)

    def sulcus_width(self, phi: Floats, w: Floats) -> Floats:
        """How far the sulcus stands open at a level: 0 at the margin and at its bottom."""
        below = w - self.margin(phi)
        return SULCUS_WIDTH * np.clip(np.minimum(below, self.sulcus - below) / _OPENS, 0, 1)

    def room_levels(self, phi: Floats) -> Floats:
        """Levels at which :meth:`sulcus_width` and :meth:`ligament_width` have corners, by angle, shape (6, N), rising."""
        margin, crest = self.margin(phi), self.crest(phi)
        bottom = margin + self.sulcus
        corners = [margin, margin + _OPENS, bottom - _OPENS, bottom, crest, crest + _OPENS]
        return np.sort(np.stack(corners), axis=0)

    def ligament_width(self, phi: Floats, w: Floats) -> Floats:
        """Width of the ligament at a level: 0 at the crest."""
        return LIGAMENT * np.clip((w - self.crest(phi)) / _OPENS, 0, 1)


class Tissues:
    """The fields of one jaw."""

    def __init__(self, arch: Arch, collars: tuple[Collar, ...]) -> None:
        self.arch, self.collars = arch, collars
        plans = arch.mouth.teeth
        front = [plan for plan in plans if plan.tooth.position <= 5]
        self.line = float(np.mean([plan.edge_height + plan.length for plan in front]))
        """Height of the gingival line."""
        self.base = max(float(c.placed.to_jaw(np.array([[0, 0, c.placed.body.end]]))[0, 2]) for c in collars) + 2.5
        """Height at which everything is cut off."""
        last = max(float(placed.origin[1]) for placed in arch.teeth)
        self.back = last + 7.0
        self._lift = _gap_lift(arch)

    def box(self) -> tuple[Floats, Floats]:
        """Corners of the box that holds everything, jaw coordinates."""
        reach = [collar.reach for collar in self.collars]
        low = np.array([min(r[0][0] for r in reach) - 5, min(r[0][1] for r in reach) - 4, 0.0])
        return low, np.array([max(r[1][0] for r in reach) + 5, self.back, self.base])

    def seen_box(self) -> tuple[Floats, Floats]:
        """Corners of the part that a camera can see: not the depth over the roots."""
        low, high = self.box()
        high[2] = min(self.base, self.line + 14.0)
        return low, high

    @cached_property
    def _ridge(self) -> tuple[Floats, Floats, tuple[float, float, float]]:
        """Signed distance to the arch line (facial positive), place along it, by x and y; origin and step of that grid."""
        line = self.arch.curve.outline(25.0)
        along = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
        step = 0.5
        x0, y0 = float(line[:, 0].min()) - 25, float(line[:, 1].min()) - 25
        nx, ny = int((line[:, 0].max() + 25 - x0) / step), int((self.back + 20 - y0) / step)
        grid = np.stack(np.meshgrid(x0 + step * np.arange(nx), y0 + step * np.arange(ny), indexing="ij"), -1)
        away, nearest = cKDTree(line).query(grid.reshape(-1, 2))
        ahead = line[np.clip(nearest + 1, 0, len(line) - 1)] - line[np.clip(nearest - 1, 0, len(line) - 1)]
        to = grid.reshape(-1, 2) - line[nearest]
        # The polyline runs from the patient's right to the left: facial is on its right hand.
        side = np.sign(ahead[:, 1] * to[:, 0] - ahead[:, 0] * to[:, 1])
        middle = along[-1] / 2
        return (away * side).reshape(nx, ny), (along[nearest] - middle).reshape(nx, ny), (x0, y0, step)

    def _on_line(self, points: Floats, *tables: Floats) -> tuple[Floats, ...]:
        """Tables on the grid of the ridge at points, linear between its nodes."""
        x0, y0, step = self._ridge[2]
        nx, ny = tables[0].shape
        u = np.clip((points[:, 0] - x0) / step, 0, nx - 1.000001)
        v = np.clip((points[:, 1] - y0) / step, 0, ny - 1.000001)
        i, j = u.astype(np.int64), v.astype(np.int64)
        u, v = u - i, v - j
        at = i * ny + j
        corners = ((at, (1 - u) * (1 - v)), (at + 1, (1 - u) * v), (at + ny, u * (1 - v)), (at + ny + 1, u * v))
        return tuple(np.sum([table.take(k) * share for k, share in corners], axis=0) for table in tables)

    def facial_of_line(self, points: Floats) -> Floats:
        """How far facially of the arch line points lie (horizontal), shape (N,)."""
        return self._on_line(points, self._ridge[0])[0]

    def along_line(self, points: Floats) -> Floats:
        """Place along the arch line, mm from the midline, the patient's left positive, shape (N,)."""
        return self._on_line(points, self._ridge[1])[0]

    @cached_property
    def _wall(self) -> tuple[Floats, Floats]:
        """On the grid of the ridge: how far facially of the arch line the mucosa lies at the gingival line, and its slope.

        The wall follows the roots, a little behind the mucosa over them, so that they show as eminences.
        """
        places, faces, slopes = [], [], []
        for collar in self.collars:
            body, placed = collar.placed.body, collar.placed
            levels = np.array([body.shape.crown + 2.0, body.shape.crown + 0.7 * body.shape.root])
            at = placed.to_jaw(body.surface(np.full(2, np.pi / 2), levels))
            n = self.facial_of_line(at) + collar.bone + 0.5 * collar.gingiva
            slope = float((n[1] - n[0]) / (at[1, 2] - at[0, 2]))
            places.append(float(self.along_line(at[:1])[0]))
            faces.append(float(n[0]) + slope * (self.line - float(at[0, 2])))
            slopes.append(slope)
        order = np.argsort(places)
        s = np.linspace(self._ridge[1].min(), self._ridge[1].max(), 800)
        wide = 5.0 / (s[1] - s[0])
        out = []
        for values in (faces, slopes):
            along = ndimage.gaussian_filter1d(
                np.interp(s, np.array(places)[order], np.array(values)[order]), wide, mode="nearest"
            )
            out.append(np.interp(self._ridge[1], s, along))
        return out[0], out[1]

    def from_wall(self, points: Floats) -> Floats:
        """How far facially of the facial wall of the ridge points lie (horizontal), shape (N,)."""
        facial, face, slope = self._on_line(points, self._ridge[0], *self._wall)
        return np.asarray(facial - face - slope * np.clip(points[:, 2] - self.line, -3, None))

    def _body(self, points: Floats, under: float) -> Floats:
        """The ridge (and the palate), ``under`` mm below its mucosal surface."""
        n, face, slope = self._on_line(points, self._ridge[0], *self._wall)
        h = points[:, 2]
        deep = h - self.line
        upper = self.arch.mouth.upper
        # Far from the teeth the wall turns out into the lip, at the bottom of the vestibule.
        flare = 0.04 * np.clip(deep - 8.0, 0, None) ** 2 if under == 0 else 0.0
        # Towards the margins the wall draws back, so that there the collars alone make the surface.
        t = np.clip((deep - (0.5 if under == 0 else 3.0)) / 6.5, 0, 1)
        shoulder = 2.6 * (1 - t * t * (3 - 2 * t))
        facial = (n - (face + slope * np.clip(deep, -3, None) + flare - shoulder) + under) / np.hypot(1, slope)
        top = self.line + 1.3 + 1.1 * under - self._lift(points)
        if upper:
            inward = np.clip(-n - 3.0, 0, None)
            vault = 13.5 * (1 - np.exp(-((inward / 13.0) ** 1.5)))
            roof = top + vault + 0.9 * under * np.clip(inward / 3, 0, 1)
            roof = roof + (self._rugae(points, inward) if under == 0 else 0.0)
            steep = 13.5 / 13.0 * 1.5 * np.sqrt(inward / 13.0) * np.exp(-((inward / 13.0) ** 1.5))
            return _soft_max(facial, (roof - h) / np.hypot(1, steep), 2.5)
        lingual = (-n - 4.6 - 0.10 * np.clip(deep, 0, None) + under) / 1.01
        return _soft_max(_soft_max(facial, lingual, 2.5), top - h, 2.5)

    def _rugae(self, points: Floats, inward: Floats) -> Floats:
        """Ridges of the front of the palate and the papilla behind the centrals (negative is proud)."""
        out = np.zeros(len(points))
        near = (inward > 0) & (points[:, 1] < 26)
        x, y, inward = points[near, 0], points[near, 1], inward[near]
        front = np.exp(-(((y - 13) / 6.0) ** 4)) * np.clip(inward / 3, 0, 1)
        wave = np.sin(2 * np.pi * (y - 0.35 * np.abs(x) + 0.8 * np.sin(0.9 * x)) / 4.0)
        ridges = -0.32 * front * np.clip(wave, -0.2, 1) * np.clip(np.abs(x) / 1.5, 0, 1) * np.exp(-((x / 13) ** 4))
        out[near] = ridges - 1.1 * np.exp(-((x / 1.7) ** 2) - ((y - 8.2) / 2.6) ** 2)
        return out

    def _near(self, points: Floats) -> Iterator[tuple[Collar, NDArray[np.int64], Floats]]:
        """Each collar with the points near it, by index and in its local frame."""
        if not len(points):
            return
        columns = [np.ascontiguousarray(column) for column in points.T]
        first, last = points.min(axis=0), points.max(axis=0)
        for collar in self.collars:
            low, high = collar.reach
            if (first >= high).any() or (last <= low).any():
                continue
            inside = np.ones(len(points), dtype=bool)
            for column, a, b in zip(columns, low, high, strict=True):
                inside &= (column > a) & (column < b)
            near = np.flatnonzero(inside)
            if not len(near):
                continue
            body, local = collar.placed.body, collar.placed.to_local(points[near])
            a, b, u0, v0 = body.section(np.clip(local[:, 2], 0.0, body.end - 0.1))
            aside = np.clip(np.abs(local[:, 0] - u0) - a, 0, None)
            before = np.clip(np.abs(local[:, 1] - v0) - b, 0, None)
            kept = (aside * aside + before * before < _FAR**2) & (local[:, 2] > -1.5)
            yield collar, near[kept], local[kept]

    def gingiva(self, points: Floats) -> Floats:
        """Everything covered by gingiva, teeth and bone included."""
        out = np.minimum(self._body(points, 0.0), _FAR)
        for collar, near, local in self._near(points):
            field = collar.gingiva_field(*collar.placed.body.polar(local))
            out[near] = _soft_min(out[near], field, _BLEND)
        return out

    def bone(self, points: Floats) -> Floats:
        """The alveolar process, sockets included."""
        out = np.minimum(self._body(points, 1.7), _FAR)
        fields: dict[str, tuple[NDArray[np.int64], Floats]] = {}
        limits: dict[str, tuple[Floats, Floats]] = {}
        for collar, near, local in self._near(points):
            polar = collar.placed.body.polar(local)
            code = collar.placed.tooth.fdi
            fields[code] = near, collar.bone_field(*polar)
            limits[code] = np.full(len(points), -_FAR), np.full(len(points), _FAR)
            for values, found in zip(limits[code], (collar.above_crest(*polar), polar[0]), strict=True):
                values[near] = found
            out = _soft_max(out, limits[code][0], _BLEND_BONE)
        for pair in self.arch.mouth.pairs:
            for one, other in ((pair.right.fdi, pair.left.fdi), (pair.left.fdi, pair.right.fdi)):
                if one in fields and other in limits:
                    near, field = fields[one]
                    limit, away = (values[near] for values in limits[other])
                    # Bone of one tooth beside the other: the less, the nearer it is to its own.
                    limit = limit - 2 * np.clip(away - limits[one][1][near], 0, None)
                    fields[one] = near, _soft_max(field, limit, _BLEND_BONE)
        for near, field in fields.values():
            out[near] = _soft_min(out[near], field, _BLEND_BONE)
        return out

    def tooth_and_gingiva(self, points: Floats, bridge: float = 1e-6) -> tuple[Floats, Floats]:
        """Signed distance to the teeth, joined over ``bridge`` mm, and the gingiva's field, in one pass."""
        soft = np.minimum(self._body(points, 0.0), _FAR)
        hard = np.full(len(points), _FAR)
        for collar, near, local in self._near(points):
            d, phi, w = collar.placed.body.polar(local)
            soft[near] = _soft_min(soft[near], collar.gingiva_field(d, phi, w), _BLEND)
            whole = np.maximum(d, collar.placed.body.above_cap(local))
            hard[near] = _soft_min(hard[near], np.minimum(whole, _FAR), bridge)
        return hard, soft


def _soft_min(a: Floats, b: Floats, reach: float) -> Floats:
    h = np.clip(reach - np.abs(a - b), 0, None) / reach
    return np.asarray(np.minimum(a, b) - h * h * h * reach / 6)


def _soft_max(a: Floats, b: Floats, reach: float) -> Floats:
    return -_soft_min(-a, -b, reach)


def _gap_lift(arch: Arch) -> Callable[[Floats], Floats]:
    """How much the ridge is higher where a tooth is missing."""

    def lift(points: Floats) -> Floats:
        out = np.zeros(len(points))
        for x, y, _ in arch.gaps:
            away = np.hypot(points[:, 0] - x, points[:, 1] - y)
            out = np.maximum(out, 2.6 * np.exp(-((away / 3.6) ** 4)))
        return out

    return lift


def build_tissues(arch: Arch) -> Tissues:
    """The tissues of an arch, from the plans of its teeth."""
    return Tissues(arch, tuple(_collar(arch, placed) for placed in arch.teeth))


def _collar(arch: Arch, placed: Placed) -> Collar:
    plan, body, frame = placed.plan, placed.body, placed.local_frame
    tips = {"mesial": plan.edge_height + plan.length - 2.5, "distal": plan.edge_height + plan.length - 2.0}
    crests = {side: tips[side] + 3.6 for side in tips}
    for pair in arch.mouth.pairs:
        if plan.tooth in (pair.right, pair.left):
            side = pair.site_of(plan.tooth).value
            tips[side] = arch.tip_heights[str(pair)]
            # The septum between the centrals is the widest: its middle lies deeper than its edges (measured).
            deeper = 0.15 if pair.right.position == pair.left.position else 0.0
            crests[side] = tips[side] + arch.mouth.tip_to_crest[str(pair)] - deeper
    zenith = _angle_of(placed, plan.zenith_offset, plan.length)
    lingual_length = plan.length - (0.6 if plan.tooth.position <= 3 else 0.3)

    def level(phi: float, along: float) -> float:
        """Local w at which the surface at ``phi`` lies at a level along the facial long axis."""
        return _solve(lambda w: float(frame.coordinates(body.surface(np.array([phi]), np.array([w])))[0, 2]) - along)

    def height(phi: float, up: float) -> float:
        return _solve(lambda w: float(placed.to_jaw(body.surface(np.array([phi]), np.array([w])))[0, 2]) - up)

    curves = {}
    for name, mid, sides, lingual in (
        ("margin", plan.length, tips, lingual_length),
        ("crest", plan.length + plan.margin_to_crest, crests, lingual_length + plan.margin_to_crest - 0.2),
    ):
        top = level(zenith, mid)
        back = level(-np.pi / 2, lingual)
        angle, value = [np.degrees(zenith) % 360, 270.0], [top, back]
        for side, proximal in (("distal", 0.0), ("mesial", np.pi)):
            sign = 1.0 if side == "distal" else -1.0
            tip_phi = proximal + sign * np.radians(9.0)
            tip = height(tip_phi, sides[side])
            reach = np.degrees(tip_phi - zenith)
            lingual_reach = np.degrees(
                (proximal - sign * np.radians(14)) - (-np.pi / 2 if side == "distal" else 1.5 * np.pi)
            )
            # The scallop as seen from the front: a power of the distance across the tooth, along the axis of its levels.
            end = float(frame.coordinates(body.surface(np.array([tip_phi]), np.array([tip])))[0, 2])
            for share in (0.2, 0.4, 0.6, 0.78, 0.92, 1.0):
                a = zenith + np.radians(reach) * share
                across = (np.cos(a) - np.cos(zenith)) / (np.cos(tip_phi) - np.cos(zenith))
                angle.append(np.degrees(a) % 360)
                value.append(level(a, mid + (end - mid) * float(np.clip(across, 0, 1)) ** 2.0))
            col = tip + (0.5 if name == "margin" else 0.0)
            angle.append(np.degrees(proximal - sign * np.radians(6)) % 360)
            value.append(col)
            for share in (0.3, 0.6, 0.85, 1.0):
                a = (-np.pi / 2 if side == "distal" else 1.5 * np.pi) + np.radians(lingual_reach) * share
                angle.append(np.degrees(a) % 360)
                value.append(back + (tip + 0.35 - back) * float(np.sin(share * np.pi / 2)) ** 2.2)
        table = _periodic(angle, value)
        if name == "crest" and plan.dehiscence > 0:
            turned = np.angle(np.exp(1j * (np.radians(np.arange(0, 360, 0.5)) - np.pi / 2)))
            table = table + plan.dehiscence * np.exp(-((turned / 0.42) ** 4))
        curves[name] = table
    gap = plan.cej - plan.worn - plan.length
    # Measured across the gingiva and not across the tooth, the collar is thicker by an eighth.
    far = plan.gingiva / 1.13 / (1 - np.exp(-max(gap, 0.4) / 0.9))
    window = None
    if plan.fenestrated:
        window = level(np.pi / 2, plan.length + plan.margin_to_crest + plan.dehiscence + 4.0)
    return Collar(
        placed, LevelCurve(curves["margin"]), LevelCurve(curves["crest"]), min(far, 2.2), plan.bone, plan.sulcus, window
    )


def _angle_of(placed: Placed, across: float, along: float) -> float:
    """Stretched angle of the facial surface point ``across`` distal of mid-width at a level."""
    phi = np.linspace(np.radians(40), np.radians(140), 201)
    frame, body = placed.local_frame, placed.body
    w = np.full_like(phi, along)
    for _ in range(6):
        at = frame.coordinates(body.surface(phi, w))
        w = w + (along - at[:, 2])
    distal = frame.coordinates(body.surface(phi, w))[:, 0]
    return float(np.interp(-across, -distal, phi))


def _solve(f: Callable[[float], float]) -> float:
    """The local level at which ``f`` is 0."""
    return float(brentq(f, -0.4, 24.0, xtol=1e-6))

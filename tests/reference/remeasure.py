"""A phantom measured again from its finished triangles alone: rays, sections and distances, none of the code that made it.

Input: the solids of one jaw in the arch frame, by the names of :meth:`festoon.phantom.solids.Solids.every`. Axes, margins, tips, crests
and the CEJ are found anew by the definitions of the readings.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import igl
import numpy as np
import trimesh
from scipy.spatial import cKDTree

UP = np.array([0.0, 0.0, 1.0])


class Hull:
    """Meshes that rays are shot at; a hit says which mesh it was."""

    def __init__(self, **meshes: trimesh.Trimesh) -> None:
        self.names = list(meshes)
        shift = np.cumsum([0] + [len(m.vertices) for m in meshes.values()])
        self.v = np.ascontiguousarray(np.vstack([m.vertices for m in meshes.values()]))
        self.f = np.vstack([m.faces + s for m, s in zip(meshes.values(), shift, strict=False)]).astype(np.int64)
        self.owner = np.repeat(np.arange(len(meshes)), [len(m.faces) for m in meshes.values()])
        self.tree = igl.AABB()
        self.tree.init(self.v, self.f)

    def first(self, start: np.ndarray, direction: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Owner (-1 for none) and distance of the first hit of each ray."""
        start = np.ascontiguousarray(np.atleast_2d(start))
        d = np.ascontiguousarray(np.broadcast_to(direction, start.shape))
        face, t, _ = self.tree.intersect_ray_first(self.v, self.f, start, d)
        return np.where(face >= 0, self.owner[np.maximum(face, 0)], -1), t

    def distance(self, points: np.ndarray) -> np.ndarray:
        """Unsigned distance to the nearest triangle."""
        return np.sqrt(self.tree.squared_distance(self.v, self.f, np.ascontiguousarray(points))[0])


@dataclass
class Seen:
    """One tooth as found in the triangles."""

    fdi: str
    enamel: trimesh.Trimesh
    dentine: trimesh.Trimesh
    vertical: np.ndarray
    """Apical, in the arch frame."""
    outward: np.ndarray
    """Roughly facial: at right angles to the line through the neighbours."""

    def __post_init__(self) -> None:
        self.hull = Hull(enamel=self.enamel, dentine=self.dentine)
        self.position = int(self.fdi[1])
        self._frame()

    @cached_property
    def cej(self) -> np.ndarray:
        """Ends of the edges between crown dentine (walled by enamel) and root."""
        shared = cKDTree(self.enamel.vertices).query(self.dentine.vertices)[0] < 1e-7
        crown = shared[self.dentine.faces].all(axis=1)
        edges = np.sort(self.dentine.faces[crown][:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
        rim, count = np.unique(edges, axis=0, return_counts=True)
        return np.asarray(self.dentine.vertices)[np.unique(rim[count == 1])]

    def _frame(self) -> None:
        v = np.asarray(self.enamel.vertices)
        low = self.enamel.triangles[(self.enamel.triangles_center @ self.vertical) < (v @ self.vertical).min() + 3.0]
        k = 8
        share = [(i / k, j / k) for i in range(k + 1) for j in range(k + 1 - i)]
        v = np.vstack([v, *[low[:, 0] + a * (low[:, 1] - low[:, 0]) + b * (low[:, 2] - low[:, 0]) for a, b in share]])
        axis = self.vertical
        facial = self.outward
        sign = 1.0 if self.fdi[0] in "23" else -1.0
        edge = v[np.argmin(v @ axis)]
        for _ in range(16):
            before = axis
            facial = facial - (facial @ axis) * axis
            facial /= np.linalg.norm(facial)
            # Distal is to the left of the patient on the left side: at right angles, by cross product.
            left = np.cross(UP, facial)
            left /= np.linalg.norm(left)
            distal = np.cross(np.cross(axis, left * sign), axis)
            distal = distal - (distal @ facial) * facial
            distal /= np.linalg.norm(distal)
            across = (v - edge) @ distal
            middle = (across.max() + across.min()) / 2
            level, forward = (v - edge) @ axis, (v - edge) @ facial
            if self.position <= 2:
                near = np.abs(across - middle) <= 0.3
            elif self.position == 3:
                near = level < level.min() + 1.0
            else:
                near = (level < level.min() + 2.5) & (forward > -1.5)
            low = level[near].min()
            edge = v[near & (level < low + 1e-4)].mean(axis=0)
            across = (v - edge) @ distal
            self.middle, self.width = (across.max() + across.min()) / 2, np.ptp(across)
            self.edge, self.axis, self.facial, self.distal = edge, axis, facial, distal
            neck = self._neck()
            share = np.linspace(0.2, 0.8, 61)
            starts = self.at(np.zeros(61), np.full(61, 20.0), share * neck)
            owner, t = self.hull.first(starts, -facial)
            ok = owner >= 0
            lean = np.polyfit(share[ok] * neck, (20.0 - t)[ok], 1)[0]
            tilt = 0.0
            if self.position <= 3:
                mids = []
                used = np.linspace(0.3, 0.7, 41) * neck
                for k in used:
                    cut = self.enamel.section(plane_origin=edge + k * axis, plane_normal=axis)
                    d = (np.asarray(cut.vertices) - edge) @ distal
                    mids.append((d.max() + d.min()) / 2)
                tilt = np.polyfit(used, mids, 1)[0]
                axis = axis + lean * facial + tilt * distal
            else:
                # From the front the arch's vertical: no part of it along the tooth's distal direction.
                axis = axis + lean * facial
                axis = axis - (axis @ distal) * distal + (self.vertical @ distal) / (self.vertical @ axis) * distal
            axis = axis / np.linalg.norm(axis)
            facial = self._facial_direction(axis, self.outward, neck)
            if np.abs(axis - before).max() < 1e-5:
                break
        facial = facial - (facial @ axis) * axis
        self.axis, self.facial = axis, facial / np.linalg.norm(facial)
        distal = np.cross(self.axis, self.facial)
        self.distal = distal if distal @ self.distal > 0 else -distal
        across = (v - self.edge) @ self.distal
        self.middle, self.width = (across.max() + across.min()) / 2, np.ptp(across)

    def _neck(self) -> float:
        c = self.coordinates(self.cej)
        side = c[:, 1] > c[:, 1].mean()
        order = np.argsort(c[side, 0])
        return float(np.interp(0.0, c[side, 0][order], c[side, 2][order]))

    def _facial_direction(self, axis: np.ndarray, start: np.ndarray, neck: float) -> np.ndarray:
        """Three steps of the mean normal of the middle half seen along the direction before, from square to the arch."""
        # Every face in 25 parts of equal area, each in or out of the region.
        tri, k = self.enamel.triangles, 5
        parts = [((3 * i + 1) / (3 * k), (3 * j + 1) / (3 * k)) for i in range(k) for j in range(k - i)]
        parts += [((3 * i + 2) / (3 * k), (3 * j + 2) / (3 * k)) for i in range(k - 1) for j in range(k - 1 - i)]
        facing = self.enamel.face_normals @ start > 0.3
        # Seen from the facial side: the inner wall of the lingual enamel faces facially too.
        above = self.enamel.triangles_center + 1e-3 * self.enamel.face_normals
        facing &= self.hull.first(above, start / np.linalg.norm(start))[0] < 0
        tri, n = tri[facing], (self.enamel.face_normals * self.enamel.area_faces[:, None])[facing]
        dots = np.concatenate([tri[:, 0] + a * (tri[:, 1] - tri[:, 0]) + b * (tri[:, 2] - tri[:, 0]) for a, b in parts])
        n = np.tile(n, (len(parts), 1))
        rows = np.abs((dots - self.edge) @ axis - neck / 2) < neck / 4
        dots, n, v = dots[rows] - self.edge, n[rows], np.asarray(self.enamel.vertices) - self.edge
        facial = start - (start @ axis) * axis
        for _ in range(3):
            distal = np.cross(axis, facial / np.linalg.norm(facial))
            across = v @ distal
            near = np.abs(dots @ distal - (across.max() + across.min()) / 2) < np.ptp(across) / 4
            total = n[near].sum(axis=0)
            facial = total - (total @ axis) * axis
        return facial / np.linalg.norm(facial)

    def coordinates(self, points: np.ndarray) -> np.ndarray:
        """(distal from mid-width, facial, level)."""
        away = np.asarray(points) - self.edge
        return np.stack([away @ self.distal - self.middle, away @ self.facial, away @ self.axis], axis=-1)

    def at(self, across: np.ndarray, forward: np.ndarray, level: np.ndarray) -> np.ndarray:
        """Points by their coordinates."""
        across, forward, level = np.broadcast_arrays(across, forward, level)
        return (
            self.edge
            + (across[:, None] + self.middle) * self.distal
            + forward[:, None] * self.facial
            + level[:, None] * self.axis
        )


def _between(ends: np.ndarray, parts: int = 8) -> np.ndarray:
    """Points along line segments (N, 2, 3)."""
    share = np.linspace(0, 1, parts)[:, None, None]
    return (ends[:, 0] + share * (ends[:, 1] - ends[:, 0])).reshape(-1, 3)


def _round(mesh: trimesh.Trimesh, centre: np.ndarray, radius: float = 14.0) -> trimesh.Trimesh:
    """The faces near a place, so that the tree of rays stays small."""
    near = np.linalg.norm(mesh.triangles_center - centre, axis=1) < radius
    return trimesh.Trimesh(mesh.vertices, mesh.faces[near], process=False)


class Remeasured:
    """Quantities of a jaw, by tooth and site."""

    def __init__(
        self, solids: dict[str, tuple[np.ndarray, np.ndarray]], upper: bool, only: tuple[str, ...] | None = None
    ) -> None:
        made = {n: trimesh.Trimesh(v, f, process=False) for n, (v, f) in solids.items()}
        self.gingiva, self.bone = made["gingiva"], made["bone"]
        vertical = UP if upper else -UP
        codes = [n.split("-")[0] for n in made if n.endswith("-enamel")]
        middles = {c: made[f"{c}-enamel"].center_mass for c in codes}
        self.teeth = {}
        for i, c in enumerate(codes):
            if only is not None and c not in only:
                continue
            along = middles[codes[min(i + 1, len(codes) - 1)]] - middles[codes[max(i - 1, 0)]]
            outward = np.array([along[1], -along[0], 0.0])  # the teeth come from the patient's right to the left
            self.teeth[c] = Seen(c, made[f"{c}-enamel"], made[f"{c}-dentine"], vertical, outward)
        self.vertical = vertical

    def _change(self, tooth: Seen, cover: Hull, across: np.ndarray, side: float, low: float, high: float) -> np.ndarray:
        """Level at which a straight look from the facial (or lingual) side changes from tooth to cover."""
        lo, hi = np.full(len(across), low), np.full(len(across), high)
        for _ in range(24):
            mid = (lo + hi) / 2
            owner, _ = cover.first(tooth.at(across, np.full(len(across), side * 8.0), mid), -side * tooth.facial)
            covered = owner == 0
            hi, lo = np.where(covered, mid, hi), np.where(covered, lo, mid)
        return (lo + hi) / 2

    def measure(self, fdi: str) -> dict[tuple[str, str | None], float]:
        """Every quantity that belongs to one tooth."""
        t = self.teeth[fdi]
        gingiva = _round(self.gingiva, t.enamel.center_mass)
        soft = Hull(gingiva=gingiva, enamel=t.enamel, dentine=t.dentine)
        bone = _round(self.bone, t.enamel.center_mass)
        out: dict[tuple[str, str | None], float] = {("crown_width", None): float(t.width)}
        grid = np.linspace(-0.28 * t.width, 0.28 * t.width, 81)
        margin = self._change(t, soft, grid, 1.0, 0.5, 14.0)
        k = int(np.clip(np.argmax(margin), 4, len(grid) - 5))
        fit = np.polyfit(grid[k - 4 : k + 5] - grid[k], margin[k - 4 : k + 5], 2)
        top = np.clip(-fit[1] / (2 * fit[0]), -0.3, 0.3)
        out["crown_length", None] = float(np.polyval(fit, top))
        out["zenith_offset", None] = float(grid[k] + top)
        out["edge_height", None] = float(t.edge @ self.vertical)
        apex = np.asarray(t.dentine.vertices)
        out["root_apex_level", None] = float(t.coordinates(apex)[:, 2].max())
        cej = t.coordinates(t.cej)
        apart = 0.3 * t.width
        for site, across, side in (
            ("mesiofacial", -apart, 1.0), ("midfacial", 0.0, 1.0), ("distofacial", apart, 1.0), ("midlingual", 0.0, -1.0),
        ):  # fmt: skip
            place = np.array([across])
            face = side * (cej[:, 1] - cej[:, 1].mean()) > 0
            order = np.argsort(cej[face, 0])
            neck = float(np.interp(across, cej[face, 0][order], cej[face, 2][order]))
            out["cej_level", site] = neck
            out["margin_level", site] = float(self._change(t, soft, place, side, 0.5, neck + 1.5)[0])
            crest = self._crest(t, bone, across, side)
            if crest is not None:
                out["crest_level", site] = crest
                out["sounding", site] = crest - out["margin_level", site]
        out["probing_depth", "midfacial"] = self._sulcus(t, gingiva, out["margin_level", "midfacial"])
        if out["cej_level", "midfacial"] > out["margin_level", "midfacial"] + 0.3:
            out["gingiva_thickness", "midfacial"] = self._gingiva_thickness(t, soft, out["cej_level", "midfacial"])
        return out

    @staticmethod
    def _crest(t: Seen, bone: trimesh.Trimesh, across: float, side: float) -> float | None:
        """The most coronal bone that lies against the tooth in the plane ``across``: a section of both. None where none does."""
        cut = bone.section(plane_origin=t.edge + (across + t.middle) * t.distal, plane_normal=t.distal)
        points = _between(np.asarray(cut.vertices)[cut.vertex_nodes])
        c = t.coordinates(points)
        middle = t.coordinates(t.dentine.center_mass)[1]
        apart = t.hull.distance(points)
        near = (side * (c[:, 1] - middle) > 0) & (apart < 0.12)
        return float(c[near, 2].min()) if near.any() else None

    @staticmethod
    def _sulcus(t: Seen, gingiva: trimesh.Trimesh, margin: float) -> float:
        levels = margin + np.arange(0.15, 4.0, 0.005)
        _, away = t.hull.first(t.at(np.zeros(len(levels)), np.full(len(levels), 12.0), levels), -t.facial)
        points = t.at(np.zeros(len(levels)), 12.0 - away, levels)
        open_ = Hull(g=gingiva).distance(points) > 0.004
        # The sulcus closes at 0.08 mm in 0.3 mm: 0.004 mm is reached 0.015 mm before its bottom.
        return float(levels[np.argmin(open_) - 1] - margin) + 0.015

    def _gingiva_thickness(self, t: Seen, soft: Hull, level: float) -> float:
        _, away = soft.first(t.at(np.zeros(1), np.full(1, 12.0), np.full(1, level)), -t.facial)
        outer = t.at(np.zeros(1), 12.0 - away, np.full(1, level))
        patch = np.flatnonzero(np.linalg.norm(self.gingiva.triangles_center - outer[0], axis=1) < 0.25)
        n = (self.gingiva.face_normals[patch] * self.gingiva.area_faces[patch, None]).sum(axis=0)
        n /= np.linalg.norm(n)
        _, depth = t.hull.first(outer, -n)
        return float(depth[0])

    def _level(self, points: np.ndarray) -> np.ndarray:
        """The points moved to height 0."""
        return points - (points @ self.vertical)[:, None] * self.vertical

    def papilla(self, right: str, left: str) -> np.ndarray:
        """The most coronal ray of a straight facial view of the embrasure that ends on gingiva: where it ends."""
        a, b = self.teeth[right], self.teeth[left]
        hull = Hull(
            gingiva=_round(self.gingiva, (a.enamel.center_mass + b.enamel.center_mass) / 2),
            a=a.enamel,
            b=b.enamel,
            c=a.dentine,
            d=b.dentine,
        )
        facial = a.facial + b.facial
        facial[2] = 0
        facial /= np.linalg.norm(facial)
        across = np.array([-facial[1], facial[0], 0.0])
        centre = (a.enamel.center_mass + b.enamel.center_mass) / 2
        # Where both crowns come nearest lies the embrasure.
        wall_a = (np.asarray(a.enamel.vertices) @ across).max()
        wall_b = (np.asarray(b.enamel.vertices) @ across).min()
        centre = centre + ((wall_a + wall_b) / 2 - centre @ across) * across
        u = np.arange(-1.5, 1.501, 0.015)
        base = centre @ self.vertical
        heights = base + np.arange(-5.0, 7.0, 0.1)
        start = self._level(centre + u[:, None] * across + 15.0 * facial)
        grid = (start[None] + heights[:, None, None] * self.vertical).reshape(-1, 3)
        owner = hull.first(grid, -facial)[0].reshape(len(heights), len(u))
        first = np.argmax(owner == 0, axis=0)
        good = (owner == 0).any(axis=0) & (first > 0)
        hi, lo = heights[first], heights[np.maximum(first - 1, 0)]

        def settled(hi: np.ndarray, lo: np.ndarray) -> np.ndarray:
            for _ in range(12):
                mid = (lo + hi) / 2
                soft = hull.first(start + mid[:, None] * self.vertical, -facial)[0] == 0
                hi, lo = np.where(soft, mid, hi), np.where(soft, lo, mid)
            return hi

        hi = settled(hi, lo)
        hi[~good] = np.inf
        k = int(np.argmin(hi))
        # Again, finely, beside the best column: the gingiva is seen through a slit.
        best = hi[k]
        start = self._level(centre + (u[k] + np.arange(-0.02, 0.0201, 0.0005))[:, None] * across + 15.0 * facial)
        start = start[hull.first(start + best * self.vertical, -facial)[0] == 0]
        hi = settled(np.full(len(start), best), np.full(len(start), best - 0.4))
        k = int(np.argmin(hi))
        top, middle = hi[k], start[k]
        # The place: the mean of what is seen in the tenth of a millimetre under the top.
        rays = np.vstack([
            middle + a * across + (top + h) * self.vertical
            for a in np.arange(-1.0, 1.0001, 0.02) for h in np.arange(0.01, 0.1, 0.02)
        ])  # fmt: skip
        owner, away = hull.first(rays, -facial)
        ends = (rays - away[:, None] * facial)[owner == 0]
        place = self._level(ends.mean(axis=0)[None])[0]
        return place + top * self.vertical

    def of_pair(self, right: str, left: str) -> dict[tuple[str, str, str], float]:
        """Quantities of a papilla, by (tooth, quantity, side)."""
        tip = self.papilla(right, left)
        out: dict[tuple[str, str, str], float] = {}
        for fdi, other in ((right, left), (left, right)):
            t = self.teeth[fdi]
            crosses = fdi[0] != other[0]
            side = "mesial" if crosses or other[1] < fdi[1] else "distal"
            across, _, level = t.coordinates(tip)
            out[fdi, "margin_level", side] = float(level)
            cut = self.bone.section(plane_origin=t.edge + (across + t.middle) * t.distal, plane_normal=t.distal)
            c = _between(t.coordinates(np.asarray(cut.vertices)[cut.vertex_nodes]))
            neck = t.coordinates(t.cej)[:, 1]
            near = (np.abs(c[:, 1] - (neck.max() + neck.min()) / 2) < 2.5) & (c[:, 2] < level + 9)
            out[fdi, "crest_level", side] = float(c[near, 2].min())
            cej = t.coordinates(t.cej)
            half = cej[:, 0] < 0 if side == "mesial" else cej[:, 0] > 0
            out[fdi, "cej_level", side] = float(cej[half, 2].min())
            contact = self._contact(t, self.teeth[other])
            if contact is not None:
                out[fdi, "contact_level", side] = contact
        return out

    @staticmethod
    def _contact(t: Seen, other: Seen) -> float | None:
        v, f = np.asarray(t.enamel.vertices), np.asarray(t.enamel.faces)
        hull = Hull(e=other.enamel)
        near = hull.distance(v[f].mean(axis=1)) < 0.25
        corners = v[f[near]]
        k = 12
        share = np.array([(i / k, j / k) for i in range(k + 1) for j in range(k + 1 - i)])
        dense = corners[:, :1] + share[None, :, :1] * (corners[:, 1:2] - corners[:, :1])
        dense = (dense + share[None, :, 1:] * (corners[:, 2:3] - corners[:, :1])).reshape(-1, 3)
        touching = dense[hull.distance(dense) < 0.05]
        return float(t.coordinates(touching)[:, 2].max()) if len(touching) else None

"""Checks of a finished part: everything is measured on its surface, nothing is taken from how it was made."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import igl
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from festoon.template.build import Part
from festoon.template.inputs import Floats, Ints, Sheet, Wish
from festoon.template.prepare import Ground

MEDIAN_WITHIN, P95_WITHIN = 0.03, 0.08
"""Clearance: median and 95th percentile of the departure from the wanted one, mm (acceptance limits, no source)."""
EDGE_WITHIN = 0.10
"""Blade edge: 95th percentile of the departure from the planned line, mm (acceptance limit, no source)."""
FREE_OF_GINGIVA = 0.2
"""Least gap to gingiva, mm (common practice, no source)."""
MOST_FACETS = 500_000
"""Facets a printer's software takes without trouble (common practice, no source)."""
_DRAW = 0.06
"""Surfaces that turn away from the axis by less (sine) do not bear: blocking out a scanner's last noise moves them."""
_LOOKS = 1.5
"""A face that sees the scan within so much is an inner one, mm."""
_RIM = 1.2
"""Wall and clearance are not judged so near a rim, mm: there they run out into rounded edges."""
_DEPTHS = (0.7, 1.2, 1.7)
"""How far within the outer face an edge is read, mm."""
_TIPS, _STRUTS = 0.7, 2.9
"""Edges are read to so near the papilla tips, or to the struts beside an opening, mm."""
_GRAZE = 0.05
"""Places that graze each other by less do not collide, mm: less than the clearance, more than a scanner's noise."""
_OUTER = 0.8
"""A face further than this from the scan is an outer one, mm: a fin between two teeth has inner faces on both sides."""
_PARALLEL = 0.9
"""Inner and outer face are the two sides of a wall where their normals are opposite to about 25 degrees (cosine); a face that runs
off at an angle is a rim's."""
_LIFT = 12.0
"""The part is lifted so far, mm."""


@dataclass(frozen=True)
class Check:
    """One check of one part."""

    name: str
    title: str
    passed: bool | None
    """None: not asked for, or nothing to be measured."""
    measured: str
    wanted: str
    where: str = ""
    """Place of the worst value, in words; empty where there is none."""
    value: float | None = None
    """The number that was held against the limit."""


@dataclass(frozen=True)
class Maps:
    """What was measured place by place, seated pose."""

    wall: Floats
    """x, y, z, thickness; shape (N, 4), mm."""
    clearance: Floats
    """x, y, z of the tooth's surface, gap; shape (N, 4), mm."""
    edge: Floats
    """x, y, z of the edge, level measured minus level planned; shape (N, 4), mm."""


class Body:
    """A surface made ready for rays and distances."""

    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self._tree: Any = igl.AABB()
        self._tree.init(sheet.vertices, sheet.faces)

    def hits(self, start: Floats, direction: Floats) -> tuple[Ints, Floats]:
        """First face each ray hits (-1: none) and the distance to it (inf), shape (N,)."""
        along = np.broadcast_to(direction, start.shape)
        hit, t, _ = self._tree.intersect_ray_first(
            self.sheet.vertices, self.sheet.faces, np.ascontiguousarray(start), np.ascontiguousarray(along)
        )
        face = np.asarray(hit)
        return face, np.where(face >= 0, np.asarray(t), np.inf)

    def first(self, start: Floats, direction: Floats) -> Floats:
        """Distance to the first hit of each ray, inf where there is none, shape (N,)."""
        return self.hits(start, direction)[1]

    def nearest(self, points: Floats) -> Floats:
        """Distance to the surface, shape (N,)."""
        squared, _, _ = self._tree.squared_distance(self.sheet.vertices, self.sheet.faces, np.ascontiguousarray(points))
        return np.asarray(np.sqrt(np.asarray(squared)))


def check_part(part: Part, ground: Ground, wish: Wish, supports: tuple[str, ...]) -> tuple[list[Check], Maps]:
    """Every check of a part, and the maps behind three of them.

    Parameters
    ----------
    part : Part
        Its ``sheet`` is what is measured; lines and teeth say what it is held against.
    ground : Ground
        Seated pose.
    wish : Wish
    supports : tuple of str
        Teeth that must bear: the sound ones beyond the field.
    """
    body, land = Body(part.sheet), Body(ground.sheet)
    checks = list(_topology(part))
    wall, wall_map = _wall(part, body, ground, wish)
    clearance, gaps = _clearance(part, body, land, ground, wish)
    edge, edge_map = _edge(part, body)
    checks += [wall, clearance, _support(part, gaps, supports), edge, _swept(part, body, land, ground)]
    checks += [_gingiva(part, ground), _holes(part, body, ground), _room(part, wish), _facets(part), _text(part, body)]
    return checks, Maps(wall_map, gaps, edge_map)


def place_of(part: Part, point: Floats) -> str:
    """A place in words: tooth, side and level."""
    best = min(
        part.row.targets,
        key=lambda t: float(np.linalg.norm(t.tooth.points(*np.array([[0.0], [-2.0], [4.0]]))[0] - point)),
    )
    across, depth, level = best.tooth.coordinates(point)
    middle = best.tooth.coordinates(best.tooth.margin)[:, 1].mean()
    third = "mid" if abs(across) < best.half / 3 else "mesial" if across < 0 else "distal"
    return f"{best.tooth.fdi} {third} {'facial' if depth > middle else 'lingual'}, {level:.1f} mm from the edge"


def _topology(part: Part) -> Iterator[Check]:
    faces, n = part.sheet.faces, len(part.sheet.vertices)
    directed = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    key = directed[:, 0] * n + directed[:, 1]
    back = directed[:, 1] * n + directed[:, 0]
    unique, count = np.unique(key, return_counts=True)
    open_ = int((~np.isin(unique, back)).sum())
    double = int((count > 1).sum())
    yield Check("watertight", "watertight", open_ == 0, f"{open_} open edges", "none", value=float(open_))
    yield Check(
        "manifold",
        "manifold, wound one way",
        double == 0,
        f"{double} edges used twice in one direction",
        "none",
        value=float(double),
    )
    links = coo_matrix((np.ones(len(directed), np.int8), (directed[:, 0], directed[:, 1])), shape=(n, n))
    _, label = connected_components(links, directed=False)
    bodies = len(np.unique(label[faces[:, 0]])) if len(faces) else 0
    sound = bodies == 1 and part.dropped < 1.0
    yield Check(
        "one_body",
        "one body",
        sound,
        f"{bodies}; crumbs of {part.dropped:.2f} mm3 in all were left out",
        "1, crumbs under 1 mm3",
        value=float(bodies),
    )
    p = part.sheet.vertices[faces]
    volume = float(np.einsum("ij,ij->i", p[:, 0], np.cross(p[:, 1], p[:, 2])).sum() / 6)
    yield Check("volume", "volume, outward faces", volume > 0, f"{volume:.0f} mm3", "above 0", value=volume)


def _samples(sheet: Sheet, count: int) -> tuple[Floats, Floats]:
    """Places spread evenly over a surface, and their normals; always the same ones."""
    p = sheet.vertices[sheet.faces]
    normal = np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0])
    area = np.linalg.norm(normal, axis=1)
    rng = np.random.default_rng(9)
    k = rng.choice(len(p), size=count, p=area / area.sum())
    u, v = np.sqrt(rng.random(count)), rng.random(count)
    points = (1 - u)[:, None] * p[k, 0] + (u * (1 - v))[:, None] * p[k, 1] + (u * v)[:, None] * p[k, 2]
    return points, normal[k] / np.maximum(area[k], 1e-12)[:, None]


def _wall(part: Part, body: Body, ground: Ground, wish: Wish) -> tuple[Check, Floats]:
    """From the inner face, through the material along the normal, to the outer face."""
    points, normals = _samples(part.sheet, 40_000)
    inner = Body(ground.sheet).first(points, normals) < _LOOKS
    points, normals = points[inner], normals[inner]
    land = Body(ground.sheet)
    rim = _rim(part, land, points, normals)
    points, normals = points[~rim], normals[~rim]
    face, thick = body.hits(points - 1e-3 * normals, -normals)
    p = part.sheet.vertices[part.sheet.faces[face]]
    far = np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0])
    opposite = (far * normals).sum(axis=1) < -_PARALLEL * np.linalg.norm(far, axis=1)
    facing = (face >= 0) & opposite
    points, thick, normals = points[facing], thick[facing] + 1e-3, normals[facing]
    through = land.nearest(points - thick[:, None] * normals) > _OUTER
    points, thick = points[through], thick[through]
    wanted = f"at least {wish.wall:g} mm from inner to outer face, {_RIM:g} mm and more from a rim"
    if not len(thick):
        return Check("wall", "wall", False, "no inner face found", wanted), np.zeros((0, 4))
    k = int(np.argmin(thick))
    least = float(thick[k])
    check = Check(
        "wall", "wall", least >= wish.wall, f"least {least:.2f} mm, median {np.median(thick):.2f} mm ({len(thick)} places)", wanted,
        place_of(part, points[k]), least,
    )  # fmt: skip
    return check, np.c_[points, thick]


def _rim(part: Part, land: Body, points: Floats, normals: Floats) -> NDArray[np.bool_]:
    """Places near a rim: near a face that does not look at the scan and is not the opposite side of the wall."""
    p = part.sheet.vertices[part.sheet.faces]
    normal = np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-12)
    centre = p.mean(axis=1)
    away = ~(land.first(centre, normal) < _LOOKS)
    if not away.any() or not len(points):
        return np.zeros(len(points), dtype=bool)
    distance, k = cKDTree(centre[away]).query(points, k=12)
    beside = (normal[away][np.minimum(k, away.sum() - 1)] * normals[:, None, :]).sum(axis=2) > -0.8
    return np.asarray(((distance < _RIM) & beside).any(axis=1))


def _clearance(part: Part, body: Body, land: Body, ground: Ground, wish: Wish) -> tuple[Check, Floats]:
    """From bearing surfaces of the teeth to the part."""
    teeth = [int(t.tooth.fdi) for t in part.row.targets]
    own = np.flatnonzero(np.isin(ground.tooth, teeth))
    points, normals = ground.sheet.vertices[own], ground.sheet.vertex_normals[own]
    covered = body.first(points + 1e-3 * normals, normals) < 0.6
    bearing = covered & (normals[:, 2] < -_DRAW)
    free = ~np.isfinite(land.first(points + 0.05 * normals, np.array([0.0, 0.0, -1.0])))
    bearing &= free
    soft = ground.sheet.vertices[ground.tooth == 0]
    bearing &= cKDTree(soft).query(points)[0] > 0.7
    bearing &= ~_rim(part, land, points, -normals)
    points = points[bearing]
    wanted = f"{wish.clearance:g} mm: median within {MEDIAN_WITHIN:g}, 95 % within {P95_WITHIN:g}"
    if len(points) < 50:
        return Check("clearance", "clearance to the teeth", False, "hardly any bearing surface", wanted), np.zeros(
            (0, 4)
        )
    gap = body.nearest(points)
    away = np.abs(gap - wish.clearance)
    median, p95 = float(np.median(gap)), float(np.quantile(away, 0.95))
    passed = abs(median - wish.clearance) <= MEDIAN_WITHIN and p95 <= P95_WITHIN
    check = Check(
        "clearance", "clearance to the teeth", passed, f"median {median:.3f} mm, 95 % within {p95:.3f} mm ({len(gap)} places)",
        wanted, place_of(part, points[int(np.argmax(away))]), p95,
    )  # fmt: skip
    return check, np.c_[points, gap]


def _support(part: Part, gaps: Floats, supports: tuple[str, ...]) -> Check:
    """How much of each supporting tooth bears."""
    found = {}
    for t in part.row.targets:
        if t.tooth.fdi in supports and len(gaps):
            at = t.tooth.coordinates(gaps[:, :3])
            found[t.tooth.fdi] = int(((np.abs(at[:, 0]) < t.half) & (np.abs(at[:, 1]) < 9)).sum())
    weak = [fdi for fdi in supports if found.get(fdi, 0) < 100]
    words = ", ".join(f"{fdi} {n} places" for fdi, n in found.items()) or "none"
    return Check(
        "support",
        "bears on sound teeth beyond the field",
        not weak and len(supports) >= 2,
        words,
        "100 places or more on each",
        ", ".join(weak),
    )


def _edge(part: Part, body: Body) -> tuple[Check, Floats]:
    """Along each tooth's axis on to the edge, at several depths of the wall, tooth by tooth."""
    found = []
    worst: dict[str, float] = {}
    for t in part.row.targets:
        for apical, level in _edges_of(part, t.tooth.fdi):
            middle = (t.across[0] + t.across[-1]) / 2
            used = np.abs(t.across - middle) < max(t.half - (_STRUTS if _has_both(part) else _TIPS), 0.6)
            across, planned = t.across[used], level[used]
            sign = 1.0 if apical else -1.0
            front = t.tooth.points(across, np.full(len(across), 15.0), planned + 0.5 * sign)
            outer = 15.0 - body.first(front, -t.tooth.facial)
            outer = np.where(np.isfinite(outer), outer, 0.0)
            for within in _DEPTHS:
                depth = outer - within
                gap = 1.2
                start = t.tooth.points(across, depth, planned - sign * gap)
                off = sign * (body.first(start, sign * t.tooth.axis) - gap)
                found.append(np.c_[t.tooth.points(across, depth, planned), off])
                worst[t.tooth.fdi] = max(worst.get(t.tooth.fdi, 0.0), float(np.quantile(np.abs(off), 0.95)))
    wanted = f"95 % within {EDGE_WITHIN:g} mm of the planned line, on every tooth, from tip to tip less 0.7 mm each (openings: less the struts)"
    if not found:
        return Check("edge", "edges on the planned lines", False, "no edge", wanted), np.zeros((0, 4))
    every = np.concatenate(found)
    p95 = float(np.quantile(np.abs(every[:, 3]), 0.95))
    passed = max(worst.values()) <= EDGE_WITHIN
    words = f"95 % within {p95:.3f} mm; by tooth " + ", ".join(f"{fdi} {v:.3f}" for fdi, v in worst.items())
    where = max(worst, key=lambda fdi: worst[fdi])
    return Check("edge", "edges on the planned lines", passed, words, wanted, "" if passed else where, p95), every


def _has_both(part: Part) -> bool:
    return part.name == "gingival-and-crest"


def _edges_of(part: Part, fdi: str) -> Iterator[tuple[bool, Floats]]:
    """(whether the body lies apical of the edge, its levels) of a tooth's edges."""
    target = next(t for t in part.row.targets if t.tooth.fdi == fdi)
    if fdi in part.edges:
        yield False, part.edges[fdi]
        if _has_both(part) and target.crest is not None:
            yield True, target.crest


def _swept(part: Part, body: Body, land: Body, ground: Ground) -> Check:
    """Lifted along the axis, no place of the part meets the scan and no place of the scan meets the part."""
    off = np.array([0.0, 0.0, -1.0])
    hits = land.first(part.sheet.vertices - _GRAZE * part.sheet.vertex_normals, off) < _LIFT
    low, high = part.sheet.vertices.min(axis=0) - 1, part.sheet.vertices.max(axis=0) + 1
    near = ((ground.sheet.vertices > low) & (ground.sheet.vertices < high)).all(axis=1)
    points = (ground.sheet.vertices - _GRAZE * ground.sheet.vertex_normals)[near]
    meets = body.first(points, -off) < _LIFT
    count = int(hits.sum() + meets.sum())
    share = count / (len(hits) + len(meets))
    place = part.sheet.vertices[hits][0] if hits.any() else points[meets][0] if meets.any() else None
    return Check(
        "insertion", "goes on and off along its axis", count == 0, f"{count} of {len(hits) + len(meets)} places meet", "none",
        "" if place is None else place_of(part, place), share,
    )  # fmt: skip


def _gingiva(part: Part, ground: Ground) -> Check:
    soft = ground.sheet.vertices[ground.tooth == 0]
    gap, _ = cKDTree(soft).query(part.sheet.vertices)
    k = int(np.argmin(gap))
    least = float(gap[k])
    return Check(
        "gingiva", "nothing bears on gingiva", least >= FREE_OF_GINGIVA, f"least gap {least:.2f} mm", f"at least {FREE_OF_GINGIVA:g} mm",
        place_of(part, part.sheet.vertices[k]), least,
    )  # fmt: skip


def _holes(part: Part, body: Body, ground: Ground) -> Check:
    """Gaps of the scan under the part: small ones bridged and said, larger ones stop it."""
    teeth = ground.sheet.vertices[ground.tooth > 0]
    said: list[str] = []
    bad: list[str] = []
    for hole in ground.holes:
        under = float(body.nearest(hole.centre[None])[0]) < 0.6 + hole.across / 2
        if not under or float(cKDTree(teeth).query(hole.centre)[0]) > 0.4 + hole.across / 2:
            continue
        words = f"{hole.across:.1f} mm at {place_of(part, hole.centre)}"
        (said if hole.bridged else bad).append(words)
    words = "; ".join([f"bridged: {w}" for w in said] + [f"open: {w}" for w in bad]) or "none"
    return Check("holes", "gaps of the scan under the part", not bad, words, "bridged only where small", "; ".join(bad))


def _room(part: Part, wish: Wish) -> Check:
    size = np.ptp(part.sheet.vertices, axis=0)
    words = " x ".join(f"{v:.1f}" for v in size) + " mm"
    if wish.build_volume is None:
        return Check("build_volume", "fits the printer", None, words, "not said")
    fits = bool((np.sort(size) <= np.sort(wish.build_volume)).all())
    return Check(
        "build_volume", "fits the printer", fits, words, " x ".join(f"{v:g}" for v in wish.build_volume) + " mm"
    )


def _facets(part: Part) -> Check:
    n = len(part.sheet.faces)
    return Check("facets", "facets", n <= MOST_FACETS, str(n), f"at most {MOST_FACETS}", value=float(n))


def _text(part: Part, body: Body) -> Check:
    """Strokes stand out from the face beside them."""
    poor = []
    least = np.inf
    path = part.row.face
    for word in part.words:
        s = np.arange(word.along - word.length / 2 - 0.5, word.along + word.length / 2 + 0.5, 0.1)
        v = np.arange(-word.cap * 0.6, word.cap * 0.6, 0.1)
        ss, vv = (a.ravel() for a in np.meshgrid(s, v, indexing="ij"))
        flat = word.distance(ss, vv)
        foot = np.stack([np.interp(ss, path.along, path.path[:, k]) for k in (0, 1)], axis=1)
        facing = np.stack([np.interp(ss, path.along, path.facing[:, k]) for k in (0, 1)], axis=1)
        start = np.c_[foot + 10 * facing, word.height + part.up * vv]
        far = body.first(start, np.c_[-facing, np.zeros(len(ss))])
        stroke, beside = flat < -0.08, (flat > 0.25) & (flat < 0.45)
        base = cKDTree(np.c_[ss, vv][beside]).query(np.c_[ss, vv][stroke], k=5)[1]
        far = np.where(np.isfinite(far), far, 1e3)
        raised = np.median(far[beside][base], axis=1) - far[stroke]
        share = float((np.isfinite(raised) & (raised > 0.25) & (raised < 2.0)).mean())
        least = min(least, share)
        if share < 0.8:
            poor.append(word.text)
    return Check(
        "text", "text legible", not poor, f"strokes raised by 0.25 mm or more: {least * 100:.0f} % in the worst word",
        "80 % of every word", ", ".join(poor), float(least),
    )  # fmt: skip

"""Checks of a finished part: everything is measured on its surface, nothing is taken from how it was made."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from festoon.template.body import Body
from festoon.template.build import Part
from festoon.template.inputs import Floats, Wish
from festoon.template.prepare import Ground
from festoon.template.wall import inner_faces, near_rim, walls

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
_RIM = 1.2
"""Clearance is not judged so near a rim, mm: there the inner face runs out into a rounded edge."""
_DEPTHS = (0.7, 1.2, 1.7)
"""How far within the outer face an edge is read, mm."""
_TIPS = 0.7
"""Edges are read to so near their ends at the papilla tips, or at the struts beside an opening, mm."""
_GRAZE = 0.05
"""Places that go into each other by less only graze, mm: well under the clearance, more than a scanner's noise leaves after
smoothing."""
_STRIDE = 0.02
"""Depth is read at such steps of the way, mm."""
_BATCH = 500
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


def check_part(
    part: Part, ground: Ground, wish: Wish, supports: tuple[str, ...], land: Body | None = None
) -> tuple[list[Check], Maps]:
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
    land : Body, optional
        The ground's surface, where it was made ready before.
    """
    body, land = Body(part.sheet), land or Body(ground.sheet)
    inner = inner_faces(body, land)
    checks = list(_topology(part))
    wall, wall_map = _wall(part, body, land, inner, wish)
    clearance, gaps = _clearance(part, body, inner, land, ground, wish)
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


def _wall(part: Part, body: Body, land: Body, inner: NDArray[np.bool_], wish: Wish) -> tuple[Check, Floats]:
    """The largest balls that fit between the inner and the outer face."""
    wanted = f"a ball of {wish.wall:g} mm fits between inner and outer face wherever the two face each other"
    points, thick = walls(body, land, inner, wish.wall)
    if not len(thick):
        return Check("wall", "wall", False, "no inner face found", wanted), np.zeros((0, 4))
    k = int(np.argmin(thick))
    least = float(thick[k])
    check = Check(
        "wall", "wall", least >= wish.wall, f"least {least:.2f} mm, median {np.median(thick):.2f} mm ({len(thick)} places)", wanted,
        place_of(part, points[k]), least,
    )  # fmt: skip
    return check, np.c_[points, thick]


def _clearance(
    part: Part, body: Body, inner: NDArray[np.bool_], land: Body, ground: Ground, wish: Wish
) -> tuple[Check, Floats]:
    """From bearing surfaces of the teeth to the part."""
    teeth = [int(t.tooth.fdi) for t in part.row.targets]
    own = np.flatnonzero(np.isin(ground.tooth, teeth))
    points, normals = ground.sheet.vertices[own], ground.sheet.vertex_normals[own]
    covered = body.first(points + 1e-3 * normals, normals) < 0.6
    bearing = covered & (normals[:, 2] < -_DRAW)
    free = ~np.isfinite(land.first(points + 0.05 * normals, np.array([0.0, 0.0, -1.0])))
    bearing &= free
    bearing &= land.first(points + 0.05 * normals, normals) > wish.wall + 0.2  # a cleft is filled
    soft = ground.sheet.vertices[ground.tooth == 0]
    bearing &= cKDTree(soft).query(points)[0] > 0.7
    bearing &= ~near_rim(body, inner, points, -normals, _RIM)
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
            begin, end = part.reach.get(t.tooth.fdi, (0.0, 0.0))
            used = (t.across > begin + _TIPS) & (t.across < end - _TIPS)
            if not used.any():
                worst[t.tooth.fdi] = np.inf
                continue
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
    wanted = f"95 % within {EDGE_WITHIN:g} mm of the planned line, on every tooth, from end to end less 0.7 mm each"
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
    """Lifted along the axis, no place of the part goes into the scan and no place of the scan into the part by more than a graze.

    A ray from every corner along the axis finds those that meet anything on the way; for these the depth to which they go in is
    measured along the way.
    """
    off = np.array([0.0, 0.0, -1.0])
    low, high = part.sheet.vertices.min(axis=0) - 1, part.sheet.vertices.max(axis=0) + 1
    near = ((ground.sheet.vertices > low) & (ground.sheet.vertices < high)).all(axis=1)
    count, deepest, place = 0, 0.0, None
    corners = 0
    for points, way, other in ((part.sheet.vertices, off, land), (ground.sheet.vertices[near], -off, body)):
        corners += len(points)
        meets = points[other.first(points, way) < _LIFT]
        if not len(meets):
            continue
        depth = _deepest(meets, way, other)
        count += int((depth > _GRAZE).sum())
        if depth.max() > deepest:
            deepest, place = float(depth.max()), meets[int(np.argmax(depth))]
    passed = deepest <= _GRAZE
    return Check(
        "insertion", "goes on and off along its axis", passed,
        f"{count} of {corners} corners meet on the way; deepest {deepest:.3f} mm", f"none by more than {_GRAZE:g} mm",
        "" if passed or place is None else place_of(part, place), deepest,
    )  # fmt: skip


def _deepest(points: Floats, way: Floats, other: Body) -> Floats:
    """How deep each point gets into another body on its way, mm, never told too small. Shape (N,)."""
    steps = np.arange(0.0, _LIFT, _STRIDE)
    out = np.zeros(len(points))
    for k in range(0, len(points), _BATCH):
        some = points[k : k + _BATCH]
        path = some[:, None, :] + steps[None, :, None] * way
        depth = other.depth(path.reshape(-1, 3)).reshape(len(some), len(steps)).max(axis=1)
        # Depth changes by no more than the way: between two steps it is at most half a step more.
        out[k : k + _BATCH] = np.maximum(depth + _STRIDE / 2, 0.0)
    return out


def _gingiva(part: Part, ground: Ground) -> Check:
    soft = ground.sheet.vertices[ground.tooth == 0]
    gap, _ = cKDTree(soft).query(part.sheet.vertices, workers=2)
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

"""The part: one body of distances, cut where the lines say, made into a surface."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import manifold3d
import numpy as np
from scipy.ndimage import gaussian_filter, maximum_filter

from festoon.model.dentition import Tooth
from festoon.template.fields import Field, Grid, blocked, outwards, rounded_max
from festoon.template.inputs import Floats, Sheet, Wish
from festoon.template.lettering import RAISED, Words
from festoon.template.lines import Caster, Row, lingual_heights, row_of, ruled
from festoon.template.openings import Opening, openings
from festoon.template.placing import words_on
from festoon.template.prepare import Ground
from festoon.template.targets import Target

_ROUND = 0.35
"""Radius of the outer edges, mm: they must not cut (common practice, no source)."""
_SPARE = 0.2
"""The wall is made so much thicker than asked, for what smoothing and simplifying take, mm."""
_BAR = 2.8
"""Height of the bar apical to the crest line, mm: more than the wall (no source)."""
_RUN_ON = 1.6
"""A bar runs on so far past its last tooth, mm (no source)."""
_SHORT = 1.8
"""How far within the outer contacts the part ends, mm."""
_STRUT = 1.4
"""Half width of the strut between two openings, mm."""
_NARROWS = 0.4
"""The ends come in by so much for each mm lingual of the middle of the arch (no source)."""
_END_STRUT = 2.6
"""Width of the strut at the end of the field, mm: behind it the neighbour's bulge is blocked out, so that it is three-cornered."""
_GAP = 2.0
"""Teeth further apart along the row leave a gap that is spanned by a bar, mm: shells of two walls would no longer meet (no source)."""
_SPAN = (2.0, 3.0)
"""Such a bar reaches so far coronal and apical of the more apical of the two edges, mm (no source)."""
_SPAN_HALF = 2.0
"""Half of its thickness, facial to lingual, mm (no source)."""
_INTO = 1.5
"""It reaches so far into the shells at both ends, mm (no source)."""
_BULGE = 0.5
"""A crown is at its contacts so much wider than at its margin, mm (no source)."""
_APART = 0.003
"""Samples nearer to the surface count as so far from it, mm."""
_SIMPLER = 0.008
"""How far the surface may move when it is made of fewer facets, mm."""


@dataclass(frozen=True)
class Part:
    """One printable body, in the seated pose."""

    name: str
    sheet: Sheet
    row: Row
    edges: dict[str, Floats]
    """Level the blade (or the bur) follows at each ``across`` of a treated tooth, by tooth; NaN where there is no edge."""
    reach: dict[str, tuple[float, float]]
    """From where to where across the tooth its edges run, by tooth, mm: from tip to tip, or from strut to strut beside an opening."""
    openings: tuple[Opening, ...]
    """Windows and drains."""
    words: tuple[Words, ...]
    pieces: int
    """Bodies before the largest was kept."""
    dropped: float
    """Volume of the bodies left out, mm3."""
    up: float
    """Direction of the text along z: 1 in the upper jaw, -1 in the lower."""


def build(name: str, ground: Ground, targets: list[Target], wish: Wish, *, line: str) -> Part:
    """Make one part.

    Parameters
    ----------
    name : str
    ground : Ground
    targets : list of Target
        The covered teeth from the patient's right, seated pose.
    wish : Wish
    line : {"margin", "margin-and-crest", "crest"}
        What its edges follow.
    """
    wall = wish.wall + _SPARE
    row, caster = row_of(targets, wall), Caster(ground.sheet)
    ends = _end_levels(row, line)
    edges = np.array([t.tooth.edge for t in targets])
    reach = np.concatenate([t.tooth.margin for t in targets])
    deep = max(
        float(t.tooth.points(t.across, np.zeros(len(t.across)), e)[:, 2].max())
        for t, e in zip(targets, ends, strict=True)
    )
    low = np.array([*(reach[:, :2].min(axis=0) - wall - 2.2), edges[:, 2].min() - wall - 1.8])
    high = np.array([*(reach[:, :2].max(axis=0) + wall + 2.2), deep + 1.5])
    grid = Grid.over(low, high, wish.grid)
    x, y, z = (grid.line(k) for k in range(3))
    if line == "margin-and-crest":
        facial, kept = _with_bars(row, caster, ends, x, y, wish.grid)
    else:
        line_of = ruled(row, caster, ends, [np.zeros((len(t.across), 0)) for t in targets])
        facial, kept = line_of.over(x, y)[..., 0], line_of.kept
    lingual = lingual_heights(row, caster, x, y)
    places = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1)
    along, out = row.at(places)
    share = np.clip(0.5 + out, 0, 1)
    bottom = share * facial + (1 - share) * lingual
    spans = _gaps(row)
    bottom = _above_gaps(spans, bottom, along, wall)
    steep = np.sqrt(1 + sum(g**2 for g in np.gradient(bottom, wish.grid)))
    cut: Field = ((z - bottom[..., None]) / np.minimum(steep, 3.0)[..., None]).astype(np.float32)
    first, last = _ends(row)
    # Crowns narrow lingually: an end cut straight across would leave a feather there.
    end = np.maximum(first - along, along - last) + _NARROWS * np.maximum(-out, 0)
    end = (end / np.hypot(1.0, _NARROWS)).astype(np.float32)[..., None]
    body = rounded_max(cut, np.broadcast_to(end, cut.shape), _ROUND)
    inner = blocked(ground, grid, wish.clearance, wall / 2)  # so that a fin between two teeth is as thick as a wall
    beyond = np.where(out > 0.5, RAISED + 0.3, 0.2)[..., None]  # text stands out on the facial side only
    thick = outwards(inner, grid, wall - 0.45, (wall + beyond).astype(np.float32), body < 0.6)
    solid = rounded_max(thick - np.float32(wall), body, _ROUND)
    for begin, finish, level in spans:
        beside = np.maximum(np.maximum(begin - _INTO - along, along - finish - _INTO), np.abs(out) - _SPAN_HALF)
        tall = np.maximum(level - _SPAN[0] - z, z - level - _SPAN[1]).astype(np.float32)
        bar = rounded_max(np.broadcast_to(beside.astype(np.float32)[..., None], cut.shape), tall, _ROUND)
        solid = np.minimum(solid, bar)
    upper = Tooth(targets[0].tooth.fdi).is_upper
    words = words_on(row, wish.label, grid, solid)
    solid = np.minimum(
        solid, _lettered(words, row.face.at(places)[0], out, z, thick - np.float32(wall), body, 1.0 if upper else -1.0)
    )
    holes = openings(row, caster, spans, (first, last), thick, grid, wall)
    for one in holes:
        wide = np.hypot(x[:, None] - one.place[0], y[None, :] - one.place[1]).astype(np.float32) - np.float32(
            one.radius
        )
        hole = np.maximum(wide[..., None], (z - one.top).astype(np.float32))
        solid = rounded_max(solid, -hole, 0.2)
    if line == "margin-and-crest":
        solid = np.maximum(solid, -_between_lines(row, caster, x, y, z, out))
    solid = np.maximum(solid, -inner)
    # Corners of the surface stay clear of the grid's: closer than an STL's last digit they would fall together.
    solid = np.where(np.abs(solid) < _APART, np.copysign(np.float32(_APART), solid), solid)
    solid = np.pad(np.clip(solid, -1, 1), 1, constant_values=1.0)
    whole = Grid(grid.low - grid.step, grid.step, solid.shape)
    sheet, pieces, dropped = _one_body(whole.surface(solid))
    wanted = {t.tooth.fdi: (t.crest if line == "crest" else t.margin) for t in targets if t.treated}
    followed = {fdi: level for fdi, level in wanted.items() if level is not None}
    reached: dict[str, tuple[float, float]] = {}
    for k, t in enumerate(targets):
        inside = t.across[(t.across >= kept[k][0]) & (t.across <= kept[k][1])]
        if line == "margin-and-crest" and t.crest is not None:
            inside = inside[np.interp(inside, t.across, _inset(row, k)) > _STRUT]
        if t.tooth.fdi in followed and len(inside):
            reached[t.tooth.fdi] = (float(inside[0]), float(inside[-1]))
    return Part(name, sheet, row, followed, reached, tuple(holes), words, pieces, dropped, 1.0 if upper else -1.0)


def _gaps(row: Row) -> list[tuple[float, float, float]]:
    """Gaps between neighbours: from and to along the row, and the more apical of the two edges, mm."""
    found = []
    for a, b in pairwise(row.targets):
        begin = float(row.at(a.tooth.margin[:, :2])[0].max())
        finish = float(row.at(b.tooth.margin[:, :2])[0].min())
        if finish - begin > _GAP:
            found.append((begin, finish, float(max(a.tooth.edge[2], b.tooth.edge[2]))))
    return found


def _above_gaps(spans: list[tuple[float, float, float]], bottom: Floats, along: Floats, wall: float) -> Floats:
    """Where the part ends, with nothing over a ridge: cut off at the neighbours' lines, what follows a ridge would be a feather.

    The walls beside the two teeth stay whole.
    """
    lifted = bottom.copy()
    for begin, finish, level in spans:
        inside = (along > begin + wall + _BULGE) & (along < finish - wall - _BULGE)
        lifted = np.where(inside, np.minimum(lifted, level + _SPAN[1]), lifted)
    return np.asarray(gaussian_filter(lifted - bottom, 1.5) + bottom) if spans else bottom


def _end_levels(row: Row, line: str) -> list[Floats]:
    """Where the part ends facially, by tooth."""
    if line == "margin":
        return [t.margin for t in row.targets]
    bar = _BAR if line == "margin-and-crest" else 0.0
    return [t.margin if t.crest is None else t.crest + bar for t in row.targets]


def _with_bars(
    row: Row, caster: Caster, ends: list[Floats], x: Floats, y: Floats, step: float
) -> tuple[Floats, tuple[tuple[float, float], ...]]:
    """Heights at which a part with bars under its crest lines ends facially, shape (X, Y), and how far its margin line was laid.

    A bar runs on past its last tooth, over the embrasure: cut off where the tooth ends it would leave a blade of material beside
    the opening.
    """
    plain = ruled(row, caster, [t.margin for t in row.targets], [np.zeros((len(t.across), 0)) for t in row.targets])
    flags = [np.full((len(t.across), 1), float(t.crest is not None)) for t in row.targets]
    barred = ruled(row, caster, ends, flags).over(x, y)
    without = plain.over(x, y)[..., 0]
    top = np.where(barred[..., 1] > 0.5, barred[..., 0], -np.inf)
    n = round(_RUN_ON / step)
    disc = np.hypot(*np.mgrid[-n : n + 1, -n : n + 1]) <= n
    reached = np.maximum(maximum_filter(top, footprint=disc), without)
    smooth = np.maximum(gaussian_filter(reached, 2.5), without)
    return np.asarray(np.maximum(smooth, np.where(barred[..., 1] > 0.99, top, -np.inf))), plain.kept


def _between_lines(row: Row, caster: Caster, x: Floats, y: Floats, z: Floats, out: Floats) -> Field:
    """The openings from planned margin to planned crest, less the struts; negative inside."""
    insets = [_inset(row, k)[:, None] for k in range(len(row.targets))]
    upper = ruled(row, caster, [t.margin for t in row.targets], insets).over(x, y)
    crests = [t.margin if t.crest is None else t.crest for t in row.targets]
    lower = ruled(row, caster, crests, insets).over(x, y)
    tall = np.maximum(upper[..., 0, None] - z, z - lower[..., 0, None])
    beside = np.maximum(_STRUT - np.minimum(upper[..., 1], lower[..., 1]), -out)
    return np.asarray(np.maximum(tall, beside[..., None]), dtype=np.float32)


def _inset(row: Row, k: int) -> Floats:
    """How far a place is from the nearer end of its tooth, mm; less at the end of the field."""
    t = row.targets[k]
    right = Tooth(t.tooth.fdi).is_right
    before = k > 0 and row.targets[k - 1].crest is not None
    after = k + 1 < len(row.targets) and row.targets[k + 1].crest is not None
    mesial, distal = (after, before) if right else (before, after)
    more = _END_STRUT - _STRUT
    from_start = t.across - t.across[0] - (0.0 if mesial else more)
    return np.asarray(np.minimum(from_start, t.across[-1] - t.across - (0.0 if distal else more)))


def _ends(row: Row) -> tuple[float, float]:
    """Arc lengths at which the part ends: within the outer contacts of the last teeth, where their faces still run along the arch."""
    s = []
    for t, sign in ((row.targets[0], -1), (row.targets[-1], 1)):
        at, _ = row.at(t.tooth.margin[:, :2])
        s.append(float(at.min() if sign < 0 else at.max()) - sign * _SHORT)
    return s[0], s[1]


def _lettered(
    words: tuple[Words, ...], along: Floats, out: Floats, z: Floats, thick: Field, body: Field, up: float
) -> Field:
    """Raised text, on the facial face."""
    field = np.full(thick.shape, 1.0, dtype=np.float32)
    facial = out > 0.5
    for word in words:
        near = facial & (np.abs(along - word.along) < word.length / 2 + 1.0)
        rows = np.nonzero(np.abs(z - word.height) < word.cap)[0]
        i, j = np.nonzero(near)
        s = np.repeat(along[near][:, None], len(rows), axis=1)
        upwards = np.repeat(up * (z[rows] - word.height)[None, :], len(s), axis=0)
        flat = word.distance(s, upwards).astype(np.float32)
        place = (i[:, None], j[:, None], rows[None, :])
        field[place] = np.minimum(field[place], np.maximum(flat, thick[place] - np.float32(RAISED)))
    return np.asarray(np.maximum(field, body + np.float32(0.3)))


def _one_body(sheet: Sheet) -> tuple[Sheet, int, float]:
    """The largest body, of fewer facets; how many there were; the volume left out."""
    mesh = manifold3d.Mesh(sheet.vertices.astype(np.float32), sheet.faces.astype(np.uint32))
    solid = manifold3d.Manifold(mesh)
    bodies = sorted(solid.decompose(), key=lambda b: b.volume())
    if not bodies:
        return sheet, 0, 0.0
    kept = bodies[-1].simplify(_SIMPLER)
    made = kept.to_mesh()
    faces = np.asarray(made.tri_verts, dtype=np.int64)
    points = np.asarray(made.vert_properties, dtype=np.float64)[:, :3]
    return Sheet(points, faces), len(bodies), float(sum(abs(b.volume()) for b in bodies[:-1]))

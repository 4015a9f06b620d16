"""Where raised text goes: the places of the outer face that are even enough to be read."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, map_coordinates

from festoon.template.fields import Field, Grid
from festoon.template.inputs import Floats
from festoon.template.lettering import Words
from festoon.template.lines import Path, Row

_CAPS = (2.0, 1.8, 1.6, 1.4)
"""Heights of capitals that are tried, mm: smaller ones print badly (common practice, no source)."""
_STEP = 0.2
"""Spacing of the map of the face, mm."""
_REACH = np.arange(5.0, -5.0, -0.1)
"""The face is sought from so far before the curve along it to so far behind it, mm."""
_STEEP = 0.85
"""Text stands where the face leans less from the curve along it: mm in each mm."""
_ENOUGH = 0.93
"""Share of a word's room that must be even; the rest may be the groove between two teeth."""
_TORN = 0.15
"""A place of the face belongs to one place of the curve, to so much, mm."""
_GAP = 0.3
"""Between words, mm."""


def words_on(row: Row, label: str, grid: Grid, solid: Field) -> tuple[Words, ...]:
    """Tooth numbers near the middles of their teeth, R and L on the last ones, and the label beneath, nearest to the edges.

    Each word goes to the even place nearest to where it is wanted, as large as fits; one that fits nowhere goes where the most of it
    is even, and the check of the text says whether it can be read.
    """
    s = np.arange(row.face.along[0], row.face.along[-1], _STEP)
    z = grid.line(2)[:: max(1, round(_STEP / grid.step))]
    free = _even(row.face, s, z, grid, solid)
    height = float(np.median([t.tooth.edge[2] for t in row.targets]))
    last = len(row.targets) - 1
    wanted: list[tuple[str, float, float, float]] = []
    for k, t in enumerate(row.targets):
        (at,), _ = row.face.at(t.tooth.edge[None, :2])
        edge = max(float(t.tooth.edge[2]), height)  # a premolar's cusp lies more apically than the incisors' edges
        wanted.append((t.tooth.fdi, float(at), edge + 3.6, t.half))
        if k in (0, last):
            wanted.append(("L" if k else "R", float(at), edge + 1.2, t.half))
    middle = (wanted[0][1] + wanted[-1][1]) / 2
    pieces = label.split()
    lengths = [Words(piece, 0.0, 0.0, _CAPS[0]).length + 1.0 for piece in pieces]
    start = middle - sum(lengths) / 2
    for piece, length in zip(pieces, lengths, strict=True):
        wanted.append((piece, start + length / 2, height + 0.6, float(np.ptp(s)) / 2))
        start += length
    return tuple(_placed(*want, s, z, free) for want in wanted)


def _even(face: Path, s: Floats, z: Floats, grid: Grid, solid: Field) -> NDArray[np.bool_]:
    """Where the face looks outwards, shape (S, Z)."""
    foot = np.stack([np.interp(s, face.along, face.path[:, k]) for k in (0, 1)], axis=1)
    facing = np.stack([np.interp(s, face.along, face.facing[:, k]) for k in (0, 1)], axis=1)
    depth = np.full((len(s), len(z)), np.nan)
    height = np.repeat(((z - grid.low[2]) / grid.step)[None, :], len(s), axis=0)
    for far in _REACH:
        at = (foot + far * facing - grid.low[:2]) / grid.step
        there = np.stack([np.repeat(at[:, k][:, None], len(z), axis=1) for k in (0, 1)] + [height])
        inside = map_coordinates(solid, there, order=1, mode="constant", cval=1.0) < 0
        depth[inside & np.isnan(depth)] = far
    met = np.isfinite(depth)
    # Where the curve is hollow, what stands before it is seen from more than one of its places: text would be torn there.
    back, _ = face.at(foot[:, None, :] + np.where(met, depth, 0.0)[..., None] * facing[:, None, :])
    met &= np.abs(back - s[:, None]) < _TORN
    depth = gaussian_filter(np.where(met, depth, _REACH[-1] - 5.0), 1.0)
    lean = np.hypot(*np.gradient(depth, _STEP, float(z[1] - z[0])))
    return np.asarray(met & (lean < _STEEP))


def _placed(
    text: str, along: float, height: float, aside: float, s: Floats, z: Floats, free: NDArray[np.bool_]
) -> Words:
    """The even place nearest to the one wanted, no further along than ``aside``; it is taken then (``free`` is changed)."""
    room = np.pad(np.cumsum(np.cumsum(free, axis=0), axis=1), ((1, 0), (1, 0)))
    tall = float(z[1] - z[0])
    best: tuple[float, float, Words] | None = None
    for cap in _CAPS:
        length = Words(text, 0.0, 0.0, cap).length
        n, m = int(np.ceil((length + _GAP) / _STEP)), int(np.ceil((cap + _GAP) / tall))
        if n >= len(s) or m >= len(z):
            continue
        share = (room[n:, m:] - room[:-n, m:] - room[n:, :-m] + room[:-n, :-m]) / (n * m)
        middle, level = s[: len(share)] + (n - 1) / 2 * _STEP, z[: share.shape[1]] + (m - 1) / 2 * tall
        off = np.hypot((middle - along)[:, None], (level - height)[None, :])
        share = np.where(np.abs(middle - along)[:, None] <= aside, share, 0.0)
        fits = share >= _ENOUGH
        k = int(np.argmin(np.where(fits, off, np.inf)) if fits.any() else np.argmax(share - 0.01 * off))
        i, j = np.unravel_index(k, share.shape)
        word = Words(text, float(middle[i]), float(level[j]), cap)
        if best is None or share[i, j] > best[0]:
            best = float(share[i, j]), cap, word
        if fits.any():
            best = float(share[i, j]), cap, word
            break
    word = best[2] if best is not None else Words(text, along, height, _CAPS[-1])
    wide, high = (word.length + 2 * _GAP) / 2, (word.cap + 2 * _GAP) / 2
    free[np.ix_(np.abs(s - word.along) < wide, np.abs(z - word.height) < high)] = False
    return word

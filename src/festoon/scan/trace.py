"""An arch traced from a surface: how it lies, its teeth, their frames and margins, the papillae."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from festoon.model.dentition import Pair, Tooth
from festoon.scan.arch import ArchFrame, Standing, frame_of
from festoon.scan.colouring import find_colouring
from festoon.scan.crowns import look_at_crown, shells_of
from festoon.scan.orientation import find_lie
from festoon.scan.raw import Floats, Ints, Jaw
from festoon.scan.row import Row, lay_out
from festoon.scan.smoothing import neighbour_means
from festoon.scan.surface import Surface
from festoon.scan.teeth import Division, find_teeth
from festoon.scan.tooth import ScannedTooth, look_at_tooth
from festoon.scan.view import Scene

_Look = Callable[[Scene, ArchFrame, tuple[Standing, ...], int, Floats], ScannedTooth | None]
_NEAR_TOP = 3.0
"""Crown points within this of a tooth's top are its tips, mm."""
_FEWEST_TIPS = 20
_ASIDE, _DOWN = 8.0, 16.0
"""Crowns and the gingiva next to them lie this near beside the row's curve, and so far down from its top, mm."""
_AROUND_CENTRALS = 16.0
"""How far round the middle of a central's edge is looked to find it, mm."""


@dataclass(frozen=True)
class TracedArch:
    """Everything found on a scan. Coordinates are those of the arch frame, mm."""

    surface: Surface
    """As read, file coordinates, normals out of the tissue."""
    frame: ArchFrame
    division: Division
    scene: Scene
    """The surface in the arch frame."""
    teeth: dict[Tooth, ScannedTooth]
    not_traced: tuple[Tooth, ...]
    """Teeth that were seen but have no margin that can be traced."""
    notes: tuple[str, ...]
    """What a person should confirm, in words."""
    _labels: Ints

    @property
    def labels(self) -> Ints:
        """Tooth of each face as its ISO 3950 number, 0 for gingiva and what is not of a traced tooth, shape (M,)."""
        return self._labels

    @property
    def pairs(self) -> tuple[Pair, ...]:
        """Neighbours that were both traced."""
        order = sorted(self.teeth, key=lambda t: t.column)
        return tuple(Pair(a, b) for a, b in pairwise(order) if a.is_neighbour_of(b))


def trace_scan(
    surface: Surface,
    jaw: Jaw | None = None,
    wanted: frozenset[Tooth] | None = None,
    tell: Callable[[str], None] = lambda _: None,
    numbers: Mapping[Tooth, Tooth] | None = None,
) -> TracedArch:
    """Trace an arch.

    Parameters
    ----------
    surface : Surface
    jaw : {"upper", "lower"}, optional
        None: found from the sizes of the teeth.
    wanted : set of Tooth, optional
        Only these are measured; all are found and numbered.
    tell : callable
        Is told what is being done, in words.
    numbers : mapping of Tooth to Tooth, optional
        Numbers that a person set, old to new.

    Raises
    ------
    InputRefusedError
        If the surface is no dental arch.
    ValueError
        If the numbers cannot be.
    """
    tell("how the arch lies")
    lie, surface = find_lie(surface)
    notes = ["the file's faces were inside out and were turned"] if lie.inside_out else []
    row = lay_out(surface, lie)
    tell("teeth")
    shells = shells_of(surface, row)
    division = find_teeth(row, surface.name, jaw, shells.spans if shells else None).renumbered(numbers or {})
    frame, standing = frame_of(row, division)
    soft, near = _softened(surface), _near_row(surface, row)

    def look(scene: Scene, frame: ArchFrame, places: tuple[Standing, ...], k: int, tips: Floats) -> ScannedTooth | None:
        place, square = places[k], _square(places, places[k])
        if len(tips) <= _FEWEST_TIPS:
            return None
        if shells is not None:
            return look_at_crown(surface, shells, frame, place, tips, square)
        return look_at_tooth(scene, place, tips, frame.apical, square)

    frame, standing = _on_edges(surface, row, frame, standing, soft, near, look)
    notes += division.notes
    scene = _scene(surface, surface.faces, frame, near)
    tips = _tips(surface, frame, row, standing, soft)
    if shells is not None:
        notes.append("bare crowns: the rim of each shell stands for its margin, and nothing is said of papillae")
    elif scene.colouring is None:
        notes.append("margins by shape alone: the scan has no colours that tell tooth from gingiva")
    teeth: dict[Tooth, ScannedTooth] = {}
    lost = []
    for k, (place, own) in enumerate(zip(standing, tips, strict=True)):
        tooth = place.stretch.tooth
        if wanted is not None and tooth not in wanted:
            continue
        tell(f"tooth {tooth}")
        made = look(scene, frame, standing, k, own)
        if made is None:
            lost.append(tooth)
        else:
            teeth[tooth] = made
    return TracedArch(surface, frame, division, scene, teeth, tuple(lost), tuple(notes), _labelled(scene, teeth))


def _on_edges(
    surface: Surface,
    row: Row,
    frame: ArchFrame,
    standing: tuple[Standing, ...],
    soft: Floats,
    near: NDArray[np.bool_],
    look: _Look,
) -> tuple[ArchFrame, tuple[Standing, ...]]:
    """The frame with its origin on the mean of the central incisors' edges, where both are there."""
    central = [k for k, place in enumerate(standing) if place.stretch.tooth.position == 1]
    if len(central) < 2:
        return frame, standing
    # Only what lies round the centrals is looked at: the rest of the surface is not needed for their edges.
    away = [np.linalg.norm(frame.to_arch(surface.vertices) - standing[k].middle, axis=1) for k in central]
    there = (np.min(away, axis=0) < _AROUND_CENTRALS)[surface.faces].all(axis=1)
    scene = _scene(surface, surface.faces[there], frame, near)
    tips = _tips(surface, frame, row, standing, soft)
    edges = []
    for k in central:
        made = look(scene, frame, standing, k, tips[k])
        edges += [] if made is None else [made.frame.edge]
    if len(edges) < 2:
        return frame, standing
    origin = np.mean(edges, axis=0)
    moved = tuple(replace(s, middle=s.middle - origin, centre=s.centre - origin) for s in standing)
    return frame.moved(origin), moved


def _scene(surface: Surface, faces: Ints, frame: ArchFrame, near: NDArray[np.bool_]) -> Scene:
    """The surface, or some faces of it, in the arch frame. Colours are parted by what is ``near`` the row of teeth."""
    colouring = find_colouring(surface.colours, near)
    return Scene(frame.to_arch(surface.vertices), faces, colouring, surface.boundary)


def _near_row(surface: Surface, row: Row) -> NDArray[np.bool_]:
    """Corners of teeth and of the gingiva next to them, shape (N,)."""
    at = row.lie.turned(surface.vertices)
    aside = np.abs(row.laid_out(at)[1]) < _ASIDE
    return np.asarray(aside & (at[:, 2] > at[aside, 2].max() - _DOWN))


def _softened(surface: Surface) -> Floats:
    """Lightly smoothed corners, file coordinates: one step in and one out halve the noise, and a sharp edge keeps its place."""
    means = neighbour_means(surface)
    soft = surface.vertices + 0.5 * (means @ surface.vertices - surface.vertices)
    return np.asarray(soft - 0.53 * (means @ soft - soft))


def _tips(surface: Surface, frame: ArchFrame, row: Row, standing: tuple[Standing, ...], soft: Floats) -> list[Floats]:
    """For each tooth the softened corners near its top, arch frame."""
    height = frame.to_arch(surface.vertices) @ frame.apical
    place, aside = row.laid_out(row.lie.turned(surface.vertices))
    near = (np.abs(aside) < _ASIDE) & (height < height[np.abs(aside) < _ASIDE].min() + _DOWN)
    tips = []
    for one in standing:
        margin = 0.12 * one.stretch.width
        own = np.flatnonzero(near & (place > one.stretch.start + margin) & (place < one.stretch.end - margin))
        top = height[own].min() if len(own) else 0.0
        tips.append(frame.to_arch(soft[own[height[own] < top + _NEAR_TOP]]))
    return tips


def _square(standing: tuple[Standing, ...], place: Standing) -> Floats:
    """Horizontal direction square to the line through the middles of the neighbours' crowns, facial."""
    k = standing.index(place)
    along = (standing[min(k + 1, len(standing) - 1)].centre - standing[max(k - 1, 0)].centre)[:2]
    out = np.array([along[1], -along[0], 0.0])
    out /= np.linalg.norm(out)
    return out if out @ place.facial > 0 else -out


def _labelled(scene: Scene, teeth: dict[Tooth, ScannedTooth]) -> Ints:
    """Faces whose middle lies coronal to the margin of a tooth and between its limits."""
    middle = scene.vertices[scene.faces].mean(axis=1)
    out = np.zeros(len(middle), dtype=np.int64)
    for tooth, one in teeth.items():
        frame = one.frame
        at = frame.coordinates(middle)
        near = (np.abs(at[:, 0]) < frame.width / 2) & (at[:, 2] > -1.0) & (at[:, 2] < 14.0) & (np.abs(at[:, 1]) < 12.0)
        curves = [frame.coordinates(side.curve) for side in (one.facial, one.lingual) if side is not None]
        parting = float(np.median(frame.coordinates(one.outline.tips)[:, 1])) - 1.0
        levels = []
        for curve in curves:
            order = np.argsort(curve[:, 0])
            levels.append(np.interp(at[:, 0], curve[order, 0], curve[order, 2]))
        level = np.where(at[:, 1] > parting, levels[0], levels[-1])
        out[near & (at[:, 2] < level)] = int(tooth.fdi)
    return out

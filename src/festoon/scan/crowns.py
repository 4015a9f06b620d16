"""Bare crowns: a file of closed shells, one a tooth, as segmentation and design write them. There is no gingiva: what is read is the
shell itself, its rim in the place of the margin, and every reading says so."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from festoon.scan.arch import ArchFrame, Standing
from festoon.scan.contact import End
from festoon.scan.frame import Outline, facial_frame
from festoon.scan.margin import Evidence, Traced
from festoon.scan.raw import Floats, Ints
from festoon.scan.row import Row
from festoon.scan.sizes import expected_cover
from festoon.scan.surface import Surface, connected
from festoon.scan.tooth import UPRIGHT, ScannedTooth, Side, frames_around, on_surface, view_of, within_sight
from festoon.scan.view import CELL, Scene, View

_FEWEST = 3
"""So many closed shells make a row of bare crowns."""
_ALL_BUT = 0.02
"""This share of a shell's corners may stand beyond its span on either side."""
_WITHIN = 0.5
"""Least share of a shell that stands in the stretch of its tooth."""
_BLUNT = 0.6
"""The rim ends where the shell has drawn in to this share of its half width: beyond, its underside is seen."""


@dataclass(frozen=True)
class Shells:
    """Closed shells, one a tooth."""

    label: Ints
    """Shell of each corner, shape (N,)."""
    place: Floats
    """Place of each corner along the row, mm, shape (N,)."""

    @property
    def spans(self) -> list[tuple[float, float]]:
        """Between which places along the row each stands, mm."""
        each = [self.place[self.label == k] for k in np.unique(self.label)]
        return [(float(np.quantile(p, _ALL_BUT)), float(np.quantile(p, 1 - _ALL_BUT))) for p in each]

    def of(self, standing: Standing) -> int | None:
        """The shell that stands where a tooth does; None where none does for the most part."""
        inside = (self.place > standing.stretch.start) & (self.place < standing.stretch.end)
        count = np.bincount(self.label)
        share = np.bincount(self.label[inside], minlength=len(count)) / np.maximum(count, 1)
        best = int(np.argmax(share))
        return best if share[best] > _WITHIN else None


def shells_of(surface: Surface, row: Row) -> Shells | None:
    """The shells of a file of bare crowns; None where it is a scan."""
    if len(surface.boundary):
        return None
    pieces, label = connected(len(surface.vertices), surface.faces)
    if pieces < _FEWEST:
        return None
    return Shells(label, row.laid_out(row.lie.turned(surface.vertices))[0])


def look_at_crown(
    surface: Surface, shells: Shells, frame: ArchFrame, standing: Standing, tips: Floats, start: Floats
) -> ScannedTooth | None:
    """Measure one bare crown; None where no shell stands there."""
    which = shells.of(standing)
    if which is None:
        return None
    own = shells.label == which
    index = np.cumsum(own) - 1
    faces = np.ascontiguousarray(index[surface.faces[own[surface.faces[:, 0]]]])
    points = frame.to_arch(surface.vertices[own])
    scene = Scene(points, faces, None, np.empty((0, 2), dtype=np.int64))
    position, vertical = standing.stretch.tooth.position, frame.apical
    facial = _seen(scene, standing, tips, vertical, start)
    if facial is None:
        return None
    first = facial_frame(
        _outline(facial, points, tips),
        position,
        expected_cover(position),
        vertical,
        start,
        vertical,
        facial.view.across,
    )
    if first.axis @ vertical > UPRIGHT and first.facial @ start > UPRIGHT:
        facial = _seen(scene, standing, tips, first.axis, within_sight(first, start)) or facial
    outline = _outline(facial, points, tips)
    found, around = frames_around(outline, position, vertical, start, first.axis)
    lingual = _seen(scene, standing, tips, vertical, -start)
    return ScannedTooth(
        standing.stretch.tooth, standing, start, found, around, outline, facial, lingual, found, outline, bare=True
    )


def _seen(scene: Scene, standing: Standing, tips: Floats, vertical: Floats, towards: Floats) -> Side | None:
    """A shell from one side, its rim as the margin."""
    view = view_of(scene, standing, tips, vertical, towards)
    if view is None:
        return None
    rim = _rim(view)
    if rim is None:
        return None
    across = np.where(view.seen, view.x[None, :], np.nan)
    shown = view.seen.any(axis=1)
    limits = tuple(np.full(len(view.w), np.nan) for _ in range(2))
    limits[0][shown], limits[1][shown] = np.nanmin(across[shown], axis=1), np.nanmax(across[shown], axis=1)
    nothing = Evidence(np.zeros(view.depth.shape), None)
    return Side(view, nothing, rim, (limits[0], limits[1]), (None, None), on_surface(view, rim.columns, rim.rows))


def _rim(view: View) -> Traced | None:
    """The most apical place of each column."""
    columns = np.flatnonzero(view.seen.any(axis=0))
    if len(columns) < 12:
        return None
    middle, half = view.x[columns].mean(), np.ptp(view.x[columns]) / 2
    columns = columns[np.abs(view.x[columns] - middle) < _BLUNT * half]
    last = len(view.w) - 1 - np.argmax(view.seen[::-1][:, columns], axis=0)
    # The border of what is seen lies half a cell beyond the last cell.
    rows = view.w[last] + CELL / 2
    return Traced(view.x[columns], rows, np.ones(len(columns)), float("nan"))


def _outline(side: Side, points: Floats, tips: Floats) -> Outline:
    whole = End(points, True)
    neck = float(np.interp(0.0, side.traced.columns, side.traced.rows))
    return Outline(side.view, (whole, whole), side.view.seen, tips, neck)

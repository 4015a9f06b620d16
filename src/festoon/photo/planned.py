"""Planned margins at their projected place in the photograph: the present margin moved along each tooth's axis by what is planned."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from festoon.model.dentition import Site
from festoon.photo.crown import PixelCrown
from festoon.photo.pose import Pose, ScannedFront
from festoon.photo.posed import back_projected

Floats = NDArray[np.float64]

_LINE_ANGLE = 0.3
_PLACE = {
    Site.MESIAL: -0.5,
    Site.MESIOFACIAL: -_LINE_ANGLE,
    Site.MIDFACIAL: 0.0,
    Site.DISTOFACIAL: _LINE_ANGLE,
    Site.DISTAL: 0.5,
}
"""Facial sites by their place across the crown, in widths; papilla tips stand at its ends."""


@dataclass(frozen=True)
class MovedMargin:
    """A margin now and as planned, pixels; from the first to the last site of which a move is known."""

    present: Floats
    planned: Floats


def moved_margin(
    crown: PixelCrown,
    moves_mm: Mapping[Site, float],
    mm_per_px: float,
    front: ScannedFront | None = None,
    pose: Pose | None = None,
) -> MovedMargin | None:
    """The planned margin of one tooth in the photograph.

    A move is a difference of two levels, so that it hangs on no edge. With a pose each point goes back to the scanned surface, along the
    tooth's own axis, and forward again; without, along the axis in the picture.

    Parameters
    ----------
    crown : PixelCrown
        With its outline.
    moves_mm : mapping of Site to mm
        Planned less present margin level, apical positive; facial sites. What lies beyond the outermost of them is not drawn.
    mm_per_px : float
        Along the tooth; used without a pose.
    front, pose : optional
        The scan and the camera before it.

    Returns
    -------
    MovedMargin or None
        None without an outline, or with fewer than two sites.
    """
    known = sorted((_PLACE[site], move) for site, move in moves_mm.items() if site in _PLACE)
    if crown.outline is None or len(known) < 2:
        return None
    places, moves = np.array(known).T
    margin = _margin(crown)
    across = np.array([crown.across(p) for p in margin]) / crown.width
    kept = (across >= places[0]) & (across <= places[-1])
    present, move = margin[kept], np.interp(across[kept], places, moves)
    if len(present) < 3:
        return None
    if front is None or pose is None or crown.tooth not in front.frames:
        return MovedMargin(present, present + (move / mm_per_px)[:, None] * crown.axis)
    frame = front.frames[crown.tooth]
    at = back_projected(front, crown.tooth, pose, present)
    space = frame.edge + (at[:, :1] + frame.middle) * frame.distal + at[:, 1:2] * frame.facial
    return MovedMargin(present, pose.project(space + (at[:, 2] + move)[:, None] * frame.axis))


def _margin(crown: PixelCrown) -> Floats:
    """The outline along the gingiva, from mesial to distal: what lies apical to the line between the papilla tips."""
    outline = np.asarray(crown.outline)
    level = (outline - crown.edge) @ crown.axis
    across = np.array([crown.across(p) for p in outline])
    ends = {site.value: (crown.across(tip), crown.level(tip)) for site, tip in crown.tips.items()}
    mesial = ends.get("mesial", (-crown.width / 2, crown.length / 2))
    distal = ends.get("distal", (crown.width / 2, crown.length / 2))
    line = mesial[1] + (distal[1] - mesial[1]) * (across - mesial[0]) / (distal[0] - mesial[0])
    own = level > line - 1e-9
    away = int(np.argmin(np.where(own, np.inf, level)))  # begin at the edge, so that the margin is one run
    turned, own = np.roll(outline, -away, axis=0), np.roll(own, -away)
    inside = np.flatnonzero(own)
    run = turned[inside[0] : inside[-1] + 1]
    return np.asarray(run if crown.across(run[0]) < crown.across(run[-1]) else run[::-1])

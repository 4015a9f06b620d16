"""Where the error of each number comes from. Every part is measured on synthetic mouths against their truth (benchmarks/scan.py)
and the parts are added as variances; none is fitted to one scan."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from festoon.scan.by_hand import Place
from festoon.scan.landmarks import Zenith
from festoon.scan.raw import Floats
from festoon.scan.tooth import ScannedTooth
from festoon.scan.trace import TracedArch

EDGE_SE = 0.04
"""Level of the edge point: scanner noise and the rounding of a sharp edge by its triangles, mm."""
MARGIN_SE_COLOUR, MARGIN_SE_SHAPE = 0.06, 0.13
"""Place of a margin point across the margin, traced with colours and by shape alone, mm."""
TIP_SE = 0.27
"""Level of a papilla tip, mm. A scanner bridges the narrowest part of an embrasure, so that a tip is read 0.1 mm too apical on average."""
HAND_SE = 0.2
"""Of a point that a person set, mm: one triangle of a scan. A setting of ours, from no study."""
SIDE_SE = 0.10
"""Place of a crown's mesial or distal end, mm: carried on into the embrasure."""
LEAN_SE = np.radians(1.5)
"""Direction of the axis seen from the side, without what comes from the hidden CEJ."""
TILT_SE = {position: float(np.radians(degrees)) for position, degrees in {1: 1.5, 2: 3.5, 3: 5.0}.items()}
"""Direction of the axis seen from the front by position: papillae hide the outline there, and the chords of a facial surface that
is not alike on both sides stand in for it. Premolars and molars take the arch's vertical."""
VERTICAL_SE = float(np.radians(4.0))
"""The arch's vertical: the plane through edges and cusps of this mouth against the horizontal that a clinician would declare."""
TURN_SE, TURN_SE_BEHIND = float(np.radians(2.5)), float(np.radians(6.0))
"""Facial direction, to the canines and behind them, where the facial surface is small and round."""
PITCH_SE = float(np.radians(6.0))
"""The same about the left-right direction, where edge heights hang on it: cusps rise behind the canines in some mouths."""
_LINGUAL = 2.2
"""A lingual margin is so many times less sure: it is seen aslant, over the cingulum."""
HIDDEN_SIDE_SE = 0.15
"""Further error of an end that its neighbour hides, mm."""
SIDES: tuple[Place, Place] = ("mesial_end", "distal_end")
HIDDEN_MIDDLE_SE = 0.15
"""Further error of the place of a line angle, mm: mid-width is that of the whole crown, part of which papillae hide."""
UNSEEN_SIDE_SE = 0.20
"""Further error of a limit without neighbour, mm: what lies under the gingiva or behind."""


@dataclass(frozen=True)
class Errors:
    """Standard errors of one tooth's numbers, mm."""

    arch: TracedArch
    tooth: ScannedTooth

    @property
    def margin(self) -> float:
        """Of a margin point, across the margin; larger where the evidence is weak."""
        base = MARGIN_SE_SHAPE if self.arch.scene.colouring is None else MARGIN_SE_COLOUR
        strength = float(np.median(self.tooth.facial.traced.strength))
        return base * float(np.clip(0.7 / max(strength, 0.05), 1.0, 4.0))

    def level(self, across: float, forward: float, steep: float = 0.0, lingual: bool = False) -> float:
        """Of the level of a margin point at a place of the tooth.

        A turn of the axis moves a level by its lever: how far the point lies from the edge across and facially. ``steep`` is the
        slope of the margin there, which turns an error along it into one of level.
        """
        axis = np.hypot(forward * LEAN_SE, across * self.tilt)
        shape = self.margin * np.sqrt(1 + min(steep, 3.0) ** 2) * (_LINGUAL if lingual else 1.0)
        along = steep * np.sqrt(self.middle**2 + HIDDEN_MIDDLE_SE**2 + ((forward - self._depth) * self.turn) ** 2)
        return float(np.sqrt(EDGE_SE**2 + axis**2 + shape**2 + along**2))

    def height(self, own: float, length: float, apart: float) -> float:
        """Of a papilla's height from the errors of its tip and of the crown's length: the axis turns one against the other."""
        return float(np.sqrt(own**2 + length**2 + (apart * self.tilt) ** 2))

    @property
    def turn(self) -> float:
        """Of the facial direction, radians."""
        return TURN_SE if self.tooth.tooth.position <= 3 else TURN_SE_BEHIND

    @property
    def _depth(self) -> float:
        """Facial coordinate of the middle between the ends of the crown, mm: about there a turn moves nothing across."""
        at = self._ends
        return float(at[0][1] + at[1][1]) / 2

    @property
    def _ends(self) -> tuple[Floats, Floats]:
        """The two ends in the coordinates of the tooth, each shape (3,)."""
        mesial, distal = (self.tooth.frame.coordinates(end.points) for end in self.tooth.outline.ends)
        return mesial[np.argmin(mesial[:, 0])], distal[np.argmax(distal[:, 0])]

    @property
    def tilt(self) -> float:
        """Of the axis seen from the front, radians."""
        return TILT_SE.get(self.tooth.tooth.position, VERTICAL_SE)

    @property
    def middle(self) -> float:
        """Of mid-width, across."""
        return float(np.hypot(*self._sides) / 2)

    @property
    def width(self) -> float:
        """Of the crown's width."""
        # A turn moves the width by how much further facially one end lies than the other.
        at = self._ends
        turn = float(at[1][1] - at[0][1]) * self.turn
        return float(np.sqrt(sum(s**2 for s in self._sides) + turn**2))

    @property
    def _sides(self) -> tuple[float, float]:
        out = []
        for place, has, end in zip(SIDES, self.tooth.standing.neighbours, self.tooth.outline.ends, strict=True):
            further = (0.0 if has else UNSEEN_SIDE_SE) if not end.hidden else HIDDEN_SIDE_SE
            out.append(HAND_SE if self.tooth.by_hand.has(place) else float(np.hypot(SIDE_SE, further)))
        return out[0], out[1]

    def zenith_offset(self, found: Zenith, spread: float) -> float:
        """Of the zenith's distance from mid-width: axis, mid-width, flatness of the margin, and ``spread`` from the hidden CEJ."""
        # The top of a parabola through points with this error, over the stretch that was fitted.
        flat = 0.25 * self.margin / max(abs(found.bend), 0.08)
        # Mid-width is read where the crown is widest: the axis acts over the distance from there.
        at = self._ends
        turned = (found.level - float(at[0][2] + at[1][2]) / 2) * self.tilt
        return float(np.sqrt(turned**2 + self.middle**2 + flat**2 + spread**2))

    def edge_height(self) -> float:
        """Of the edge's height in the arch frame: the occlusal plane is known to so many degrees, and acts by its lever."""
        frame, edge = self.arch.frame, self.tooth.frame.edge
        pitch = np.hypot(np.radians(frame.pitch_se_deg), PITCH_SE) * edge[1]
        roll = np.radians(frame.roll_se_deg) * edge[0]
        return float(np.sqrt(EDGE_SE**2 + pitch**2 + roll**2))

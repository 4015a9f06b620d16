"""What a person set on one tooth of a scan. It is kept, it overrules what was found, and every reading that rests on it says so."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

from festoon.scan.raw import Floats
from festoon.scan.view import View

Place = Literal["margin", "zenith", "mesial_papilla", "distal_papilla", "edge", "mesial_end", "distal_end"]
"""What a point says: the facial margin goes through it; the zenith, a papilla tip, the edge point (level 0), or the mesial or distal end
of the crown lies at it."""
PLACES: tuple[Place, ...] = get_args(Place)
_ON_MARGIN = ("margin", "zenith", "mesial_papilla", "distal_papilla")
_SAME = 0.5
"""Of two points of a margin nearer than this across, the later one counts, mm."""


@dataclass(frozen=True)
class ByHand:
    """Points that a person set on one tooth, in the order in which they were set."""

    points: tuple[tuple[Place, tuple[float, float, float]], ...] = ()
    """What each says, and where it is, arch frame, mm."""

    def at(self, place: Place) -> Floats | None:
        """The point set last for a place, shape (3,); None where nothing was set."""
        found = [point for what, point in self.points if what == place]
        return np.array(found[-1]) if found else None

    def has(self, *places: Place) -> bool:
        """Whether one of these was set."""
        return any(what in places for what, _ in self.points)

    def many(self, place: Place) -> int:
        """How many points were set for a place."""
        return sum(what == place for what, _ in self.points)

    def through(self, view: View) -> tuple[tuple[float, float], ...]:
        """Places (across, down) of a view through which the facial margin goes.

        Raises
        ------
        ValueError
            If a point lies off the view.
        """
        out: tuple[tuple[float, float], ...] = ()
        for what, point in self.points:
            if what not in _ON_MARGIN:
                continue
            away = np.array(point) - view.origin
            here = (float(away @ view.across), float(away @ view.down))
            if not (view.x[0] <= here[0] <= view.x[-1] and view.w[0] <= here[1] <= view.w[-1]):
                raise ValueError("the point lies off the facial surface of the tooth")
            out = (*(p for p in out if abs(p[0] - here[0]) > _SAME), here)
        return out

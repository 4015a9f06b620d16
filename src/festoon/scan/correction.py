"""Correction by hand: points of a traced tooth are set; the rest is solved again around what a person said, and kept so."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from festoon.model.dentition import Tooth
from festoon.scan.by_hand import ByHand
from festoon.scan.tooth import retrace
from festoon.scan.trace import TracedArch

_OFF = 15.0
"""A point further than this from the edge of its tooth is a slip, mm: no crown is so long or so wide."""


def with_points(arch: TracedArch, tooth: Tooth, by_hand: ByHand) -> TracedArch:
    """The arch with what a person set on a tooth, and nothing of what was set on it before.

    The path of the margin, the ends of the crown and the tooth's frame are solved again on evidence that is kept: no new look at the
    surface. Without points the tooth is as it was found.

    Raises
    ------
    KeyError
        If the tooth was not traced.
    ValueError
        If a point lies off the tooth, or no margin can go through it.
    """
    one = arch.teeth[tooth]
    for _, point in by_hand.points:
        if np.linalg.norm(np.array(point) - one.found.edge) > _OFF:
            raise ValueError("the point lies off the facial surface of the tooth")
    return replace(arch, teeth={**arch.teeth, tooth: retrace(one, by_hand, arch.frame.apical)})

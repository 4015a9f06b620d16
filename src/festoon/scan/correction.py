"""Correction by hand: a point of a margin is set, a tooth renumbered; the rest is solved again around what a person said, and kept so."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from festoon.model.dentition import Tooth
from festoon.scan.raw import Floats
from festoon.scan.tooth import ScannedTooth, retrace
from festoon.scan.trace import TracedArch


def with_margin_point(arch: TracedArch, tooth: Tooth, point: Floats) -> TracedArch:
    """The arch with the facial margin of a tooth going through a point that a person set.

    Earlier points of that tooth stay set, but for one within half a millimetre across, which the new one replaces. Only the path
    is solved again, on evidence that is kept: no new look at the surface.

    Parameters
    ----------
    arch : TracedArch
    tooth : Tooth
    point : array (3,)
        On the surface, arch frame, mm.

    Raises
    ------
    KeyError
        If the tooth was not traced.
    ValueError
        If no margin can go through the point: it lies off the facial surface of the tooth.
    """
    one = arch.teeth[tooth]
    view = one.facial.view
    away = np.asarray(point) - view.origin
    set_now = (float(away @ view.across), float(away @ view.down))
    kept = tuple(p for p in one.fixed if abs(p[0] - set_now[0]) > _SAME)
    return _with(arch, retrace(one, (*kept, set_now), arch.frame.apical))


def without_margin_points(arch: TracedArch, tooth: Tooth) -> TracedArch:
    """The arch with the facial margin of a tooth as it is found without a person's points."""
    return _with(arch, retrace(arch.teeth[tooth], (), arch.frame.apical))


def renumbered(arch: TracedArch, names: dict[Tooth, Tooth]) -> TracedArch:
    """The arch with teeth under other numbers, old to new; what is not named keeps its number.

    Raises
    ------
    ValueError
        If two teeth would have one number, or a number is of the other jaw.
    """
    new = {old: names.get(old, old) for old in arch.teeth}
    if len(set(new.values())) < len(new):
        raise ValueError("two teeth would have the same number")
    if any(t.is_upper != arch.frame.upper for t in new.values()):
        raise ValueError("a number of the other jaw: measure again with the other jaw")
    return replace(arch, teeth={new[old]: replace(one, tooth=new[old]) for old, one in arch.teeth.items()})


def _with(arch: TracedArch, tooth: ScannedTooth) -> TracedArch:
    return replace(arch, teeth={**arch.teeth, tooth.tooth: tooth})


_SAME = 0.5
"""Two set points nearer than this across are one, mm."""

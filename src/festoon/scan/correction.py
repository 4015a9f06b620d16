"""Correction by hand: a point of a margin is set, a tooth renumbered; the rest is solved again around what a person said, and kept so."""

from __future__ import annotations

from dataclasses import replace

from festoon.model.dentition import Tooth
from festoon.scan.raw import Floats
from festoon.scan.tooth import retrace
from festoon.scan.trace import TracedArch


def with_margin_points(arch: TracedArch, tooth: Tooth, points: Floats) -> TracedArch:
    """The arch with the facial margin of a tooth going through the points that a person set, and through no earlier ones.

    Only the path is solved again, on evidence that is kept: no new look at the surface. Without points it is the margin as found.

    Parameters
    ----------
    arch : TracedArch
    tooth : Tooth
    points : array (K, 3)
        On the surface, arch frame, mm. Of several within half a millimetre across, the last one counts.

    Raises
    ------
    KeyError
        If the tooth was not traced.
    ValueError
        If no margin can go through the points: one lies off the facial surface of the tooth.
    """
    one = arch.teeth[tooth]
    view = one.facial.view
    fixed: tuple[tuple[float, float], ...] = ()
    for point in points:
        away = point - view.origin
        here = (float(away @ view.across), float(away @ view.down))
        if not (view.x[0] <= here[0] <= view.x[-1] and view.w[0] <= here[1] <= view.w[-1]):
            raise ValueError("the point lies off the facial surface of the tooth")
        fixed = (*(p for p in fixed if abs(p[0] - here[0]) > _SAME), here)
    return replace(arch, teeth={**arch.teeth, tooth: retrace(one, fixed, arch.frame.apical)})


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


_SAME = 0.5
"""Two set points nearer than this across are one, mm."""

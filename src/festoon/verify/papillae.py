"""Papillae at the end of surgery: the tip as read against the plan, and the fill that can be expected."""

from __future__ import annotations

from festoon.model.dentition import Tooth, facing
from festoon.model.plan import PapillaPlan
from festoon.model.quantities import Quantity
from festoon.verify.session import TWO, Notations, Session, error_words, kept, mm, tooth_words


def papilla_lines(session: Session, notations: Notations = TWO) -> tuple[str, ...]:
    """One line a papilla beside an operated tooth; ``session`` holds what was read after suturing."""
    return tuple(
        _line(session, papilla, notations)
        for papilla in session.plan.papillae
        if any(
            session.plan.teeth[code].procedure.cuts for code in papilla.between.split("-") if code in session.plan.teeth
        )
    )


def _line(session: Session, papilla: PapillaPlan, notations: Notations) -> str:
    between = tooth_words(papilla.between, notations)
    first, second = papilla.between.split("-")
    tip = session.last(first, facing(Tooth(first), Tooth(second)), Quantity.MARGIN_LEVEL)
    wanted = papilla.tip_planned_mm
    if tip is None:
        said = (
            "tip NOT READ"
            if wanted is None
            else f"tip NOT READ, planned {mm(wanted)} mm from the planned edge of {tooth_words(first, notations)}"
        )
    elif wanted is None:
        said = f"tip {mm(tip.mm)} mm from the planned edge of {tooth_words(first, notations)}, planned level unknown"
    else:
        off = kept(tip.mm - wanted)
        way = "as planned" if abs(off) <= tip.se_mm else f"{mm(abs(off))} mm {'apical' if off > 0 else 'coronal'} of it"
        said = f"tip {mm(tip.mm)}, planned {mm(wanted)} mm from the planned edge of {tooth_words(first, notations)}: {way} ({error_words(tip.se_mm)})"
    if papilla.contact_to_crest_mm is None or papilla.fill_chance is None:
        return f"{between}: {said}; contact to crest NOT KNOWN"
    low = papilla.fill_chance_low
    chance = f"{papilla.fill_chance:.0%}" if low is None else f"{low:.0%} to {papilla.fill_chance:.0%}"
    return (
        f"{between}: {said}; {mm(papilla.contact_to_crest_mm)} mm from contact to crest, where {chance} fill "
        "the space (GIN-033 to GIN-039)"
    )

"""What is seen and said at recalls beside the margins: judged where something published allows it, else only told."""

from __future__ import annotations

from collections.abc import Sequence

from festoon.evidence.table import published
from festoon.model.plan import PapillaPlan, Plan
from festoon.model.quantities import Quantity
from festoon.model.recall import KeratinisedCheck, PapillaCheck, PapillaFill, VisitEntry
from festoon.model.verification import Verdict
from festoon.verify.session import TWO, Notations, mm, tooth_words

_FULL = (PapillaFill.COMPLETE, PapillaFill.OVERFILLED)


def papilla_checks(plan: Plan, visits: Sequence[VisitEntry]) -> tuple[PapillaCheck, ...]:
    """Every papilla judged by eye, against the fill that its planned contact-to-crest distance lets expect."""
    planned = {papilla.between: papilla for papilla in plan.papillae}
    return tuple(
        _papilla(visit, name, fill, planned.get(name)) for visit in visits for name, fill in visit.papillae.items()
    )


def _papilla(visit: VisitEntry, name: str, fill: PapillaFill, planned: PapillaPlan | None) -> PapillaCheck:
    distance = None if planned is None else planned.contact_to_crest_mm
    chance = None if planned is None else planned.fill_chance
    low = None if planned is None else planned.fill_chance_low
    filled = published("GIN-033")
    said = fill.value.replace("_", " ")
    if distance is None or chance is None:
        known = "the distance from contact to crest is NOT KNOWN, so nothing published can be held against it"
    else:
        between = f"{chance:.0%}" if low is None else f"{low:.0%} to {chance:.0%}"
        known = f"planned {mm(distance)} mm from contact to crest, where {between} fill (GIN-033 to GIN-039)"
    verdict = Verdict.ENOUGH if fill in _FULL else Verdict.SHORT
    if fill is PapillaFill.OVERFILLED:
        words = "fills the space and more: look for inflammation"
    elif fill is PapillaFill.COMPLETE:
        words = "fills the space"
    elif distance is None:
        words = "an open space"
    elif distance <= (filled.high or 5.0):
        words = "an open space where one is not expected: sound bone and see where the contact ends"
    else:
        words = "an open space, as is to be expected there"
    return PapillaCheck(
        between=name, at=visit.at, fill=fill, contact_to_crest_mm=distance, fill_chance=chance, verdict=verdict,
        text=f"papilla {said}: {words}; {known}",
    )  # fmt: skip


def keratinised_checks(plan: Plan, minimum_mm: float, visits: Sequence[VisitEntry]) -> tuple[KeratinisedCheck, ...]:
    """Every keratinised width against the wanted minimum and against what was planned."""
    found = []
    for visit in visits:
        for reading in visit.readings:
            if reading.quantity is not Quantity.KERATINISED_WIDTH or reading.tooth is None:
                continue
            whole = plan.teeth.get(reading.tooth)
            planned = None if whole is None else whole.keratinised_after_mm
            is_short = reading.value < minimum_mm
            wanted = f"the {mm(minimum_mm)} mm wanted (DX-012; no agreed minimum)"
            before = "" if planned is None else f", {mm(planned)} planned"
            found.append(
                KeratinisedCheck(
                    tooth=reading.tooth,
                    at=visit.at,
                    value_mm=reading.value,
                    minimum_mm=minimum_mm,
                    planned_mm=planned,
                    verdict=Verdict.SHORT if is_short else Verdict.ENOUGH,
                    text=f"keratinised {mm(reading.value)} mm{before}: {'less than' if is_short else 'at least'} {wanted}",
                )
            )
    return tuple(found)


def told(visits: Sequence[VisitEntry], notations: Notations = TWO) -> tuple[str, ...]:
    """What the patient says, visit by visit. Nothing published says which score is good: told, not judged."""
    lines = []
    for visit in visits:
        parts = [
            f"sensitivity of {tooth_words(tooth, notations)} {score} of 10"
            for tooth, score in visit.sensitivity.items()
        ]
        if visit.satisfaction is not None:
            parts.append(f"satisfaction {visit.satisfaction} of 10")
        if visit.is_without_complications:
            parts.append("asked for complications: none")
        if parts:
            lines.append(f"{visit.at}: {', '.join(parts)}")
    return tuple(lines)


def complications(visits: Sequence[VisitEntry], notations: Notations = TWO) -> tuple[str, ...]:
    """Every complication with its day, in words."""
    return tuple(
        f"{visit.at}: {one.kind.value.replace('_', ' ')}"
        + (f", {tooth_words(one.tooth, notations)}" if one.tooth else "")
        + (f": {one.text}" if one.text else "")
        for visit in visits
        for one in visit.complications
    )

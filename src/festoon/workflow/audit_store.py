"""The records of a practice for the audit: every surgery of a store with its recalls, read where they lie."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from festoon.errors import Fault, InputRefusedError
from festoon.model.anatomy import Anatomy
from festoon.model.case import Case
from festoon.model.plan import Plan
from festoon.model.quantities import Quantity
from festoon.model.recall import RecallEntry, VisitEntry
from festoon.model.surgery import Begun, EntryShown, SignOffEntry, Step
from festoon.model.verification import PlacedReading
from festoon.store import chairside, looking
from festoon.store.errors import StoreError
from festoon.store.home import Home
from festoon.store.opening import open_store
from festoon.store.store import Store
from festoon.verify.chair import Taken
from festoon.workflow.audit_rows import Operated, Place, levels_of_plan
from festoon.workflow.chair_entries import shown, taken_of
from festoon.workflow.recall import placed_visits, recall_shown, standing
from festoon.workflow.stored_plan import signed_plan


def is_store(path: Path) -> bool:
    """True for the folder of a store."""
    return Home(path).database.is_file()


def operated_on_record(root: Path, practice: str) -> tuple[list[Operated], list[str]]:
    """Every surgery of a store, and in words those that had to be left out.

    Raises
    ------
    InputRefusedError
        If the store cannot be opened.
    """
    try:
        store = open_store(root)
        lines = looking.list_cases(store)
    except StoreError as wrong:
        raise InputRefusedError([Fault(root.name, "", str(wrong), "the records of a practice", "See above.")]) from None
    found: list[Operated] = []
    left_out: list[str] = []
    for line in lines:
        numbers = chairside.surgeries_of(store, line.case)
        for number in numbers:
            try:
                found.append(_operated(store, practice, line.case, number, is_last=number == numbers[-1]))
            except StoreError as wrong:
                left_out.append(f"LEFT OUT, {practice}: surgery {number} of case {line.case}: {wrong}.")
    return found, left_out


def _operated(store: Store, practice: str, case: str, number: int, *, is_last: bool) -> Operated:
    record = chairside.surgery_on_record(store, case, number)
    stored = signed_plan(store, case, record.plan)
    visits = standing(recall_shown(record.recalls))
    # Not operated again, as far as the records tell, is known only of a patient who was seen afterwards.
    seen = any(isinstance(entry, VisitEntry) for entry in visits)
    redo = True if not is_last else (False if seen else None)
    return operated_of(
        practice, stored.case, stored.plan, stored.anatomy, Begun.model_validate_json(record.document),
        shown(record.entries), visits, redo=redo, where=f"{case}/{number}",
    )  # fmt: skip


def operated_of(
    practice: str,
    case: Case,
    plan: Plan,
    anatomy: Anatomy,
    begun: Begun,
    entries: Sequence[EntryShown],
    visits: Sequence[RecallEntry],
    *,
    redo: bool | None,
    where: str,
) -> Operated:
    """One surgery from what was entered at the chair and at recalls.

    The operator is the one named at the start, else the one who signed off; unknown before that. A crest read at the
    opened site before bone was cut is held against today's margin plus sounding where both were read, else against the
    charted sounding. A crest counts as cut where it was read after bone was lowered.
    """
    taken = taken_of(case, begun, entries)
    signed = next((one.by for one in entries if isinstance(one.entry, SignOffEntry)), None)
    recall = list(placed_visits(case, begun, (), visits).readings) if visits else []
    return Operated(
        practice=practice,
        case=case,
        day=begun.surgery_at,
        operator=begun.operator or signed,
        template_kind=begun.template_kind,
        redo=redo,
        procedures={tooth: whole.procedure.value for tooth, whole in plan.teeth.items()},
        levels=levels_of_plan(plan, anatomy, begun.against) | _sounded_today(taken),
        readings={
            "open": _at(taken, Step.PROBE_CUT, Quantity.CREST_LEVEL),
            "cut": _at(taken, Step.PROBE_CUT, Quantity.MARGIN_LEVEL) + _at(taken, Step.PROBE_BONE),
            "suture": _at(taken, Step.PROBE_SUTURE),
            "recall": recall,
        },
        where=where,
    )


def _at(taken: Sequence[Taken], step: Step, quantity: Quantity | None = None) -> list[PlacedReading]:
    return [one.reading for one in taken if one.step is step and quantity in (None, one.reading.quantity)]


def _sounded_today(taken: Sequence[Taken]) -> dict[Place, float]:
    """Crests as sounded before the first cut: margin plus sounding, where both were read that day."""
    latest = {(r.tooth, r.site, r.quantity): r for r in _at(taken, Step.DATUM)}
    return {
        ("open", "crest_level", tooth, site): margin.mm + sounding.value_mm
        for (tooth, site, quantity), sounding in latest.items()
        if quantity is Quantity.SOUNDING and (margin := latest.get((tooth, site, Quantity.MARGIN_LEVEL))) is not None
    }

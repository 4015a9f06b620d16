"""Recalls on the store: visits and edges kept, margins held against the expected band. Joins store, records, verify."""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot

from pydantic import TypeAdapter, ValidationError

from festoon.errors import Fault, InputRefusedError
from festoon.evidence.defaults import default_mm
from festoon.evidence.errors import default_method, reading_error
from festoon.model.case import Case
from festoon.model.plan import Plan
from festoon.model.quantities import Quantity, QuantityReading, Readings
from festoon.model.reading import Datum, LevelReading
from festoon.model.recall import EdgeEntry, RecallEntry, RecallShown, RecallState, VisitEntry
from festoon.model.surgery import Begun, Key, UndoEntry
from festoon.model.verification import Moment
from festoon.records.placing import Placement, place_readings
from festoon.records.ranges import RANGES
from festoon.records.readings import ReadingsFile
from festoon.store import chairside
from festoon.store.errors import StoreError
from festoon.store.store import Store
from festoon.verify.recall_beside import complications, keratinised_checks, papilla_checks, told
from festoon.verify.session import TWO, Limits, Notations, mm
from festoon.workflow.chair_entries import shown, sutured_readings
from festoon.workflow.stored_plan import StoredPlan, signed_plan
from festoon.workflow.surgery import Surgery
from festoon.workflow.verifying import VerifyOptions, verify_against

_ENTRY: TypeAdapter[RecallEntry] = TypeAdapter(RecallEntry)
_KEY: TypeAdapter[str] = TypeAdapter(Key)


def add(store: Store, surgery: Surgery, entry: VisitEntry | EdgeEntry, *, key: str, by: str) -> int:
    """Keep a visit, or where an edge lies from a day on. On disk when this returns; see :func:`surgery.enter` for keys.

    Raises
    ------
    InputRefusedError
        If a reading cannot be placed, contradicts another one of its day, or its day does not fit; nothing is kept.
    StoreError
        If there is no such surgery, or the key was used for another entry.
    """
    _check_key(key)
    record = chairside.surgery_on_record(store, surgery.case, surgery.number)
    begun = Begun.model_validate_json(record.document)
    if entry.at <= begun.surgery_at and isinstance(entry, VisitEntry):
        raise _refused("at", f"a visit of {entry.at}", f"a day after the surgery of {begun.surgery_at}")
    stored = signed_plan(store, surgery.case, record.plan)
    _belongs(entry, stored.plan)
    if all(kept.key != key for kept in record.recalls):
        _state(surgery, stored, record, (*standing(recall_shown(record.recalls)), entry))
    what = f"recall: {entry.kind} of {entry.at}"
    return chairside.keep_recall(
        store, surgery.case, surgery.number, key, entry.model_dump_json(), by=by, what=what[:64]
    )


def _belongs(entry: VisitEntry | EdgeEntry, plan: Plan) -> None:
    """Refuse what speaks of no tooth or papilla of the plan, an edge no mouth has, and a visit that says nothing."""
    named = [entry.tooth] if isinstance(entry, EdgeEntry) else [*entry.sensitivity]
    if isinstance(entry, VisitEntry):
        named += [one.tooth for one in entry.complications if one.tooth is not None]
        named += [one.tooth for one in entry.readings if one.tooth is not None]
        papillae = [papilla.between for papilla in plan.papillae]
        for between in entry.papillae:
            if between not in papillae:
                raise _refused("papillae", f"the papilla {between}", f"one of {', '.join(papillae) or 'none'}")
        if not entry.model_dump(exclude={"kind", "at"}, exclude_defaults=True):
            raise _refused(
                "visit", "a visit that says nothing", "readings, a papilla, a score, complications or a remark"
            )
    else:
        possible = RANGES["incisal_extension_mm"]
        if not possible.low <= entry.from_planned_mm <= possible.high:
            raise _refused(
                "from_planned_mm",
                f"an edge {mm(entry.from_planned_mm)} mm from the planned one",
                f"{possible.low:g} to {possible.high:g} mm, + where the tooth is shorter",
            )
    for tooth in named:
        if tooth not in plan.teeth:
            raise _refused("tooth", f"the tooth {tooth}", f"one of {', '.join(plan.teeth)}")


def take_back(store: Store, surgery: Surgery, entry: int | None = None, *, key: str, by: str) -> int:
    """Take back a visit or an edge, the latest where none is named. It stays on record. Returns the number of the undo.

    Raises
    ------
    StoreError
        If there is no such entry.
    """
    _check_key(key)
    record = chairside.surgery_on_record(store, surgery.case, surgery.number)
    known = next((kept.number for kept in record.recalls if kept.key == key), None)
    if known is not None:
        return known
    numbers = [one.number for one in recall_shown(record.recalls) if not one.is_taken_back and one.entry.kind != "undo"]
    if entry is None and numbers:
        entry = numbers[-1]
    if entry is None or entry not in numbers:
        raise StoreError("there is no such entry to take back, or it was taken back already")
    document = UndoEntry(entry=entry).model_dump_json()
    return chairside.keep_recall(
        store, surgery.case, surgery.number, key, document, by=by, what=f"recall: entry {entry} taken back"
    )


def recall_state(store: Store, surgery: Surgery, *, notations: Notations = TWO) -> RecallState:
    """Every visit of a surgery against the expected band, the course, and whether restorations may be made.

    Raises
    ------
    StoreError
        If there is no such surgery.
    InputRefusedError
        If readings cannot be placed.
    """
    record = chairside.surgery_on_record(store, surgery.case, surgery.number)
    stored = signed_plan(store, surgery.case, record.plan)
    return _state(surgery, stored, record, standing(recall_shown(record.recalls)), notations)


def _state(
    surgery: Surgery,
    stored: StoredPlan,
    record: chairside.KeptSurgery,
    entries: Sequence[RecallEntry],
    notations: Notations = TWO,
) -> RecallState:
    begun = Begun.model_validate_json(record.document)
    visits = _visits(entries)
    placed = placed_visits(stored.case, begun, sutured_readings(begun, shown(record.entries)), entries)
    own = stored.case.policy.keratinised_minimum_mm
    options = VerifyOptions(
        Moment.RECALL,
        surgery_at=begun.surgery_at,
        limits=Limits(begun.recheck_mm, begun.stop_mm),
        against=begun.against,
        notations=notations,
    )
    return RecallState(
        case=surgery.case,
        surgery=surgery.number,
        plan=record.plan,
        surgery_at=begun.surgery_at,
        verification=verify_against(stored.plan, stored.anatomy, placed.readings, options, notes=placed.notes),
        keratinised=keratinised_checks(
            stored.plan, default_mm("keratinised_minimum_mm") if own is None else own, visits
        ),
        papillae=papilla_checks(stored.plan, visits),
        told=told(visits, notations),
        complications=complications(visits, notations),
        entries=recall_shown(record.recalls),
        stale=stored.stale,
        notes=stored.notes,
    )


def placed_visits(
    case: Case, begun: Begun, sutured: Sequence[QuantityReading], entries: Sequence[RecallEntry]
) -> Placement:
    """What was read after suturing and at every visit, each level from the planned edge whatever edge was in the mouth.

    Raises
    ------
    InputRefusedError
        If a reading is not of its visit's day or cannot be placed.
    """
    edges = [entry for entry in entries if isinstance(entry, EdgeEntry)]
    readings = list(sutured)
    for visit in _visits(entries):
        for reading in visit.readings:
            if reading.at not in (None, visit.at):
                raise _refused("at", f"a reading of {reading.at}", f"readings of the visit's day, {visit.at}")
            if reading.quantity is not Quantity.KERATINISED_WIDTH:  # judged by itself
                readings.append(from_planned_edge(reading.model_copy(update={"at": visit.at}), edges))
    lines = tuple(range(1, len(readings) + 1))
    file = ReadingsFile(Readings(case=case.case, readings=tuple(readings)), lines, "", "recall", ())
    return place_readings(file, case, Moment.RECALL, surgery_at=begun.surgery_at)


def _visits(entries: Sequence[RecallEntry]) -> list[VisitEntry]:
    return sorted((entry for entry in entries if isinstance(entry, VisitEntry)), key=lambda visit: visit.at)


def from_planned_edge(reading: QuantityReading, edges: Sequence[EdgeEntry]) -> QuantityReading:
    """A level read from an edge whose history is known, counted from the planned edge; any other reading unchanged.

    Raises
    ------
    InputRefusedError
        If nobody can say from which edge it was read: the edge was changed on that very day, or no restoration is on
        record for a level from a restored edge.
    """
    if reading.datum not in (Datum.PRESENT_EDGE, Datum.RESTORED_EDGE) or reading.at is None:
        return reading
    history = [edge for edge in edges if edge.tooth == reading.tooth and edge.at <= reading.at]
    if not history:
        return reading
    edge = max(enumerate(history), key=lambda item: (item[1].at, item[0]))[1]
    if reading.datum is Datum.PRESENT_EDGE and edge.at == reading.at:
        raise _refused(
            "datum",
            f"a level of {reading.tooth} from the edge seen on {reading.at}, the day on which that edge was changed",
            "planned_edge, or restored_edge where it was read after the change",
        )
    if reading.datum is Datum.RESTORED_EDGE and edge.edge == "as_charted":
        raise _refused("datum", f"a level of {reading.tooth} from a restored edge", "a restoration on record by then")
    se = reading.se
    if edge.se_mm is not None:
        key = str(reading.quantity.case_key)
        plain = LevelReading(
            value=reading.value,
            se=reading.se,
            method=reading.method or default_method(key),
            datum=reading.datum,
            at=reading.at,
        )
        se = hypot(reading_error(key, plain).se_mm, edge.se_mm)
    said = (
        f"{mm(reading.value)} from the {edge.edge.replace('_', ' ')} edge of {edge.at}, {mm(edge.from_planned_mm)} off"
    )
    return reading.model_copy(
        update={
            "value": reading.value + edge.from_planned_mm,
            "datum": Datum.PLANNED_EDGE,
            "se": se,
            "flag": f"{reading.flag}; {said}" if reading.flag else said,
        }
    )


def standing(entries: Sequence[RecallShown]) -> tuple[RecallEntry, ...]:
    """Visits and edges that were not taken back, in the order they were entered."""
    return tuple(one.entry for one in entries if not one.is_taken_back and one.entry.kind != "undo")


def recall_shown(kept: Sequence[chairside.KeptEntry]) -> tuple[RecallShown, ...]:
    """The entries as kept, with those that were taken back."""
    said = [(one, _ENTRY.validate_json(one.document)) for one in kept]
    gone = {entry.entry for _, entry in said if isinstance(entry, UndoEntry)}
    return tuple(
        RecallShown(number=one.number, at=one.kept_at, by=one.kept_by, entry=entry, is_taken_back=one.number in gone)
        for one, entry in said
    )


def _check_key(key: str) -> None:
    try:
        _KEY.validate_python(key)
    except ValidationError:
        raise StoreError("a key of 8 to 64 letters, digits, dots, dashes and underscores is needed") from None


def _refused(where: str, found: str, expected: str, do: str = "Check it; nothing was kept.") -> InputRefusedError:
    return InputRefusedError([Fault("recall", where, found, expected, do)])

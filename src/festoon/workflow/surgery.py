"""A day of surgery at the chair: begun from a signed plan, entered reading by reading, signed off. Joins the rooms.

Every entry is on disk before it is acknowledged, and has a key made by the client, so that a retry after a lost network
adds nothing twice. Nothing is erased: an undo takes back and stays on record.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pydantic import TypeAdapter, ValidationError

from festoon.errors import InputRefusedError
from festoon.model.dentition import Notation
from festoon.model.reading import Datum
from festoon.model.surgery import (
    Begun,
    Entry,
    Key,
    ReadingEntry,
    RemarkEntry,
    SignOffEntry,
    Step,
    StepEntry,
    SurgeryState,
    UndoEntry,
    shape_of,
)
from festoon.model.verification import Moment, PlacedReading, Replan
from festoon.store import chairside
from festoon.store.errors import StoreError
from festoon.store.store import Store
from festoon.verify import chair
from festoon.verify.before import before_checks
from festoon.verify.bone import space_checks
from festoon.verify.keys import Asked, typed
from festoon.verify.papillae import papilla_lines
from festoon.verify.session import TWO, Limits, Notations, Session
from festoon.verify.suture import crown_checks, pair_checks, suture_checks, suture_spaces
from festoon.workflow.chair_entries import ENTRY, placed, refused, shown, taken_of
from festoon.workflow.stored_plan import StoredPlan, signed_plan
from festoon.workflow.verifying import healing_forecast, pair_tolerance, solved_anew

_KEY: TypeAdapter[str] = TypeAdapter(Key)
_KEYS = "millimetres for the reading asked for, or tooth, site, what is read and millimetres, e.g. 11 f b 12.5"


@dataclass(frozen=True)
class Surgery:
    """Which surgery of which case."""

    case: str
    number: int


def start_surgery(
    store: Store,
    case: str,
    plan: int,
    *,
    by: str,
    why: str,
    surgery_at: dt.date | None = None,
    datum: Datum = Datum.PRESENT_EDGE,
    limits: Limits | None = None,
    operator: str | None = None,
    template_kind: str | None = None,
) -> Surgery:
    """Begin a surgery that is held against a signed plan.

    A plan that is stale is not refused: what has changed is kept with the start and shown in every state.

    Parameters
    ----------
    plan : int
        Number of the signed plan.
    datum : Datum
        From what levels will be read; an entry may say another one.
    limits : Limits, optional
        When to recompute and when to stop; the defaults of the settings otherwise.
    operator, template_kind : str, optional
        Codes, for the audit; what is not said stays unknown.

    Raises
    ------
    StoreError
        If the plan is not there, not signed, not for surgery or not the one that was signed, the datum has no known
        place on a tooth that is cut, or a code is none.
    """
    stored = signed_plan(store, case, plan)
    if not stored.plan.for_surgery:
        raise StoreError(f"plan {plan} is NOT FOR SURGERY: " + "; ".join(stored.plan.not_for_surgery_because))
    day, charted = surgery_at or store.clock().date(), stored.case.examined_at
    if charted is not None and day < charted:
        raise StoreError(
            f"a surgery of {day} lies before the chart of {charted} that its plan was made from: check the day"
        )
    unplaced = _without(stored, datum)
    if unplaced:
        raise StoreError(
            f"levels cannot be read from the {datum.replace('_', ' ')}: where it lies is not given on "
            f"{', '.join(unplaced)} (datum_offset_mm.{datum} in the case). Choose another datum, or chart it and plan anew"
        )
    chosen = limits or Limits()
    try:
        begun = Begun(
            surgery_at=day,
            datum=datum,
            recheck_mm=chosen.recheck_mm,
            stop_mm=chosen.stop_mm,
            operator=operator,
            template_kind=template_kind,
            stale=stored.stale,
        )
    except ValidationError as wrong:
        words = "; ".join(f"{'.'.join(map(str, e['loc']))}: {e['msg']}" for e in wrong.errors())
        raise StoreError(f"operator and template are codes, no names: {words}") from None
    document = begun.model_dump_json()
    return Surgery(case, chairside.begin_surgery(store, case, plan, stored.sha256, document, by=by, why=why))


def _without(stored: StoredPlan, datum: Datum) -> list[str]:
    """Teeth that are cut and on which the place of a datum is not known: no level could be entered there."""
    if datum in (Datum.PRESENT_EDGE, Datum.PLANNED_EDGE):
        return []
    known = {code: {str(name) for name in chart.datum_offset_mm} for code, chart in stored.case.teeth.items()}
    return [code for code, whole in stored.plan.teeth.items() if whole.procedure.cuts and str(datum) not in known[code]]


def latest(store: Store, case: str, number: int | None = None) -> Surgery:
    """The surgery of a case that is named, or the latest.

    Raises
    ------
    StoreError
        If there is none.
    """
    numbers = chairside.surgeries_of(store, case)
    if not numbers or (number is not None and number not in numbers):
        raise StoreError(f"case {case} has no surgery{'' if number is None else f' {number}'}: begin one first")
    return Surgery(case, numbers[-1] if number is None else number)


def enter(store: Store, surgery: Surgery, entry: ReadingEntry | StepEntry | RemarkEntry, *, key: str, by: str) -> int:
    """Keep one entry. It is on disk when this returns; the same key and entry again return the same number.

    Raises
    ------
    InputRefusedError
        If a reading cannot be placed on its tooth or is one no mouth allows; nothing is kept then.
    StoreError
        If the surgery was signed off, or the key was used for another entry.
    """
    if isinstance(entry, ReadingEntry):
        record = chairside.surgery_on_record(store, surgery.case, surgery.number)
        stored = signed_plan(store, surgery.case, record.plan)
        placed(stored.case, Begun.model_validate_json(record.document), entry, by)
    words = entry.kind if isinstance(entry, RemarkEntry) else f"{entry.kind} {entry.step}"
    return _keep(store, surgery, entry, key, by, f"surgery: {words}")


def enter_keys(
    store: Store, surgery: Surgery, text: str, *, key: str, by: str, notation: Notation = Notation.FDI
) -> tuple[int, ReadingEntry]:
    """Keep a reading typed by a few keys; what was left out is the reading asked for next.

    Returns the number and the whole entry, to be shown back before the next one is typed. A key that is known already
    returns its own entry, whatever is asked for by now.

    Raises
    ------
    InputRefusedError
        If the keys mean no reading, or the reading cannot be placed.
    """
    record = chairside.surgery_on_record(store, surgery.case, surgery.number)
    for kept in record.entries:
        if kept.key == key:
            said = ENTRY.validate_json(kept.document)
            if isinstance(said, ReadingEntry):
                return kept.number, said
            raise chairside.RepeatedKeyError(f"the key {key} was used for entry {kept.number}, which is no reading")
    now = state(store, surgery, resolve=False)
    asked = None if now.next is None else Asked(now.next.tooth, now.next.site, now.next.quantity)
    try:
        whole = typed(text, asked, notation)
        entry = ReadingEntry(
            step=now.step,
            tooth=whole.tooth,
            site=whole.site,
            quantity=whole.quantity,
            value=whole.value,
            datum=now.begun.datum if whole.quantity.is_level else None,
        )
    except ValidationError as wrong:
        raise refused(f"{text!r}: {'; '.join(problem['msg'] for problem in wrong.errors())}", _KEYS) from None
    except ValueError as wrong:
        raise refused(f"{text!r}: {wrong}", _KEYS) from None
    return enter(store, surgery, entry, key=key, by=by), entry


def undo(store: Store, surgery: Surgery, *, key: str, by: str, entry: int | None = None) -> int:
    """Take back an entry, the latest where none is named. Nothing is erased. Returns the number of the undo.

    Raises
    ------
    StoreError
        If there is nothing to take back, or the surgery was signed off.
    """
    record = chairside.surgery_on_record(store, surgery.case, surgery.number)
    for kept in record.entries:
        if kept.key == key:
            return kept.number
    standing = [one for one in shown(record.entries) if not one.is_taken_back and not isinstance(one.entry, UndoEntry)]
    numbers = [one.number for one in standing]
    if entry is None and numbers:
        entry = numbers[-1]
    if entry is None or entry not in numbers:
        raise StoreError("there is no such entry to take back, or it was taken back already")
    return _keep(store, surgery, UndoEntry(entry=entry), key, by, f"surgery: entry {entry} taken back")


def sign_off(
    store: Store,
    surgery: Surgery,
    *,
    key: str,
    by: str,
    role: str,
    reasons: Mapping[str, str],
    remark: str | None = None,
) -> int:
    """End the surgery. Everything that was not done needs its reason.

    Raises
    ------
    StoreError
        If a reason is missing or is for something that is not open, or an entry came in meanwhile.
    """
    now = state(store, surgery, resolve=False)
    open_ = {item.name: item.text for item in now.not_done}
    missing = [text for name, text in open_.items() if not reasons.get(name, "").strip()]
    if missing and now.sign_off is None:
        raise StoreError("a reason is needed for what was not done: " + "; ".join(missing))
    unknown = [name for name in reasons if name not in open_]
    if unknown:
        raise StoreError(f"nothing of these names is open: {', '.join(unknown)}")
    try:
        entry = SignOffEntry(role=role, reasons=dict(reasons), remark=remark)
    except ValidationError as wrong:
        raise StoreError("; ".join(problem["msg"] for problem in wrong.errors())) from None
    return _keep(store, surgery, entry, key, by, "surgery: signed off", seen=len(now.entries))


def state(
    store: Store,
    surgery: Surgery,
    *,
    resolve: bool = True,
    notations: Notations = TWO,
) -> SurgeryState:
    """Everything a view at the chair needs, from what is on disk.

    Parameters
    ----------
    resolve : bool
        Whether the plan is solved anew where today's readings differ from the chart; it takes a fraction of a second.

    Raises
    ------
    StoreError
        If there is no such surgery.
    """
    record = chairside.surgery_on_record(store, surgery.case, surgery.number)
    stored = signed_plan(store, surgery.case, record.plan)
    begun = Begun.model_validate_json(record.document)
    entries = shown(record.entries, notations)
    standing = [one for one in entries if not one.is_taken_back]
    taken = taken_of(stored.case, begun, entries)
    step = next(
        (one.entry.step for one in reversed(standing) if isinstance(one.entry, ReadingEntry | StepEntry)), Step.DATUM
    )

    def session(readings: tuple[PlacedReading, ...]) -> Session:
        limits = Limits(begun.recheck_mm, begun.stop_mm)
        return Session(stored.plan, stored.anatomy, readings, limits, begun.against, begun.datum)

    early, cut, late = chair.before_readings(taken), chair.cut_readings(taken), chair.suture_readings(taken)
    before = before_checks(session(early))
    limits = chair.worst(before)
    sites = chair.site_states(session(cut), notations)
    sutured = session(late)
    replan, trouble = _replan(stored, early) if resolve and early else (None, ())
    end = next((one for one in standing if isinstance(one.entry, SignOffEntry)), None)
    tolerance = pair_tolerance(stored.anatomy)
    return SurgeryState(
        case=surgery.case,
        surgery=surgery.number,
        plan=record.plan,
        plan_sha256=record.plan_sha256,
        signed_by=stored.signed_by,
        begun=begun,
        begun_by=record.begun_by,
        stale=stored.stale,
        step=step,
        limits=limits,
        limits_shape=shape_of(limits),
        limits_text=chair.worst_words(sutured.limits, before, limits, notations),
        next=chair.next_wanted(sutured, step, taken, notations),
        sites=sites,
        before=before,
        spaces=space_checks(session(cut)),
        sutures=suture_checks(sutured, healing_forecast(stored.anatomy)),
        final_spaces=suture_spaces(sutured),
        crowns=crown_checks(sutured),
        pairs=pair_checks(sutured, tolerance),
        papillae=papilla_lines(sutured, notations) if late else (),
        replan=replan,
        not_done=chair.not_done(sutured, taken, sites, notations),
        entries=entries,
        sign_off=end.entry if end is not None and isinstance(end.entry, SignOffEntry) else None,
        signed_off_by=None if end is None else end.by,
        signed_off_at=None if end is None else end.at,
        notes=(*stored.notes, *chair.disagreements(taken, notations), *trouble),
    )


def _keep(
    store: Store, surgery: Surgery, entry: Entry, key: str, by: str, what: str, *, seen: int | None = None
) -> int:
    try:
        _KEY.validate_python(key)
    except ValidationError:
        raise StoreError("a key of 8 to 64 letters, digits, dots, dashes and underscores is needed") from None

    def check(so_far: Sequence[chairside.KeptEntry]) -> None:
        if any(isinstance(ENTRY.validate_json(kept.document), SignOffEntry) for kept in so_far):
            raise StoreError(
                "this surgery was signed off: nothing more is entered. What is still to be said can be a remark of a visit"
            )
        if seen is not None and seen != len(so_far):
            raise StoreError("an entry came in meanwhile: look at it, then sign off")

    return chairside.keep_entry(
        store, surgery.case, surgery.number, key, entry.model_dump_json(), by=by, what=what[:64], check=check
    )


def _replan(stored: StoredPlan, early: tuple[PlacedReading, ...]) -> tuple[Replan | None, tuple[str, ...]]:
    """The plan solved anew, or in words why today's readings make a mouth that cannot be."""
    try:
        return solved_anew(stored.anatomy, early, Moment.BEFORE), ()
    except InputRefusedError as refused:
        return None, tuple(f"the plan cannot be solved anew: {fault.found}. {fault.do}" for fault in refused.faults)

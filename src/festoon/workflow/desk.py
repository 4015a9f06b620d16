"""Use cases of the app's desk: cases begun, edited, undone, drafted; what each waits for next. Joins records, store and planning."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from typing import Any

from festoon.errors import Fault, InputRefusedError
from festoon.model.case import Case, Purpose
from festoon.model.dentition import Notation, Tooth, as_seen
from festoon.model.plan import Answer, Plan
from festoon.records.casefile import CaseFile, parse_case
from festoon.records.casewriter import write_case
from festoon.records.editing import edited
from festoon.records.merging import begun_case, with_readings
from festoon.store import chairside, keeping, looking
from festoon.store.store import Store
from festoon.workflow.planning import plan_of
from festoon.workflow.records import CaseKnown, case_known, chart_readings

_CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
_WENT = re.compile(r"(undo|redo): back to version (\d+)")


class Way(StrEnum):
    """A way of reading and writing on the level profile of a case."""

    CHART = "chart"
    DESIGN = "design"
    PLAN = "plan"
    SURGERY = "surgery"
    RECALL = "recall"


class Next(StrEnum):
    """What a case waits for next. Words for a person are the app's."""

    CHART = "chart"
    """Nothing was charted yet."""
    CONFLICTS = "conflicts"
    """Readings contradict each other; a person has to settle it."""
    READINGS = "readings"
    """A reading that a hard limit needs is missing."""
    HEALTH = "health"
    """A health question is not answered."""
    ANOTHER_ANSWER = "another_answer"
    """Surgery on gingiva and bone is not the answer."""
    APPROVAL = "approval"
    """No design was approved."""
    PLAN = "plan"
    """The plan was not kept yet, or the records have changed since."""
    SIGNATURE = "signature"
    """The kept plan is not signed."""
    CLEARANCE = "clearance"
    """Something else stands against signing; the plan says what."""
    NOTHING = "nothing"
    """Every tooth is within tolerance of its target."""
    SURGERY = "surgery"
    """The signed plan waits for the day of surgery."""
    SIGN_OFF = "sign_off"
    """Surgery was begun and not signed off."""
    RECALL = "recall"
    """Surgery was signed off: visits follow."""

    @property
    def way(self) -> Way:
        """Where it is done."""
        return _WHERE[self]


_WHERE = {
    Next.CHART: Way.CHART,
    Next.CONFLICTS: Way.CHART,
    Next.READINGS: Way.CHART,
    Next.HEALTH: Way.CHART,
    Next.ANOTHER_ANSWER: Way.PLAN,
    Next.APPROVAL: Way.DESIGN,
    Next.PLAN: Way.PLAN,
    Next.SIGNATURE: Way.PLAN,
    Next.CLEARANCE: Way.PLAN,
    Next.NOTHING: Way.PLAN,
    Next.SURGERY: Way.SURGERY,
    Next.SIGN_OFF: Way.SURGERY,
    Next.RECALL: Way.RECALL,
}


@dataclass(frozen=True)
class CaseOnDesk:
    """A case, opened for work."""

    known: CaseKnown
    file: CaseFile
    """With the kept readings in it."""
    undo: int | None
    """The version that undo goes back to."""
    redo: int | None
    surgery: Next | None
    """Where its latest surgery stands; None where none was begun."""

    @property
    def case(self) -> Case:
        """The case with the kept readings in it."""
        return self.file.case

    @property
    def own(self) -> Case | None:
        """The case as it was saved, without the readings that are kept beside it; None where nothing was saved."""
        document = self.known.record.document
        return Case.model_validate_json(document) if document else None

    @property
    def version(self) -> int:
        """The head version."""
        return self.known.record.version

    @property
    def latest_plan(self) -> looking.PlanOnRecord | None:
        """The plan kept last."""
        return self.known.record.plans[-1] if self.known.record.plans else None

    @property
    def stale(self) -> tuple[str, ...]:
        """Why the plan kept last no longer says what the records say."""
        return looking.staleness(self.known.record, self.latest_plan) if self.latest_plan else ()


def open_on_desk(store: Store, case: str) -> CaseOnDesk:
    """A case for work.

    Raises
    ------
    UnknownRecordError
        If there is no such case, or only readings were kept of it.
    InputRefusedError
        If what was kept can no longer be read.
    """
    known = case_known(store, case)
    whole = _whole(known)
    file = edited(whole, {}) if not known.conflicts and not known.impossible else _as_it_stands(whole)
    undo, redo = _history(looking.versions_of(store, case), known.record.version)
    return CaseOnDesk(known, file, undo, redo, _surgery(store, case))


def _surgery(store: Store, case: str) -> Next | None:
    numbers = chairside.surgeries_of(store, case)
    if not numbers:
        return None
    entries = chairside.surgery_on_record(store, case, numbers[-1]).entries
    return Next.RECALL if any('"kind":"sign_off"' in entry.document for entry in entries) else Next.SIGN_OFF


def _whole(known: CaseKnown) -> Case:
    """The case with its kept readings; where nothing was kept of it, one with a place and nothing in it."""
    if known.case is not None:
        return known.case
    return Case(case=known.record.case, notation=Notation.FDI, teeth=_charts([Tooth("11")]))


def _as_it_stands(case: Case) -> CaseFile:
    """A case whose kept readings contradict it: shown, and planned only once they are settled."""
    return CaseFile(case, "", f"{case.case}.json", ())


def next_of(desk: CaseOnDesk, plan: Plan | None) -> Next:
    """What the case waits for next; ``plan`` is the plan of the case as it stands, None where none can be made."""
    if desk.surgery is not None:
        return desk.surgery
    if not any(site.margin_mm for chart in desk.case.teeth.values() for site in chart.sites.values()):
        return Next.CHART
    if desk.known.conflicts or desk.known.impossible or plan is None:
        return Next.CONFLICTS
    if plan.answer is Answer.NOT_SURGERY:
        return Next.ANOTHER_ANSWER
    if any(missing.hard for missing in plan.missing):
        return Next.READINGS
    if plan.answer is Answer.NOTHING_TO_DO:
        return Next.NOTHING
    if any(reason.startswith("health questions") for reason in plan.signable_reasons):
        return Next.HEALTH
    if desk.case.approval.design_version is None or desk.case.approval.mock_up_accepted_at is None:
        return Next.APPROVAL
    if desk.latest_plan is None or desk.stale:
        return Next.PLAN
    if not desk.latest_plan.signatures:
        return Next.SIGNATURE if plan.signable else Next.CLEARANCE
    return Next.SURGERY


def listed(store: Store, *, search: str = "", limit: int, offset: int = 0) -> list[tuple[looking.CaseLine, Next]]:
    """Cases, the latest changed first, and what each waits for, from what was kept alone: nothing is solved for a list."""
    lines = looking.list_cases(store, search=search, limit=limit, offset=offset)
    with_margins = looking.saying(store, [line.case for line in lines if not line.has_plan], _A_MARGIN)
    return [
        (
            line,
            (_surgery(store, line.case) if line.is_signed else None) or _next_of_line(line, line.case in with_margins),
        )
        for line in lines
    ]


_A_MARGIN = '"margin_mm":[{'
"""Stands in the text of a case as it is kept once a margin was charted."""


def _next_of_line(line: looking.CaseLine, has_margins: bool) -> Next:
    if not line.has_plan:
        return Next.PLAN if has_margins else Next.CHART
    return Next.SURGERY if line.is_signed else Next.SIGNATURE


def waits_for(store: Store, case: str) -> Next:
    """What one case of a list waits for, said as its own pages say it; a draft of its plan tells it in all but one case.

    Raises
    ------
    UnknownRecordError
        If there is no such case, or only readings were kept of it.
    InputRefusedError
        If what was kept can no longer be read, or contradicts itself in a way that only planning finds.
    SolverError
        If the solver fails.
    """
    desk = open_on_desk(store, case)
    if desk.surgery is not None or not _can_be_planned(desk):
        return next_of(desk, None)
    found = next_of(desk, plan_of(parse_case(*_text_of(desk)), is_draft=True))
    return next_of(desk, plan_on_desk(desk)) if found is Next.CLEARANCE else found  # a draft is never signable


def plan_on_desk(desk: CaseOnDesk) -> Plan | None:
    """The plan of the case as it stands; None where its readings contradict each other, or nothing was charted.

    Raises
    ------
    InputRefusedError
        If readings contradict each other in a way that only planning finds.
    SolverError
        If the solver fails.
    """
    return _plan_of_text(*_text_of(desk)) if _can_be_planned(desk) else None


def _can_be_planned(desk: CaseOnDesk) -> bool:
    return not (desk.known.conflicts or desk.known.impossible) and bool(desk.file.sha256)


def _text_of(desk: CaseOnDesk) -> tuple[bytes, str]:
    """The text that is kept with the plan, so that both say the same hash, and its name."""
    return write_case(desk.case, Notation.FDI).encode(), f"{desk.case.case}.yaml"


@lru_cache(maxsize=16)
def _plan_of_text(text: bytes, name: str) -> Plan:
    """The plan of a case file: the same text gives the same plan, so going from page to page solves it once."""
    return plan_of(parse_case(text, name))


def draft(store: Store, case: str, changes: Mapping[str, Any]) -> tuple[Plan, tuple[str, ...]]:
    """The plan that the changed case would get, without its prices, and what is unusual about the case. Nothing is kept.

    The case is checked once, with its changes: this is asked for at every move of a handle.

    Raises
    ------
    InputRefusedError
        If a change does not fit.
    SolverError
        If the solver fails.
    """
    file = edited(_unchecked(store, case), changes)
    return plan_of(file, is_draft=True), file.notes


def _unchecked(store: Store, case: str) -> Case:
    """The case with its kept readings, not looked through for contradictions: whoever changes it checks the changed one."""
    record = looking.open_case(store, case)
    kept = chart_readings((reading for reading in record.readings if not reading.is_set_aside), case)
    if record.document is None:
        return _whole(case_known(store, case))
    base = Case.model_validate_json(record.document)
    return with_readings(base, kept).case if kept else base


@dataclass(frozen=True)
class Saved:
    """A change that was kept."""

    version: int
    notes: tuple[str, ...]
    """What is unusual and was kept as it stands."""


def save_changes(store: Store, case: str, base: int, changes: Mapping[str, Any], *, by: str, why: str) -> Saved:
    """Keep a case with some entries changed, as a new version.

    Raises
    ------
    InputRefusedError
        If a change does not fit; nothing is kept then.
    StaleVersionError
        If somebody else saved since ``base``; both versions are kept.
    """
    file = edited(case_at(store, case, base), changes)
    number = keeping.save_case(store, case, file.case.model_dump_json(), base=base, by=by, why=why)
    return Saved(number, file.notes)


def case_at(store: Store, case: str, number: int) -> Case:
    """A version of a case as it was saved, without the readings that are kept beside it; 0: a case of which only readings were kept."""
    if number == 0:
        # Without the readings that are kept beside it: they are laid in whenever it is opened, and would count twice.
        record = looking.open_case(store, case)
        return begun_case(case, chart_readings(record.readings, case))
    return Case.model_validate_json(looking.version_of(store, case, number))


def begin_case(
    store: Store, case: str, *, notation: Notation, purpose: Purpose, teeth: Sequence[Tooth], by: str
) -> Saved:
    """Begin a case with its places and nothing measured.

    Raises
    ------
    InputRefusedError
        If the id is no code, is taken, or no tooth is named.
    """
    if not _CODE.fullmatch(case):
        raise _refused("case", "an id that is no code", "letters, digits, dot, dash and underscore; no names")
    if not teeth:
        raise _refused("teeth", "no teeth", "at least one tooth, e.g. 13-23")
    if any(line.case.lower() == case.lower() for line in looking.list_cases(store, search=case)):
        raise _refused("case", f"{case}, which is there already", "an id that no case has yet")
    begun = Case(case=case, notation=notation, purpose=purpose, teeth=_charts(teeth))
    number = keeping.save_case(store, case, begun.model_dump_json(), base=0, by=by, why="case begun")
    return Saved(number, ())


def _charts(teeth: Sequence[Tooth]) -> dict[str, Any]:
    return {tooth.fdi: {} for tooth in as_seen(teeth)}


def _refused(where: str, found: str, expected: str) -> InputRefusedError:
    return InputRefusedError([Fault("new case", where, found, expected, "Change it and try again.")])


def step_back(store: Store, case: str, *, by: str) -> Saved | None:
    """Undo the latest change: the version before it becomes the newest one. None where there is nothing to undo."""
    return _go(store, case, "undo", by)


def step_forward(store: Store, case: str, *, by: str) -> Saved | None:
    """Redo what was undone last. None where there is nothing to redo."""
    return _go(store, case, "redo", by)


def _go(store: Store, case: str, direction: str, by: str) -> Saved | None:
    head = looking.open_case(store, case).version
    undo, redo = _history(looking.versions_of(store, case), head)
    target = undo if direction == "undo" else redo
    if target is None:
        return None
    document = looking.version_of(store, case, target)
    why = f"{direction}: back to version {target}"
    return Saved(keeping.save_case(store, case, document, base=head, by=by, why=why), ())


def _history(versions: Sequence[looking.Version], head: int) -> tuple[int | None, int | None]:
    """Where undo and redo lead: the line of versions to the head, replayed. Nothing is ever taken out of the records."""
    by_number = {version.number: version for version in versions}
    line, at = [], head
    while at in by_number:
        line.append(by_number[at])
        at = by_number[at].parent
    undo: list[int] = []
    redo: list[int] = []
    here: int | None = None
    for version in reversed(line):
        went = _WENT.fullmatch(version.why)
        if went is None:
            if here is not None:
                undo.append(here)
            redo, here = [], version.number
            continue
        target = int(went[2])
        source, other = (undo, redo) if went[1] == "undo" else (redo, undo)
        if source and source[-1] == target:
            source.pop()
        if here is not None:
            other.append(here)
        here = target
    return (undo[-1] if undo else None, redo[-1] if redo else None)

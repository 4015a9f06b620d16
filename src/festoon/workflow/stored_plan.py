"""A signed plan as the store keeps it, with the very mouth it was made from: what surgery is held against."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from hashlib import sha256

from pydantic import ValidationError

from festoon.model.anatomy import Anatomy
from festoon.model.case import Case
from festoon.model.dentition import Notation
from festoon.model.plan import Plan
from festoon.model.verification import Verification
from festoon.records.casefile import CaseFile, parse_case
from festoon.records.casewriter import write_case
from festoon.records.intake.understood import ChartReading
from festoon.records.merging import with_readings
from festoon.records.placing import place_readings
from festoon.records.readings import ReadingsFile
from festoon.records.reconcile import resolve
from festoon.store import looking
from festoon.store.errors import StoreError, UnknownRecordError
from festoon.store.store import Store
from festoon.workflow.records import chart_readings
from festoon.workflow.verifying import VerifyOptions, verify_against


@dataclass(frozen=True)
class StoredPlan:
    """A kept plan and the case it was made from."""

    number: int
    sha256: str
    plan: Plan
    case: Case
    signed_by: tuple[str, ...]
    """Who signed, each as ``code (role)``."""
    stale: tuple[str, ...]
    """Why it no longer says what the records say; empty while it does."""
    notes: tuple[str, ...]

    @cached_property
    def anatomy(self) -> Anatomy:
        """The mouth the plan was made from."""
        return resolve(self.case)


def signed_plan(store: Store, case: str, number: int) -> StoredPlan:
    """A signed plan, its hash proved, with the version and the readings it was made from.

    Raises
    ------
    UnknownRecordError
        If there is no such plan.
    StoreError
        If nobody signed it, or its bytes are not those of its hash.
    """
    record = looking.open_case(store, case)
    found = next((plan for plan in record.plans if plan.number == number), None)
    if found is None:
        raise UnknownRecordError(f"case {case} has no plan {number}")
    if not found.signatures:
        raise StoreError(
            f"plan {number} of case {case} is not signed: surgery is held against a signed plan only. Sign it first."
        )
    if sha256(found.document.encode()).hexdigest() != found.sha256:
        raise StoreError(f"plan {number} of case {case} is not the one that was signed: prove the records first")
    try:
        plan = _plan_in(found.document)
    except ValidationError:
        raise StoreError(
            f"plan {number} of case {case} was kept by another version of festoon and cannot be read: plan it anew"
        ) from None
    used = set(found.used)
    kept = chart_readings((reading for reading in record.readings if reading.number in used), case)
    file = _case_with(looking.version_of(store, case, found.case_version), tuple(kept), f"{case}.yaml")
    notes = list(file.notes)
    if file.sha256 != plan.provenance.case_sha256:
        notes.append("the case cannot be written as it was when this plan was made: its hash differs")
    stale = looking.staleness(record, found)
    if found.superseded_by is not None:
        stale = (f"it was superseded by plan {found.superseded_by}", *stale)
    signed = tuple(f"{signature.by} ({signature.role})" for signature in found.signatures)
    return StoredPlan(number, found.sha256, plan, file.case, signed, stale, tuple(notes))


# Every entry at the chair is held against the same plan and case: they are read once for the bytes they have.
@lru_cache(maxsize=8)
def _plan_in(document: str) -> Plan:
    return Plan.model_validate_json(document)


@lru_cache(maxsize=8)
def _case_with(document: str, kept: tuple[ChartReading, ...], name: str) -> CaseFile:
    whole = with_readings(Case.model_validate_json(document), kept).case
    return parse_case(write_case(whole, Notation.FDI).encode(), name)


def verify_stored(
    store: Store, case: str, plan_number: int, readings: ReadingsFile, options: VerifyOptions
) -> Verification:
    """Readings of one moment against the plan that was signed, not against one made anew.

    Raises
    ------
    StoreError
        If there is no such plan or nobody signed it.
    InputRefusedError
        If a reading cannot be placed.
    """
    stored = signed_plan(store, case, plan_number)
    placement = place_readings(
        readings,
        stored.case,
        options.moment,
        surgery_at=options.surgery_at,
        edges_as_charted=options.edges_as_charted,
    )
    warned = tuple(f"STALE PLAN: {why}" for why in stored.stale)
    return verify_against(
        stored.plan,
        stored.anatomy,
        placement.readings,
        options,
        readings_sha256=readings.sha256,
        notes=(*warned, *stored.notes, *placement.notes),
    )

"""Readings of the chair or of a recall against the plan: joins records, planning and verify."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from festoon.evidence.defaults import default_mm
from festoon.findings import assess
from festoon.model.anatomy import Anatomy
from festoon.model.dentition import Tooth
from festoon.model.plan import Plan
from festoon.model.verification import Moment, PlacedReading, PlanChange, Replan, Verification
from festoon.planning.healing.forecast import expected_shift
from festoon.planning.make import withheld_teeth
from festoon.planning.what_if import plan_changes
from festoon.records.casefile import CaseFile, read_case
from festoon.records.placing import place_readings
from festoon.records.readings import ReadingsFile, read_readings
from festoon.records.reconcile import resolve
from festoon.records.todays_case import with_todays
from festoon.verify.make import verify
from festoon.verify.session import TWO, Against, Forecast, Limits, Notations, Session, Shift
from festoon.workflow.planning import plan_of


@dataclass(frozen=True)
class VerifyOptions:
    """How readings are held against a plan."""

    moment: Moment
    surgery_at: dt.date | None = None
    """The day of surgery; recalls only, and then required."""
    limits: Limits = field(default_factory=Limits)
    against: Against = "sheet"
    edges_as_charted: bool = False
    """At recalls, that no edge was changed since the chart."""
    resolve: bool = False
    """Whether the plan is solved anew with the readings of today; before suturing only."""
    notations: Notations = TWO
    """How teeth are named in sentences that name several."""

    def __post_init__(self) -> None:
        is_recall = self.moment is Moment.RECALL
        if is_recall and self.surgery_at is None:
            raise ValueError("a recall needs the day of surgery")
        if not is_recall and (self.surgery_at is not None or self.edges_as_charted):
            raise ValueError("the day of surgery and the edges of a recall belong to the moment recall")
        if self.resolve and self.moment not in (Moment.BEFORE, Moment.BONE):
            raise ValueError("a plan is solved anew before suturing only: afterwards nothing is left to cut")


def verify_case(case: Path, readings: Path, options: VerifyOptions) -> Verification:
    """Read a case and readings of one moment, plan the case, and hold the readings against the plan.

    Raises
    ------
    InputRefusedError
        If a file cannot be used, or a reading cannot be placed: every fault is reported together.
    SolverError
        If the solver fails; no number is given then.
    """
    return verify_files(read_case(case), read_readings(readings), options)


def verify_files(case: CaseFile, readings: ReadingsFile, options: VerifyOptions) -> Verification:
    """The same for files that were read. See :func:`verify_case`."""
    placement = place_readings(
        readings,
        case.case,
        options.moment,
        surgery_at=options.surgery_at,
        edges_as_charted=options.edges_as_charted,
    )
    return verify_against(
        plan_of(case),
        resolve(case.case),
        placement.readings,
        options,
        readings_sha256=readings.sha256,
        notes=(*case.notes, *placement.notes),
    )


def verify_against(
    plan: Plan,
    anatomy: Anatomy,
    readings: tuple[PlacedReading, ...],
    options: VerifyOptions,
    *,
    readings_sha256: str = "",
    notes: Sequence[str] = (),
) -> Verification:
    """Placed readings of one moment against a plan and the mouth it was made from.

    Raises
    ------
    SolverError
        If the plan was to be solved anew and the solver fails.
    """
    session = Session(plan, anatomy, readings, options.limits, options.against)
    return verify(
        session,
        options.moment,
        healing_forecast(anatomy),
        surgery_at=options.surgery_at,
        readings_sha256=readings_sha256,
        replan=solved_anew(anatomy, readings, options.moment) if options.resolve else None,
        notes=notes,
        notations=options.notations,
    )


def healing_forecast(anatomy: Anatomy) -> Forecast:
    """The healing model of planning, with the phenotype of each tooth."""

    own = anatomy.case.policy.rebound_offset_mm
    offset = default_mm("rebound_offset_mm") if own is None else own

    def shift(tooth: str, distance_mm: float, weeks: float) -> Shift:
        expected = expected_shift(distance_mm, weeks, anatomy.teeth[Tooth(tooth)].phenotype, offset)
        return Shift(expected.mean_mm, expected.low_mm, expected.high_mm)

    return shift


def pair_tolerance(anatomy: Anatomy) -> float:
    """Largest left-right difference that counts as level, mm: the case's own, else the default."""
    own = anatomy.case.policy.pair_tolerance_mm
    return default_mm("pair_tolerance_mm") if own is None else own


def solved_anew(anatomy: Anatomy, readings: Sequence[PlacedReading], moment: Moment) -> Replan:
    """The plan solved anew with the readings of today, and what changes in it."""
    today = with_todays(anatomy, readings, moment)
    changes, text = plan_changes(
        anatomy, resolve(today.case), withheld=lambda mouth: withheld_teeth(mouth, assess(mouth))
    )
    return Replan(
        replaced=today.replaced,
        teeth=tuple(
            PlanChange(
                tooth=change.tooth,
                move_before_mm=change.move_before_mm,
                move_after_mm=change.move_after_mm,
                bone_before_mm=change.bone_before_mm,
                bone_after_mm=change.bone_after_mm,
                procedure_before=change.procedure_before.value,
                procedure_after=change.procedure_after.value,
                text=change.text,
            )
            for change in changes
        ),
        text=text,
    )

"""The verification, format ``festoon-verification/1``: readings of the chair or of a recall held against the plan.

Levels are from the *planned* edge unless a name says otherwise; differences are apical positive. ``None`` means
unknown: it is never zero.
"""

from __future__ import annotations

import datetime as dt
from enum import StrEnum
from typing import Annotated, Literal

from pydantic import Field, FiniteFloat

from festoon.model.dentition import Site
from festoon.model.plan import Mm, PlanPart
from festoon.model.quantities import Quantity
from festoon.model.reading import Datum


class Moment(StrEnum):
    """When the readings were taken. One file of readings holds one moment; a recall file may hold many visits."""

    BEFORE = "before"
    """Before anything is cut; with the flap open, before any bone is cut."""
    BONE = "bone"
    """After the collar or while bone is lowered: the last reading of a site counts."""
    SUTURE = "suture"
    """After suturing: the last reading of a site counts."""
    RECALL = "recall"
    """Visits after surgery, each reading with its day; readings of the day of surgery are where they start from."""


class Verdict(StrEnum):
    """What a comparison says."""

    WITHIN = "within"
    """Today's reading is the charted one, within the limit."""
    RECOMPUTE = "recompute"
    """Further off than the first limit: solve the plan anew."""
    STOP = "stop"
    """Further off than the second limit, or an impossible state: stop and rethink."""
    TO_REMOVE = "to_remove"
    """Tissue is still to be removed."""
    REACHED = "reached"
    """At the target, as far as the reading can tell."""
    TOO_FAR = "too_far"
    """Beyond the target by more than the error of the reading."""
    CANNOT_TELL = "cannot_tell"
    """The error of the reading is larger than the first limit, and the target lies within it."""
    SHORT = "short"
    """Less than what is needed, by more than the error of the reading."""
    ENOUGH = "enough"
    """At least what is needed."""
    CORONAL = "coronal"
    """Coronal of where it was expected or planned."""
    APICAL = "apical"
    """Apical of where it was expected or planned."""
    INSIDE = "inside"
    """Inside the expected band."""
    TOO_EARLY = "too_early"
    """Earlier than any published figure."""
    STABLE = "stable"
    """Unchanged between two visits, within the error of the readings."""
    CREEPING = "creeping"
    """The margin moved coronally between two visits."""
    RECEDING = "receding"
    """The margin moved apically between two visits."""
    SYMMETRIC = "symmetric"
    """The two sides lie within the tolerance of each other."""
    ASYMMETRIC = "asymmetric"
    """The two sides differ by more than the tolerance."""
    NOT_READ = "not_read"
    """The plan cuts here and the file has no reading."""
    UNKNOWN = "unknown"
    """Nothing to compare with."""


class PlacedReading(PlanPart):
    """A reading of today whose place on the tooth is known."""

    tooth: str
    site: Site
    quantity: Quantity
    value_mm: FiniteFloat
    """As read, from its own datum; a depth from the margin."""
    datum: Datum | None = None
    planned_edge_mm: Mm = None
    """The same level from the planned edge; None for a depth."""
    present_edge_mm: Mm = None
    """The same level from the edge that was charted; None for a depth."""
    se_mm: Annotated[FiniteFloat, Field(gt=0)]
    """Standard error."""
    method: str
    source: str
    """Value, error with its source, method, datum, day and hand, in words."""
    at: dt.date | None = None

    @property
    def mm(self) -> float:
        """What is compared: a level from the planned edge, or a depth."""
        return self.value_mm if self.planned_edge_mm is None else self.planned_edge_mm

    @property
    def to_planned_edge_mm(self) -> float:
        """What is added to a level from this reading's datum to count it from the planned edge."""
        return 0.0 if self.planned_edge_mm is None else self.planned_edge_mm - self.value_mm


class SiteCheck(PlanPart):
    """One reading of a site against what the plan has there."""

    tooth: str
    site: Site
    quantity: Quantity
    verdict: Verdict
    reading_mm: Mm = None
    """As read, from its own datum."""
    datum: Datum | None = None
    reading_planned_edge_mm: Mm = None
    """What is compared: a level from the planned edge, or a depth."""
    wanted_mm: Mm = None
    """The charted value or the target, from the planned edge; a depth where the quantity is one."""
    wanted_present_edge_mm: Mm = None
    """The same level from the edge visible today."""
    wanted_from_datum_mm: Mm = None
    """The same level from the datum of the reading."""
    difference_mm: Mm = None
    """Reading minus wanted, apical positive."""
    se_mm: Mm = None
    """Standard error of the difference."""
    text: str
    sums: tuple[str, ...] = ()
    """The arithmetic, line by line."""


class SpaceCheck(PlanPart):
    """Supracrestal space actually reached at a site, against the need."""

    tooth: str
    site: Site
    reached_mm: FiniteFloat
    need_mm: FiniteFloat
    se_mm: FiniteFloat
    verdict: Verdict
    text: str
    sums: tuple[str, ...] = ()


class ExpectedMargin(PlanPart):
    """Where the margin is expected at one time after suturing."""

    time: str
    weeks: FiniteFloat
    level_mm: FiniteFloat
    low_mm: FiniteFloat
    """The coronal end of the band."""
    high_mm: FiniteFloat
    """The apical end of the band."""


class SutureCheck(PlanPart):
    """Flap margin after suturing at one site, and what is expected of it."""

    tooth: str
    site: Site
    margin_mm: FiniteFloat
    suture_planned_mm: Mm = None
    crest_mm: Mm = None
    crest_from: Literal["read", "sounded", "planned", "unknown"]
    """Whether the crest was read with this file, sounded from the sutured margin, or is the plan's and not measured."""
    distance_mm: Mm = None
    """Margin to crest after suturing."""
    distance_se_mm: Mm = None
    """Standard error; None where the crest was not measured."""
    expected: tuple[ExpectedMargin, ...] = ()
    verdict: Verdict
    text: str
    sums: tuple[str, ...] = ()


class CrownCheck(PlanPart):
    """Proportion of a new crown: width over the midfacial margin's level from the planned edge."""

    tooth: str
    width_mm: FiniteFloat
    length_mm: FiniteFloat
    ratio: FiniteFloat
    ratio_planned: Mm = None
    text: str


class PairCheck(PlanPart):
    """Left-right difference of the margins' heights, patient's right minus left, apical positive."""

    pair: str
    at: dt.date | None = None
    difference_mm: FiniteFloat
    planned_mm: Mm = None
    se_mm: FiniteFloat
    verdict: Verdict
    text: str
    sums: tuple[str, ...] = ()


class VisitCheck(PlanPart):
    """One margin at one visit, against the band expected then."""

    tooth: str
    site: Site
    at: dt.date
    weeks: FiniteFloat
    margin_mm: FiniteFloat
    se_mm: FiniteFloat
    sutured_mm: Mm = None
    sutured_from: Literal["read", "planned", "unknown"]
    rebound_mm: Mm = None
    """Sutured level minus today's, coronal positive."""
    expected: ExpectedMargin | None = None
    verdict: Verdict
    text: str
    sums: tuple[str, ...] = ()


class CourseCheck(PlanPart):
    """The two latest visits of a site that count, held against each other."""

    tooth: str
    site: Site
    visits: tuple[dt.date, ...] = ()
    change_mm: Mm = None
    """Later minus earlier level, apical positive."""
    se_mm: Mm = None
    verdict: Verdict
    text: str


class Readiness(PlanPart):
    """Whether restorations may be made, and why not yet."""

    what: Literal["provisional", "final"]
    earliest: dt.date
    """By time alone."""
    may: bool
    """On the day of the latest reading. The clinician decides."""
    why_not: tuple[str, ...] = ()
    source: str


class PlanChange(PlanPart):
    """What changes at one tooth when the plan is solved anew with today's readings."""

    tooth: str
    move_before_mm: Mm = None
    move_after_mm: Mm = None
    bone_before_mm: Mm = None
    bone_after_mm: Mm = None
    procedure_before: str
    procedure_after: str
    text: str


class Replan(PlanPart):
    """The plan solved anew with today's direct readings in the place of the charted ones."""

    replaced: tuple[str, ...] = ()
    """Which charted readings gave way to which readings of today."""
    teeth: tuple[PlanChange, ...] = ()
    """Only the teeth at which something changes."""
    text: str


class Verification(PlanPart):
    """Readings of one moment against the plan: what remains, site by site."""

    format: Literal["festoon-verification/1"] = "festoon-verification/1"
    case: str
    moment: Moment
    surgery_at: dt.date | None = None
    against: Literal["sheet", "exact"]
    """The targets: as printed on the sheet, or the exact ones of the plan's file."""
    recheck_mm: FiniteFloat
    stop_mm: FiniteFloat
    for_surgery: bool
    """False: the plan itself is not for surgery."""
    not_for_surgery_because: tuple[str, ...] = ()
    plan_sha256: str
    readings_sha256: str
    checks: tuple[SiteCheck, ...] = ()
    spaces: tuple[SpaceCheck, ...] = ()
    sutures: tuple[SutureCheck, ...] = ()
    crowns: tuple[CrownCheck, ...] = ()
    pairs: tuple[PairCheck, ...] = ()
    visits: tuple[VisitCheck, ...] = ()
    courses: tuple[CourseCheck, ...] = ()
    readiness: tuple[Readiness, ...] = ()
    replan: Replan | None = None
    notes: tuple[str, ...] = ()

    def as_json(self) -> str:
        """The verification as JSON: the same inputs give the same bytes."""
        return self.model_dump_json(by_alias=True, indent=2) + "\n"

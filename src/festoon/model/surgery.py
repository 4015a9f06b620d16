"""A day of surgery as it is entered at the chair, and what a view needs to know of it.

Levels are from the *planned* edge unless a name says otherwise. ``None`` means unknown: it is never zero. Every meaning
has its words and a shape; none rests on a colour.
"""

from __future__ import annotations

import datetime as dt
from enum import StrEnum
from typing import Annotated, Literal

from pydantic import Field, FiniteFloat, StringConstraints, model_validator

from festoon.model.case import Code
from festoon.model.dentition import Site
from festoon.model.plan import Mm, PlanPart
from festoon.model.quantities import Quantity
from festoon.model.reading import Datum, Frozen, Method
from festoon.model.verification import (
    CrownCheck,
    PairCheck,
    Replan,
    SiteCheck,
    SpaceCheck,
    SutureCheck,
    Verdict,
)

Key = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]{7,63}$")]
"""Made by the client for each entry, e.g. a random UUID: the same key twice is one entry."""
ToothCode = Annotated[str, StringConstraints(pattern=r"^[1-4][1-8]$")]
Words = Annotated[str, StringConstraints(strip_whitespace=True, min_length=3)]


class Step(StrEnum):
    """The order of the hands."""

    DATUM = "datum"
    """Datum chosen; margin and sounding read again before anything is cut."""
    MARK = "mark"
    """The line is marked."""
    CUT = "cut"
    """The collar is cut and the flap raised."""
    PROBE_CUT = "probe_cut"
    """Margin and bone are read at the open site, before any bone is cut."""
    BONE = "bone"
    """Bone is thinned and lowered."""
    PROBE_BONE = "probe_bone"
    """Bone is read again."""
    SUTURE = "suture"
    """The flap is sutured."""
    PROBE_SUTURE = "probe_suture"
    """Margin and sounding are read for the last time."""

    @property
    def is_reading(self) -> bool:
        """True where numbers are read, False where hands work."""
        return self in (Step.DATUM, Step.PROBE_CUT, Step.PROBE_BONE, Step.PROBE_SUTURE)


class Shape(StrEnum):
    """What stands beside the words, so that no meaning rests on a colour."""

    EMPTY_BOX = "empty_box"
    """Still to do, or not read."""
    TICKED_BOX = "ticked_box"
    """As wanted."""
    TRIANGLE = "triangle"
    """Look again."""
    OCTAGON = "octagon"
    """Stop."""
    QUESTION = "question"
    """Cannot be told."""


_SHAPES = {
    Shape.TICKED_BOX: (
        Verdict.WITHIN, Verdict.REACHED, Verdict.ENOUGH, Verdict.INSIDE, Verdict.STABLE, Verdict.SYMMETRIC,
    ),
    Shape.EMPTY_BOX: (Verdict.TO_REMOVE, Verdict.NOT_READ),
    Shape.TRIANGLE: (
        Verdict.RECOMPUTE, Verdict.SHORT, Verdict.CORONAL, Verdict.APICAL, Verdict.CREEPING, Verdict.RECEDING,
        Verdict.ASYMMETRIC,
    ),
    Shape.OCTAGON: (Verdict.STOP, Verdict.TOO_FAR),
    Shape.QUESTION: (Verdict.CANNOT_TELL, Verdict.UNKNOWN, Verdict.TOO_EARLY),
}  # fmt: skip


def shape_of(verdict: Verdict) -> Shape:
    """The shape that stands beside a verdict's words."""
    return next(shape for shape, verdicts in _SHAPES.items() if verdict in verdicts)


class ReadingEntry(Frozen):
    """One reading at the chair."""

    kind: Literal["reading"] = "reading"
    step: Step
    tooth: ToothCode
    site: Site
    quantity: Quantity
    value: FiniteFloat
    """In mm."""
    datum: Datum | None = None
    """Levels only, and then required."""
    method: Method | None = None
    se: Annotated[FiniteFloat, Field(gt=0)] | None = None

    @model_validator(mode="after")
    def _fits(self) -> ReadingEntry:
        if not self.step.is_reading:
            raise ValueError(
                f"at the step {self.step} nothing is read: name datum, probe_cut, probe_bone, probe_suture"
            )
        if self.quantity.is_level != (self.datum is not None):
            raise ValueError(f"{self.quantity} {'needs its' if self.quantity.is_level else 'has no'} datum")
        return self


class StepEntry(Frozen):
    """A step was reached; the steps before it are behind the hands."""

    kind: Literal["step"] = "step"
    step: Step


class UndoEntry(Frozen):
    """An earlier entry is taken back. It stays on record."""

    kind: Literal["undo"] = "undo"
    entry: int


class RemarkEntry(Frozen):
    """A remark in words, of the whole day or of one tooth."""

    kind: Literal["remark"] = "remark"
    text: Words
    tooth: ToothCode | None = None


class SignOffEntry(Frozen):
    """The end of the surgery: what was not done, each with its reason."""

    kind: Literal["sign_off"] = "sign_off"
    role: Words
    reasons: dict[str, Words] = {}
    """By the name of what was not done, as ``SurgeryState.not_done`` gives it."""
    remark: str | None = None


Entry = Annotated[ReadingEntry | StepEntry | UndoEntry | RemarkEntry | SignOffEntry, Field(discriminator="kind")]


class Begun(Frozen):
    """What was settled as the surgery began."""

    surgery_at: dt.date
    datum: Datum = Datum.PRESENT_EDGE
    """From what levels are read where an entry by keys does not say it."""
    recheck_mm: FiniteFloat
    stop_mm: FiniteFloat
    against: Literal["sheet", "exact"] = "sheet"
    operator: Code | None = None
    """Whose hands operate, as a code; None where it was not said."""
    template_kind: Code | None = None
    """The kind of template in use, ``none`` where it was said that there is none; None where it was not said."""
    stale: tuple[str, ...] = ()
    """What had changed in the records since the plan was made, as it was shown at the start."""


class EntryShown(PlanPart):
    """One entry as kept."""

    number: int
    key: str
    at: str
    by: str
    entry: Entry
    is_taken_back: bool
    text: str


class Wanted(PlanPart):
    """One reading that is wanted next."""

    step: Step
    tooth: str
    site: Site
    quantity: Quantity
    text: str


class SiteState(PlanPart):
    """One site now."""

    tooth: str
    tooth_names: tuple[str, str]
    """In two notations."""
    site: Site
    step: Step
    """At which step it was read, or is to be."""
    quantity: Quantity
    target_mm: Mm = None
    """From the planned edge."""
    target_present_edge_mm: Mm = None
    """From the edge visible today."""
    check: SiteCheck
    shape: Shape
    short: str
    """What remains, in a few words for two metres."""


class NotDone(PlanPart):
    """Something the plan asks for that no entry shows to be done."""

    name: str
    """Stable: tooth, site, what."""
    text: str


class SurgeryState(PlanPart):
    """Everything a view at the chair needs, format ``festoon-surgery-state/1``."""

    format: Literal["festoon-surgery-state/1"] = "festoon-surgery-state/1"
    case: str
    surgery: int
    plan: int
    plan_sha256: str
    signed_by: tuple[str, ...]
    begun: Begun
    begun_by: str
    stale: tuple[str, ...]
    """What has changed in the records since the plan was made."""
    step: Step
    limits: Verdict
    """Before cutting: within, recompute or stop, the worst of all sites; unknown where nothing was read."""
    limits_shape: Shape
    limits_text: str
    next: Wanted | None
    sites: tuple[SiteState, ...]
    before: tuple[SiteCheck, ...]
    spaces: tuple[SpaceCheck, ...]
    sutures: tuple[SutureCheck, ...]
    final_spaces: tuple[SpaceCheck, ...]
    crowns: tuple[CrownCheck, ...]
    pairs: tuple[PairCheck, ...]
    papillae: tuple[str, ...] = ()
    """Papillae beside operated teeth, once something was read after suturing."""
    replan: Replan | None
    not_done: tuple[NotDone, ...]
    entries: tuple[EntryShown, ...]
    sign_off: SignOffEntry | None
    signed_off_by: str | None
    signed_off_at: str | None
    notes: tuple[str, ...]

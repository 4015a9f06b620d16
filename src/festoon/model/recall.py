"""Visits after surgery and the dated history of the edges, so that margins stay comparable once teeth are restored."""

from __future__ import annotations

import datetime as dt
from enum import StrEnum
from typing import Annotated, Literal

from pydantic import Field, FiniteFloat, StringConstraints, model_validator

from festoon.model.plan import Mm, PlanPart
from festoon.model.quantities import QuantityReading
from festoon.model.reading import Frozen
from festoon.model.surgery import ToothCode, UndoEntry, Words
from festoon.model.verification import Verdict, Verification

Score = Annotated[int, Field(ge=0, le=10)]
"""0 to 10, as the patient says it."""
PairName = Annotated[str, StringConstraints(pattern=r"^[1-4][1-8]-[1-4][1-8]$")]


class PapillaFill(StrEnum):
    """How much of the space between two teeth the papilla fills, as judged by eye."""

    NONE = "none"
    UNDER_HALF = "under_half"
    HALF_OR_MORE = "half_or_more"
    COMPLETE = "complete"
    OVERFILLED = "overfilled"


class ComplicationKind(StrEnum):
    """What went wrong."""

    BLEEDING = "bleeding"
    SWELLING = "swelling"
    INFECTION = "infection"
    FLAP_NECROSIS = "flap_necrosis"
    ROOT_EXPOSED = "root_exposed"
    PAPILLA_LOST = "papilla_lost"
    NUMBNESS = "numbness"
    MOBILITY = "mobility"
    PAIN = "pain"
    RESTORATION_MARGIN_SHOWS = "restoration_margin_shows"
    REDO_ADVISED = "redo_advised"
    OTHER = "other"


class Complication(Frozen):
    """One complication."""

    kind: ComplicationKind
    tooth: ToothCode | None = None
    text: str | None = None
    """What exactly; needed where the kind is ``other``."""

    @model_validator(mode="after")
    def _other_is_said(self) -> Complication:
        if self.kind is ComplicationKind.OTHER and not (self.text or "").strip():
            raise ValueError("a complication of the kind other says what it is: add text")
        return self


class EdgeEntry(Frozen):
    """Where the edge of one tooth lies from a day on."""

    kind: Literal["edge"] = "edge"
    tooth: ToothCode
    at: dt.date
    edge: Literal["as_charted", "provisional", "final", "adjusted"]
    from_planned_mm: FiniteFloat
    """Level of this edge from the planned edge, apical positive: 0 where it is the planned one, + where it is shorter."""
    se_mm: Annotated[FiniteFloat, Field(gt=0)] | None = None
    """Standard error of that level; None adds none to the readings that are counted from it."""
    source: Words
    """How it is known: measured, from the design's file, told by the laboratory."""


class VisitEntry(Frozen):
    """One visit."""

    kind: Literal["visit"] = "visit"
    at: dt.date
    readings: tuple[QuantityReading, ...] = ()
    papillae: dict[PairName, PapillaFill] = {}
    sensitivity: dict[ToothCode, Score] = {}
    """By tooth, 0 none to 10 worst."""
    satisfaction: Score | None = None
    """0 not at all to 10 wholly; None where it was not asked."""
    complications: tuple[Complication, ...] = ()
    is_without_complications: bool | None = None
    """True where it was asked and there is none; None where nobody asked."""
    remark: str | None = None

    @model_validator(mode="after")
    def _does_not_contradict_itself(self) -> VisitEntry:
        if self.is_without_complications and self.complications:
            raise ValueError("a visit without complications lists some: drop one of the two")
        return self


RecallEntry = Annotated[VisitEntry | EdgeEntry | UndoEntry, Field(discriminator="kind")]


class RecallShown(PlanPart):
    """One entry as kept."""

    number: int
    at: str
    by: str
    entry: RecallEntry
    is_taken_back: bool


class KeratinisedCheck(PlanPart):
    """Keratinised tissue at one visit against the wanted minimum."""

    tooth: str
    at: dt.date
    value_mm: FiniteFloat
    minimum_mm: FiniteFloat
    planned_mm: Mm = None
    verdict: Verdict
    text: str


class PapillaCheck(PlanPart):
    """One papilla at one visit, judged by eye, against the fill its contact-to-crest distance lets expect."""

    between: str
    at: dt.date
    fill: PapillaFill
    contact_to_crest_mm: Mm = None
    """As planned."""
    fill_chance: Mm = None
    """Chance, 0 to 1, that a papilla fills the space at that distance."""
    verdict: Verdict
    text: str


class RecallState(PlanPart):
    """Everything known of the healing of one surgery, format ``festoon-recall/1``."""

    format: Literal["festoon-recall/1"] = "festoon-recall/1"
    case: str
    surgery: int
    plan: int
    surgery_at: dt.date
    verification: Verification
    keratinised: tuple[KeratinisedCheck, ...]
    papillae: tuple[PapillaCheck, ...] = ()
    told: tuple[str, ...] = ()
    """Sensitivity and satisfaction as the patient says them, and visits at which nothing went wrong: no published rule judges them."""
    complications: tuple[str, ...]
    entries: tuple[RecallShown, ...]
    stale: tuple[str, ...]
    notes: tuple[str, ...]

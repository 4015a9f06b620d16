"""The small files that lie beside a case in a folder for the audit: the surgery in a few words, and planned levels.

For practices that keep plans and surgeries elsewhere; festoon's own records say more and are read as they are.
"""

from __future__ import annotations

import datetime as dt
from typing import Literal

from pydantic import FiniteFloat

from festoon.model.case import Code
from festoon.model.dentition import Site
from festoon.model.plan import Procedure
from festoon.model.reading import Frozen
from festoon.model.surgery import ToothCode

Level = FiniteFloat | None


class SurgeryNote(Frozen):
    """One surgery, format ``festoon-surgery/1``. What is not said is unknown."""

    format: Literal["festoon-surgery/1"] = "festoon-surgery/1"
    case: Code
    surgery_at: dt.date
    practice: Code | None = None
    operator: Code | None = None
    template_kind: Code | None = None
    redo: bool | None = None
    """Whether the case was operated again later."""


class PlannedLevel(Frozen):
    """What was planned at one site, from the planned edge, in mm; None where nothing was, or nothing is known."""

    tooth: ToothCode
    site: Site
    procedure: Procedure | None = None
    crest_charted_mm: Level = None
    """The crest as it was sounded before."""
    incision_level_mm: Level = None
    """Where the margin was to lie once the collar was cut; the planned margin where it is not given."""
    margin_planned_mm: Level = None
    crest_planned_mm: Level = None
    suture_level_mm: Level = None


class PlannedLevels(Frozen):
    """Planned levels without a plan, format ``festoon-planned-levels/1``."""

    format: Literal["festoon-planned-levels/1"] = "festoon-planned-levels/1"
    case: Code
    sites: tuple[PlannedLevel, ...]

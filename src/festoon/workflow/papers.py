"""What is printed of a plan before surgery, beside the chairside sheet: the report to the colleague and the page for the patient."""

from __future__ import annotations

from typing import Literal

from festoon.drawings.plain_teeth import draw_plain_teeth
from festoon.drawings.profile import profile_pages
from festoon.model.dentition import Notation
from festoon.model.plan import Plan
from festoon.reports.before_surgery import write_report_before
from festoon.reports.patient_page import CAPTIONS, SIDES, write_patient_page
from festoon.reports.sheet import profile_room

PaperSize = Literal["a4", "letter"]
Notations = tuple[Notation, Notation]


def report_before(
    plan: Plan, *, paper: PaperSize = "a4", notations: Notations = (Notation.FDI, Notation.UNIVERSAL)
) -> bytes:
    """The report to the restorative colleague before surgery as PDF, with the level profile at true scale."""
    profiles = profile_pages(plan, profile_room(paper), notations=notations)
    return write_report_before(plan, profiles, paper=paper, notations=notations)


def patient_page(plan: Plan, *, paper: PaperSize = "a4") -> bytes:
    """The page for the patient before surgery, with a drawing and the points to talk over, as PDF."""
    picture, _ = draw_plain_teeth(plan, CAPTIONS, SIDES)
    return write_patient_page(plan, picture, paper=paper)

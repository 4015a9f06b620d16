"""Use cases of the plan: read a case, solve it, ask what another reading would change, write what is handed out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from festoon.drawings.profile import draw_profile, profile_pages
from festoon.errors import Fault, InputRefusedError
from festoon.findings import assess, health_cautions, unanswered_health
from festoon.model.dentition import Notation, Tooth
from festoon.model.plan import Plan
from festoon.planning.make import SEED, Context, make_plan, withheld_teeth
from festoon.planning.what_if import WhatIf, what_if
from festoon.records.casefile import CaseFile, read_case
from festoon.records.reconcile import resolve
from festoon.records.writing import write_whole
from festoon.reports.form import teeth_between, write_blank_form
from festoon.reports.sheet import profile_room, write_sheet
from festoon.reports.view import View

PaperSize = Literal["a4", "letter"]


@dataclass(frozen=True)
class PlannedCase:
    """A plan, and what the reader of its case file remarked."""

    plan: Plan
    notes: tuple[str, ...]


def plan_case(path: Path, *, seed: int = SEED) -> PlannedCase:
    """Read a case file and plan it.

    Raises
    ------
    InputRefusedError
        If the file cannot be used: every fault is reported together.
    SolverError
        If the solver fails; no number is given then.
    """
    file = read_case(path)
    return PlannedCase(plan_of(file, seed=seed), file.notes)


def plan_of(file: CaseFile, *, seed: int = SEED, is_draft: bool = False) -> Plan:
    """The plan of a case that was read, or a draft of it. See :func:`plan_case` and :func:`festoon.planning.make.make_plan`."""
    try:
        anatomy = resolve(file.case)
        context = Context(
            findings=assess(anatomy),
            cautions=health_cautions(file.case),
            unanswered_health=unanswered_health(file.case),
            case_sha256=file.sha256,
            seed=seed,
        )
        return make_plan(anatomy, context, is_draft=is_draft)
    except InputRefusedError as refused:
        raise InputRefusedError([replace(fault, file=file.name) for fault in refused.faults]) from None


def ask_what_if(path: Path, changes: Mapping[str, str]) -> WhatIf:
    """What a change of a case file would do to its plan; nothing is written.

    Parameters
    ----------
    changes : mapping of key path to text
        ``null`` takes a reading or a setting away; numbers, yes or no, and words as a case file has them.

    Raises
    ------
    InputRefusedError
        If the file cannot be used, or a key path or value does not fit.
    """
    file = read_case(path)
    anatomy = resolve(file.case)
    asked = {key: _value(text) for key, text in changes.items()}
    return what_if(anatomy, asked, resolve=resolve, withheld=lambda mouth: withheld_teeth(mouth, assess(mouth)))


def _value(text: str) -> float | bool | str | None:
    """A value typed on the command line, by the same rules as in a case file."""
    plain: dict[str, bool | None] = {"null": None, "true": True, "false": False}
    if text in plain:
        return plain[text]
    try:
        return float(text)
    except ValueError:
        return text


PLAN_FILES = ("plan.json", "profile.svg", "sheet.pdf")


def write_plan(plan: Plan, folder: Path, *, paper: PaperSize = "a4", seen_from: View = "front") -> tuple[Path, ...]:
    """Write ``plan.json``, ``profile.svg`` and ``sheet.pdf`` into ``folder``, all or none.

    Everything is made before anything is written, and each file appears whole. ``seen_from`` turns the chairside page
    of the sheet and nothing else.
    """
    contents = (plan.as_json().encode(), draw_profile(plan).encode(), sheet_of(plan, paper=paper, seen_from=seen_from))
    return write_whole(folder, dict(zip(PLAN_FILES, contents, strict=True)))


def sheet_of(
    plan: Plan,
    *,
    paper: PaperSize = "a4",
    seen_from: View = "front",
    notations: tuple[Notation, Notation] = (Notation.FDI, Notation.UNIVERSAL),
) -> bytes:
    """The chairside sheet of a plan as PDF, with every tooth under both notations."""
    profiles = profile_pages(plan, profile_room(paper), notations=notations)
    return write_sheet(plan, profiles, paper=paper, notations=notations, view=seen_from)


def teeth_of_range(span: str) -> list[Tooth]:
    """The teeth of a range such as ``13-23``, as seen.

    Raises
    ------
    InputRefusedError
        If it is no range of one jaw.
    """
    try:
        return teeth_between(span)
    except ValueError as wrong:
        raise InputRefusedError(
            [Fault("new case", "teeth", repr(span)[:60], f"a range of one jaw, e.g. 13-23 ({wrong})", "Name it again.")]
        ) from None


FORM_FILE = "blank-form.pdf"


def write_form(folder: Path, *, teeth: str, paper: PaperSize = "a4") -> Path:
    """Write the blank chart form for a range of teeth.

    Raises
    ------
    ValueError
        If ``teeth`` is no range of one jaw.
    """
    return write_whole(folder, {FORM_FILE: write_blank_form(teeth, paper=paper)})[0]

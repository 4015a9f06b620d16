"""Use case of the template: a case, its plan and a scan become printable parts, or a reason why not."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from festoon.errors import Fault, InputRefusedError
from festoon.model.case import Case, Status
from festoon.model.dentition import Site, Tooth
from festoon.model.plan import Plan
from festoon.records.casefile import read_case
from festoon.records.writing import write_whole
from festoon.reports.template_sheet import template_sheet
from festoon.reports.typeset import Paper
from festoon.scan.orientation import find_lie
from festoon.scan.raw import Jaw, Unit
from festoon.scan.read_3mf import read_3mf
from festoon.scan.surface import read_surface
from festoon.scan.trace import trace_scan
from festoon.template.files import read_back_stl
from festoon.template.inputs import CLEARANCE, GRID, WALL, Kind, Sheet, ToothOnScan, Wish
from festoon.template.make import CannotBuildError, Template, kind_for, make_template, treated_teeth
from festoon.template.picture import Look, render
from festoon.template.targets import halves
from festoon.workflow.planning import plan_of
from festoon.workflow.teeth_on_scan import from_frames, traced

TRACED_EDGE = (
    "levels are laid off from the edge point traced on the scan, not from the one the chart was read from: on a phantom that put midfacial "
    "edges 0.09 to 0.20 mm coronal of the plan. Measure from the edge of the tooth to the edge of the seated part before the first cut"
)
"""Said of every part whose teeth were traced."""
OLD_SCAN_MM = 1.0
"""Scan and chart further apart than this on a midfacial margin: edge, restoration or place may have changed since (the limit at
which a reading at the chair stops the work)."""


def _read_3mf(data: bytes) -> Sheet:
    """A 3MF by the reader of scans."""
    raw = read_3mf(data, "part.3mf")
    return Sheet(raw.vertices, raw.faces)


_LOOKS: tuple[Look, ...] = ("front", "left", "section")
_READERS = {"stl": read_back_stl, "3mf": _read_3mf}
CAUTIONS = (
    "The part is an aid and not an authority: the licensed operator decides. festoon is not a medical device.",
    "Bone levels are probed at the table; a planned crest is a hypothesis until the flap is open.",
    "Resin: a class cleared for short-term contact with mucosa, washed and cured exactly as its maker says (ERR-041, from memory).",
    "Sterilising can change dimensions: check the fit on the model or in the mouth after the cycle, not before.",
    "Rules for custom-made devices are local: ask who may make and use the part where you work.",
    "If it does not seat fully in every window, do not use it and do not trim it: scan again.",
)
"""Stand on the sheet, in the output and in the docs."""


@dataclass(frozen=True)
class TemplateOrder:
    """What is asked for."""

    kind: Kind | None = None
    """None: chosen from the plan, with the reason."""
    unit: Unit | None = None
    jaw: Jaw | None = None
    """None: that of the plan's teeth."""
    frames: Path | None = None
    """A frames.json of ``festoon measure scan``, perhaps corrected by hand, instead of tracing anew."""
    scan_name: str | None = None
    """What the scan is called on the sheet; None: the name of its file."""
    scanned_at: dt.date | None = None
    clearance: float = CLEARANCE
    wall: float = WALL
    grid: float = GRID
    build_volume: tuple[float, float, float] | None = None
    axis: tuple[float, float] | None = None
    """Lean of the insertion axis, degrees facially and to the patient's left; None: found."""
    paper: Paper = "a4"


@dataclass(frozen=True)
class TemplateResult:
    """The parts and everything that is said about them."""

    plan: Plan
    template: Template
    why_kind: str
    scan: str
    notes: tuple[str, ...]
    order: TemplateOrder

    @property
    def printable(self) -> bool:
        """True when every part passed every check."""
        return self.template.printable

    def about(self) -> dict[str, Any]:
        """What ``checks.json`` holds (format ``festoon-template/1``)."""
        made = self.template
        return {
            "format": "festoon-template/1",
            "case": self.plan.case,
            "plan_sha256": self.plan.fingerprint,
            "design_version": self.plan.design_version,
            "scan": self.scan,
            "kind": made.kind,
            "why": self.why_kind,
            "printable": made.printable,
            "covered": list(made.covered),
            "supports": list(made.supports),
            "clearance_mm": self.order.clearance,
            "wall_mm": self.order.wall,
            "grid_mm": self.order.grid,
            "insertion_axis": {
                "lean_facially_deg": made.seating.lean[0],
                "lean_to_patients_left_deg": made.seating.lean[1],
                "in_file": [round(float(v), 6) for v in made.seating.turn[2]],
                "undercut_share": round(made.seating.undercut, 4),
            },
            "parts": [
                {
                    "name": p.part.name,
                    "printable": p.printable,
                    "checks": [
                        {"name": c.name, "title": c.title, "passed": c.passed, "measured": c.measured, "wanted": c.wanted, "where": c.where, "value": _number(c.value)}
                        for c in p.checks
                    ],
                }
                for p in made.parts
            ],
            "notes": list(self.notes),
            "cautions": list(CAUTIONS),
        }  # fmt: skip

    def as_json(self) -> str:
        """:meth:`about` as text."""
        return json.dumps(self.about(), indent=1, ensure_ascii=False) + "\n"


def _number(value: float | None) -> float | None:
    return None if value is None or not np.isfinite(value) else round(float(value), 5)


class StoppedError(Exception):
    """Whoever asked for a template no longer wants it; nothing was written."""


@dataclass(frozen=True)
class TemplateFiles:
    """A template as it is handed out."""

    result: TemplateResult
    files: dict[str, bytes]
    """By name: the parts (none of them unless every part passed every check), pictures, ``checks.json`` and ``sheet.pdf``."""

    @property
    def printable(self) -> bool:
        """True when every part passed every check, so that the files hold the parts."""
        return self.result.printable


def template_files(
    plan: Plan,
    case: Case,
    scan_file: Path,
    order: TemplateOrder,
    *,
    tell: Callable[[float, str], None] = lambda _share, _what: None,
    is_stopped: Callable[[], bool] = lambda: False,
    notes: Sequence[str] = (),
) -> TemplateFiles:
    """The whole job in one call, in memory: parts, checks, pictures and sheet of a plan over a scan.

    Parameters
    ----------
    plan : Plan
        A draft or a signed one.
    case : Case
        The case the plan was made from: it says which teeth may bear the part and what changed when.
    scan_file : Path
        STL, PLY, OBJ or 3MF; the ending says which.
    order : TemplateOrder
    tell : callable
        Is told the share of the steps that are done, 0 to 1, and what is being done, in words.
    is_stopped : callable
        Asked before every step, seconds apart; True ends the job.
    notes : sequence of str
        What is to be said beside what is found.

    Raises
    ------
    InputRefusedError
        If the scan cannot be used or does not fit the chart, or no part can be made; every reason is named.
    StoppedError
        If ``is_stopped`` said so.
    """
    parts = 2 if (order.kind or kind_for(plan)[0]) == "two-piece" else 1
    step = _Steps(len(plan.teeth) + _STEPS + 3 * parts, tell, is_stopped)
    result = template_of_plan(plan, case, scan_file, order, step, notes)
    files = _files_of(result, step)
    tell(1.0, "done")
    return TemplateFiles(result, files)


_STEPS = 6
"""Steps beside those of each tooth and part: the scan read, its lie, its teeth, the axis, pictures, the sheet."""


class _Steps:
    """Counts steps and asks before each whether to go on."""

    def __init__(self, expected: int, tell: Callable[[float, str], None], is_stopped: Callable[[], bool]) -> None:
        self._expected, self._tell, self._is_stopped = expected, tell, is_stopped
        self._done = 0

    def __call__(self, what: str) -> None:
        if self._is_stopped():
            raise StoppedError(f"stopped before: {what}")
        self._tell(min(self._done / self._expected, 0.99), what)
        self._done += 1


def template_of_case(
    case_file: Path, scan_file: Path, order: TemplateOrder, tell: Callable[[str], None] = lambda _: None
) -> TemplateResult:
    """Plan a case file and make its template over a scan; see :func:`template_of_plan`.

    Raises
    ------
    InputRefusedError
        If case or scan cannot be used; every reason is named.
    SolverError
        If the solver fails.
    """
    file = read_case(case_file)
    return template_of_plan(plan_of(file), file.case, scan_file, order, tell, file.notes)


def template_of_plan(
    plan: Plan,
    case: Case,
    scan_file: Path,
    order: TemplateOrder,
    tell: Callable[[str], None] = lambda _: None,
    said: Sequence[str] = (),
) -> TemplateResult:
    """Make the parts of a plan over a scan and check them; nothing is written. Parameters as in :func:`template_files`.

    Raises
    ------
    InputRefusedError
        If the scan cannot be used or does not fit the chart, or no part can be made; every reason is named.
    """
    scan = order.scan_name or scan_file.name
    dates = _dates(case, order, scan)
    tell("reading the scan")
    surface = read_surface(scan_file, order.unit)
    if order.frames is None:
        arch = trace_scan(surface, order.jaw or _jaw(plan), None, tell)
        surface, teeth, found = arch.surface, traced(arch), [*arch.notes, TRACED_EDGE]
    else:
        surface = find_lie(surface)[1]
        teeth, found = (
            from_frames(order.frames),
            [f"tooth frames and margins from {order.frames.name}, not traced anew"],
        )
    notes = [*said, *surface.report, *found, *dates]
    if not plan.for_surgery:
        notes.append("the plan is NOT FOR SURGERY: " + "; ".join(plan.not_for_surgery_because))
    kind, why = kind_for(plan)
    if order.kind is not None and order.kind != kind:
        why = f"chosen by the user; the plan would have had {kind}: {why}"
    kind = order.kind or kind
    _fits_chart(plan, teeth, scan)
    wish = Wish(
        order.clearance,
        order.wall,
        order.grid,
        order.build_volume,
        order.axis,
        f"{plan.case.upper()} {plan.fingerprint[:6].upper()}",
    )
    try:
        made = make_template(
            plan, Sheet(surface.vertices, surface.faces), teeth, kind, wish, _unsound(case), _READERS, tell
        )
    except CannotBuildError as why_not:
        raise _refused(
            scan, str(why_not), "a field with sound teeth beyond both its ends, all on the scan"
        ) from why_not
    return TemplateResult(plan, made, why, scan, tuple(dict.fromkeys([*notes, *made.notes])), order)


def write_template(
    result: TemplateResult, folder: Path, tell: Callable[[str], None] = lambda _: None
) -> tuple[Path, ...]:
    """Write parts, ``checks.json``, ``sheet.pdf`` and the pictures, all or none.

    Parts go in only when every part passed every check: half a template must not be printed.
    """
    files = _files_of(result, tell)
    for part in result.template.parts:  # a part of an earlier run must not stand beside checks that it did not pass
        for ending in ("stl", "3mf"):
            if (name := f"{part.part.name}.{ending}") not in files:
                (folder / name).unlink(missing_ok=True)
    return write_whole(folder, files)


def _files_of(result: TemplateResult, tell: Callable[[str], None]) -> dict[str, bytes]:
    made = result.template
    files: dict[str, bytes] = {}
    if made.printable:
        for part in made.parts:
            files |= part.files
    pictures = {}
    for made_part in made.parts:
        tell(f"pictures of {made_part.part.name}")
        for look in _LOOKS:
            pictures[f"{made_part.part.name}-{look}.png"] = render(made.ground, made_part.part, look, width=1100)
    files |= pictures
    files["checks.json"] = result.as_json().encode()
    tell("sheet")
    files["sheet.pdf"] = template_sheet(result.about(), pictures, result.order.paper)
    return files


def _jaw(plan: Plan) -> Jaw:
    """The jaw the plan is for: worn or missing teeth can make the sizes on a scan speak for the other one."""
    return "upper" if all(Tooth(fdi).is_upper for fdi in treated_teeth(plan) or plan.teeth) else "lower"


def _dates(case: Case, order: TemplateOrder, scan: str) -> list[str]:
    """A scan older than a change of the mouth or than the chart is refused; an unknown day is said."""
    changed = {f"{fdi} was changed": tooth.changed_at for fdi, tooth in case.teeth.items()}
    days = changed | {
        "the chart was read": case.examined_at,
        "the mock-up was accepted": case.approval.mock_up_accepted_at,
    }
    known = {what: day for what, day in days.items() if day is not None}
    if order.scanned_at is None:
        if any(day is not None for day in changed.values()):
            words = ", ".join(f"{what} on {day}" for what, day in known.items() if what in changed)
            raise _refused(
                scan,
                f"day of the scan not said, and {words}",
                "the day of the scan, so that it can be held against the changes",
                "Say it (--scanned-at).",
            )
        return ["day of the scan unknown: make sure that no edge, restoration or tooth position has changed since"]
    later = [f"{what} on {day}" for what, day in known.items() if day > order.scanned_at]
    if later:
        raise _refused(
            scan, f"scanned on {order.scanned_at}, but {', '.join(later)}", "a scan no older than the last change"
        )
    if case.examined_at is None:
        return [
            "day of the chart unknown: make sure that no edge, restoration or tooth position has changed since the scan"
        ]
    return []


def _fits_chart(plan: Plan, teeth: dict[str, ToothOnScan], scan: str) -> None:
    """Present margins of the chart against those of the scan, midfacially, on every tooth that is treated."""
    treated = frozenset(treated_teeth(plan))
    off = []
    for site in plan.sites:
        if (
            site.site is not Site.MIDFACIAL
            or site.tooth not in treated & teeth.keys()
            or site.margin_present_mm is None
        ):
            continue
        line, _ = halves(teeth[site.tooth])
        seen = float(np.interp(0.0, line[:, 0], line[:, 1]))
        charted = site.margin_present_mm - (plan.teeth[site.tooth].incisal_extension_mm or 0.0)
        if abs(charted - seen) > OLD_SCAN_MM:
            off.append(f"{site.tooth} {charted:.1f} mm in the chart, {seen:.1f} mm on the scan")
    if off:
        raise _refused(
            scan,
            "midfacial margins " + "; ".join(off),
            f"the two within {OLD_SCAN_MM:g} mm",
            "An edge, a restoration or a tooth's place has changed since the scan, or the trace is wrong: "
            "look at the trace (festoon measure scan), scan again.",
        )


def _unsound(case: Case) -> frozenset[str]:
    """Teeth that must not bear a template."""
    return frozenset(
        fdi
        for fdi, chart in case.teeth.items()
        if chart.status not in (Status.NATURAL, Status.CROWNED) or (chart.mobility or 0) >= 2 or chart.lesion
    )


def _refused(file: str, found: str, expected: str, do: str = "Scan again after the last change.") -> InputRefusedError:
    return InputRefusedError([Fault(file, "", found, expected, do)])

"""Use case of the template: a case, its plan and a scan become printable parts, or a reason why not."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable
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
from festoon.scan.raw import Unit
from festoon.scan.read_3mf import read_3mf
from festoon.scan.surface import read_surface
from festoon.scan.teeth import Jaw
from festoon.scan.trace import TracedArch, trace_scan
from festoon.template.files import read_back_stl
from festoon.template.inputs import CLEARANCE, GRID, WALL, Kind, Sheet, ToothOnScan, Wish
from festoon.template.make import CannotBuildError, Template, kind_for, make_template, treated_teeth
from festoon.template.picture import Look, render
from festoon.template.targets import halves
from festoon.workflow.planning import plan_of

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
    frames: Path | None = None
    """A frames.json of ``festoon measure scan``, perhaps corrected by hand, instead of tracing anew."""
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
                        {"name": c.name, "passed": c.passed, "measured": c.measured, "wanted": c.wanted, "where": c.where, "value": _number(c.value)}
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


def template_of_case(
    case_file: Path, scan_file: Path, order: TemplateOrder, tell: Callable[[str], None] = lambda _: None
) -> TemplateResult:
    """Plan a case and make its template over a scan.

    Raises
    ------
    InputRefusedError
        If case or scan cannot be used, the scan does not fit the chart, or no part can be made; every reason is named.
    SolverError
        If the solver fails.
    """
    file = read_case(case_file)
    plan = plan_of(file)
    tell("reading the scan")
    surface = read_surface(scan_file, order.unit)
    if order.frames is None:
        arch = trace_scan(surface, order.jaw, None, tell)
        surface, teeth, found = arch.surface, _traced(arch), list(arch.notes)
    else:
        surface = find_lie(surface)[1]
        teeth, found = (
            _from_frames(order.frames),
            [f"tooth frames and margins from {order.frames.name}, not traced anew"],
        )
    notes = [*file.notes, *surface.report, *found, *_dates(file.case, order, scan_file)]
    if not plan.for_surgery:
        notes.append("the plan is NOT FOR SURGERY: " + "; ".join(plan.not_for_surgery_because))
    kind, why = kind_for(plan)
    if order.kind is not None and order.kind != kind:
        why = f"chosen by the user; the plan would have had {kind}: {why}"
    kind = order.kind or kind
    _fits_chart(plan, teeth, scan_file)
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
            plan, Sheet(surface.vertices, surface.faces), teeth, kind, wish, _unsound(file.case), _READERS, tell
        )
    except CannotBuildError as why_not:
        raise _refused(
            scan_file.name, str(why_not), "a field with sound teeth beyond both its ends, all on the scan"
        ) from why_not
    return TemplateResult(plan, made, why, scan_file.name, tuple(dict.fromkeys([*notes, *made.notes])), order)


def write_template(
    result: TemplateResult, folder: Path, tell: Callable[[str], None] = lambda _: None
) -> tuple[Path, ...]:
    """Write parts, ``checks.json``, ``sheet.pdf`` and the pictures, all or none.

    Parts go in only when every part passed every check: half a template must not be printed.
    """
    made = result.template
    files: dict[str, bytes] = {}
    if made.printable:
        for part in made.parts:
            files |= part.files
    tell("pictures")
    pictures = {}
    for made_part in made.parts:
        for look in _LOOKS:
            pictures[f"{made_part.part.name}-{look}.png"] = render(made.ground, made_part.part, look, width=1100)
    files |= pictures
    files["checks.json"] = result.as_json().encode()
    tell("sheet")
    files["sheet.pdf"] = template_sheet(result.about(), pictures, result.order.paper)
    for part in made.parts:  # a part of an earlier run must not stand beside checks that it did not pass
        if not made.printable:
            for ending in ("stl", "3mf"):
                (folder / f"{part.part.name}.{ending}").unlink(missing_ok=True)
    return write_whole(folder, files)


def _traced(arch: TracedArch) -> dict[str, ToothOnScan]:
    turn = arch.frame.from_file[:3, :3]
    out = {}
    for tooth, one in arch.teeth.items():
        f = one.frame
        out[tooth.fdi] = ToothOnScan(
            tooth.fdi, arch.frame.to_file(f.edge[None])[0], f.axis @ turn, f.facial @ turn, f.distal @ turn, f.middle,
            arch.frame.to_file(one.margin),
            f.width,
        )  # fmt: skip
    return out


def _from_frames(path: Path) -> dict[str, ToothOnScan]:
    """Teeth of a frames.json as ``festoon measure scan`` writes it."""
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        matrix = np.array(data["file_mm_to_arch"], dtype=float)
        out = {}
        for fdi, tooth in data["teeth"].items():
            Tooth(fdi)
            frame = np.array(tooth["tooth_to_arch"], dtype=float)
            margin = np.array(tooth["margin_mm"], dtype=float)
            if frame.shape != (4, 4) or margin.ndim != 2 or margin.shape[1] != 3 or len(margin) < 12:
                raise ValueError(f"teeth.{fdi}: a 4 x 4 matrix and at least 12 points are needed")
            across = (margin - frame[:3, 3]) @ frame[:3, 0]
            middle = float(tooth.get("mid_width_mm", (across.max() + across.min()) / 2))
            width = float(tooth.get("width_mm", np.ptp(across)))
            out[fdi] = ToothOnScan(fdi, frame[:3, 3], frame[:3, 2], frame[:3, 1], frame[:3, 0], middle, margin, width)
    except (KeyError, TypeError, ValueError) as wrong:
        raise InputRefusedError(
            [
                Fault(
                    path.name,
                    "",
                    str(wrong),
                    "frames.json as festoon measure scan writes it",
                    "Write it anew and correct that one.",
                )
            ]
        ) from wrong
    back = np.linalg.inv(matrix)
    return {fdi: tooth.moved(back[:3, :3], back[:3, 3]) for fdi, tooth in out.items()}


def _dates(case: Case, order: TemplateOrder, scan: Path) -> list[str]:
    """A scan older than the chart is refused; an unknown day is said."""
    if order.scanned_at is None:
        return ["day of the scan unknown: make sure that no edge, restoration or tooth position has changed since"]
    changes = [
        ("the chart was read", case.examined_at),
        ("the mock-up was accepted", case.approval.mock_up_accepted_at),
    ]
    later = [f"{what} on {day}" for what, day in changes if day is not None and day > order.scanned_at]
    if later:
        raise _refused(
            scan.name, f"scanned on {order.scanned_at}, but {', '.join(later)}", "a scan no older than the last change"
        )
    if case.examined_at is None:
        return [
            "day of the chart unknown: make sure that no edge, restoration or tooth position has changed since the scan"
        ]
    return []


def _fits_chart(plan: Plan, teeth: dict[str, ToothOnScan], scan: Path) -> None:
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
            scan.name,
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

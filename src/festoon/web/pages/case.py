"""The pages of one case: chart, design and plan, each a way of reading and writing on its level profile."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from festoon.drawings.profile import draw_profile
from festoon.evidence.presets import LATERAL, PHENOTYPE, ZENITH
from festoon.model.case import Health
from festoon.model.dentition import Site, Tooth
from festoon.model.plan import Missing, Plan
from festoon.planning.limits import RULES
from festoon.web.charting import NAMES, chart_of, limits_of
from festoon.web.desk import Desk, DeskHere, PrefersHere, prefers_of
from festoon.web.handles import handles_of
from festoon.web.pages.render import names_for
from festoon.web.vocabulary import QUANTITIES, SITES
from festoon.web.words import N_, catalogue
from festoon.workflow import desk as work
from festoon.workflow.desk import Next

router = APIRouter()
NEXT_WORDS = {
    Next.CHART: N_("Waits for its chart: nothing was measured yet."),
    Next.CONFLICTS: N_("Waits for you to settle readings that contradict each other."),
    Next.READINGS: N_("Waits for readings that a hard limit needs."),
    Next.HEALTH: N_("Waits for the health questions."),
    Next.ANOTHER_ANSWER: N_("Surgery on gingiva and bone is not the answer here: read the findings."),
    Next.APPROVAL: N_("Waits for the design to be approved."),
    Next.PLAN: N_("Waits for its plan to be made and kept."),
    Next.SIGNATURE: N_("Waits for a signature under its plan."),
    Next.CLEARANCE: N_("Waits for what stands against signing to be cleared."),
    Next.NOTHING: N_("Every tooth is within tolerance of its target: nothing to do."),
    Next.SURGERY: N_("Signed: waits for the day of surgery."),
    Next.SIGN_OFF: N_("Surgery was begun: waits for its readings and to be signed off."),
    Next.RECALL: N_("Operated: waits for the visits of its recall."),
}
"""What a case waits for, in one line."""


@dataclass(frozen=True)
class Opened:
    """A case with its plan as it stands, for a page."""

    desk: work.CaseOnDesk
    plan: Plan | None
    next: Next

    @property
    def context(self) -> dict[str, Any]:
        """What every page of a case shows."""
        return {
            "case": self.desk.case.case, "desk": self.desk, "plan": self.plan, "next": self.next, "next_words": NEXT_WORDS,
        }  # fmt: skip


def opened(desk: Desk, case: str) -> Opened:
    """Open a case and plan it as it stands."""
    on_desk = work.open_on_desk(desk.store, case)
    with desk.planning:
        plan = work.plan_on_desk(on_desk)
    return Opened(on_desk, plan, work.next_of(on_desk, plan))


_WIDTH = re.compile(r'<svg[^>]* width="([0-9.]+)mm"')
_WIDE = 200.0
"""Drawings from this width on, in mm, are shown as wide as the window, so that a tooth stays large enough to be touched."""


def profile_of(request: Request, plan: Plan | None) -> str:
    """The level profile for a page; empty where there is no plan to draw. Its words are English."""
    if plan is None:
        return ""
    svg = draw_profile(plan, notations=prefers_of(request).notations, theme="screen")
    width = _WIDTH.match(svg)
    return svg.replace("<svg", '<svg lang="en"' + (' class="wide"' if width and float(width[1]) > _WIDE else ""), 1)


def _page(request: Request, template: str, found: Opened, **more: Any) -> HTMLResponse:
    page: HTMLResponse = request.app.state.pages.render(
        request, template, **found.context, svg=profile_of(request, found.plan), **more
    )
    return page


@router.get("/cases/{case}")
def home(desk: DeskHere, case: str) -> Response:
    """The case, where it waits."""
    way = opened(desk, case).next.way
    return RedirectResponse(f"/cases/{case}/{way.value}", 303)


@router.get("/cases/{case}/chart")
def chart(request: Request, desk: DeskHere, case: str) -> HTMLResponse:
    """Readings: entered, looked at with their errors, missed."""
    found = opened(desk, case)
    return _page(
        request,
        "chart.html",
        found,
        chart=chart_of(found.desk.case, found.desk.own),
        health=list(Health.model_fields),
        lacking=[] if found.plan is None else _lacking(found.plan),
        entry_names=NAMES,
    )


def _lacking(plan: Plan) -> list[tuple[Missing, list[tuple[str, Site | None]]]]:
    """What is missing, each thing once, with the teeth and sites where it is; what a hard limit needs comes first."""
    found: dict[tuple[str, str, bool], tuple[Missing, list[tuple[str, Site | None]]]] = {}
    for missing in sorted(plan.missing, key=lambda one: not one.hard):
        _, places = found.setdefault((missing.what, missing.prevents, missing.hard), (missing, []))
        if missing.tooth:
            places.append((missing.tooth, missing.site))
    return list(found.values())


@router.get("/cases/{case}/design")
def design(request: Request, desk: DeskHere, case: str) -> HTMLResponse:
    """Edges first, then lengths, moved on the profile."""
    found = opened(desk, case)
    handles = [] if found.plan is None else [h.model_dump() for h in handles_of(found.plan, names_for(request))]
    presets = {"zenith": ZENITH, "lateral": LATERAL, "phenotype": PHENOTYPE}
    notes, limits = found.desk.file.notes, limits_of(found.desk.case)
    return _page(
        request, "design.html", found, handles=handles, presets=presets, notes=notes, limits=limits, rules=RULES
    )


@router.get("/cases/{case}/plan")
def plan(request: Request, desk: DeskHere, case: str) -> HTMLResponse:
    """What is cut where, what stands against it, the arithmetic of every number, signing."""
    return _page(request, "plan.html", opened(desk, case), mid=Site.MIDFACIAL, tooth=Tooth)


@router.get("/cases/{case}/template")
def template(request: Request, desk: DeskHere, case: str) -> HTMLResponse:
    """The printable part: asked for, and those made before with their checks."""
    from festoon.workflow.template_on_record import templates_of
    from festoon.workflow.templating import CAUTIONS

    found = opened(desk, case)
    scans = [file for file in found.desk.known.record.files if file.kind.startswith("scan")]
    return _page(request, "template.html", found, scans=scans, made=templates_of(desk.store, case), cautions=CAUTIONS)


MESH_WORDS = {
    "front": N_("front"),
    "right": N_("right"),
    "left": N_("left"),
    "occlusal": N_("occlusal"),
    "apical": N_("apical"),
    "right_side": N_("patient's RIGHT"),
    "left_side": N_("patient's LEFT"),
    "sides_unknown": N_("right and left are not known before it is measured"),
    "loading": N_("loading"),
    "unreadable": N_("this file cannot be shown"),
    "no_webgl": N_("this browser cannot show it in three dimensions"),
    "picked": N_("{x}, {y}, {z} mm"),
}

PHOTO_WORDS = {
    "point": N_("point {name} at {x}, {y} pixels"),
    "photo": N_("Photograph; Enter sets a point at the middle of what is seen"),
    "unreadable": N_("this photograph cannot be shown; if the file mirrors it, say above what to do"),
}


@router.get("/cases/{case}/scan")
def scan(request: Request, desk: DeskHere, prefers: PrefersHere, case: str) -> HTMLResponse:
    """Scans and photographs of a case; a scan is shown and measured."""
    found = opened(desk, case)
    translate = catalogue(prefers.language).gettext

    def said(words: dict[str, str]) -> str:
        return json.dumps({name: translate(text) for name, text in words.items()}, ensure_ascii=False)

    return _page(
        request,
        "scan.html",
        found,
        files=[file for file in found.desk.known.record.files if not file.kind.startswith("template")],
        vocabulary={word: translate(word) for word in (*SITES, *QUANTITIES)},
        mesh_words=said(MESH_WORDS),
        photo_words=said(PHOTO_WORDS),
        built=(files("festoon.web") / "built" / "app.js").is_file(),
    )

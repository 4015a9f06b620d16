"""What was planned, cut, sutured and healed, side by side: the table of the surgery record and of the letters."""

from __future__ import annotations

from typing import Any

from festoon.model.dentition import Notation, Site, SiteKind, Tooth, as_seen
from festoon.model.plan import Plan
from festoon.model.quantities import Quantity
from festoon.model.recall import RecallState
from festoon.model.surgery import SurgeryState
from festoon.reports.words import SITE_WORDS, both_names

Notations = tuple[Notation, Notation]
NOT_READ = "NOT READ"
"""Nobody read it; never a blank and never zero."""
SHAPE_SIGNS = {"empty_box": "[ ]", "ticked_box": "[x]", "triangle": "[!]", "octagon": "[!!]", "question": "[?]"}
"""As the command line prints them; the words beside a sign say what it stands for."""


def fine(value: float | None, unknown: str = NOT_READ) -> str:
    """A level or distance to its hundredth, without trailing zeros beyond the first decimal."""
    if value is None:
        return unknown
    said = f"{value:.2f}"
    return (said[:-1] if said.endswith("0") else said).replace("-", "−")


def result_rows(
    plan: Plan, surgery: SurgeryState, recall: RecallState | None, notations: Notations
) -> list[dict[str, Any]]:
    """One row a site that was to be cut or was read: levels from the planned edge, as strings."""
    crest = {
        (s.tooth, s.site): s.check.reading_planned_edge_mm for s in surgery.sites if s.quantity is Quantity.CREST_LEVEL
    }
    margin = {
        (s.tooth, s.site): s.check.reading_planned_edge_mm for s in surgery.sites if s.quantity is Quantity.MARGIN_LEVEL
    }
    sutured = {(s.tooth, s.site): s for s in surgery.sutures}
    healed = {}
    for visit in recall.verification.visits if recall else ():
        healed[visit.tooth, visit.site] = visit  # in the order of the days: the latest stays
    by_place = {(s.tooth, s.site): s for s in plan.sites}
    # What the hands worked to: the sheet's half millimetres, unless the exact numbers were chosen or had to be.
    is_paper = surgery.begun.against == "sheet" and plan.paper.rechecked
    paper = {(s.tooth, s.site): s for s in plan.paper.sites} if is_paper else {}
    rows = []
    for tooth in as_seen(Tooth(code) for code, whole in plan.teeth.items() if whole.procedure.cuts):
        for site in Site:
            planned = by_place.get((tooth.fdi, site))
            place = (tooth.fdi, site)
            if planned is None or (planned.suture_level_mm is None and not planned.bone_removal_mm):
                continue
            # Between the teeth nothing is cut by default: only what was read is worth a row.
            if site.kind is SiteKind.INTERPROXIMAL and place not in sutured and place not in healed:
                continue
            flap, visit_now = sutured.get(place), healed.get(place)
            target = paper.get(place, planned)
            rows.append(
                {
                    "tooth": both_names(tooth, notations),
                    "site": SITE_WORDS[site],
                    "planned_margin": fine(target.margin_planned_mm, "NOT GIVEN"),
                    "planned_crest": fine(target.crest_planned_mm, "NOT GIVEN"),
                    "planned_suture": fine(
                        target.suture_level_mm if target.suture_level_mm is not None else planned.suture_level_mm,
                        "NOT GIVEN",
                    ),
                    "cut_margin": fine(margin.get(place)) if planned.incision_level_mm is not None else "no collar",
                    "cut_crest": fine(crest.get(place)) if planned.bone_removal_mm else "no bone",
                    "sutured": fine(None if flap is None else flap.margin_mm),
                    "distance": fine(None if flap is None or flap.crest_from == "planned" else flap.distance_mm),
                    "expected": _band(flap),
                    "healed": "no visit yet" if visit_now is None else f"{fine(visit_now.margin_mm)} on {visit_now.at}",
                    "healed_words": "" if visit_now is None else visit_now.verdict.value.replace("_", " "),
                }
            )
    return rows


def _band(flap: Any) -> str:
    if flap is None or not flap.expected:
        return "not known"
    last = flap.expected[-1]
    return f"{last.low_mm:.1f} to {last.high_mm:.1f}".replace("-", "−")

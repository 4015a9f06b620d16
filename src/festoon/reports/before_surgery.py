"""The report to the restorative colleague before surgery: what is found, what is planned with its errors, when crowns may follow, what is asked.

Exact numbers of the plan to one decimal, each with one standard error; the chairside sheet rounds them to its half millimetre.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from festoon.model.case import Status
from festoon.model.dentition import Notation, Site, Tooth, as_seen
from festoon.model.plan import Mm, Plan, SitePlan, ToothPlan
from festoon.reports.content import about, all_cautions, identity
from festoon.reports.sheet import placed
from festoon.reports.typeset import Paper, paper_size, typeset
from festoon.reports.words import (
    NOT_GIVEN,
    NOT_KNOWN,
    NOT_MEASURED,
    NOTATION_WORDS,
    SITE_WORDS,
    both_names,
    edge_today,
    level,
    procedure_words,
)

Notations = tuple[Notation, Notation]
_ASKED = (
    "The planned edges above are right, or: ",
    "Teeth that will be restored, with what, and whether an old margin stays: ",
    "Depth of the finish line wanted in the sulcus, tooth by tooth: ",
    "Vitality, mobility, bite and grinding habits that should change the plan: ",
    "Provisional restorations: who makes them, and on which day after surgery: ",
)
_PLEASE = (
    "Please change no edge before surgery without telling us by how much and on which day: every level above counts from the planned edge.",
    "Please send the design and the mock-up under the version named above; a later version needs a new plan.",
    "Please keep the provisional line above the gingiva until the margin has stood still on two visits, and make the final scan after that.",
)
"""Common practice, no source."""


def write_report_before(
    plan: Plan,
    profiles: Sequence[str] = (),
    *,
    paper: Paper = "a4",
    notations: Notations = (Notation.FDI, Notation.UNIVERSAL),
) -> bytes:
    """The report as PDF, upright.

    Parameters
    ----------
    plan : Plan
        Any plan; where it is not for surgery the report says so before everything else.
    profiles : sequence of str
        Level profiles as SVG with their size in mm; each comes at that size on a page of its own.
    paper : "a4" or "letter"
        Upright; a profile's page lies where only that fits.
    notations : pair of Notation
        The two names under which every tooth is shown.

    Raises
    ------
    ValueError
        If the paper is not known, or a profile does not say its size in mm.
    """
    width, height = paper_size(paper)[::-1]
    data = {
        "paper": {"width": width, "height": height},
        "report": _content(plan, notations),
        "profiles": [placed(profile, paper) for profile in profiles],
    }
    return typeset("before.typ", data)


def _content(plan: Plan, notations: Notations) -> dict[str, Any]:
    teeth = as_seen(Tooth(code) for code in plan.teeth)
    found = [
        finding
        for finding in sorted(plan.findings, key=lambda finding: finding.rank)
        if finding.support in ("strong", "moderate") or finding.withholds_surgery
    ]
    cautions = [
        {"severity": c.severity, "text": about(c) + c.text, "source": c.source or ""} for c in all_cautions(plan)
    ]
    return {
        "identity": identity(plan),
        "notations": " / ".join(NOTATION_WORDS[n] for n in notations),
        "stamp": [] if plan.for_surgery else list(plan.not_for_surgery_because or (plan.answer_text,)),
        "cautions": [c for c in cautions if c["severity"] != "note"],
        "remarks": [c for c in cautions if c["severity"] == "note"],
        "findings": [
            {
                "title": f"{finding.title} ({finding.support})",
                "can": finding.surgery_can,
                "cannot": finding.surgery_cannot,
                "ask": "; ".join(finding.ask),
                "instead": " ".join(finding.alternatives),
            }
            for finding in found
        ],
        "rows": [_row(plan, tooth, notations) for tooth in teeth],
        "fields": [f"{fields[0]} to {fields[-1]}" for fields in plan.arch.flap_fields],
        "display": _display(plan),
        "conflicts": [conflict.text for conflict in plan.conflicts],
        "missing": [missing.text for missing in plan.missing if missing.hard],
        "papillae": [p.text for p in plan.papillae if p.text and _moves(plan, p.between)],
        "bands": [row for tooth in teeth if (row := _band(plan, tooth, notations))],
        "milestones": list(plan.healing.milestones) if plan.healing else [],
        "disagreement": plan.healing.disagreement if plan.healing else "",
        "asked": list(_ASKED),
        "please": list(_PLEASE),
        "approval": f"version {plan.design_version} of the design was approved; please confirm that it is the one you have"
        if plan.design_version
        else "no version of the design has been approved yet: please name the version and the day on which the mock-up was accepted in the mouth",
        "signing": list(plan.signable_reasons),
    }


def _row(plan: Plan, tooth: Tooth, notations: Notations) -> dict[str, Any]:
    place = plan.teeth[tooth.fdi]
    sites = {site.site: site for site in plan.sites if site.tooth == tooth.fdi}
    is_rooted = Status(place.status).is_rooted
    return {
        "tooth": both_names(tooth, notations),
        "edge": edge_today(place.incisal_extension_mm) if is_rooted else "",
        "now": level(place.present_length_mm),
        "planned": _planned(place, sites.get(Site.MIDFACIAL)),
        "gingiva": _or_none(place.margin_move_mm) if is_rooted else "",
        "bone": _bone(sites) if is_rooted else "",
        "root": _or_none(place.root_exposed_mm) if is_rooted else "",
        "done": _done(place),
        "cuts": place.procedure.cuts,
    }


def _done(place: ToothPlan) -> str:
    status = Status(place.status)
    if not status.is_rooted:
        return f"{status.value}, stays as it is"
    return procedure_words(place.procedure)


def _planned(place: ToothPlan, middle: SitePlan | None) -> str:
    if not Status(place.status).is_rooted:
        return level(place.present_length_mm)
    if place.planned_length_mm is None:
        return NOT_GIVEN
    error = middle.se_mm.get("margin_planned_mm") if middle else None
    return f"{level(place.planned_length_mm)} ± {NOT_KNOWN if error is None else f'{error:.1f}'}"


def _or_none(value: Mm) -> str:
    return NOT_GIVEN if value is None else "none" if value == 0 else level(value)


def _bone(sites: dict[Site, SitePlan]) -> str:
    """Bone to be taken, site by site where it is; errors of one standard error."""
    cut = [site for site in sites.values() if site.bone_removal_mm]
    if any(site.bone_removal_mm is None for site in sites.values()) and not cut:
        return NOT_GIVEN
    if not cut:
        return "none"
    return "; ".join(f"{SITE_WORDS[site.site]} {level(site.bone_removal_mm)}{_error(site)}" for site in cut)


def _error(site: SitePlan) -> str:
    error = site.se_mm.get("bone_removal_mm")
    return "" if error is None else f" ± {error:.1f}"


def _moves(plan: Plan, between: str) -> bool:
    return any(plan.teeth[code].procedure.cuts for code in between.split("-") if code in plan.teeth)


def _band(plan: Plan, tooth: Tooth, notations: Notations) -> dict[str, str] | None:
    """Where the midfacial margin of a tooth that is operated is expected later."""
    if not plan.teeth[tooth.fdi].procedure.cuts:
        return None
    middle = next((s for s in plan.sites if s.tooth == tooth.fdi and s.site is Site.MIDFACIAL), None)
    if middle is None:
        return None
    return {
        "tooth": both_names(tooth, notations),
        "suture": level(middle.suture_level_mm, NOT_GIVEN),
        "six": _ends(middle.margin_expected_6m_band_mm),
        "twelve": _ends(middle.margin_expected_12m_band_mm),
    }


def _ends(band: tuple[float, float] | None) -> str:
    return NOT_KNOWN if band is None else f"{level(band[0])} to {level(band[1])}"


def _display(plan: Plan) -> str:
    now, after = plan.arch.present_display_mm, plan.arch.residual_display_mm
    if now is None:
        return f"gingiva shown in the smile: {NOT_MEASURED}"
    said = NOT_KNOWN if after is None else f"{level(after)} mm"
    return f"gingiva shown in the smile that was recorded: {level(now)} mm today, {said} after the plan"

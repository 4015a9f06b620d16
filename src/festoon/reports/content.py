"""What the chairside sheet says, taken from the plan field by field and turned into words; nothing is computed here."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from festoon.evidence.defaults import default_mm
from festoon.model.case import Status
from festoon.model.dentition import Notation, SiteKind, Tooth
from festoon.model.plan import Caution, Plan
from festoon.reports.cells import column_of, read_alike
from festoon.reports.view import View, in_order, words_of
from festoon.reports.words import (
    NOTATION_WORDS,
    SITE_WORDS,
    both_names,
    level,
    procedure_words,
    side_difference,
)

_SEVERITY_ORDER = ("stop", "warn", "note")
_LONGEST = 170
"""Characters of one text on the chairside page: more and a single caution would push out the others."""
Notations = tuple[Notation, Notation]


def sheet_content(plan: Plan, notations: Notations, view: View = "front") -> dict[str, Any]:
    """Everything on the chairside pages, as strings, in the order in which it is printed."""
    return {
        "identity": identity(plan),
        "view": words_of(view),
        "notations": [NOTATION_WORDS[n] for n in notations],
        "stamp": None if plan.for_surgery else [_in_short(reason) for reason in _stamp_reasons(plan)],
        "cautions": [{"severity": c.severity, "text": _in_short(about(c) + c.text)} for c in all_cautions(plan)],
        "jaws": [_jaw(plan, jaw, notations, view) for jaw in plan.jaws],
        "stop_when": stop_conditions(),
        "suture_at_least": _suture_target(plan),
        "uncertainty": uncertainty(plan),
        "rechecked": plan.paper.rechecked,
        "step": level(plan.paper.step_mm),
    }


def _stamp_reasons(plan: Plan) -> tuple[str, ...]:
    return plan.not_for_surgery_because or (plan.answer_text,)


def _in_short(text: str) -> str:
    """A text short enough for the chairside page; the pages behind hold it whole."""
    return text if len(text) <= _LONGEST else text[: _LONGEST - 1].rsplit(" ", 1)[0].rstrip(",;:") + " …"


def identity(plan: Plan) -> dict[str, str]:
    """What tells this plan from every other."""
    return {
        "case": plan.case,
        "charted": plan.examined_at or "not stated",
        "design": plan.design_version or "not approved",
        "plan": plan.fingerprint[:12],
        "case_hash": plan.provenance.case_sha256[:12],
        "evidence": plan.provenance.evidence_sha256[:12],
        "festoon": plan.provenance.festoon,
        "purpose": plan.purpose,
        "answer": plan.answer_text,
    }


def all_cautions(plan: Plan) -> list[Caution]:
    """The cautions of the plan and those of its teeth that it does not repeat, ``stop`` first."""
    found = list(plan.cautions)
    for tooth in plan.teeth.values():
        for caution in tooth.cautions:
            if not any(_says(other, caution) for other in found):
                found.append(caution)
    return sorted(found, key=lambda caution: _SEVERITY_ORDER.index(caution.severity))


def _says(general: Caution, special: Caution) -> bool:
    """True where a caution of the whole plan already holds a tooth's: the same sentence behind a list of teeth."""
    return (
        (general.code, general.severity) == (special.code, special.severity)
        and general.text.endswith(special.text)
        and (general.tooth is None or general.tooth == special.tooth)
        and (general.site is None or general.site == special.site)
    )


def about(item: Caution) -> str:
    """The tooth and site a caution is about, as a prefix, unless its text already starts with the tooth."""
    if item.tooth is None or item.text.startswith(item.tooth):
        return ""
    return f"{item.tooth}{'' if item.site is None else ' ' + SITE_WORDS[item.site]}: "


def stop_conditions() -> list[str]:
    """When to stop and rethink, whatever the plan says."""
    stop, recheck = default_mm("stop_mm"), default_mm("recheck_mm")
    return [
        f"crest more than {level(stop)} mm off the plan at any site (more than {level(recheck)} mm: plan again)",
        "CEJ not where expected, or root surface in view",
        "keratinised tissue would fall below the minimum",
        "dehiscence, fenestration, or a notch in the root",
        "furcation or a neighbouring root near",
        "template not seated, or a reading that two people read differently",
    ]


def uncertainty(plan: Plan) -> str:
    """The largest standard errors of the planned levels, as the plan states them."""
    parts = []
    for field, words in (("margin_planned_mm", "margins"), ("crest_planned_mm", "bone levels")):
        errors = [site.se_mm[field] for site in plan.sites if field in site.se_mm]
        known = [error for error in errors if error is not None]
        if known:
            parts.append(f"{words} ± {max(known):.1f} mm (largest standard error)")
    if not parts:
        return "Errors of the planned levels are not known: trust no bone level until it is probed."
    return ", ".join(parts).capitalize() + ". Bone levels are estimates until probed."


def _suture_target(plan: Plan) -> str | None:
    least = plan.healing.suture_at_least_mm if plan.healing else None
    return None if least is None else level(least)


def _jaw(plan: Plan, as_faced: Sequence[Tooth], notations: Notations, view: View) -> dict[str, Any]:
    teeth = in_order(as_faced, view)
    first_side = sum(tooth.is_right == teeth[0].is_right for tooth in teeth)
    cut = {t.fdi for t in teeth if plan.teeth[t.fdi].procedure.cuts}
    own = {t.fdi for t in teeth}
    pairs = {name: value for name, value in plan.paper.pair_differences_mm.items() if own & set(_pair(name))}
    pairs = {name: value for name, value in pairs.items() if cut & set(_pair(name))} or pairs
    columns = [column_of(plan, tooth, notations, view) for tooth in teeth]
    return {
        "name": "upper jaw" if teeth[0].is_upper else "lower jaw",
        "apical_up": teeth[0].is_upper == (view == "front"),
        "teeth": columns,
        "read": read_alike(columns),
        "midline_after": first_side if first_side < len(teeth) else None,
        "time_out": [
            {"side": side, "teeth": [_named(t, notations) for t in teeth if t.is_right == is_right and t.fdi in cut]}
            for side, is_right in (
                (("RIGHT", True), ("LEFT", False)) if view == "front" else (("LEFT", False), ("RIGHT", True))
            )
        ],
        "pairs": [{"pair": name, "planned": side_difference(value, *_pair(name))} for name, value in pairs.items()],
        "do_not_cut": _do_not_cut(plan, as_faced, notations),
    }


def _pair(name: str) -> tuple[str, str]:
    """Both teeth of a pair's name, patient's right first."""
    right, left = name.split("-")
    return right, left


def _named(tooth: Tooth, notations: Notations) -> dict[str, str]:
    return {
        "names": both_names(tooth, notations),
        "words": tooth.name,
        "short": tooth.name.removeprefix("upper ").removeprefix("lower ").removeprefix("right ").removeprefix("left "),
    }


def _do_not_cut(plan: Plan, teeth: Sequence[Tooth], notations: Notations) -> list[str]:
    sites = [s for s in plan.sites if s.tooth in {t.fdi for t in teeth}]
    between = any(s.site.kind is SiteKind.INTERPROXIMAL and s.bone_removal_mm for s in sites)
    lines = [
        "bone between the teeth: only where the grid says take"
        if between
        else "papillae and the bone between the teeth"
    ]
    for tooth in teeth:
        place = plan.teeth[tooth.fdi]
        name = both_names(tooth, notations)
        if not Status(place.status).is_rooted:
            lines.append(f"{name}: {place.status}")
        elif not place.procedure.cuts:
            lines.append(f"{name}: {procedure_words(place.procedure)}")
    lines += [caution.text for caution in plan.cautions if caution.code == "frenum"]
    return lines

"""What one column of the chairside grid says: a tooth, in the words and numbers of the plan."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from festoon.model.case import Status
from festoon.model.dentition import Notation, Site, Tooth
from festoon.model.plan import Mm, PaperSite, PaperTooth, Plan, Procedure, ToothPlan
from festoon.reports.view import View, right_first
from festoon.reports.words import (
    METHOD_WORDS,
    NOT_GIVEN,
    NOT_KNOWN,
    NOT_MEASURED,
    SITE_LETTERS,
    SITE_WORDS,
    edge_today,
    level,
    procedure_words,
    short_name,
    taken,
)

_STAYS = {Procedure.NONE: "NO CUT", Procedure.NOT_ADVISED: "CUT NOT ADVISED"}


def column_of(plan: Plan, tooth: Tooth, notations: tuple[Notation, Notation], view: View) -> dict[str, Any]:
    """The column of a tooth: wide where it is cut or left open, else one statement in a narrow one."""
    place = plan.teeth[tooth.fdi]
    status = Status(place.status)
    head = {"first": tooth.shown(notations[0]), "second": short_name(tooth, notations[1]), "read": read_by(plan, tooth)}
    if not status.is_rooted:
        stays = "NOTHING HERE" if status is Status.ABSENT else f"{place.status.upper()}: DO NOT CUT"
        return {**head, "kind": "stays", "locked": True, "stays": stays, "procedure": place.status}
    words = procedure_words(place.procedure) + (", crowned" if status is Status.CROWNED else "")
    if place.procedure in _STAYS:
        return {**head, "kind": "stays", "locked": False, "stays": _STAYS[place.procedure], "procedure": words}
    return {
        **head,
        "kind": "cut" if place.procedure.cuts else "open",
        "procedure": words,
        **_rows(plan, tooth, place, view),
    }


def _rows(plan: Plan, tooth: Tooth, place: ToothPlan, view: View) -> dict[str, Any]:
    paper = plan.paper.teeth.get(tooth.fdi) or PaperTooth()
    extension = paper.incisal_extension_mm
    printed = {s.site: s for s in plan.paper.sites if s.tooth == tooth.fdi}
    mid = printed.get(Site.MIDFACIAL)
    suture = mid.suture_level_mm if mid else None
    return {
        "edge": edge_today(extension),
        "same_edge": extension == 0,
        "length": level(paper.planned_length_mm, NOT_GIVEN),
        "length_today": _today(paper.planned_length_mm, paper.planned_length_from_present_edge_mm, NOT_GIVEN),
        "take": taken(paper.excised_collar_mm),
        "move": level(paper.margin_move_mm, NOT_GIVEN),
        "flap": level(paper.apical_shift_mm) if paper.apical_shift_mm else "",
        "sites": [_site(printed.get(site), letter) for site, letter in letters(tooth, view)],
        "keratinised": level(
            paper.keratinised_after_mm, NOT_MEASURED if place.keratinised_present_mm is None else NOT_GIVEN
        ),
        "suture": level(suture, NOT_GIVEN),
        "suture_today": _today(suture, mid.suture_level_from_present_edge_mm if mid else None, NOT_GIVEN),
        "others": [_other(s, extension) for s in printed.values() if s.site not in SITE_LETTERS and _is_cut(s)],
    }


def letters(tooth: Tooth, view: View) -> list[tuple[Site, str]]:
    """The sites of the grid in the order seen."""
    shown = list(SITE_LETTERS.items())
    return shown if tooth.is_right == right_first(view) else shown[::-1]


def _today(planned: Mm, from_today: Mm, unknown: str) -> str:
    """A level from today's edge: not known where the planned one is given and today's edge was not stated."""
    return level(from_today, unknown if planned is None else NOT_KNOWN)


def _site(printed: PaperSite | None, letter: str) -> dict[str, Any]:
    """One site of the grid; the chart's unknowns are not measured, the plan's are not given."""
    printed = printed or PaperSite(tooth="", site=Site.MIDFACIAL)
    unknown = NOT_MEASURED if printed.crest_present_mm is None else NOT_GIVEN
    bone = printed.bone_removal_mm
    return {
        "letter": letter,
        "sounding": level(printed.sounding_present_mm, NOT_MEASURED),
        "bone": taken(bone),
        "is_cut": bool(bone),
        "crest": level(printed.crest_planned_mm, unknown),
        "crest_today": _today(printed.crest_planned_mm, printed.crest_planned_from_present_edge_mm, unknown),
    }


def _is_cut(site: PaperSite) -> bool:
    return bool(site.bone_removal_mm) or _gingiva(site) > 0


def _gingiva(site: PaperSite) -> float:
    if site.margin_planned_mm is None or site.margin_present_mm is None:
        return 0.0
    return site.margin_planned_mm - site.margin_present_mm


def _other(site: PaperSite, extension: Mm) -> dict[str, Any]:
    """A cut site that has no column of its own, in words: what is taken of it and the levels that decide."""
    parts = []
    if _gingiva(site) > 0:
        parts.append(f"gingiva to {_both(site.margin_planned_mm, site.margin_planned_from_present_edge_mm, extension)}")
    if site.bone_removal_mm:
        parts.append(
            f"bone: up to {level(site.bone_removal_mm)} mm, crest to "
            f"{_both(site.crest_planned_mm, site.crest_planned_from_present_edge_mm, extension)}"
        )
    return {"site": SITE_WORDS[site.site], "words": "; ".join(parts)}


def _both(planned: Mm, from_today: Mm, extension: Mm) -> str:
    """A level from the planned edge, and from today's where that is another."""
    if extension == 0 or planned is None:
        return f"{level(planned, NOT_GIVEN)} mm"
    return f"{level(planned)} mm (today's edge {_today(planned, from_today, NOT_GIVEN)} mm)"


def read_by(plan: Plan, tooth: Tooth) -> list[str]:
    """How the margin and the crest of a tooth were read, a line each; nothing for what nobody read."""
    sites = [s for s in plan.sites if s.tooth == tooth.fdi]
    lines = []
    for quantity in ("margin", "crest"):
        by_method: dict[str, list[Site]] = {}
        for site in sites:
            if method := site.measured_by.get(quantity):
                by_method.setdefault(METHOD_WORDS.get(method, method), []).append(site.site)
        if len(by_method) == 1:
            lines.append(f"{quantity} {next(iter(by_method))}")
        elif by_method:
            lines.append(f"{quantity} " + ", ".join(f"{_named(where)} {how}" for how, where in by_method.items()))
    return lines


def _named(sites: Iterable[Site]) -> str:
    return " ".join(SITE_LETTERS.get(site, SITE_WORDS[site]) for site in sites)


def read_alike(columns: Iterable[Mapping[str, Any]]) -> str | None:
    """One sentence where every margin was read in one way and every crest in one, else None: then each column says it."""
    ways = list(dict.fromkeys(line for column in columns for line in column["read"]))
    quantities = {line.split()[0] for line in ways}
    return ", ".join(ways) if ways and len(ways) == len(quantities) else None

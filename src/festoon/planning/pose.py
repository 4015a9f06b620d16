"""Posing the problem: from the mouth as known and the policy to wishes, caps and gaps, tooth by tooth."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from festoon.model.anatomy import Anatomy, SiteAnatomy, ToothAnatomy
from festoon.model.case import Purpose, Restoration, Status, ToothChart
from festoon.model.dentition import FACIAL_SITES, LINGUAL_SITES, Site, SiteKind, Tooth
from festoon.planning.gaps import gaps_of
from festoon.planning.limits import Limit
from festoon.planning.policy import Policy
from festoon.planning.problem import EPSILON, Gap, Problem, SiteProblem, State, ToothProblem
from festoon.planning.targets import target_of


def build(anatomy: Anatomy, policy: Policy, *, withheld: Mapping[Tooth, str] | None = None) -> Problem:
    """The problem of a mouth under a policy.

    Parameters
    ----------
    withheld : mapping of tooth to sentence, optional
        Teeth for which a finding says that surgery is not the answer, and why.
    """
    reasons = withheld or {}
    teeth = {tooth: _tooth(anatomy, known, policy, reasons.get(tooth)) for tooth, known in anatomy.teeth.items()}
    return Problem(anatomy, policy, teeth)


def _tooth(anatomy: Anatomy, known: ToothAnatomy, policy: Policy, withheld: str | None) -> ToothProblem:
    status = known.chart.status or Status.NATURAL
    if not status.is_rooted:
        return _fixed(anatomy, known, status, policy)
    planned = known.planned
    here = planned or known
    sites = _sites(anatomy, planned, policy) if planned else {}
    problem = ToothProblem(
        here,
        State.OPEN,
        target=target_of(known, anatomy.case.subject.sex, policy),
        margin=planned.margin.value if planned and planned.margin else None,
        sites=sites,
        move_caps=_move_caps(planned, sites, policy) if planned else {},
        collar_cap=_collar_cap(planned, sites, policy) if planned else None,
        keratinised=_keratinised(here.site(Site.MIDFACIAL)),
    )
    problem = replace(problem, gaps=tuple(gaps_of(problem, policy, anatomy)))
    if policy.reference_side == ("right" if known.tooth.is_right else "left"):
        why = f"the {policy.reference_side} side is declared right as it is"
        return replace(problem, state=State.FIXED, why=why, target=None, gaps=())
    blocked = to_be_cleared(known.chart)
    if blocked:
        return replace(problem, state=State.BLOCKED, why="; ".join(blocked))
    if withheld:
        return replace(problem, state=State.WITHHELD, why=withheld)
    hard = dict.fromkeys(gap.what for gap in problem.gaps if gap.hard)
    if hard:
        return replace(problem, state=State.UNKNOWN, why=f"not measured: {', '.join(hard)}")
    return problem


def _fixed(anatomy: Anatomy, known: ToothAnatomy, status: Status, policy: Policy) -> ToothProblem:
    """A place that is locked. Nothing is done to its edge, so where none is planned it counts from the edge of today."""
    gaps: tuple[Gap, ...] = ()
    if known.extension is None and known.margin is not None:
        gaps = (Gap("incisal_extension_mm", "its edge is taken to stay as it is: nothing is done to it", hard=False),)
        known = replace(known, extension=0.0)
    here = known.planned or known
    margin = here.margin.value if here.margin else None
    sites = _sites(anatomy, here, policy)
    return ToothProblem(here, State.FIXED, f"{status.value}: locked", margin=margin, sites=sites, gaps=gaps)


def to_be_cleared(chart: ToothChart) -> tuple[str, ...]:
    """Everything charted that must be cleared before a tooth is touched; empty when nothing stands against it."""
    found = (
        (chart.ankylosed, "ankylosed: locked; the neighbours are not cut to match it; refer"),
        (chart.lesion, "endodontic lesion, fracture or caries: not before it is cleared"),
        ((chart.mobility or 0) >= 2, f"mobility {chart.mobility}: not before it is cleared"),
        (chart.inflamed, "gingiva inflamed or bracketed: treat, wait, measure again"),
    )
    return tuple(reason for stands, reason in found if stands)


def _sites(anatomy: Anatomy, tooth: ToothAnatomy, policy: Policy) -> dict[Site, SiteProblem]:
    """The sites that take part: every charted one with a margin, as far as it can be planned."""
    result: dict[Site, SiteProblem] = {}
    for site in (*FACIAL_SITES, *LINGUAL_SITES):
        known = tooth.sites.get(site)
        if known is None or known.margin is None:
            continue
        finish = _finish_line(tooth, known, policy) if tooth.purpose is Purpose.RESTORATIVE else None
        margin = known.margin.value
        reach = max(0.0, finish - margin) if finish is not None else 0.0
        result[site] = SiteProblem(
            site=site,
            margin=margin,
            crest=known.crest.value if known.crest else None,
            need=(policy.need(site) if finish is None else policy.need_mid).value,
            share=0.0 if tooth.purpose is Purpose.RESTORATIVE else _share(tooth, site),
            # A finish line nearer to the margin than the smallest move is left inside the sulcus.
            advance=reach if reach >= policy["smallest_move_mm"] - EPSILON else 0.0,
            finish_line=finish,
            bone_caps=_bone_caps(anatomy, tooth, known, policy),
        )
    return result


def _finish_line(tooth: ToothAnatomy, site: SiteAnatomy, policy: Policy) -> float | None:
    """Restorative margin asked for: sound tooth plus ferrule; else the margin of a restoration that stays."""
    if site.sound_tooth is not None:
        ferrule = site.ferrule if site.ferrule is not None else policy["ferrule_mm"]
        return site.sound_tooth.value + ferrule
    if site.existing_finish_line is not None and tooth.chart.restoration is not Restoration.PLANNED:
        return site.existing_finish_line.value
    return None


def _share(tooth: ToothAnatomy, site: Site) -> float:
    """How much of the midfacial move a facial margin makes: the scallop keeps its shape between tip and zenith.

    Lingual margins and papilla tips stay. A line angle without its papilla tip stays too, and is reported as a gap.
    """
    if site is Site.MIDFACIAL:
        return 1.0
    if site.kind is not SiteKind.LINE_ANGLE or not site.is_facial:
        return 0.0
    here = tooth.site(site).margin
    tip = tooth.site(Site.MESIAL if site.faces_midline else Site.DISTAL).margin
    zenith = tooth.margin
    if here is None or tip is None or zenith is None or zenith.value - tip.value < EPSILON:
        return 0.0
    return min(1.0, max(0.0, (here.value - tip.value) / (zenith.value - tip.value)))


def _bone_caps(anatomy: Anatomy, tooth: ToothAnatomy, known: SiteAnatomy, policy: Policy) -> dict[Limit, float]:
    """Most bone that may go at a site, by limit. The bone never grows, so no cap is below zero."""
    caps: dict[Limit, float] = {}
    site = known.site
    if known.crest is None:
        return caps
    if site.kind is SiteKind.INTERPROXIMAL:
        if _beside_implant(anatomy, tooth.tooth, site):
            caps[Limit.NEIGHBOURS] = 0.0
        elif _roots_near(anatomy, tooth.tooth, site, policy["root_distance_minimum_mm"]):
            caps[Limit.ROOT_PROXIMITY] = 0.0
        elif not policy.interdental_ostectomy and policy.is_hard(Limit.INTERDENTAL_BONE, tooth.purpose):
            caps[Limit.INTERDENTAL_BONE] = 0.0
    furcation = tooth.furcation.get(site.surface)
    if furcation is not None and policy.is_hard(Limit.FURCATION, tooth.purpose):
        caps[Limit.FURCATION] = max(0.0, furcation.value - policy["furcation_clearance_mm"] - known.crest.value)
    if site is Site.MIDFACIAL and tooth.apex is not None and policy.is_hard(Limit.ROOT_TO_CROWN, tooth.purpose):
        lowest = tooth.apex.value / (1 + policy["root_to_crown_minimum"])
        caps[Limit.ROOT_TO_CROWN] = max(0.0, lowest - known.crest.value)
    return caps


def _beside_implant(anatomy: Anatomy, tooth: Tooth, site: Site) -> bool:
    """True where the interproximal site looks at an implant: the natural neighbour's bone is locked too."""
    other = anatomy.neighbour(tooth, site)
    return other is not None and anatomy.teeth[other].chart.status is Status.IMPLANT


def _roots_near(anatomy: Anatomy, tooth: Tooth, site: Site, minimum: float) -> bool:
    """True where the roots stand so near that bone between them cannot be shaped."""
    facial = Site.MESIAL if site.faces_midline else Site.DISTAL
    return any(
        papilla.root_distance is not None
        and papilla.root_distance.value < minimum
        and tooth in (pair.right, pair.left)
        and pair.site_of(tooth) is facial
        for pair, papilla in anatomy.papillae.items()
    )


def root_limit(tooth: ToothAnatomy, site: Site) -> float | None:
    """The most apical margin that shows no bare root: CEJ plus the root a restoration covers."""
    cej = tooth.site(site).cej
    return None if cej is None else cej.value + (tooth.chart.root_cover_mm or 0.0)


def _move_caps(tooth: ToothAnatomy, sites: Mapping[Site, SiteProblem], policy: Policy) -> dict[Limit, float]:
    """Most the midfacial margin may move, for limits that bind the margin itself."""
    caps: dict[Limit, float] = {}
    if policy.is_hard(Limit.ROOT_EXPOSURE, tooth.purpose):
        reaches = [
            (limit - problem.margin) / (problem.share or 1.0)
            for site, problem in sites.items()
            if site.is_facial
            and (problem.share > EPSILON or problem.advance > EPSILON)
            and (limit := root_limit(tooth, site)) is not None
        ]
        if reaches:
            caps[Limit.ROOT_EXPOSURE] = max(0.0, min(reaches))
    return caps


def _keratinised(site: SiteAnatomy) -> float | None:
    if site.margin is None or site.mucogingival is None:
        return None
    return site.mucogingival.value - site.margin.value


def _collar_cap(tooth: ToothAnatomy, sites: Mapping[Site, SiteProblem], policy: Policy) -> float | None:
    """Most that may be excised midfacially so that every charted facial site keeps its keratinised tissue."""
    if not policy.is_hard(Limit.KERATINISED_TISSUE, tooth.purpose):
        return None
    caps = []
    for site, problem in sites.items():
        width = _keratinised(tooth.site(site))
        if width is None or not site.is_facial or site.kind is SiteKind.INTERPROXIMAL:
            continue
        spare = max(0.0, width - policy["keratinised_minimum_mm"])
        if site is Site.MIDFACIAL:
            caps.append(spare)
        elif problem.share > EPSILON:
            caps.append(spare / problem.share)
    return min(caps) if caps else None

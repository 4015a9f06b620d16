"""What is not known of a tooth, and what cannot be said or done without it."""

from __future__ import annotations

from collections.abc import Iterator

from festoon.model.anatomy import Anatomy
from festoon.model.case import Restoration, Status
from festoon.model.dentition import Site, Tooth
from festoon.planning.limits import Limit
from festoon.planning.policy import Need, Policy
from festoon.planning.problem import EPSILON, Gap, ToothProblem

_FURCATED_SURFACES = {
    # Surfaces on which a furcation opens; upper first premolars open mesially and distally, not facially.
    (True, 4): ("mesial", "distal"),
    **{(True, position): ("facial", "mesial", "distal") for position in (6, 7, 8)},
    **{(False, position): ("facial", "lingual") for position in (6, 7, 8)},
}


def furcated_surfaces(tooth: Tooth) -> tuple[str, ...]:
    """Surfaces of a tooth on which a furcation may open; empty for single-rooted teeth."""
    return _FURCATED_SURFACES.get((tooth.is_upper, tooth.position), ())


def gaps_of(problem: ToothProblem, policy: Policy, anatomy: Anatomy) -> Iterator[Gap]:
    """Every missing reading of one rooted tooth; ``hard`` where a hard limit needs it."""
    yield from _edge(problem)
    if problem.is_restorative:
        yield from _restorative(problem, policy)
    else:
        yield from _aesthetic(problem, policy)
    yield from _furcation(problem, policy)
    yield from _soft(problem)
    yield from _septa(problem, anatomy)


def _edge(problem: ToothProblem) -> Iterator[Gap]:
    if problem.anatomy.extension is None:
        yield Gap(
            "incisal_extension_mm",
            "no level can be counted from the planned edge: the edge is settled before anything else (0 must be said)",
        )


def _aesthetic(problem: ToothProblem, policy: Policy) -> Iterator[Gap]:
    purpose = problem.anatomy.purpose
    middle = problem.anatomy.site(Site.MIDFACIAL)
    if middle.margin is None:
        yield Gap("margin_mm", "neither the present length nor any move can be said", Site.MIDFACIAL)
    if policy.is_hard(Limit.SUPRACRESTAL_SPACE, purpose):
        yield from _crest_gap(problem, policy.need_mid, Site.MIDFACIAL)
    if middle.cej is None and policy.is_hard(Limit.ROOT_EXPOSURE, purpose):
        yield Gap("cej_mm", "how much root a move would show cannot be said", Site.MIDFACIAL)
    yield from _keratinised_gap(problem, policy)
    for site in (Site.MESIOFACIAL, Site.DISTOFACIAL):
        line_angle = problem.sites.get(site)
        if line_angle is None:
            continue
        tip = Site.MESIAL if site.faces_midline else Site.DISTAL
        if problem.anatomy.site(tip).margin is None:
            yield Gap("margin_mm", f"how far the margin moves at the {site} line angle cannot be said", tip, hard=False)
        if line_angle.crest is None:
            yield Gap("sounding_mm", "bone at this line angle cannot be planned", site, hard=False)


def _restorative(problem: ToothProblem, policy: Policy) -> Iterator[Gap]:
    sites = problem.anatomy.sites
    wanted = [s for s, known in sites.items() if known.sound_tooth or known.existing_finish_line]
    if not wanted:
        yield Gap(
            "sound_tooth_mm",
            "no finish line can be set, so nothing is planned from it",
            hard=problem.anatomy.chart.restoration is Restoration.PLANNED,
        )
    for site in wanted:
        if sites[site].margin is None:
            yield Gap("margin_mm", "how far the margin must move for the finish line cannot be said", site)
        if policy.is_hard(Limit.RESTORATIVE_MARGIN, problem.anatomy.purpose):
            yield from _crest_gap(problem, policy.need_mid, site)
    middle = problem.sites.get(Site.MIDFACIAL)
    if middle is not None and middle.advance > EPSILON:
        yield from _keratinised_gap(problem, policy)


def _crest_gap(problem: ToothProblem, need: Need, site: Site) -> Iterator[Gap]:
    known = problem.anatomy.site(site)
    if known.crest is None:
        yield Gap(
            "sounding_mm",
            known.crest_conflict or "whether, and how much, bone must be removed cannot be said",
            site,
        )
    if need.value is None:
        yield Gap("healthy_reference", f"the individual need is {need.source}", site)


def _keratinised_gap(problem: ToothProblem, policy: Policy) -> Iterator[Gap]:
    hard = policy.is_hard(Limit.KERATINISED_TISSUE, problem.anatomy.purpose)
    if problem.keratinised is None and problem.anatomy.site(Site.MIDFACIAL).mucogingival is None and hard:
        yield Gap(
            "mucogingival_mm",
            "how much collar may be excised, and so the procedure, cannot be said",
            Site.MIDFACIAL,
        )


def _furcation(problem: ToothProblem, policy: Policy) -> Iterator[Gap]:
    """A furcation that was not charted counts only where bone would go."""
    move = 0.0 if problem.is_restorative else max(0.0, problem.wish or 0.0)
    hard = policy.is_hard(Limit.FURCATION, problem.anatomy.purpose)
    seen: set[str] = set()
    for site, entry in problem.sites.items():
        surface = site.surface
        locked = entry.bone_caps and min(entry.bone_caps.values()) < EPSILON
        if surface in problem.anatomy.furcation or surface not in furcated_surfaces(problem.tooth) or locked:
            continue
        if entry.bone_demand(move) > EPSILON and surface not in seen:
            seen.add(surface)
            yield Gap(
                f"furcation_mm.{surface}",
                "how near the crest would come to the furcation cannot be said",
                site,
                hard=hard,
            )


def _soft(problem: ToothProblem) -> Iterator[Gap]:
    """Readings without which something stays unsaid, though a cut can be given."""
    anatomy, chart = problem.anatomy, problem.anatomy.chart
    if chart.status is None:
        yield Gap("status", "it is planned as a natural tooth because nobody said otherwise", hard=False)
    if not problem.is_restorative and problem.target is None:
        stands_in = anatomy.role.position != anatomy.tooth.position
        width = "width_mm" if anatomy.width is None else "future_width_mm" if stands_in else "target_ratio"
        yield Gap(
            f"{width} or target_length_mm",
            "no target length of its own: no width with a published clinical proportion for this tooth in this role, and "
            "no given length; its place among its neighbours leads",
            hard=False,
        )
    if anatomy.edge_height is None:
        yield Gap(
            "edge_height_mm",
            "its margin cannot be compared in height with its neighbours or with the other side",
            hard=False,
        )
    elif not anatomy.axis_charted:
        yield Gap(
            "axis_tip_deg and axis_torque_deg",
            "heights take the tooth as upright; 20 degrees over 10 mm are 0.6 mm",
            hard=False,
        )
    if anatomy.apex is None:
        yield Gap("root_apex_mm", "the root-to-crown ratio before and after cannot be said", hard=False)
    if anatomy.site(Site.MIDFACIAL).bone_thickness is None:
        yield Gap("bone_thickness_mm", "whether the bone must be thinned cannot be said", Site.MIDFACIAL, hard=False)


def _septa(problem: ToothProblem, anatomy: Anatomy) -> Iterator[Gap]:
    for site in (Site.MESIAL, Site.DISTAL):
        known = problem.anatomy.site(site)
        if known.crest is None:
            yield Gap("sounding_mm", "the step of the crest to this site cannot be checked", site, hard=False)
        if known.contact is None and known.margin is not None and _has_contact(problem.tooth, site, anatomy):
            yield Gap("contact_mm", "contact to crest, and so the papilla's chance, cannot be said", site, hard=False)


def _has_contact(tooth: Tooth, site: Site, anatomy: Anatomy) -> bool:
    """False where the neighbour is missing, or where the contact that will be made was given for both teeth."""
    beside = anatomy.neighbour(tooth, site)
    if beside is not None and anatomy.teeth[beside].chart.status is Status.ABSENT:
        return False
    return not any(
        papilla.future_contact is not None and tooth in (pair.right, pair.left) and pair.site_of(tooth) is site
        for pair, papilla in anatomy.papillae.items()
    )

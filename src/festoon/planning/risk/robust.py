"""The plan that keeps each limit with a chosen probability: chance constraints as a tightening of each limit.

Every limit is tightened by a quantile of the errors that stand behind it, one limit at a time, and the plan is solved
anew by the same programme. With ``Q(e)`` the quantile, at the chosen probability, of an error that breaks the limit:

* *CEJ*: ``margin ≤ CEJ + cover − Q(CEJ reading + hand)``;
* *keratinised tissue*: ``incision ≤ junction − minimum − Q(junction reading + hand)``;
* *furcation*: ``crest ≤ furcation − clearance − Q(furcation reading + hand)``;
* *margin to bone*: where bone is cut, ``crest ≥ margin + need + Q(hand at the margin − hand at the bone)``; where it is
  left alone, ``charted crest − Q(crest reading + hand) ≥ margin + need``. A finish line counts with its own error.

That is the plan of a mouth as unfavourable as its readings leave open, so the limits are posed by the same code that
poses the plan's. A quantile below zero loosens nothing. Two limits at 0.9 each hold together less often than 0.9.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import ceil

import numpy as np

from festoon.model.anatomy import Known, SiteAnatomy, ToothAnatomy
from festoon.model.dentition import Site, Tooth
from festoon.model.plan import RobustSite
from festoon.planning import words
from festoon.planning.conflicts import distance
from festoon.planning.pose import build
from festoon.planning.problem import EPSILON, Problem, SiteProblem, State, ToothProblem
from festoon.planning.risk.drawn_mouth import DrawnMouth, Quantity
from festoon.planning.risk.reading_noise import Array
from festoon.planning.solve import Solution, solve

PROBABILITY = 0.9
"""With which each limit is kept, unless asked otherwise: setting of festoon, no published source."""


@dataclass(frozen=True)
class Robust:
    """The robust plan beside the nominal one."""

    teeth: tuple[RobustSite, ...]
    price: str


def robust_of(mouth: DrawnMouth, problem: Problem, solution: Solution, probability: float) -> Robust:
    """The plan that keeps each limit with ``probability``, and its price against ``solution``."""
    tight = tightened(mouth, problem, probability)
    found = solve(tight)
    bones = _lowered(problem, tight, found)
    teeth = [tooth for tooth in problem.teeth if tooth in solution.operated | found.operated]
    return Robust(
        teeth=tuple(
            RobustSite(
                tooth=tooth.fdi,
                margin_move_mm=round(found.moves.get(tooth, 0.0), 3) + 0.0,
                bone_removal_mm=round(max((b for (t, _), b in bones.items() if t == tooth), default=0.0), 3) + 0.0,
            )
            for tooth in teeth
        ),
        price=_price(problem, solution, found, bones, probability),
    )


def quantile(error: Array, probability: float) -> float:
    """The least drawn value that at least ``probability`` of the draws do not exceed; never below zero, mm."""
    rank = max(0, ceil(probability * len(error)) - 1)
    return max(0.0, float(np.partition(error, rank)[rank]))


def tightened(mouth: DrawnMouth, problem: Problem, probability: float) -> Problem:
    """The problem with every limit tightened so that it is kept with ``probability``."""
    anatomy = problem.anatomy
    teeth, needs = dict(anatomy.teeth), {}
    for tooth, entry in problem.teeth.items():
        if entry.state is State.OPEN:
            cuts = {s: _cut_margin(mouth, entry, h, probability) for s, h in entry.sites.items() if _asks(h)}
            needs[tooth] = cuts
            teeth[tooth] = _unfavourable(mouth, entry, anatomy.teeth[tooth], cuts, probability)
    withheld = {tooth: entry.why for tooth, entry in problem.teeth.items() if entry.state is State.WITHHELD}
    posed = build(replace(anatomy, teeth=teeth), problem.policy, withheld=withheld)
    return replace(posed, teeth={t: _with_needs(entry, needs.get(t, {})) for t, entry in posed.teeth.items()})


def _asks(here: SiteProblem) -> bool:
    """True where a margin that moves or a finish line may ask for bone."""
    return here.crest is not None and (here.share > EPSILON or here.finish_line is not None)


def _edge(mouth: DrawnMouth, entry: ToothProblem, here: SiteProblem) -> Array:
    """Error that brings the upper edge of the space nearer to bone: the hand at the margin, or the finish line."""
    if here.finish_line is None:
        return mouth.hand(entry.tooth, here.site, "margin")
    key = "existing_finish_line_mm" if entry.anatomy.site(here.site).sound_tooth is None else "sound_tooth_mm"
    return -mouth.error(Quantity(entry.tooth, here.site, key))


def _cut_margin(mouth: DrawnMouth, entry: ToothProblem, here: SiteProblem, probability: float) -> float:
    """What is added to the need where bone is cut to a level."""
    return quantile(_edge(mouth, entry, here) - mouth.hand(entry.tooth, here.site, "crest"), probability)


def _unfavourable(
    mouth: DrawnMouth, entry: ToothProblem, known: ToothAnatomy, cuts: Mapping[Site, float], probability: float
) -> ToothAnatomy:
    """The tooth with each level moved towards harm by its quantile. From the present edge, as ``known`` is."""
    tooth, sites = entry.tooth, dict(known.sites)
    for site, here in entry.sites.items():
        anatomy, hand = sites[site], mouth.hand(tooth, site, "margin")

        def less(level: Known | None, error: Array) -> Known | None:
            return level and replace(level, value=level.value - quantile(error, probability))

        moves = here.share > EPSILON or here.advance > EPSILON
        changed: SiteAnatomy = anatomy
        if moves and anatomy.cej is not None:
            changed = replace(changed, cej=less(anatomy.cej, mouth.error(Quantity(tooth, site, "cej_mm")) + hand))
        if moves and anatomy.mucogingival is not None:
            error = mouth.error(Quantity(tooth, site, "mucogingival_mm")) + hand
            changed = replace(changed, mucogingival=less(anatomy.mucogingival, error))
        if site in cuts and anatomy.crest is not None:
            whole = quantile(mouth.crest_error(tooth, site) + _edge(mouth, entry, here), probability)
            crest = replace(anatomy.crest, value=anatomy.crest.value - max(0.0, whole - cuts[site]))
            changed = replace(changed, crest=crest)
        sites[site] = changed
    furcation = {
        surface: _nearer_furcation(mouth, entry, surface, level, probability)
        for surface, level in known.furcation.items()
    }
    return replace(known, sites=sites, furcation=furcation)


def _nearer_furcation(mouth: DrawnMouth, entry: ToothProblem, surface: str, level: Known, probability: float) -> Known:
    hand = next((mouth.hand(entry.tooth, site, "crest") for site in entry.sites if site.surface == surface), None)
    readings = next(levels for name, levels in entry.anatomy.chart.furcation_mm.items() if name == surface)
    error = mouth.furcation_error(entry.tooth, surface, readings)
    return replace(level, value=level.value - quantile(error if hand is None else error + hand, probability))


def _with_needs(entry: ToothProblem, more: Mapping[Site, float]) -> ToothProblem:
    """The tooth with the needs of its sites raised by what the hand may miss."""
    sites = {
        site: here if here.need is None or site not in more else replace(here, need=here.need + more[site])
        for site, here in entry.sites.items()
    }
    return replace(entry, sites=sites)


def _lowered(problem: Problem, tight: Problem, found: Solution) -> dict[tuple[Tooth, Site], float]:
    """Bone to be removed as counted from the charted crest, mm."""
    bones = {}
    for (tooth, site), bone in found.bones.items():
        planned, charted = tight.teeth[tooth].sites[site].crest, problem.teeth[tooth].sites[site].crest
        if planned is not None and charted is not None and planned + bone - charted > EPSILON:
            bones[tooth, site] = planned + bone - charted
    return bones


def _price(
    problem: Problem,
    plan: Solution,
    found: Solution,
    bones: Mapping[tuple[Tooth, Site], float],
    probability: float,
) -> str:
    """What keeping each limit with the probability costs against the plan, in words."""
    farther = distance(problem, found) - distance(problem, plan)
    bone = sum(bones.values()) - sum(plan.bones.values())
    parts = [
        f"{words.short(abs(farther))} mm {'farther from' if farther > 0 else 'nearer to'} the targets in sum"
        if abs(farther) >= 0.05
        else "as near to the targets",
        f"{words.short(abs(bone))} mm {'more' if bone > 0 else 'less'} bone" if abs(bone) >= 0.05 else "the same bone",
    ]
    dropped = [tooth.fdi for tooth in problem.teeth if tooth in plan.operated - found.operated]
    if dropped:
        parts.append(f"{', '.join(dropped)} not operated: no move worth making keeps every limit that often")
    opened = [
        f"{tooth} {site.value.replace('_', ' ')}" for tooth, site in found.bones if (tooth, site) not in plan.bones
    ]
    if opened:
        parts.append(
            f"the bone is exposed and its level checked at {', '.join(opened)}, where the plan leaves it alone"
        )
    return f"Keeping each limit in {probability * 100:.0f} of 100 such mouths costs, against the plan: " + "; ".join(
        parts
    )

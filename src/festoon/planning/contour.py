"""The contour of the crest: steps between neighbouring sites, and the least bone that satisfies all of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from math import inf

from festoon.model.dentition import FACIAL_SITES, LINGUAL_SITES, Site, Tooth, facing
from festoon.planning.limits import Limit
from festoon.planning.problem import EPSILON, Problem, SiteProblem, ToothProblem


@dataclass(frozen=True)
class Step:
    """Two neighbouring sites of the crest, in one frame, and the largest difference allowed between them."""

    first: tuple[Tooth, Site]
    second: tuple[Tooth, Site]
    first_crest: float
    second_crest: float
    limit: float
    first_cosine: float = 1.0
    second_cosine: float = 1.0
    edge_difference: float = 0.0

    def size(self, first_bone: float, second_bone: float) -> float:
        """The step after removing bone at both sites, mm; signed, first minus second."""
        return (
            (self.first_crest + first_bone) * self.first_cosine
            - (self.second_crest + second_bone) * self.second_cosine
            + self.edge_difference
        )


def steps(problem: Problem, entry: ToothProblem) -> list[Step]:
    """Steps of the crest round one tooth, and across to the neighbour's share of each septum."""
    policy, found = problem.policy, []
    width = entry.anatomy.width.value if entry.anatomy.width else None
    for surface in (FACIAL_SITES, LINGUAL_SITES):
        known = [(s, c) for s in surface if (p := entry.sites.get(s)) is not None and (c := p.crest) is not None]
        for (one, crest), (two, other) in pairwise(known):
            parts = surface.index(two) - surface.index(one)
            allowed = policy["crest_step_mm"]
            if width is not None:
                allowed = min(allowed, policy["crest_slope"] * width * parts / 4)
            limit = max(allowed, abs(crest - other))
            found.append(Step((entry.tooth, one), (entry.tooth, two), crest, other, limit))
    for site in (Site.MESIAL, Site.DISTAL):
        neighbour = problem.neighbour(entry.tooth, site)
        here = entry.sites.get(site)
        there = neighbour.sites.get(facing(neighbour.tooth, entry.tooth)) if neighbour else None
        if neighbour is None or here is None or there is None or here.crest is None or there.crest is None:
            continue
        if entry.anatomy.edge_height is None or neighbour.anatomy.edge_height is None:
            continue
        step = Step(
            (entry.tooth, site),
            (neighbour.tooth, there.site),
            here.crest,
            there.crest,
            0.0,
            entry.anatomy.cosine,
            neighbour.anatomy.cosine,
            entry.anatomy.edge_height - neighbour.anatomy.edge_height,
        )
        limit = max(policy["interdental_step_mm"], abs(step.size(0.0, 0.0)))
        found.append(replace(step, limit=limit))
    return found


def exact_bones(
    problem: Problem,
    operated: frozenset[Tooth],
    moves: Mapping[Tooth, float],
    relax: Mapping[tuple[Limit, Tooth], float],
) -> dict[tuple[Tooth, Site], float]:
    """The least bone that satisfies every demand and every step: a fixed point, so it is unique.

    A demand only ever raises a site's bone, and a step only ever asks the higher neighbour to follow, so raising from
    nothing until nothing changes gives the smallest answer at every site at once.
    """
    bones: dict[tuple[Tooth, Site], float] = {}
    in_order = [tooth for tooth in problem.teeth if tooth in operated]
    for tooth in in_order:
        entry = problem.teeth[tooth]
        limit = Limit.RESTORATIVE_MARGIN if entry.is_restorative else Limit.SUPRACRESTAL_SPACE
        if problem.policy.is_hard(limit, entry.anatomy.purpose):
            for site, here in entry.sites.items():
                demand = here.bone_demand(moves.get(tooth, 0.0)) - relax.get((limit, tooth), 0.0)
                bones[tooth, site] = max(0.0, min(demand, _room(here, tooth, relax)))
    every = [
        step
        for tooth in in_order
        if problem.policy.is_hard(Limit.CREST_CONTOUR, problem.teeth[tooth].anatomy.purpose)
        for step in steps(problem, problem.teeth[tooth])
    ]
    changed = True
    while changed:
        changed = False
        for step in every:
            size = step.size(bones.get(step.first, 0.0), bones.get(step.second, 0.0))
            lagging, cosine = (step.second, step.second_cosine) if size > 0 else (step.first, step.first_cosine)
            excess = (abs(size) - step.limit - relax.get((Limit.CREST_CONTOUR, step.first[0]), 0.0)) / cosine
            tooth, site = lagging
            room = _room(problem.teeth[tooth].sites[site], tooth, relax) - bones.get(lagging, 0.0)
            if tooth in operated and min(excess, room) > EPSILON:
                bones[lagging] = bones.get(lagging, 0.0) + min(excess, room)
                changed = True
    return {key: bone for key, bone in bones.items() if bone > EPSILON}


def holds(
    problem: Problem,
    tooth: Tooth,
    moves: Mapping[Tooth, float],
    bones: Mapping[tuple[Tooth, Site], float],
    relax: Mapping[tuple[Limit, Tooth], float],
) -> bool:
    """True where one tooth's bone meets every demand and every step within what its limits give."""
    entry, policy = problem.teeth[tooth], problem.policy
    space = Limit.RESTORATIVE_MARGIN if entry.is_restorative else Limit.SUPRACRESTAL_SPACE
    if policy.is_hard(space, entry.anatomy.purpose):
        give = relax.get((space, tooth), 0.0) + EPSILON
        for site, here in entry.sites.items():
            if here.bone_demand(moves.get(tooth, 0.0)) > bones.get((tooth, site), 0.0) + give:
                return False
    if not policy.is_hard(Limit.CREST_CONTOUR, entry.anatomy.purpose):
        return True
    give = relax.get((Limit.CREST_CONTOUR, tooth), 0.0) + EPSILON
    return all(
        abs(step.size(bones.get(step.first, 0.0), bones.get(step.second, 0.0))) <= step.limit + give
        for step in steps(problem, entry)
    )


def _room(site: SiteProblem, tooth: Tooth, relax: Mapping[tuple[Limit, Tooth], float]) -> float:
    """Most bone that may go at a site."""
    return min((cap + relax.get((limit, tooth), 0.0) for limit, cap in site.bone_caps.items()), default=inf)

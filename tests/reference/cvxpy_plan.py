"""The plan's programme once more, written slowly and plainly in a general modelling layer.

It takes the posed problem (wishes, caps, needs) and writes every row and rank anew from the method page, with none of the
planner's own modelling: absolute values as such, one generous bound instead of tight ones. Aesthetic teeth under default
forces only.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import cvxpy as cp
import numpy as np

from festoon.evidence.table import published
from festoon.model.dentition import FACIAL_SITES, LINGUAL_SITES, Site, Tooth
from festoon.planning.problem import Problem, State, ToothProblem
from festoon.planning.solve import Solution

FAR_MM = 8.0
"""No margin moves and no crest is lowered as far as this; a generous bound, so that the planner's tight ones are tested."""
SLACK = 1e-5
_PREMOLARS_CORONAL = {4: "GIN-011", 5: "GIN-012"}


@dataclass
class Written:
    """The programme in cvxpy."""

    moves: cp.Variable
    collars: cp.Variable
    cut: cp.Variable
    bones: cp.Variable
    larger: cp.Variable
    rows: list[Any]
    ranks: list[Any]
    teeth: list[Tooth]
    sites: list[tuple[Tooth, Site]]

    def optima(self) -> list[float]:
        """The optimum of each rank, each held before the next."""
        held: list[Any] = []
        found = []
        for rank in self.ranks:
            task = cp.Problem(cp.Minimize(rank), self.rows + held)
            task.solve(
                solver=cp.HIGHS,
                mip_rel_gap=0.0,
                mip_abs_gap=1e-7,
                mip_feasibility_tolerance=1e-7,
                threads=1,
                random_seed=1,
            )
            if task.status != cp.OPTIMAL:
                raise RuntimeError(f"the modelling layer ended with {task.status}")
            found.append(float(task.value))
            held.append(rank <= task.value + SLACK)
        return found

    def of(self, solution: Solution) -> tuple[list[float], float]:
        """What another solution reaches in each rank, and the largest amount by which it breaks a row, mm."""
        self.moves.value = np.array([solution.moves.get(t, 0.0) for t in self.teeth])
        self.collars.value = np.array([solution.collars.get(t, 0.0) for t in self.teeth])
        self.cut.value = np.array([float(t in solution.operated) for t in self.teeth])
        self.bones.value = np.array([solution.bone(*key) for key in self.sites])
        self.larger.value = np.array(
            [max((solution.moves.get(t, 0.0) for t in self.teeth if t.position == p), default=0.0) for p in range(1, 9)]
        )
        broken = max(float(np.max(row.violation())) for row in self.rows)
        return [float(rank.value) for rank in self.ranks], broken


def write(problem: Problem) -> Written:
    """The programme of a problem."""
    policy = problem.policy
    open_ones = [e for e in problem.teeth.values() if e.state is State.OPEN and e.margin is not None]
    if any(e.is_restorative for e in open_ones):
        raise ValueError("restorative teeth are not written here")
    teeth = [entry.tooth for entry in open_ones]
    sites = [(e.tooth, site) for e in open_ones for site, here in e.sites.items() if here.crest is not None]
    n, m = len(teeth), len(sites)
    x, e, z, b = cp.Variable(n), cp.Variable(n), cp.Variable(n, boolean=True), cp.Variable(m)
    larger = cp.Variable(8)
    at = {tooth: i for i, tooth in enumerate(teeth)}
    bone_at = {key: j for j, key in enumerate(sites)}
    rows: list[Any] = [x >= policy["smallest_move_mm"] * z, x <= FAR_MM * z, e >= 0, e <= x, b >= 0, larger >= 0]
    for entry in open_ones:
        i = at[entry.tooth]
        rows += [x[i] <= cap for cap in entry.move_caps.values()]
        if entry.collar_cap is not None:
            rows.append(e[i] <= entry.collar_cap)
        rows.append(larger[entry.tooth.position - 1] >= x[i])
    for (tooth, site), j in bone_at.items():
        here, i = problem.teeth[tooth].sites[site], at[tooth]
        rows.append(b[j] <= FAR_MM * z[i])
        rows += [b[j] <= cap for cap in here.bone_caps.values()]
        if here.share > 1e-6 and here.need is not None and here.crest is not None:
            # Wherever the margin moves: crest after ≥ margin after + need.
            lacking = here.margin + here.need - here.crest
            rows.append(b[j] >= here.share * x[i] + (lacking * z[i] if lacking > 0 else lacking))

    def crest(tooth: Tooth, site: Site) -> Any:
        here = problem.teeth[tooth].sites[site].crest
        return here + b[bone_at[tooth, site]] if (tooth, site) in bone_at else here

    for one, other, limit in _steps(problem, open_ones):
        first, second = (_in_frame(problem, key, crest(*key), one[0] != other[0]) for key in (one, other))
        rows.append(cp.abs(first - second) <= limit)

    def height(entry: ToothProblem | None) -> Any:
        if entry is None or entry.margin is None or entry.anatomy.edge_height is None or not entry.is_guide:
            return None
        move = x[at[entry.tooth]] if entry.tooth in at else 0.0
        return entry.anatomy.edge_height + (entry.margin + move) * entry.anatomy.cosine

    outside: list[Any] = []
    distance: list[Any] = []
    for entry in open_ones:
        if entry.target is None or entry.margin is None:
            continue
        apart = cp.abs(entry.margin + x[at[entry.tooth]] - entry.target.length_mm)
        outside.append(policy["outside_length"] * cp.pos(apart - entry.target.tolerance_mm))
        distance.append(policy["weight_length"] * apart)
    for quadrant in (1, 4):
        for position in range(1, 9):
            right, left = (_role(problem, q, position) for q in (quadrant, {1: 2, 4: 3}[quadrant]))
            ends = height(right), height(left)
            if (
                right is None
                or left is None
                or any(end is None for end in ends)
                or not {right.tooth, left.tooth} & at.keys()
            ):
                continue
            outside.append(cp.pos(cp.abs(ends[0] - ends[1]) - policy["pair_tolerance_mm"]))
            distance.append(policy["weight_pair"] * cp.abs(ends[0] - ends[1]))
    for quadrant in (1, 2):
        three = [_role(problem, quadrant, position) for position in (1, 2, 3)]
        heights = [height(entry) for entry in three]
        if any(h is None for h in heights) or not {entry.tooth for entry in three if entry} & at.keys():
            continue
        w = [_width(entry, row) for entry, row in zip(three, ("CRN-019", "CRN-022", "CRN-025"), strict=True)]
        share = ((w[0] + w[1]) / 2) / (w[1] + (w[0] + w[2]) / 2)
        under = heights[0] * (1 - share) + heights[2] * share - heights[1]
        low, high = policy["lateral_coronal_min_mm"], policy["lateral_coronal_max_mm"]
        place = cp.maximum(low - under, under - high, 0)
        outside.append(place)
        distance.append(policy["weight_lateral"] * place)
        if three[1] is not None and three[1].tooth in at:
            c, lat, k = (entry.height(entry.margin) for entry in three if entry)
            rows.append(under >= min(0.0, c * (1 - share) + k * share - lat))
    for entry in open_ones:
        role = entry.anatomy.role
        row = _PREMOLARS_CORONAL.get(role.position) if role.is_upper and entry.target is None else None
        own, canine = height(entry), height(_role(problem, role.quadrant, 3))
        if row is not None and own is not None and canine is not None:
            apart = cp.abs(canine - own - published(row).value)
            outside.append(cp.pos(apart - policy["premolar_tolerance_mm"]))
            distance.append(policy["weight_lateral"] * apart)

    halves = np.array([0.5**t.position for t in teeth])
    order = halves @ x + 0.5 * (0.5 ** np.arange(1, 9)) @ larger
    ranks = [cp.sum(outside), cp.sum(z), cp.sum(distance), cp.sum(b), cp.sum(x) - cp.sum(e), order]
    return Written(x, e, z, b, larger, rows, ranks, teeth, sites)


def _steps(
    problem: Problem, open_ones: list[ToothProblem]
) -> Iterator[tuple[tuple[Tooth, Site], tuple[Tooth, Site], float]]:
    """Neighbouring sites of the crest of each open tooth, and across each septum, with the step allowed."""
    policy = problem.policy
    for entry in open_ones:
        for surface in (FACIAL_SITES, LINGUAL_SITES):
            known = [site for site in surface if site in entry.sites and entry.sites[site].crest is not None]
            for one, two in pairwise(known):
                allowed = policy["crest_step_mm"]
                if entry.anatomy.width is not None:
                    parts = surface.index(two) - surface.index(one)
                    allowed = min(allowed, policy["crest_slope"] * entry.anatomy.width.value * parts / 4)
                present = abs((entry.sites[one].crest or 0.0) - (entry.sites[two].crest or 0.0))
                yield (entry.tooth, one), (entry.tooth, two), max(allowed, present)
        for other in problem.teeth.values():
            if not entry.tooth.is_neighbour_of(other.tooth):
                continue
            keys = [(one.tooth, _towards(one.tooth, two.tooth)) for one, two in ((entry, other), (other, entry))]
            crests = [problem.teeth[t].sites[s].crest if s in problem.teeth[t].sites else None for t, s in keys]
            if None in crests or entry.anatomy.edge_height is None or other.anatomy.edge_height is None:
                continue
            first, second = (_in_frame(problem, key, crest, True) for key, crest in zip(keys, crests, strict=True))
            yield keys[0], keys[1], max(policy["interdental_step_mm"], abs(first - second))


def _in_frame(problem: Problem, key: tuple[Tooth, Site], crest: Any, is_across: bool) -> Any:
    anatomy = problem.teeth[key[0]].anatomy
    return (anatomy.edge_height or 0.0) + crest * anatomy.cosine if is_across else crest


def _towards(tooth: Tooth, other: Tooth) -> Site:
    is_mesial = tooth.is_right != other.is_right or other.position < tooth.position
    return Site.MESIAL if is_mesial else Site.DISTAL


def _role(problem: Problem, quadrant: int, position: int) -> ToothProblem | None:
    return problem.by_role(Tooth(f"{quadrant}{position}"))


def _width(entry: ToothProblem | None, row: str) -> float:
    return entry.anatomy.width.value if entry is not None and entry.anatomy.width else published(row).value

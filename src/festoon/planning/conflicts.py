"""An infeasible wish is an answer: which limits stop it, by how much each would have to give, what that would buy.

How much each limit would have to give comes from an elastic programme: every wish is met as far as it can be, and the
sum of what the limits give is smallest. What +0.5 and +1.0 mm of a limit would buy comes from solving the plan anew
with that limit relaxed, since mixed-integer programmes have no duals.
"""

from __future__ import annotations

from math import ceil

from festoon.evidence.table import published
from festoon.model.dentition import Tooth
from festoon.model.plan import Conflict, PricePoint
from festoon.planning import words
from festoon.planning.limits import RULES, Limit
from festoon.planning.problem import EPSILON, Problem, State, ToothProblem
from festoon.planning.solve import Model, Solution, Variant, solve

PRICED_AT_MM = (0.5, 1.0)
_WORTH_SAYING_MM = 0.05
"""A wish missed by less than this is no conflict: far below any reading."""


def conflicts_of(problem: Problem, solution: Solution) -> tuple[Conflict, ...]:
    """Every unmet wish with the limits that stop it, and its price."""
    found: list[Conflict] = []
    given = Model(problem, elastic=True).wishes() if _any_unmet(problem, solution) else {}
    for (limit, tooth), by in sorted(given.items(), key=lambda item: (item[0][1].column, item[0][0])):
        if by > _WORTH_SAYING_MM and _is_unmet(problem.teeth[tooth], solution):
            found.append(_priced(problem, solution, limit, tooth, by))
    for entry in problem.teeth.values():
        found += _unpriced(entry)
    return tuple(found)


def _any_unmet(problem: Problem, solution: Solution) -> bool:
    return any(_is_unmet(entry, solution) for entry in problem.teeth.values() if entry.state is State.OPEN)


def _is_unmet(entry: ToothProblem, solution: Solution) -> bool:
    """True where the tooth falls short of its target, or a finish line stays unserved."""
    if entry.is_restorative:
        return entry.wants_surgery and entry.tooth not in solution.operated
    wish = entry.wish
    if wish is None or entry.target is None:
        return False
    short = wish - solution.moves.get(entry.tooth, 0.0)
    # A tooth left alone within tolerance has what it wants.
    return short > (_WORTH_SAYING_MM if entry.tooth in solution.operated else entry.target.tolerance_mm + EPSILON)


def distance(problem: Problem, solution: Solution, tooth: Tooth | None = None) -> float:
    """Distance to the target length of one tooth, or its sum over all teeth, mm."""
    entries = problem.teeth.values() if tooth is None else (problem.teeth[tooth],)
    total = 0.0
    for entry in entries:
        if entry.is_restorative:
            unserved = entry.wants_surgery and entry.tooth not in solution.operated
            total += max((s.bone_demand(0.0) for s in entry.sites.values()), default=0.0) if unserved else 0.0
        elif entry.wish is not None:
            total += abs(entry.wish - solution.moves.get(entry.tooth, 0.0))
    return total


def _priced(problem: Problem, solution: Solution, limit: Limit, tooth: Tooth, by: float) -> Conflict:
    before, bone = distance(problem, solution, tooth), sum(solution.bones.values())
    prices = []
    whole = ceil(by * 1000) / 1000
    most = _may_give(problem, limit)
    for relax in sorted({*PRICED_AT_MM, whole} if whole > PRICED_AT_MM[0] else {*PRICED_AT_MM}):
        if most is not None and relax > most + EPSILON:
            continue
        anew = solve(problem, Variant(relax={(limit, tooth): relax}))
        prices.append(
            PricePoint(
                relax_mm=relax,
                buys_mm=round(max(0.0, before - distance(problem, anew, tooth)), 4) + 0.0,
                bone_mm=round(sum(anew.bones.values()) - bone, 4) + 0.0,
            )
        )
    return Conflict(
        limit=limit.value,
        tooth=tooth.fdi,
        by_mm=round(by, 3),
        prices=tuple(prices),
        buys="; ".join(words.bought(price.relax_mm, price.buys_mm, price.bone_mm) for price in prices),
        text=words.stopped(tooth.fdi, limit, by)
        if most is None or by < most + EPSILON
        else f"{tooth}: {RULES[limit].words} stops a further {words.short(by)} mm, and its floor lets it give no more than "
        f"{most:g}; a shorter ferrule, or orthodontic extrusion first, would help",
    )


def _may_give(problem: Problem, limit: Limit) -> float | None:
    """Most that a limit may give at all: the furcation's floor stands whatever is asked; None where there is none."""
    if limit is not Limit.FURCATION:
        return None
    return max(0.0, problem.policy["furcation_clearance_mm"] - published("DX-020").value)


def _unpriced(entry: ToothProblem) -> list[Conflict]:
    """Wishes that no millimetre of a limit would meet."""
    tooth, wish, target = entry.tooth.fdi, entry.wish, entry.target
    found = []
    if entry.anatomy.sites and any(site.crest_conflict for site in entry.anatomy.sites.values()):
        found += [
            Conflict(
                limit="same_visit",
                tooth=tooth,
                site=site.site,
                buys="reading both on one day would settle it",
                text=f"{tooth} {site.site}: {site.crest_conflict}",
            )
            for site in entry.anatomy.sites.values()
            if site.crest_conflict
        ]
    if wish is None or target is None:
        return found
    if entry.state in (State.BLOCKED, State.WITHHELD) and entry.wants_surgery:
        found.append(
            Conflict(
                limit=Limit.CLEARED_FIRST.value,
                tooth=tooth,
                by_mm=round(wish, 3),
                buys="length can be added at the edge, not at the gingiva"
                if entry.anatomy.chart.ankylosed
                else "the cause treated and everything read again would show what is left to plan",
                text=f"{tooth}: {words.short(wish)} mm short of its target; {entry.why}",
            )
        )
    if wish < -target.tolerance_mm - EPSILON and entry.margin is not None:
        rule = RULES[Limit.MARGIN_NOT_INCISAL]
        over = -wish
        found.append(
            Conflict(
                limit=Limit.MARGIN_NOT_INCISAL.value,
                tooth=tooth,
                by_mm=round(over, 3),
                buys=f"{rule.buys.format(mm=words.short(over))} would bring the length to its target",
                text=f"{tooth}: {words.short(over)} mm longer than its target; {rule.words}, so the length stays",
            )
        )
    return found

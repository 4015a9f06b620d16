"""Other plans for the same mouth, from least surgery to closest to target, each with its price."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from festoon.model.dentition import Tooth
from festoon.model.plan import Alternative, Procedure
from festoon.planning import words
from festoon.planning.compose import procedure_of, rounded
from festoon.planning.conflicts import distance
from festoon.planning.gingival_line import pairs
from festoon.planning.limits import Limit
from festoon.planning.outcome import planned_height
from festoon.planning.problem import EPSILON, Problem, State
from festoon.planning.solve import Solution, Variant, solve

DIFFERS_BY_MM = 0.5
_COVER_STEPS_MM = 1.0


def _variants(problem: Problem, plan: Solution) -> Iterator[tuple[str, Variant]]:
    """Candidates; those that turn out the same as the plan or as each other are dropped."""
    open_teeth = [tooth for tooth, entry in problem.teeth.items() if entry.state is State.OPEN]
    fronts = frozenset(tooth for tooth in open_teeth if problem.teeth[tooth].anatomy.role.position == 1)
    yield "leave everything as it is", Variant(only=frozenset())
    yield "soft tissue only, no bone removed", Variant(no_bone=True)
    yield "centrals only", Variant(only=fronts)
    yield (
        "canine to canine only",
        Variant(only=frozenset(t for t in open_teeth if problem.teeth[t].anatomy.role.position <= 3)),
    )
    yield "half of each move", Variant(share=0.5)
    yield "three quarters of each move", Variant(share=0.75)
    yield "no excision: all tissue kept and sutured apically", Variant(no_excision=True)
    yield "every tooth to its target, none spared for being within tolerance", Variant(to_target=True)
    covered = {(Limit.ROOT_EXPOSURE, tooth): _COVER_STEPS_MM for tooth in plan.operated | frozenset(open_teeth)}
    yield (
        f"as the targets ask, with restorations covering up to {_COVER_STEPS_MM:g} mm of root",
        Variant(relax=covered, to_target=True),
    )


def alternatives_of(problem: Problem, plan: Solution) -> tuple[Alternative, ...]:
    """Plans that differ in procedure, in teeth or by at least 0.5 mm somewhere; least surgery first."""
    kept: list[tuple[str, Solution]] = []
    for name, variant in _variants(problem, plan):
        candidate = solve(problem, variant)
        if all(differs(problem, candidate, other) for other in (plan, *(solution for _, solution in kept))):
            kept.append((name, candidate))
    ordered = sorted(kept, key=lambda item: (sum(item[1].moves.values()) + sum(item[1].bones.values()), item[0]))
    return tuple(_alternative(problem, plan, name, solution) for name, solution in ordered)


def differs(problem: Problem, one: Solution, other: Solution) -> bool:
    """True when two plans are worth telling apart."""
    if one.operated != other.operated:
        return True
    if any(
        procedure_of(problem.teeth[tooth], one)[0] is not procedure_of(problem.teeth[tooth], other)[0]
        for tooth in problem.teeth
    ):
        return True
    teeth = one.moves.keys() | other.moves.keys()
    sites = one.bones.keys() | other.bones.keys()
    apart = [abs(one.moves.get(tooth, 0.0) - other.moves.get(tooth, 0.0)) for tooth in teeth]
    apart += [abs(one.bones.get(site, 0.0) - other.bones.get(site, 0.0)) for site in sites]
    return max(apart, default=0.0) >= DIFFERS_BY_MM - EPSILON


def _alternative(problem: Problem, plan: Solution, name: str, solution: Solution) -> Alternative:
    procedures = {
        tooth.fdi: procedure
        for tooth, entry in problem.teeth.items()
        if (procedure := procedure_of(entry, solution)[0]) is not Procedure.NONE
    }
    return Alternative(
        name=name,
        differs=_differences(problem, plan, solution),
        teeth_operated=len(solution.operated),
        bone_mm=_kept(sum(solution.bones.values())),
        collar_mm=_kept(sum(solution.collars.values())),
        distance_to_target_mm=_kept(distance(problem, solution)),
        largest_pair_difference_mm=rounded(_largest_difference(problem, solution)),
        moves_mm={tooth.fdi: _kept(move) for tooth, move in _in_order(problem, solution.moves).items()},
        bone_by_tooth_mm={tooth.fdi: _kept(bone) for tooth, bone in _bone_by_tooth(problem, solution).items()},
        procedures=procedures,
        price=_price(problem, plan, solution),
    )


def _largest_difference(problem: Problem, solution: Solution) -> float | None:
    """The largest left-right difference that a solution leaves, mm; None without two heights to compare."""
    differences = [
        abs(high - low)
        for right, left in pairs(problem)
        if (high := planned_height(right, solution)) is not None and (low := planned_height(left, solution)) is not None
    ]
    return max(differences, default=None)


def _kept(value: float) -> float:
    return round(value, 6) + 0.0


def _in_order(problem: Problem, by_tooth: Mapping[Tooth, float]) -> dict[Tooth, float]:
    return {tooth: by_tooth[tooth] for tooth in problem.teeth if tooth in by_tooth}


def _bone_by_tooth(problem: Problem, solution: Solution) -> dict[Tooth, float]:
    """The deepest cut of each tooth."""
    deepest: dict[Tooth, float] = {}
    for (tooth, _), bone in solution.bones.items():
        deepest[tooth] = max(deepest.get(tooth, 0.0), bone)
    return _in_order(problem, deepest)


def _differences(problem: Problem, plan: Solution, solution: Solution) -> str:
    parts = []
    less = [t.fdi for t in problem.teeth if t in plan.operated - solution.operated]
    more = [t.fdi for t in problem.teeth if t in solution.operated - plan.operated]
    if less:
        parts.append(f"not operated: {', '.join(less)}")
    if more:
        parts.append(f"operated in addition: {', '.join(more)}")
    both = [t for t in problem.teeth if t in solution.operated & plan.operated]
    for tooth in both:
        change = solution.moves.get(tooth, 0.0) - plan.moves.get(tooth, 0.0)
        if abs(change) >= 0.05:
            parts.append(
                f"{tooth}: margin {words.short(abs(change))} mm {'further apical' if change > 0 else 'less apical'}"
            )
    changed = [
        t.fdi
        for t in both
        if procedure_of(problem.teeth[t], solution)[0] is not procedure_of(problem.teeth[t], plan)[0]
    ]
    if changed:
        parts.append(f"other procedure at {', '.join(changed)}")
    return "; ".join(parts) or "bone only"


def _price(problem: Problem, plan: Solution, solution: Solution) -> str:
    nearer = distance(problem, plan) - distance(problem, solution)
    bone = sum(solution.bones.values()) - sum(plan.bones.values())
    teeth = len(solution.operated) - len(plan.operated)
    parts = [
        f"{words.short(abs(nearer))} mm {'nearer to' if nearer > 0 else 'farther from'} the targets in sum"
        if abs(nearer) >= 0.05
        else "as near to the targets",
        f"{words.short(abs(bone))} mm {'more' if bone > 0 else 'less'} bone" if abs(bone) >= 0.05 else "the same bone",
    ]
    before, after = _largest_difference(problem, plan), _largest_difference(problem, solution)
    if before is not None and after is not None and abs(after - before) >= 0.05:
        parts.append(f"largest left-right difference {words.short(after)} instead of {words.short(before)} mm")
    if teeth:
        parts.append(f"{abs(teeth)} {'more' if teeth > 0 else 'fewer'} teeth operated")
    return "; ".join(parts)

"""The rule behind each millimetre: which wish or limit sets a margin, and which a crest."""

from __future__ import annotations

from collections.abc import Iterator

from festoon.planning.gingival_line import central_canine_lines, place_by_neighbour
from festoon.planning.limits import Limit
from festoon.planning.outcome import planned_height
from festoon.planning.problem import EPSILON, Problem, SiteProblem, ToothProblem
from festoon.planning.solve import Solution


def bindings_of(problem: Problem, solution: Solution, entry: ToothProblem, here: SiteProblem) -> Iterator[str]:
    """The rule behind each millimetre of one site: none where nothing is cut."""
    bone = solution.bone(entry.tooth, here.site)
    if solution.shift(here, entry.tooth) > EPSILON:
        yield binding_of_move(problem, solution, entry)
    if bone > EPSILON:
        demand = here.bone_demand(solution.moves.get(entry.tooth, 0.0))
        if demand > EPSILON:
            yield Limit.RESTORATIVE_MARGIN.value if here.finish_line is not None else Limit.SUPRACRESTAL_SPACE.value
        if bone > demand + EPSILON:
            yield Limit.CREST_CONTOUR.value


def binding_of_move(problem: Problem, solution: Solution, entry: ToothProblem) -> str:
    """The rule that sets how far the midfacial margin moves."""
    if entry.is_restorative:
        return "finish_line"
    move = solution.moves.get(entry.tooth, 0.0)
    near = 2e-3
    if entry.wish is not None and abs(move - entry.wish) < near:
        return "target_length"
    for limit, cap in entry.move_caps.items():
        if abs(move - cap) < near:
            return limit.value
    if abs(move - problem.policy["smallest_move_mm"]) < near:
        return Limit.SMALLEST_MOVE.value
    if _at_edge_of_place(problem, solution, entry, near):
        return "place_in_gingival_line"
    partner = problem.by_role(entry.anatomy.role.contralateral)
    own, other = planned_height(entry, solution), planned_height(partner, solution) if partner else None
    if own is not None and other is not None:
        apart = abs(own - other)
        if apart < near or abs(apart - problem.policy["pair_tolerance_mm"]) < near:
            return "left_right_difference"
    return "gingival_line_of_neighbours"


def _at_edge_of_place(problem: Problem, solution: Solution, entry: ToothProblem, near: float) -> bool:
    """True where a lateral or premolar lies at the edge of its place, or a lateral on the line itself."""
    policy, own = problem.policy, planned_height(entry, solution)
    if own is None:
        return False
    for line in central_canine_lines(problem):
        central, canine = (planned_height(line.teeth[i], solution) for i in (0, 2))
        if line.teeth[1] is entry and central is not None and canine is not None:
            under = line.at_lateral(central, canine) - own
            edges = (0.0, policy["lateral_coronal_min_mm"], policy["lateral_coronal_max_mm"])
            return any(abs(under - edge) < near for edge in edges)
    place = place_by_neighbour(problem, entry)
    reference = planned_height(place.reference, solution) if place else None
    if place is None or reference is None:
        return False
    off = abs(reference - own - place.coronal_mm)
    return off < near or abs(off - policy["premolar_tolerance_mm"]) < near

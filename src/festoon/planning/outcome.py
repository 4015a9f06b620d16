"""Where the midfacial margins come to lie when a solution is carried out."""

from __future__ import annotations

from festoon.planning.problem import State, ToothProblem
from festoon.planning.solve import Solution


def is_decided(entry: ToothProblem) -> bool:
    """False where the plan gives no margin for a tooth because something was not measured."""
    if entry.state is not State.UNKNOWN:
        return True
    return not (entry.wish is None or entry.wants_surgery or entry.is_restorative)


def planned_level(entry: ToothProblem, solution: Solution) -> float | None:
    """Planned midfacial margin from the planned edge; None where the plan gives none."""
    if entry.margin is None or not is_decided(entry):
        return None
    return entry.margin + solution.moves.get(entry.tooth, 0.0)


def planned_height(entry: ToothProblem, solution: Solution) -> float | None:
    """The same in the arch frame."""
    return entry.height(planned_level(entry, solution))

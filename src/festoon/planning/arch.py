"""What concerns several teeth at once: left-right differences, the gingival line, flap fields, display."""

from __future__ import annotations

from collections.abc import Sequence

from festoon.model.case import Status
from festoon.model.dentition import Tooth, as_seen
from festoon.model.plan import Arch, GingivalLine
from festoon.planning.compose import rounded
from festoon.planning.gingival_line import central_canine_lines, pairs
from festoon.planning.outcome import is_decided, planned_height
from festoon.planning.problem import EPSILON, Problem
from festoon.planning.solve import Solution


def arch_of(problem: Problem, solution: Solution) -> Arch:
    """The arch part of a plan."""
    present = {
        f"{r.tooth}-{lft.tooth}": _difference(r.height(r.margin), lft.height(lft.margin)) for r, lft in pairs(problem)
    }
    planned = {
        f"{r.tooth}-{lft.tooth}": _difference(planned_height(r, solution), planned_height(lft, solution))
        for r, lft in pairs(problem)
    }
    smile = problem.anatomy.case.smile
    return Arch(
        pair_differences_mm=planned,
        pair_differences_present_mm=present,
        gingival_line=tuple(_lines(problem, solution)),
        flap_fields=flap_fields(problem, solution),
        present_display_mm=smile.gingival_display_mm,
        residual_display_mm=_residual(problem, solution),
        ties=solution.ties,
    )


def _difference(right: float | None, left: float | None) -> float | None:
    return rounded(right - left) if right is not None and left is not None else None


def _lines(problem: Problem, solution: Solution) -> list[GingivalLine]:
    wanted = (problem.policy["lateral_coronal_min_mm"], problem.policy["lateral_coronal_max_mm"])
    found = []
    for line in central_canine_lines(problem):
        central, lateral, canine = (planned_height(entry, solution) for entry in line.teeth)
        at = line.at_lateral(central, canine) if central is not None and canine is not None else None
        heights_known = all(entry.height(entry.margin) is not None for entry in line.teeth)
        found.append(
            GingivalLine(
                side="right" if line.side == "right" else "left",
                central_height_mm=rounded(central),
                canine_height_mm=rounded(canine),
                line_at_lateral_mm=rounded(at),
                lateral_coronal_present_mm=rounded(line.present_coronal) if heights_known else None,
                lateral_coronal_planned_mm=_difference(at, lateral),
                wanted_mm=wanted,
            )
        )
    return found


def flap_fields(problem: Problem, solution: Solution) -> tuple[tuple[str, ...], ...]:
    """Contiguous teeth under one flap: every tooth with bone work or an apical flap, and one tooth beyond (CP-010).

    The field stops at an implant, a pontic or an empty place; a tooth beyond it need not be charted. A tooth that stands
    in another's place lies where that one would. Never one tooth alone.
    """
    stands = {
        entry.anatomy.role: tooth
        for tooth, entry in problem.teeth.items()
        if entry.anatomy.chart.status is not Status.ABSENT
    }
    seat = {tooth: role for role, tooth in stands.items()}
    raised = {
        tooth
        for tooth, entry in problem.teeth.items()
        if any(solution.bone(tooth, site) > EPSILON for site in entry.sites)
        or solution.moves.get(tooth, 0.0) - solution.collars.get(tooth, 0.0) > EPSILON
    }
    stops = {
        tooth
        for tooth, entry in problem.teeth.items()
        if not (entry.anatomy.chart.status or Status.NATURAL).is_rooted
        and entry.anatomy.chart.status is not Status.EXCLUDED
    }
    wide = {(seat[tooth], tooth) for tooth in raised}
    for tooth in raised:
        for role, own in zip(_beside(seat[tooth]), _beside(tooth), strict=False):
            # Who stands in the next place; where nobody charted does, the next tooth by number.
            found = stands.get(role, own)
            if found not in stops:
                wide.add((seat.get(found, role), found))
    fields: list[list[Tooth]] = []
    last: Tooth | None = None
    for role in as_seen(role for role, _ in wide):
        tooth = next(found for place, found in wide if place == role)
        if last is not None and last.is_neighbour_of(role):
            fields[-1].append(tooth)
        else:
            fields.append([tooth])
        last = role
    return tuple(tuple(tooth.fdi for tooth in teeth) for teeth in fields)


def _beside(tooth: Tooth) -> Sequence[Tooth]:
    quadrant, position = tooth.quadrant, tooth.position
    mesial = Tooth(f"{quadrant}{position - 1}") if position > 1 else tooth.contralateral
    return (mesial, Tooth(f"{quadrant}{position + 1}")) if position < 8 else (mesial,)


def _residual(problem: Problem, solution: Solution) -> float | None:
    """Display now minus the mean apical move of the upper centrals, as heights, at the smile that was recorded."""
    display = problem.anatomy.case.smile.gingival_display_mm
    centrals = [entry for code in ("11", "21") if (entry := problem.by_role(Tooth(code))) is not None]
    if display is None or not centrals or not all(is_decided(entry) for entry in centrals):
        return None
    moves = [solution.moves.get(entry.tooth, 0.0) * entry.anatomy.cosine for entry in centrals]
    return rounded(display - sum(moves) / len(moves))

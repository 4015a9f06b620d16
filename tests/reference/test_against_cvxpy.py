"""The plan's programme against the same programme in a general modelling layer, rank by rank."""

from __future__ import annotations

import pytest
from arches import arch
from cvxpy_plan import write

from festoon.planning.problem import Problem
from festoon.planning.programme import Array
from festoon.planning.solve import Model, Solution, solve

OPTIMUM_MM = 1e-3
"""Ranks are held to 1e-5 in both; a later rank gains from each slack before it, a few times over."""
CUT_OFF_MM = 1e-3
"""A move that stands for no exact number is cut off to this, so a rank may differ by this at every tooth."""


class Unrounded(Model):
    """The solver's own answer, before it is brought to exact numbers."""

    def _exact(self, values: Array, ties: tuple[str, ...]) -> Solution:
        return Solution(
            {tooth: move.value(values) for tooth, move in self.moves.items()},
            {tooth: collar.value(values) for tooth, collar in self.collars.items()},
            {key: bone.value(values) for key, bone in self.bones.items()},
            frozenset(tooth for tooth, done in self.operated.items() if done.value(values) > 0.5),
            ties,
        )


def agree(problem: Problem) -> None:
    written = write(problem)
    optima = written.optima()
    assert optima[1] > 0, "a mouth in which nothing is cut compares nothing"

    found, broken = written.of(Unrounded(problem).solve())
    assert broken < 1e-5
    assert found == pytest.approx(optima, abs=OPTIMUM_MM)

    found, broken = written.of(solve(problem))
    assert broken < 1e-6, "exact numbers break no row"
    heaviest = max(problem.policy["weight_pair"], problem.policy["outside_length"])
    assert found == pytest.approx(optima, abs=2 * heaviest * CUT_OFF_MM * len(written.teeth))
    assert found[1] == pytest.approx(optima[1]), "as many teeth"


@pytest.mark.parametrize("seed", range(4))
def test_six_teeth_reach_the_optimum_of_every_rank(seed: int) -> None:
    """Six front teeth: the planner and the modelling layer agree."""
    agree(arch(seed, 6))


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(3))
def test_fourteen_teeth_reach_the_optimum_of_every_rank(seed: int) -> None:
    """Fourteen teeth, molars with furcations among them."""
    agree(arch(seed))


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(10, 14))
def test_mixed_arches_reach_the_optimum_of_every_rank(seed: int) -> None:
    """Fixed places and an unread crest among ten teeth."""
    agree(arch(seed, 10, is_mixed=True))


def test_a_central_may_leave_its_target_within_tolerance_for_a_laterals_sake() -> None:
    """Seed 120: a central moved past its own target, within tolerance, lets the lateral come nearer to its length."""
    agree(arch(120, 10, is_mixed=True))

"""Closed forms against which the simulation is checked, and mouths with Gaussian readings."""

from __future__ import annotations

from math import erf, exp, pi, sqrt
from typing import Any

import numpy as np

from festoon.model.plan import Chance, Risk
from festoon.planning.policy import policy_of
from festoon.planning.pose import build
from festoon.planning.problem import Problem
from festoon.planning.risk.drawn_mouth import DrawnMouth
from festoon.planning.risk.harms import planned_cuts
from festoon.planning.risk.outlook import harms_of
from festoon.planning.risk.reading_noise import BEYOND, BEYOND_EXCESS_MM, UNDER_SHARE, WITHIN
from festoon.planning.risk.rereading import Rereading
from festoon.planning.solve import Solution, solve
from festoon.records.reconcile import resolve
from mouths import case
from mouths import tooth as ordinary_tooth

HAND_MM = 0.5
"""Width of the uniform error of a probe read to half millimetres (ERR-010)."""


def mc_close(flags: np.ndarray, exact: float) -> bool:
    """Within four Monte Carlo standard errors of the exact chance."""
    return abs(float(flags.mean()) - exact) <= 4 * sqrt(max(exact * (1 - exact), 1e-9) / flags.size)


def uniform_cdf(x: float, width: float) -> float:
    return min(1.0, max(0.0, x / width + 0.5))


def beyond_cdf(x: float, width: float, mean: float) -> float:
    """Exact P(1 + exponential + uniform of this width <= x)."""
    a, half = x - 1, width / 2
    if a <= -half:
        return 0.0
    if a < half:
        return (a + half - mean * (1 - exp(-(a + half) / mean))) / width
    return 1 - mean * exp(-a / mean) * (exp(half / mean) - exp(-half / mean)) / width


def sounding_cdf(x: float, width: float = 1.0) -> float:
    """Exact distribution function of a sounding's error: right, 1 mm off, more than 1 mm off, each rounded."""
    under, over = UNDER_SHARE, 1 - UNDER_SHARE
    within = under * uniform_cdf(x + 1, width) + over * uniform_cdf(x - 1, width)
    far = under * (1 - beyond_cdf(-x, width, BEYOND_EXCESS_MM)) + over * beyond_cdf(x, width, BEYOND_EXCESS_MM)
    return (1 - WITHIN - BEYOND) * uniform_cdf(x, width) + WITHIN * within + BEYOND * far


def normal_cdf(x: float) -> float:
    return 0.5 * (1 + erf(x / sqrt(2)))


def beyond_gaussian_and_hand(x: float, sd: float, width: float = HAND_MM) -> float:
    """Exact P(Gaussian of this sd + uniform of this width > x)."""

    def integral(z: float) -> float:
        return z * normal_cdf(z) + exp(-z * z / 2) / sqrt(2 * pi)

    high, low = (x + width / 2) / sd, (x - width / 2) / sd
    return 1 - sd * (integral(high) - integral(low)) / width


def level(value: float, se: float, method: str = "probe") -> dict[str, Any]:
    """A level from the present edge with a Gaussian error."""
    return {"value": value, "datum": "present_edge", "method": method, "se": se}


def gaussian_tooth(code: str = "11", se: float = 0.25, **midfacial: Any) -> dict[str, Any]:
    """A tooth short by 1.5 mm (9.0, wanted 10.5): every level Gaussian, crest read directly, no limit near.

    ``midfacial`` changes levels by name; ``target`` the wanted length, ``None`` takes a reading away.
    """
    target = midfacial.pop("target", 10.5)
    levels = {"margin_mm": 9.0, "crest_mm": 15.0, "cej_mm": 13.0, "mucogingival_mm": 16.0} | midfacial
    middle = {
        key: value if isinstance(value, dict) else level(value, se)
        for key, value in levels.items()
        if value is not None
    }
    return ordinary_tooth(code, edge_height_mm=0.0, target_length_mm=target, sites={"midfacial": middle})


def planned(teeth: dict[str, dict[str, Any]], **policy: Any) -> tuple[Problem, Solution]:
    """The problem and the plan of these teeth."""
    anatomy = resolve(case(teeth, policy=policy))
    problem = build(anatomy, policy_of(anatomy))
    return problem, solve(problem)


def rereading(problem: Problem, solution: Solution, *, seed: int = 1, draws: int = 20_000) -> Rereading:
    """The draws of a plan, ready to be asked what a second reading is worth."""
    mouth = DrawnMouth(problem, seed=seed, draws=draws)
    cuts = {t: planned_cuts(e, solution) for t, e in problem.teeth.items() if t in solution.operated}
    return Rereading(mouth, problem, solution, cuts, dict(harms_of(mouth, problem, cuts)))


def chance(risk: Risk | None, words: str) -> Chance:
    """The one chance whose text holds these words."""
    assert risk is not None
    (found,) = [item for item in risk.chances if words in item.what]
    return found


def agrees(found: Chance, exact: float, draws: int) -> bool:
    """Within four Monte Carlo standard errors of the closed form."""
    return abs(found.chance - exact) <= 4 * sqrt(max(exact * (1 - exact), 1e-9) / draws)

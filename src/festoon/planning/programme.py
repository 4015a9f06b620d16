"""A small mixed-integer programme solved in ranks, each rank's optimum fixed before the next.

The solver is HiGHS. Values come back as the solver gives them; rounding is done once, by the caller, at the end.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import highspy
import numpy as np
from numpy.typing import NDArray

from festoon.errors import SolverError

Array = NDArray[np.float64]
INFINITY = highspy.kHighsInf
RANK_SLACK = 1e-5
"""A rank is held at its optimum to within this. Measured: 1e-6 ended in solve errors, 1e-5 did not."""


@dataclass(frozen=True)
class Linear:
    """A linear expression: coefficients by variable index, plus a constant."""

    terms: Mapping[int, float] = field(default_factory=dict)
    constant: float = 0.0

    def __add__(self, other: Linear | float) -> Linear:
        if isinstance(other, int | float):
            return Linear(self.terms, self.constant + other)
        terms = dict(self.terms)
        for index, value in other.terms.items():
            terms[index] = terms.get(index, 0.0) + value
        return Linear(terms, self.constant + other.constant)

    def __sub__(self, other: Linear | float) -> Linear:
        return self + other * -1.0

    def __mul__(self, factor: float) -> Linear:
        return Linear({i: v * factor for i, v in self.terms.items()}, self.constant * factor)

    def value(self, solution: Array) -> float:
        """The value of the expression for one solution, shape (variables,)."""
        return self.constant + float(sum(v * solution[i] for i, v in self.terms.items()))


ZERO = Linear()


class Programme:
    """Variables, rows, and objectives solved one after the other."""

    def __init__(self) -> None:
        self._lower: list[float] = []
        self._upper: list[float] = []
        self._is_integer: list[bool] = []
        self._rows: list[tuple[float, float, Mapping[int, float]]] = []

    def variable(self, lower: float = 0.0, upper: float = INFINITY, *, integer: bool = False) -> Linear:
        """A new variable as an expression."""
        self._lower.append(lower)
        self._upper.append(upper)
        self._is_integer.append(integer)
        return Linear({len(self._lower) - 1: 1.0})

    def require(self, expression: Linear, *, at_least: float = -INFINITY, at_most: float = INFINITY) -> None:
        """A row: ``at_least <= expression <= at_most``."""
        if expression.terms:
            self._rows.append((at_least - expression.constant, at_most - expression.constant, dict(expression.terms)))
        elif not at_least - 1e-9 <= expression.constant <= at_most + 1e-9:
            # A row without variables that does not hold makes the programme infeasible, whatever is chosen.
            self._rows.append((1.0, 1.0, {0: 0.0}))

    def absolute(self, expression: Linear) -> Linear:
        """A variable that is at least ``|expression|``; minimised, it equals it."""
        size = self.variable()
        self.require(size - expression, at_least=0.0)
        self.require(size + expression, at_least=0.0)
        return size

    def excess(self, expression: Linear, low: float, high: float) -> Linear:
        """A variable that is at least the distance of ``expression`` from the band ``[low, high]``."""
        outside = self.variable()
        self.require(outside - expression, at_least=-high)
        self.require(outside + expression, at_least=low)
        return outside

    def solve(self, ranks: list[Linear], *, probe: Linear = ZERO) -> tuple[Array, Array] | None:
        """The values after all ranks, shape (variables,); None when the rows cannot all hold.

        Parameters
        ----------
        ranks : list of Linear
            Objectives to minimise, the most important first; each optimum is fixed before the next.
        probe : Linear
            Last of all minimised, then maximised: where both answers differ, the ranks leave a tie.

        Returns
        -------
        tuple of (variables,) arrays
            The answer (probe smallest) and the other end of the tie; equal where the answer is unique.

        Raises
        ------
        SolverError
            If the solver ends with any other status than optimal or infeasible.
        """
        if not self._lower:
            # Nothing to choose; the solver calls such a model empty instead of solved.
            return np.zeros(0), np.zeros(0)
        solver = self._solver()
        solution = self._minimise(solver, ZERO)
        if solution is None:
            return None
        for rank in ranks:
            if rank.terms:
                solution = self._minimise(solver, rank)
                if solution is None:
                    raise SolverError("a rank became infeasible after the one before it was fixed; no plan is given")
                self._hold(solver, rank, solution)
        answer, other = self._minimise(solver, probe), self._minimise(solver, probe * -1.0)
        if answer is None or other is None:
            raise SolverError("the last rank became infeasible after the one before it was fixed; no plan is given")
        return answer, other

    def _minimise(self, solver: highspy.Highs, objective: Linear) -> Array | None:
        costs = np.zeros(len(self._lower))
        for index, value in objective.terms.items():
            costs[index] = value
        solver.changeColsCost(len(costs), np.arange(len(costs), dtype=np.int32), costs)
        solver.run()
        status = solver.getModelStatus()
        if status == highspy.HighsModelStatus.kInfeasible:
            return None
        if status != highspy.HighsModelStatus.kOptimal:
            raise SolverError(f"the solver ended with {solver.modelStatusToString(status)}; no plan is given")
        return np.asarray(solver.getSolution().col_value)

    @staticmethod
    def _hold(solver: highspy.Highs, rank: Linear, solution: Array) -> None:
        indices = np.fromiter(rank.terms, dtype=np.int32)
        values = np.fromiter(rank.terms.values(), dtype=np.float64)
        best = float(values @ solution[indices])
        solver.addRow(-INFINITY, best + RANK_SLACK, len(indices), indices, values)

    def _solver(self) -> highspy.Highs:
        solver = _QuietHighs()
        for option, value in _OPTIONS.items():
            solver.setOptionValue(option, value)
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = len(self._lower), len(self._rows)
        lp.col_cost_ = np.zeros(lp.num_col_)
        lp.col_lower_, lp.col_upper_ = np.array(self._lower), np.array(self._upper)
        lp.row_lower_ = np.array([row[0] for row in self._rows])
        lp.row_upper_ = np.array([row[1] for row in self._rows])
        lp.integrality_ = [
            highspy.HighsVarType.kInteger if integer else highspy.HighsVarType.kContinuous
            for integer in self._is_integer
        ]
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = np.cumsum([0, *(len(row[2]) for row in self._rows)])
        lp.a_matrix_.index_ = np.array([i for row in self._rows for i in row[2]], dtype=np.int32)
        lp.a_matrix_.value_ = np.array([v for row in self._rows for v in row[2].values()])
        if solver.passModel(lp) == highspy.HighsStatus.kError:
            raise SolverError("the solver refused the programme; no plan is given")
        return solver


class _QuietHighs(highspy.Highs):
    """HiGHS without its callbacks, whose set-up prints a banner before any option can silence it."""

    def __init__(self) -> None:
        super(highspy.Highs, self).__init__()


_OPTIONS: dict[str, bool | int | float | str] = {
    "output_flag": False,
    "log_to_console": False,
    "threads": 1,
    "random_seed": 1,
    "mip_rel_gap": 0.0,
    "mip_abs_gap": 1e-7,
    "mip_feasibility_tolerance": 1e-7,
    "primal_feasibility_tolerance": 1e-8,
    "dual_feasibility_tolerance": 1e-8,
}
"""One thread and a fixed seed, so that the same case gives the same plan."""


def solver_version() -> str:
    """Name and version of the solver, for the provenance of a plan."""
    return f"HiGHS {highspy.Highs.version(_QuietHighs())}"

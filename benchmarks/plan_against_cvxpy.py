"""The plan of fourteen teeth against the same programme in a general modelling layer, in one run.

    python benchmarks/plan_against_cvxpy.py [ARCHES]

Building and solving are counted on both sides, importing on neither. Both must reach the same optimum of every rank;
``tests/reference`` holds them to that more closely. The planner also asks whether the answer is unique (two more solves) and
brings it to exact numbers; the other side does not.
"""

from __future__ import annotations

import statistics
import sys
import time
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1] / "tests" / part) for part in ("", "reference")]

from arches import arch
from cvxpy_plan import write

from festoon.planning.solve import Model, solve

RANKS = ("outside tolerance", "teeth", "weighted distance", "bone", "apical shift", "order")


def main(n: int) -> None:
    """Print the times of ``n`` arches, and where the planner's goes."""
    solve(arch(0, 6))  # once, so that neither side pays for what is loaded late
    write(arch(0, 6)).optima()
    ours, theirs, building, worst = [], [], [], 0.0
    for seed in range(n):
        problem = arch(seed)
        start = time.perf_counter()
        solution = solve(problem)
        ours.append(time.perf_counter() - start)
        start = time.perf_counter()
        written = write(problem)
        optima = written.optima()
        theirs.append(time.perf_counter() - start)
        start = time.perf_counter()
        Model(problem)
        building.append(time.perf_counter() - start)
        reached, broken = written.of(solution)
        apart = [abs(a - b) for a, b in zip(reached, optima, strict=True)]
        worst = max(worst, broken, *apart)
        print(f"arch {seed:2}: planner {ours[-1] * 1e3:6.1f} ms, modelling layer {theirs[-1] * 1e3:7.1f} ms, "
              f"ratio {theirs[-1] / ours[-1]:5.1f}")  # fmt: skip
    a, b = statistics.median(ours), statistics.median(theirs)
    print(f"median of {n}: planner {a * 1e3:.1f} ms (building {statistics.median(building) * 1e3:.1f} ms), modelling layer "
          f"{b * 1e3:.1f} ms, ratio {b / a:.1f}")  # fmt: skip
    print(f"largest difference in any of the ranks {', '.join(RANKS)}: {worst:.4f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 9)

"""What one synthetic patient costs: wall time by part, and the peak of the memory.

    python benchmarks/phantom.py [SEED] [PER_SIDE]

Fourteen teeth by default, bone and gingiva on a grid of 0.15 mm, everything written.
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from itertools import pairwise
from pathlib import Path

from festoon.workflow.phantom import PARTS, PhantomOrder, make_phantom


def main(seed: int, per_side: int) -> None:
    """Print the times."""
    start = time.perf_counter()
    marks: list[tuple[str, float]] = []
    with tempfile.TemporaryDirectory() as folder:
        order = PhantomOrder(seed, per_side=per_side, parts=PARTS)
        written = make_phantom(order, Path(folder), lambda what: marks.append((what, time.perf_counter())))
        size = sum(path.stat().st_size for path in written) / 1e6
    marks.append(("", time.perf_counter()))
    for (what, begun), (_, ended) in pairwise(marks):
        print(f"{what:20} {ended - begun:6.1f} s")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    print(f"{'whole':20} {time.perf_counter() - start:6.1f} s, peak {peak:.2f} GB, {size:.0f} MB written")


if __name__ == "__main__":
    arguments = [int(text) for text in sys.argv[1:]]
    main(*(arguments + [3, 7][len(arguments) :]))

"""What one synthetic patient costs: wall time by part, processor time and peak memory.

    python benchmarks/phantom.py [SEED] [PER_SIDE] [PROCESSES]

Fourteen teeth by default, bone and gingiva on a grid of 0.15 mm, everything written. With two processes, the time by part is the time
for which the first process was busy or waited.
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from itertools import pairwise
from pathlib import Path

from festoon.workflow.phantom import PARTS, PhantomOrder, make_phantom


def main(seed: int, per_side: int, processes: int) -> None:
    """Print the times."""
    start = time.perf_counter()
    marks: list[tuple[str, float]] = []
    with tempfile.TemporaryDirectory() as folder:
        order = PhantomOrder(seed, per_side=per_side, parts=PARTS)
        written = make_phantom(order, Path(folder), lambda what: marks.append((what, time.perf_counter())), processes)
        size = sum(path.stat().st_size for path in written) / 1e6
    marks.append(("", time.perf_counter()))
    for (what, begun), (_, ended) in pairwise(marks):
        print(f"{what:20} {ended - begun:6.1f} s")
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    busy, peaks = sum(u.ru_utime for u in used), " + ".join(f"{u.ru_maxrss / 1e6:.2f}" for u in used)
    # Where others share the cores, the processor's seconds say more than the clock's.
    print(f"{'whole':20} {time.perf_counter() - start:6.1f} s, {busy:.1f} s of processor time in user mode")
    print(f"peak {peaks} GB (second process counted with what it shares), {size:.0f} MB written")


if __name__ == "__main__":
    arguments = [int(text) for text in sys.argv[1:]]
    main(*(arguments + [3, 7, 1][len(arguments) :]))

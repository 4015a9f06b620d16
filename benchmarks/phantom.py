"""What one synthetic patient costs: wall time by part, processor time and peak memory.

    python benchmarks/phantom.py [SEED] [PER_SIDE] [PROCESSES]

Fourteen teeth by default, bone and gingiva on a grid of 0.15 mm, everything written. With two processes, the time by part is the time
for which the first process was busy or waited.
"""

from __future__ import annotations

import os
import resource
import sys
import tempfile
import threading
import time
from itertools import pairwise
from pathlib import Path

from festoon.workflow.phantom import PARTS, PhantomOrder, make_phantom


def _memory_mb(pid: int) -> float:
    """Memory of a process and its children, what they share counted once (Linux: proportional set size)."""
    own = 0.0
    try:
        for line in Path(f"/proc/{pid}/smaps_rollup").read_text("ascii").splitlines():
            if line.startswith("Pss:"):
                own = int(line.split()[1]) / 1000
        children = Path(f"/proc/{pid}/task/{pid}/children").read_text("ascii").split()
    except OSError:
        return own
    return own + sum(_memory_mb(int(child)) for child in children)


class Watch(threading.Thread):
    """Looks at the memory of this process and its children every fifth of a second."""

    def __init__(self) -> None:
        super().__init__(daemon=True)
        self.peak_mb = 0.0

    def run(self) -> None:
        """Look on until the program ends."""
        while True:
            self.peak_mb = max(self.peak_mb, _memory_mb(os.getpid()))
            time.sleep(0.2)


def main(seed: int, per_side: int, processes: int) -> None:
    """Print the times."""
    start = time.perf_counter()
    watch = Watch()
    watch.start()
    marks: list[tuple[str, float]] = []
    with tempfile.TemporaryDirectory() as folder:
        order = PhantomOrder(seed, per_side=per_side, parts=PARTS)
        written = make_phantom(order, Path(folder), lambda what: marks.append((what, time.perf_counter())), processes)
        size = sum(path.stat().st_size for path in written) / 1e6
    marks.append(("", time.perf_counter()))
    for (what, begun), (_, ended) in pairwise(marks):
        print(f"{what:20} {ended - begun:6.1f} s")
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    busy, system = sum(u.ru_utime for u in used), sum(u.ru_stime for u in used)
    # Where others share the cores, the processor's seconds say more than the clock's.
    wall = time.perf_counter() - start
    print(f"{'whole':20} {wall:6.1f} s; processor time {busy:.1f} s in user mode, {system:.1f} s in the system")
    print(f"peak memory of all processes together {watch.peak_mb / 1000:.2f} GB, {size:.0f} MB written")


if __name__ == "__main__":
    arguments = [int(text) for text in sys.argv[1:]]
    main(*(arguments + [3, 7, 1][len(arguments) :]))

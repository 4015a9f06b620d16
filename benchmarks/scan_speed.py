"""What measuring a scan costs, beside the bare time a general mesh library needs to load and clean the same file.

    python benchmarks/scan_speed.py FILE

Each in a process of its own, so that the peak of the memory is its own.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import time
from pathlib import Path


def bare(file: Path) -> None:
    """Load, merge, drop what is degenerate or double, keep the largest piece."""
    import trimesh

    start = time.perf_counter()
    mesh = trimesh.load_mesh(file, process=False)
    mesh.merge_vertices()
    mesh.update_faces(mesh.nondegenerate_faces())
    mesh.update_faces(mesh.unique_faces())
    mesh = max(mesh.split(only_watertight=False), key=lambda piece: piece.area)
    _say(f"bare load and clean, {len(mesh.faces)} faces", start)


def whole(file: Path) -> None:
    """From the file to the readings."""
    from festoon.workflow.measuring_scan import measure_scan

    start = time.perf_counter()
    measured = measure_scan(file)
    _say(f"file to {len(measured.readings.readings)} readings of {len(measured.arch.teeth)} teeth", start)


def _say(what: str, start: float) -> None:
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    print(f"{what:48} {time.perf_counter() - start:6.2f} s, peak {peak:.2f} GB")


if __name__ == "__main__":
    if len(sys.argv) == 3:
        {"bare": bare, "whole": whole}[sys.argv[1]](Path(sys.argv[2]))
    else:
        for part in ("bare", "whole"):
            subprocess.run([sys.executable, __file__, part, sys.argv[1]], check=True)

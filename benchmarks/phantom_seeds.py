"""Many phantoms: whether all are watertight and none crosses itself, and how their true values are spread.

    python benchmarks/phantom_seeds.py [SEEDS] [SPACING] [FIRST]

Six front teeth of the upper jaw each. Prints one line a seed, then every fault, then means and spreads beside the published ones. The
self-intersections are looked for by CGAL where it is installed.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "reference"))

from phantom_spread import COMPARED, compare
from phantoms import crossings, solid_faults

from festoon.phantom.arch import build_arch
from festoon.phantom.mouth import draw_mouth
from festoon.phantom.solids import build_solids
from festoon.phantom.tissues import build_tissues
from festoon.phantom.truth import Truth


def main(seeds: int, spacing: float, first: int) -> None:
    """Print what was found."""
    truths, faults = [], {}
    for seed in range(first, first + seeds):
        start = time.perf_counter()
        mouth = draw_mouth(seed, per_side=3)
        truth = Truth(build_tissues(build_arch(mouth)))
        truths.append(
            (
                mouth.sex,
                {(r.tooth, r.quantity.value, r.site.value if r.site else None): r.value for r in truth.readings},
            )
        )
        solids = build_solids(truth.tissues, spacing)
        with tempfile.TemporaryDirectory() as folder:
            found = solid_faults(solids) + [f"{name} crosses itself" for name in crossings(solids, Path(folder))]
        if found:
            faults[seed] = found
        print(f"seed {seed}: {time.perf_counter() - start:.1f} s {'; '.join(found) or 'whole'}", flush=True)
    print(f"{len(truths)} phantoms, {len(faults)} with faults: {faults}")
    lines = compare(truths)
    for line in lines:
        print(line)
    largest = f"largest |z| {max(abs(line.z) for line in lines):.2f}" if lines else "too few phantoms to tell"
    print(f"compared: {len(lines)} of {len(COMPARED)} quantities; {largest}")


if __name__ == "__main__":
    arguments = sys.argv[1:]
    main(
        int(arguments[0]) if arguments else 100,
        float(arguments[1]) if len(arguments) > 1 else 0.15,
        int(arguments[2]) if len(arguments) > 2 else 0,
    )

"""Time, memory and accuracy of a template over a whole arch of a phantom, beside a naive offset with a general-purpose library.

    python benchmarks/template.py --seed 7

Seconds are those of the processor, so that a busy machine does not change them. The naive way asks a general-purpose geometry
library for the signed distance at every sample of the grid and knows no block-out; it is timed on a share of the samples and scaled up.
"""

from __future__ import annotations

import argparse
import json
import resource
import tempfile
import time
from pathlib import Path

import igl
import numpy as np

from festoon.phantom.scan import ScanSettings
from festoon.scan.surface import read_surface
from festoon.template.build import build
from festoon.template.checks import check_part
from festoon.template.inputs import Sheet, ToothOnScan, Wish
from festoon.template.prepare import ground_of, smoothed
from festoon.template.seating import find_seating
from festoon.template.targets import targets_of
from festoon.workflow.phantom import PhantomOrder, make_phantom
from festoon.workflow.planning import plan_case


def teeth_of(folder: Path) -> dict[str, ToothOnScan]:
    """True frames and margins, in the scan's pose."""
    about = json.loads((folder / "truth-about-files.json").read_text())
    matrix = np.array(about["scan"]["arch_frame_to_file"])
    out = {}
    for fdi, t in about["truth"]["teeth"].items():
        edge, axis, facial, distal, margin = (
            np.array(t[k]) for k in ("edge", "axis", "facial", "distal", "margin_curve")
        )
        width = float(np.ptp((margin - edge) @ distal))
        out[fdi] = ToothOnScan(edge, axis, facial, distal, t["mid_width_mm"], width, fdi, margin).moved(
            matrix[:3, :3], matrix[:3, 3]
        )
    return out


def main() -> None:
    """Print what was measured."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--grid", type=float, default=0.15)
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        order = PhantomOrder(chosen.seed, scan=ScanSettings(holes=0), scan_kinds=("stl",), parts=("scan",))
        make_phantom(order, folder)
        surface, teeth, plan = read_surface(folder / "scan.stl"), teeth_of(folder), plan_case(folder / "case.yaml").plan
    sheet = Sheet(surface.vertices, surface.faces)
    start = time.process_time()
    seating = find_seating(smoothed(sheet), list(teeth.values()), None)
    seated = [t.moved(seating.turn, seating.shift) for t in teeth.values()]
    ground = ground_of(sheet.moved(seating.turn, seating.shift), seated)
    targets, _ = targets_of(plan, {t.fdi: t for t in seated})
    part = build("arch", ground, targets, Wish(grid=chosen.grid, label="BENCHMARK"), line="margin")
    built = time.process_time()
    checks, _ = check_part(part, ground, Wish(grid=chosen.grid), (targets[0].tooth.fdi, targets[-1].tooth.fdi))
    checked = time.process_time()
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    print(
        f"{len(targets)} teeth at {chosen.grid} mm: made in {built - start:.1f} s of one core, checked in {checked - built:.1f} s, {peak:.2f} GB"
    )
    for c in checks:
        print(f"  {c.passed} {c.title}: {c.measured}" + (f", at {c.where}" if c.passed is False and c.where else ""))
    extent = np.ptp(part.sheet.vertices, axis=0) / chosen.grid
    samples = int(np.prod(extent))
    rng = np.random.default_rng(1)
    some = rng.uniform(part.sheet.vertices.min(axis=0), part.sheet.vertices.max(axis=0), (50_000, 3))
    start = time.process_time()
    igl.signed_distance(some, ground.sheet.vertices, ground.sheet.faces, igl.SIGNED_DISTANCE_TYPE_FAST_WINDING_NUMBER)
    took = time.process_time() - start
    whole = took * samples / len(some)
    print(
        f"naive: signed distance of {len(some)} samples {took:.1f} s, so {whole:.0f} s for {samples / 1e6:.1f} million, twice for two faces"
    )


if __name__ == "__main__":
    main()

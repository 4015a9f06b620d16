"""How near the readings of a scan are to the truth of phantoms, quantity by quantity, and whether their errors hold it.

    python benchmarks/scan.py [FIRST_SEED] [COUNT] [--no-colours]

Six or ten upper teeth in turn, 20, 30 or 50 um of noise in turn, four holes and five drops of saliva each. Some 6 s a phantom.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from collections.abc import Iterator

import numpy as np

from festoon.model.quantities import Quantity
from festoon.phantom.arch import build_arch
from festoon.phantom.colours import Palette
from festoon.phantom.mouth import draw_mouth
from festoon.phantom.scan import ScanSettings, make_scan
from festoon.phantom.tissues import build_tissues
from festoon.phantom.truth import Truth
from festoon.scan.quantities import readings_of
from festoon.scan.raw import RawMesh
from festoon.scan.surface import clean
from festoon.scan.trace import trace_scan

Row = tuple[str, float, float, bool]
"""Quantity and site, error, standard error, flagged."""


def rows(first: int, count: int, colours: bool) -> Iterator[Row]:
    """Every reading of every phantom that has a true value."""
    for seed in range(first, first + count):
        tissues = build_tissues(build_arch(draw_mouth(seed, per_side=(3, 3, 5)[seed % 3])))
        truth = Truth(tissues)
        made = make_scan(tissues, Palette(truth), ScanSettings(noise=(0.03, 0.05, 0.02)[seed % 3]), seed)
        raw = RawMesh(made.mesh.vertices, made.mesh.faces, made.colours / 255.0 if colours else None)
        arch = trace_scan(clean(raw, f"phantom {seed}", "mm"))
        for r in readings_of(arch):
            true = truth.value(r.tooth or "", r.quantity, r.site)
            if true is not None and r.se is not None:
                site = f" {r.site.value}" if r.quantity is Quantity.MARGIN_LEVEL and r.site else ""
                yield f"{r.quantity.value}{site}", r.value - true, r.se, bool(r.flag)


def main(first: int, count: int, colours: bool) -> None:
    """Print the table."""
    table: defaultdict[str, list[Row]] = defaultdict(list)
    for row in rows(first, count, colours):
        table[row[0]].append(row)
    print(
        f"{'quantity':30}{'n':>6}{'flagged':>9}{'bias':>8}{'rms':>8}{'median':>8}{'held %':>8}{'> 0.5 unflagged %':>19}"
    )
    for name, found in sorted(table.items()):
        error, se, flag = (np.array([r[k] for r in found]) for k in (1, 2, 3))
        own = error[~flag.astype(bool)]
        held = 100 * float((np.abs(error) <= 1.96 * se).mean())
        silent = 100 * float((np.abs(own) > 0.5).sum()) / len(error)
        print(
            f"{name:30}{len(error):6d}{int(flag.sum()):9d}{own.mean():8.3f}{np.sqrt((own**2).mean()):8.3f}"
            f"{np.median(np.abs(own)):8.3f}{held:8.1f}{silent:19.1f}"
        )


if __name__ == "__main__":
    numbers = [int(text) for text in sys.argv[1:] if text.isdigit()]
    main(*(numbers + [100, 20][len(numbers) :]), colours="--no-colours" not in sys.argv)

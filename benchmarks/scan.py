"""How near the readings of a scan are to the truth of phantoms, quantity by quantity, and whether their errors hold it.

    python benchmarks/scan.py [FIRST_SEED] [COUNT] [--no-colours]

Whole jaws of fourteen teeth, upper and (every sixth) lower, 20, 30 or 50 um of noise in turn, four holes and five drops of saliva each, every
third with worn edges, gingiva left over the crowns, a crowded or turned front or a diastema. Some 25 s of processor time a phantom.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from festoon.model.quantities import Quantity
from festoon.phantom.arch import build_arch
from festoon.phantom.colours import Palette
from festoon.phantom.mouth import Wishes, draw_mouth
from festoon.phantom.scan import ScanSettings, make_scan
from festoon.phantom.tissues import build_tissues
from festoon.phantom.truth import Truth
from festoon.scan.quantities import WIDE, readings_of
from festoon.scan.raw import RawMesh
from festoon.scan.surface import clean
from festoon.scan.trace import trace_scan

_WISHES = (
    Wishes(worn_mm=0.6),
    Wishes(covered_mm=0.8),
    Wishes(crowding_mm=0.6),
    Wishes(rotated=(("11", 12.0),)),
    Wishes(diastema_mm=0.6),
)


@dataclass(frozen=True)
class Row:
    """One reading against its true value."""

    name: str
    """Quantity and site."""
    error: float
    se: float
    doubtful: bool
    """Flagged for anything but a large error."""
    wide: bool
    """Flagged as known only to within its error."""


def rows(first: int, count: int, colours: bool) -> Iterator[Row]:
    """Every reading of every phantom that has a true value; what is numbered wrongly is told and left out."""
    for k, seed in enumerate(range(first, first + count)):
        wishes = _WISHES[k // 3 % len(_WISHES)] if k % 3 == 2 else Wishes()
        tissues = build_tissues(build_arch(draw_mouth(seed, upper=k % 6 != 4, wishes=wishes)))
        truth = Truth(tissues)
        made = make_scan(tissues, Palette(truth), ScanSettings(noise=(0.03, 0.05, 0.02)[k % 3]), seed)
        raw = RawMesh(made.mesh.vertices, made.mesh.faces, made.colours / 255.0 if colours else None)
        arch = trace_scan(clean(raw, f"phantom {seed}", "mm"))
        there = {placed.tooth for placed in tissues.arch.teeth}
        if set(arch.teeth) != there:
            wrong = ", ".join(sorted(t.fdi for t in there ^ set(arch.teeth)))
            print(f"phantom {seed}: not traced or not there: {wrong}; {'; '.join(arch.notes)}")
        for r in readings_of(arch):
            true = truth.value(r.tooth or "", r.quantity, r.site)
            if true is not None and r.se is not None:
                site = f" {r.site.value}" if r.quantity is Quantity.MARGIN_LEVEL and r.site else ""
                wide = bool(r.flag and r.flag.startswith(WIDE))
                yield Row(r.quantity.value + site, r.value - true, r.se, bool(r.flag) and not wide, wide)


def main(first: int, count: int, colours: bool) -> None:
    """Print the table: bias and RMS are of readings without doubt, held and silent of all."""
    table: defaultdict[str, list[Row]] = defaultdict(list)
    for row in rows(first, count, colours):
        table[row.name].append(row)
    print(
        f"{'quantity':30}{'n':>6}{'doubtful %':>12}{'wide %':>8}{'bias':>8}{'rms':>8}{'held %':>8}{'> 0.5 unflagged %':>19}"
    )
    for name, found in sorted(table.items()):
        error, se, doubtful, wide = (
            np.array([getattr(r, k) for r in found]) for k in ("error", "se", "doubtful", "wide")
        )
        own = error[~doubtful]
        held = 100 * float((np.abs(error) <= 1.96 * se).mean())
        silent = 100 * float(((np.abs(error) > 0.5) & ~doubtful & ~wide).mean())
        print(
            f"{name:30}{len(error):6d}{100 * doubtful.mean():12.0f}{100 * wide.mean():8.0f}{own.mean():8.3f}"
            f"{np.sqrt((own**2).mean()):8.3f}{held:8.1f}{silent:19.1f}"
        )


if __name__ == "__main__":
    numbers = [int(text) for text in sys.argv[1:] if text.isdigit()]
    main(*(numbers + [100, 20][len(numbers) :]), colours="--no-colours" not in sys.argv)

"""Draw the pictures of docs/method/photo.md: a made mouth measured, planned, and before and after beside each other.

    python scripts/photo_pictures.py [FOLDER]

FOLDER keeps the synthetic patients between runs; about two minutes without them.
"""

from __future__ import annotations

import io
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

from PIL import Image

from festoon.phantom.mouth import Wishes
from festoon.phantom.photo import PhotoSettings
from festoon.photo.overlay import draw_measured
from festoon.workflow.measuring_photo import draw_beside, draw_plan_on, measure_photo
from festoon.workflow.phantom import PhantomOrder, make_phantom
from festoon.workflow.planning import plan_case

OUT = Path(__file__).resolve().parents[1] / "docs" / "photo"
SEED = 3


def main(folder: Path) -> None:
    """Make what is missing, and draw."""
    before, after = folder / "before", folder / "after"
    if not (before / "scan.ply").exists():
        covered = Wishes(covered_mm=1.6)
        photos = PhotoSettings(width=1800, height=1200, views=("front",), distortion=0.8)
        make_phantom(
            PhantomOrder(
                SEED, per_side=4, wishes=covered, photos=photos, parts=("scan", "photos"), scan_kinds=("ply",)
            ),
            before,
        )
        nearer = replace(photos, distance_mm=340.0)
        make_phantom(PhantomOrder(SEED, per_side=4, photos=nearer, parts=("photos",)), after)
    scan = before / "scan.ply"
    first = measure_photo(before / "photo-front.png", scan=scan)
    later = measure_photo(after / "photo-front.png", scan=scan)
    print(*first.notes, *later.notes, sep="\n")
    OUT.mkdir(exist_ok=True)
    plan = plan_case(before / "case.yaml").plan
    _save("measured", draw_measured(first.photo, first.crowns, first.marks, first.readings.readings))
    _save("planned", draw_plan_on(first, plan))
    _save("beside", draw_beside(first, later))


def _save(name: str, png: bytes) -> None:
    picture = Image.open(io.BytesIO(png)).convert("RGB")
    picture.thumbnail((1400, 1400), Image.Resampling.LANCZOS)
    picture.save(OUT / f"{name}.jpg", quality=86)


if __name__ == "__main__":
    if len(sys.argv) > 1:
        main(Path(sys.argv[1]))
    else:
        with tempfile.TemporaryDirectory() as made:
            main(Path(made))

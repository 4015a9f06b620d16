"""Draw the pictures of docs/method/scan.md: phantoms measured from their scans.

python scripts/scan_pictures.py
"""

from __future__ import annotations

import io
from pathlib import Path

from PIL import Image

from festoon.phantom.arch import build_arch
from festoon.phantom.colours import Palette
from festoon.phantom.mouth import Wishes, draw_mouth
from festoon.phantom.scan import ScanSettings, make_scan
from festoon.phantom.tissues import build_tissues
from festoon.phantom.truth import Truth
from festoon.scan.picture import draw_picture
from festoon.scan.quantities import WIDE, readings_of
from festoon.scan.raw import RawMesh
from festoon.scan.surface import clean
from festoon.scan.trace import trace_scan

FOLDER = Path(__file__).parents[1] / "docs" / "method" / "scan"
PICTURES = {
    "upper": (11, True, True, Wishes()),
    "no-colours": (11, True, False, Wishes()),
    "missing": (14, True, True, Wishes(missing=("12",))),
    "lower": (3, False, True, Wishes()),
}
"""Name: seed, upper, with colours, wishes."""


def main() -> None:
    """Draw all."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    for name, (seed, upper, coloured, wishes) in PICTURES.items():
        tissues = build_tissues(build_arch(draw_mouth(seed, upper=upper, per_side=5, wishes=wishes)))
        made = make_scan(tissues, Palette(Truth(tissues)), ScanSettings(noise=0.03), seed)
        raw = RawMesh(made.mesh.vertices, made.mesh.faces, made.colours / 255.0 if coloured else None)
        arch = trace_scan(clean(raw, f"phantom {seed}", "mm"))
        flagged = frozenset(r.tooth for r in readings_of(arch) if r.flag and not r.flag.startswith(WIDE) and r.tooth)
        picture = Image.open(io.BytesIO(draw_picture(arch, flagged)))
        picture.thumbnail((1500, 1500))
        picture.save(FOLDER / f"{name}.jpg", quality=82, optimize=True)
        print(f"{name}.jpg: {', '.join(t.fdi for t in arch.teeth)}; flagged {', '.join(sorted(flagged)) or 'none'}")


if __name__ == "__main__":
    main()

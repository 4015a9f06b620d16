"""Pictures of the docs page of the template: a phantom's part from the front, the side and cut through.

python scripts/template_pictures.py docs/template
"""

from __future__ import annotations

import io
import sys
import tempfile
from pathlib import Path

from PIL import Image

from festoon.phantom.mouth import Wishes
from festoon.phantom.scan import ScanSettings
from festoon.template.picture import Look, render
from festoon.workflow.phantom import PhantomOrder, make_phantom
from festoon.workflow.templating import TemplateOrder, template_of_case

LOOKS: tuple[Look, ...] = ("front", "left", "section")


def main(folder: Path) -> None:
    """Write ``template-<look>.jpg`` and ``template-openings.jpg``."""
    with tempfile.TemporaryDirectory() as place:
        mouth = Path(place)
        order = PhantomOrder(
            11,
            per_side=4,
            wishes=Wishes(covered_mm=1.5),
            scan=ScanSettings(holes=0),
            scan_kinds=("ply",),
            parts=("scan",),
        )
        make_phantom(order, mouth)
        case, scan = mouth / "case.yaml", mouth / "scan.ply"
        line = template_of_case(case, scan, TemplateOrder(kind="gingival-line")).template
        both = template_of_case(case, scan, TemplateOrder(kind="gingival-and-crest")).template
    made = {f"template-{look}": render(line.ground, line.parts[0].part, look, width=1000) for look in LOOKS}
    made["template-openings"] = render(both.ground, both.parts[0].part, "front", width=1000)
    for name, png in made.items():
        Image.open(io.BytesIO(png)).convert("RGB").save(folder / f"{name}.jpg", quality=88)


if __name__ == "__main__":
    main(Path(sys.argv[1]))

"""Making a synthetic patient: one mouth, and the files a practice would have of it, with the truth beside them."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from festoon.model.dentition import Notation
from festoon.model.quantities import Readings
from festoon.phantom.about import about_truth
from festoon.phantom.arch import build_arch
from festoon.phantom.chart import as_records, make_chart
from festoon.phantom.colours import Palette
from festoon.phantom.meshfiles import mesh_bytes
from festoon.phantom.mouth import Wishes, draw_mouth
from festoon.phantom.photo import PhotoSettings, make_photos
from festoon.phantom.scan import ScanSettings, make_scan
from festoon.phantom.solids import build_solids, mesh_in_arch_frame
from festoon.phantom.tissues import build_tissues
from festoon.phantom.truth import Truth
from festoon.phantom.volume import Label, make_volume, volume_nrrd
from festoon.records.casewriter import write_case
from festoon.records.writing import write_whole

Part = Literal["scan", "photos", "volume", "solids"]
PARTS: tuple[Part, ...] = ("scan", "photos", "volume", "solids")
"""What can be made beside the chart and the truth."""
SCAN_KINDS = ("ply", "stl", "obj", "3mf")


@dataclass(frozen=True)
class PhantomOrder:
    """What is asked for."""

    seed: int
    upper: bool = True
    per_side: int = 7
    spacing: float = 0.15
    """Grid of bone and gingiva, mm."""
    wishes: Wishes = field(default_factory=Wishes)
    scan: ScanSettings = field(default_factory=ScanSettings)
    scan_kinds: tuple[str, ...] = SCAN_KINDS
    photos: PhotoSettings = field(default_factory=PhotoSettings)
    voxel: float = 0.3
    """Spacing of the labelled volume, mm."""
    parts: tuple[Part, ...] = ("scan", "photos", "volume")

    @property
    def name(self) -> str:
        """The pseudonymous id of the case."""
        return f"phantom-{self.seed}-{'upper' if self.upper else 'lower'}"


def make_phantom(order: PhantomOrder, folder: Path, tell: Callable[[str], None] = lambda _: None) -> tuple[Path, ...]:
    """Make a synthetic patient and write its files into ``folder``, all or none.

    ``case.yaml`` (with the errors of an examiner), ``truth.json`` (every quantity's true value), ``truth-about-files.json``
    (frames, true curves, and how each file departs from the truth), and the parts asked for.

    Parameters
    ----------
    order : PhantomOrder
        Same order, same bytes.
    folder : Path
    tell : callable
        Is told what is being made, in words.
    """
    tell("teeth and tissues")
    tissues = build_tissues(
        build_arch(draw_mouth(order.seed, upper=order.upper, per_side=order.per_side, wishes=order.wishes))
    )
    truth = Truth(tissues)
    tell("true values")
    readings = Readings(case=order.name, readings=truth.readings)
    case, charted = make_chart(truth, order.name, order.seed)
    about: dict[str, Any] = {"case": order.name, "truth": about_truth(truth), "chart": as_records(charted)}
    files = {
        "case.yaml": write_case(case, Notation.FDI).encode(),
        "truth.json": (readings.model_dump_json(indent=1, exclude_none=True) + "\n").encode(),
    }
    palette = Palette(truth)
    if "scan" in order.parts:
        tell("scan")
        scan = make_scan(tissues, palette, order.scan, order.seed)
        about["scan"] = scan.about
        for kind in order.scan_kinds:
            files[f"scan.{kind}"] = mesh_bytes(scan.mesh, kind, scan.colours, scan.unit)
    if "photos" in order.parts:
        tell("photographs")
        photos, about["photos"] = make_photos(tissues, palette, order.photos, order.seed)
        files |= {f"photo-{view}.png": data for view, data in photos.items()}
    if "volume" in order.parts:
        tell("volume")
        labels, affine = make_volume(tissues, order.voxel)
        files["volume.nrrd"] = volume_nrrd(labels, affine)
        about["volume"] = {
            "voxel_mm": order.voxel,
            "labels": {label.name.lower(): label.value for label in Label},
            "index_to_arch_frame": affine.tolist(),
        }
    if "solids" in order.parts:
        tell("solids")
        solids = build_solids(tissues, order.spacing)
        about["solids"] = {"frame": "arch frame, mm", "grid_mm": order.spacing}
        for name, mesh in solids.every().items():
            files[f"solid-{name}.ply"] = mesh_bytes(mesh_in_arch_frame(mesh, order.upper), "ply")
    files["truth-about-files.json"] = (json.dumps(about, indent=1, ensure_ascii=False) + "\n").encode()
    return write_whole(folder, files)

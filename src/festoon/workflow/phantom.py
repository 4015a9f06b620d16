"""Making a synthetic patient: one mouth, and the files a practice would have of it, with the truth beside them."""

from __future__ import annotations

import json
import multiprocessing
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
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
from festoon.phantom.tissues import Tissues, build_tissues
from festoon.phantom.truth import Truth
from festoon.phantom.volume import Label, make_volume, volume_nrrd
from festoon.records.casewriter import write_case
from festoon.records.writing import write_whole

Part = Literal["scan", "photos", "volume", "solids"]
PARTS: tuple[Part, ...] = ("scan", "photos", "volume", "solids")
"""What can be made beside the chart and the truth."""
_WORDS: dict[Part, str] = {"scan": "scan", "photos": "photographs", "volume": "volume", "solids": "solids"}
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


@dataclass(frozen=True)
class _Work:
    """What every part is made from."""

    order: PhantomOrder
    tissues: Tissues
    palette: Palette

    def make(self, part: Part) -> tuple[dict[str, bytes], Any]:
        """Files of one part by name, and what ``truth-about-files.json`` says of them."""
        order, tissues = self.order, self.tissues
        if part == "scan":
            scan = make_scan(tissues, self.palette, order.scan, order.seed)
            kinds = order.scan_kinds
            return {f"scan.{k}": mesh_bytes(scan.mesh, k, scan.colours, scan.unit) for k in kinds}, scan.about
        if part == "photos":
            photos, cameras = make_photos(tissues, self.palette, order.photos, order.seed)
            return {f"photo-{view}.png": data for view, data in photos.items()}, cameras
        if part == "volume":
            labels, affine = make_volume(tissues, order.voxel)
            named = {label.name.lower(): label.value for label in Label}
            about = {"voxel_mm": order.voxel, "labels": named, "index_to_arch_frame": affine.tolist()}
            return {"volume.nrrd": volume_nrrd(labels, affine)}, about
        solids = build_solids(tissues, order.spacing).every()
        made = {name: mesh_in_arch_frame(mesh, order.upper) for name, mesh in solids.items()}
        return {f"solid-{name}.ply": mesh_bytes(mesh, "ply") for name, mesh in made.items()}, {
            "frame": "arch frame, mm",
            "grid_mm": order.spacing,
        }


_BESIDE: tuple[Part, ...] = ("photos", "volume")
"""What a second process makes: about half of the work of a whole patient."""
_held: _Work | None = None
"""In a second process, the work it was forked with: tissues are fields, and cannot be sent."""


def _hold(work: _Work) -> None:
    global _held
    _held = work


def _make_held(part: Part) -> tuple[dict[str, bytes], Any]:
    if _held is None:
        raise RuntimeError("a second process of the phantom was started without its work")
    return _held.make(part)


def _made(work: _Work, processes: int, tell: Callable[[str], None]) -> dict[Part, tuple[dict[str, bytes], Any]]:
    """Every part asked for, in the order of :data:`PARTS`."""
    parts = [part for part in PARTS if part in work.order.parts]
    beside = [part for part in parts if part in _BESIDE]
    here = [part for part in parts if part not in _BESIDE]
    if processes < 2 or not beside or not here or "fork" not in multiprocessing.get_all_start_methods():
        beside, here = [], parts
    out: dict[Part, tuple[dict[str, bytes], Any]] = {}
    with ProcessPoolExecutor(1, multiprocessing.get_context("fork" if beside else None), _hold, (work,)) as second:
        coming = {part: second.submit(_make_held, part) for part in beside}
        for part in here:
            tell(_WORDS[part])
            out[part] = work.make(part)
        for part, future in coming.items():
            tell(_WORDS[part])
            out[part] = future.result()
    return {part: out[part] for part in parts}


def make_phantom(
    order: PhantomOrder, folder: Path, tell: Callable[[str], None] = lambda _: None, processes: int = 1
) -> tuple[Path, ...]:
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
    processes : int
        With 2, photographs and volume are made in a second process, forked from this one, where the system can fork: the
        same bytes, sooner. Leave it at 1 in a program that runs other threads.
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
    for part, (made, said) in _made(_Work(order, tissues, Palette(truth)), processes, tell).items():
        files |= made
        about[part] = said
    files["truth-about-files.json"] = (json.dumps(about, indent=1, ensure_ascii=False) + "\n").encode()
    return write_whole(folder, files)

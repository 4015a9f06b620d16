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
_WORDS = {"truth": "true values", "scan": "scan", "photos": "photographs", "volume": "volume", "solids": "solids"}
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


_Task = Literal["scan", "photos", "volume", "solids", "truth"]
_TASKS: tuple[_Task, ...] = ("solids", "photos", "truth", "scan", "volume")
"""The heaviest first, so that two processes end together."""
_Made = tuple[dict[str, bytes], dict[str, Any]]
"""Files by name, and what ``truth-about-files.json`` says of them."""


@dataclass(frozen=True)
class _Work:
    """What every part is made from."""

    order: PhantomOrder
    truth: Truth

    @property
    def tissues(self) -> Tissues:
        return self.truth.tissues

    def make(self, task: _Task) -> _Made:
        """Files of one part, and what is said of them."""
        order, tissues = self.order, self.tissues
        if task == "truth":
            return self._truth()
        if task == "scan":
            scan = make_scan(tissues, Palette(self.truth), order.scan, order.seed)
            kinds = order.scan_kinds
            files = {f"scan.{k}": mesh_bytes(scan.mesh, k, scan.colours, scan.unit) for k in kinds}
            return files, {"scan": scan.about}
        if task == "photos":
            photos, cameras = make_photos(tissues, Palette(self.truth), order.photos, order.seed)
            return {f"photo-{view}.png": data for view, data in photos.items()}, {"photos": cameras}
        if task == "volume":
            labels, affine = make_volume(tissues, order.voxel)
            named = {label.name.lower(): label.value for label in Label}
            about = {"voxel_mm": order.voxel, "labels": named, "index_to_arch_frame": affine.tolist()}
            return {"volume.nrrd": volume_nrrd(labels, affine)}, {"volume": about}
        solids = build_solids(tissues, order.spacing).every()
        made = {name: mesh_in_arch_frame(mesh, order.upper) for name, mesh in solids.items()}
        files = {f"solid-{name}.ply": mesh_bytes(mesh, "ply") for name, mesh in made.items()}
        return files, {"solids": {"frame": "arch frame, mm", "grid_mm": order.spacing}}

    def _truth(self) -> _Made:
        """The chart and the true values."""
        order, truth = self.order, self.truth
        readings = Readings(case=order.name, readings=truth.readings)
        case, charted = make_chart(truth, order.name, order.seed)
        files = {
            "case.yaml": write_case(case, Notation.FDI).encode(),
            "truth.json": (readings.model_dump_json(indent=1, exclude_none=True) + "\n").encode(),
        }
        return files, {"case": order.name, "truth": about_truth(truth), "chart": as_records(charted)}


_held: _Work | None = None
"""In a further process, the work it was forked with: tissues are fields, and cannot be sent."""


def _hold(work: _Work) -> None:
    global _held
    _held = work


def _make_held(task: _Task) -> _Made:
    if _held is None:
        raise RuntimeError("a process of the phantom was started without its work")
    return _held.make(task)


def _made(work: _Work, processes: int, tell: Callable[[str], None]) -> _Made:
    """Everything asked for: files, and what is said of them."""
    tasks = [task for task in _TASKS if task == "truth" or task in work.order.parts]
    out: dict[_Task, _Made] = {}
    if processes > 1 and len(tasks) > 1 and "fork" in multiprocessing.get_all_start_methods():
        with ProcessPoolExecutor(processes, multiprocessing.get_context("fork"), _hold, (work,)) as pool:
            coming = {task: pool.submit(_make_held, task) for task in tasks}
            for task, future in coming.items():
                tell(_WORDS[task])
                out[task] = future.result()
    else:
        for task in tasks:
            tell(_WORDS[task])
            out[task] = work.make(task)
    files: dict[str, bytes] = {}
    about: dict[str, Any] = {}
    everything: tuple[_Task, ...] = ("truth", *PARTS)
    for task in everything:
        if task in out:
            files |= out[task][0]
            about |= out[task][1]
    return files, about


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
        With 2, the parts are made by two processes forked from this one, where the system can fork: the same bytes, sooner.
        Leave it at 1 in a program that runs other threads.
    """
    tell("teeth and tissues")
    tissues = build_tissues(
        build_arch(draw_mouth(order.seed, upper=order.upper, per_side=order.per_side, wishes=order.wishes))
    )
    files, about = _made(_Work(order, Truth(tissues)), processes, tell)
    files["truth-about-files.json"] = (json.dumps(about, indent=1, ensure_ascii=False) + "\n").encode()
    return write_whole(folder, files)

"""One small phantom scan, made once for all tests of this folder."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from festoon.phantom.arch import build_arch
from festoon.phantom.colours import Palette
from festoon.phantom.mouth import Wishes, draw_mouth
from festoon.phantom.scan import Scan, ScanSettings, make_scan
from festoon.phantom.tissues import build_tissues
from festoon.phantom.truth import Truth
from festoon.scan.raw import RawMesh
from festoon.scan.surface import Surface, clean
from festoon.scan.trace import TracedArch, trace_scan


@dataclass(frozen=True)
class Known:
    """A scan with its truth."""

    scan: Scan
    surface: Surface
    truth: Truth

    def to_file(self, points: np.ndarray) -> np.ndarray:
        """Arch frame of the truth to the file."""
        matrix = np.array(self.scan.about["arch_frame_to_file"])
        return points @ matrix[:3, :3].T + matrix[:3, 3]


def known(seed: int, noise: float = 0.05, wishes: Wishes | None = None) -> Known:
    """A six-tooth upper phantom, 50 um scanner noise, no holes."""
    tissues = build_tissues(build_arch(draw_mouth(seed, per_side=3, wishes=wishes or Wishes())))
    truth = Truth(tissues)
    made = make_scan(tissues, Palette(truth), ScanSettings(noise=noise, holes=0, saliva=0), seed)
    raw = RawMesh(made.mesh.vertices, made.mesh.faces, made.colours / 255.0)
    return Known(made, clean(raw, "phantom.ply", "mm"), truth)


@pytest.fixture(scope="session")
def mouth() -> Known:
    """Seed 12."""
    return known(12)


@pytest.fixture(scope="session")
def traced(mouth: Known) -> TracedArch:
    """The same, traced."""
    return trace_scan(mouth.surface)

"""Real teeth with a collar of gingiva whose margin is known: not one designer's idea of a tooth. Made here, never shipped.

Teeth: teeth-cbct-upper (Gholamalizadeh et al. 2022, CC BY-NC-SA, for checking only).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from festoon.scan.orientation import find_lie
from festoon.scan.row import lay_out
from festoon.scan.surface import read_surface
from festoon.scan.teeth import find_teeth
from festoon.scan.trace import trace_scan
from real_mouths import FRONT, teeth_cbct, with_gingiva

pytestmark = pytest.mark.slow


def test_margins_of_real_teeth_are_traced(shared_data: Path) -> None:
    """Numbers and jaw are found; the margin's height within 0.15 mm RMS in the median tooth and 0.25 in each, 50 um noise."""
    mouth = with_gingiva(teeth_cbct(shared_data), 9.0)
    arch = trace_scan(mouth.surface)
    assert tuple(t.fdi for t in arch.teeth) == FRONT
    rms = []
    for one in arch.teeth.values():
        curve = arch.frame.to_file(one.facial.curve)
        off = curve[:, 2] - mouth.height_of_margin(curve)
        rms.append(float(np.sqrt((off**2).mean())))
    assert float(np.median(rms)) < 0.15
    assert max(rms) < 0.25


def test_a_whole_arch_of_bare_crowns_is_numbered(shared_data: Path) -> None:
    """The 14 upper crowns of photos-and-crowns-a, without gingiva, get their own numbers."""
    surface = read_surface(shared_data / "photos-and-crowns-a" / "mesh" / "Ref_Upper_Mesh_Tag=0.obj")
    lie, surface = find_lie(surface)
    teeth = find_teeth(lay_out(surface, lie), surface.name).stretches
    assert [s.tooth.fdi for s in teeth] == [f"1{p}" for p in range(7, 0, -1)] + [f"2{p}" for p in range(1, 8)]

"""Real teeth with a collar of gingiva whose margin is known: not one designer's idea of a tooth. Made here, never shipped.

Teeth: teeth-cbct-upper (Gholamalizadeh et al. 2022, CC BY-NC-SA, for checking only).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

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

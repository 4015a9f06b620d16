"""What a phantom's files say about themselves: frames, true curves, and how each file departs from the truth."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from festoon.phantom.arch import Placed
from festoon.phantom.mouth import Mouth
from festoon.phantom.solids import in_arch_frame
from festoon.phantom.truth import CHOICES, Truth

Floats = NDArray[np.float64]


def about_truth(truth: Truth) -> dict[str, Any]:
    """Frames, curves and choices behind ``truth.json``, in the arch frame, mm."""
    arch = truth.tissues.arch
    upper = arch.mouth.upper
    return {
        "frame": "arch frame: x to the patient's left, y posterior, z superior, mm; levels from the present edge",
        "jaw": "upper" if upper else "lower",
        "choices": CHOICES,
        "mouth": about_mouth(arch.mouth),
        "teeth": {placed.tooth.fdi: _tooth(truth, placed) for placed in arch.teeth},
        "papilla_tips": {pair: _points(tip[None], upper)[0] for pair, tip in truth.tips.items()},
    }


def about_mouth(mouth: Mouth) -> dict[str, Any]:
    """Seed, person and wishes."""
    return {
        "seed": mouth.seed,
        "sex": mouth.sex,
        "age_years": mouth.age,
        "missing": [tooth.fdi for tooth in mouth.missing],
        "worn_mm": {plan.tooth.fdi: round(plan.worn, 3) for plan in mouth.teeth if plan.worn},
        "crowned": [plan.tooth.fdi for plan in mouth.teeth if plan.crowned],
        "turned_deg": {plan.tooth.fdi: plan.turned_deg for plan in mouth.teeth if plan.turned_deg},
        "dehiscence_mm": {plan.tooth.fdi: plan.dehiscence for plan in mouth.teeth if plan.dehiscence},
        "fenestrated": [plan.tooth.fdi for plan in mouth.teeth if plan.fenestrated],
        "spaces_mm": mouth.spaces,
    }


def _tooth(truth: Truth, placed: Placed) -> dict[str, Any]:
    upper, frame = truth.tissues.arch.mouth.upper, placed.frame
    fdi = placed.tooth.fdi
    axes = {name: _points(getattr(frame, name)[None], upper)[0] for name in ("axis", "facial", "distal")}
    curves = {"margin": truth.margins[fdi], "crest": truth.crests[fdi], "cej": truth.cejs[fdi]}
    return {
        "edge": _points(frame.edge[None], upper)[0],
        **axes,
        "mid_width_mm": round(frame.middle, 4),
        **{f"{name}_curve": _points(ring.points[::4], upper) for name, ring in curves.items()},
    }


def _points(points: Floats, upper: bool) -> list[list[float]]:
    return [[round(float(v), 4) for v in p] for p in in_arch_frame(points, upper)]

"""Where the teeth stand on a scan: traced, or given by a file of frames."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np

from festoon.errors import Fault, InputRefusedError
from festoon.model.dentition import Tooth
from festoon.scan.trace import TracedArch
from festoon.template.inputs import ToothOnScan


def traced(arch: TracedArch) -> dict[str, ToothOnScan]:
    """Teeth as the trace of the scan found them."""
    turn = arch.frame.from_file[:3, :3]
    out = {}
    for tooth, one in arch.teeth.items():
        f = one.frame
        out[tooth.fdi] = ToothOnScan(
            edge=arch.frame.to_file(f.edge[None])[0],
            axis=f.axis @ turn,
            facial=f.facial @ turn,
            distal=f.distal @ turn,
            middle=f.middle,
            width=f.width,
            fdi=tooth.fdi,
            margin=arch.frame.to_file(one.margin),
        )
    return out


def from_frames(path: Path) -> dict[str, ToothOnScan]:
    """Teeth of a frames.json as ``festoon measure scan`` writes it."""
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        matrix = np.array(data["file_mm_to_arch"], dtype=float)
        out = {}
        for fdi, tooth in data["teeth"].items():
            Tooth(fdi)
            frame = np.array(tooth["tooth_to_arch"], dtype=float)
            margin = np.array(tooth["margin_mm"], dtype=float)
            if frame.shape != (4, 4) or margin.ndim != 2 or margin.shape[1] != 3 or len(margin) < 12:
                raise ValueError(f"teeth.{fdi}: a 4 x 4 matrix and at least 12 points are needed")
            across = (margin - frame[:3, 3]) @ frame[:3, 0]
            middle = float(tooth.get("mid_width_mm", (across.max() + across.min()) / 2))
            width = float(tooth.get("width_mm", np.ptp(across)))
            out[fdi] = ToothOnScan(frame[:3, 3], frame[:3, 2], frame[:3, 1], frame[:3, 0], middle, width, fdi, margin)
    except (KeyError, TypeError, ValueError) as wrong:
        raise InputRefusedError(
            [
                Fault(
                    path.name,
                    "",
                    str(wrong),
                    "frames.json as festoon measure scan writes it",
                    "Write it anew and correct that one.",
                )
            ]
        ) from wrong
    back = np.linalg.inv(matrix)
    return {fdi: tooth.moved(back[:3, :3], back[:3, 3]) for fdi, tooth in out.items()}

"""One real photograph against the same person's crowns, tooth by tooth: by 11 alone, by all six widths, with the pose solved.

    python benchmarks/photo_real.py

Needs the folder shared/data beside the checkout. The reference is the crowns' own widths, and lengths to their rim, which only approximates the margin.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from festoon.model.quantities import Quantity
from festoon.photo.arch import KnownWidth, arch_scale
from festoon.photo.crown import crowns_of
from festoon.photo.marks import read_marks
from festoon.photo.pose import solve_pose
from festoon.photo.posed import readings_with_pose, sigma_points
from festoon.photo.quantities import readings_without_scan
from photographed import drawn_marks, lengths, real_front

ROOT = Path(__file__).resolve().parents[1]


def main() -> None:
    """Print the table."""
    data = next(f / "shared" / "data" for f in ROOT.parents if (f / "shared" / "data").is_dir())
    front, marks = real_front(data), read_marks(drawn_marks(data), "drawn")
    crowns, rim = crowns_of(marks), lengths(front)
    widths = {t: f.width for t, f in front.frames.items()}
    known = [KnownWidth(t, w, 0.05) for t, w in widths.items()]
    pose = solve_pose(front, crowns, (1440, 1080), marks.mark_se)
    if pose is None:
        raise SystemExit("no pose")
    ways = {
        "11 alone": readings_without_scan(
            crowns, marks, arch_scale(crowns, [k for k in known if k.tooth.fdi == "11"], (), marks.mark_se)
        ),
        "six widths": readings_without_scan(crowns, marks, arch_scale(crowns, known, (), marks.mark_se)),
        "pose": readings_with_pose(front, crowns, marks, pose),
    }
    for quantity, true in (
        (Quantity.CROWN_WIDTH, {t.fdi: w for t, w in widths.items()}),
        (Quantity.CROWN_LENGTH, rim),
    ):
        for name, readings in ways.items():
            found = {r.tooth: r for r in readings if r.quantity is quantity}
            cells = [
                f"{code} {found[code].value:.2f}+/-{found[code].se:.2f} ({100 * (found[code].value / ref - 1):+.1f} %)"
                for code, ref in true.items()
                if code in found
            ]
            error = np.array([found[c].value / v - 1 for c, v in true.items() if c in found])
            rms = 100 * np.sqrt((error**2).mean())
            print(f"{quantity.value:13}{name:11}" + "  ".join(cells) + f"  RMS {rms:.1f} %")
        print(f"{'':13}{'crowns':11}" + "  ".join(f"{c} {v:.2f}" for c, v in true.items()))
    yaw, pitch, roll = pose.angles_deg
    se = np.sqrt(np.diag(pose.covariance))
    angles = np.sqrt((sigma_points(pose, lambda at: np.array(at.angles_deg)) ** 2).sum(axis=0))
    print(
        f"camera {pose.distance_mm:.0f} mm away (se of ln {se[5]:.2f}), yaw {yaw:.1f}, pitch {pitch:.1f}, roll {roll:.1f} degrees; "
        f"outlines to {pose.residual_px:.1f} px; se of yaw {angles[0]:.1f}, pitch {angles[1]:.1f}, roll {angles[2]:.1f}"
    )


if __name__ == "__main__":
    main()

"""Measuring a surface scan: from a file to readings, and a picture of what was found."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from festoon.errors import Fault, InputRefusedError
from festoon.model.dentition import Tooth
from festoon.model.quantities import Readings
from festoon.records.writing import write_whole
from festoon.scan.by_hand import ByHand, Place
from festoon.scan.correction import with_points
from festoon.scan.doubts import BY_HAND
from festoon.scan.picture import draw_picture
from festoon.scan.quantities import WIDE, readings_of
from festoon.scan.raw import Jaw, Unit
from festoon.scan.surface import read_surface
from festoon.scan.trace import TracedArch, trace_scan


@dataclass(frozen=True)
class MeasuredScan:
    """What a scan says."""

    arch: TracedArch
    readings: Readings
    notes: tuple[str, ...]
    """What was read, what was put right, and what to confirm, in words."""

    def as_json(self) -> str:
        """The readings, format ``festoon-readings/1``."""
        return self.readings.model_dump_json(indent=1, exclude_none=True) + "\n"

    @property
    def margins(self) -> dict[str, list[list[float]]]:
        """Facial margin of each tooth from mesial to distal, millimetres in the pose of the file: to be drawn on the surface."""
        to_file = self.arch.frame.to_file
        return {t.fdi: np.round(to_file(one.facial.curve), 3).tolist() for t, one in self.arch.teeth.items()}


@dataclass(frozen=True)
class SetPoint:
    """A point that a person set on a tooth."""

    tooth: Tooth
    point: tuple[float, float, float]
    """On the surface, millimetres in the pose of the file."""
    place: Place = "margin"
    """What lies there: the facial margin goes through it, or the zenith, a papilla tip, the edge point or an end of the crown is it."""


def measure_scan(
    file: Path,
    *,
    unit: Unit | None = None,
    jaw: Jaw | None = None,
    teeth: frozenset[Tooth] | None = None,
    case: str | None = None,
    numbers: Mapping[Tooth, Tooth] | None = None,
    tell: Callable[[str], None] = lambda _: None,
) -> MeasuredScan:
    """Measure a scan file.

    Parameters
    ----------
    file : Path
        STL, PLY, OBJ or 3MF.
    unit : {"mm", "cm", "m", "inch"}, optional
        Unit of the coordinates; None: as 3MF says, else mm if plausible.
    jaw : {"upper", "lower"}, optional
        None: found from the sizes of the teeth.
    teeth : set of Tooth, optional
        Only these; None: every tooth found.
    case : str, optional
        Pseudonymous id of the case; None: the file's name.
    numbers : mapping of Tooth to Tooth, optional
        Numbers that a person set, found to given; ``teeth`` are the given ones.
    tell : callable
        Is told what is being done, in words.

    Raises
    ------
    InputRefusedError
        If the numbers cannot be, the file cannot be read, is no dental arch, or none of the teeth asked for is on it.
    """
    tell("reading")
    surface = read_surface(file, unit)
    try:
        arch = trace_scan(surface, jaw, teeth, tell, numbers)
    except InputRefusedError:
        raise  # it says itself what is wrong with the file
    except ValueError as wrong:
        raise InputRefusedError(
            [Fault(file.name, "numbers", str(wrong), "numbers of one jaw in their order", "Correct the numbers.")]
        ) from wrong
    if not arch.teeth:
        found = ", ".join(s.tooth.fdi for s in arch.division.stretches)
        asked = "none of the teeth asked for" if teeth else "no tooth with a margin"
        raise InputRefusedError(
            [
                Fault(
                    file.name,
                    "",
                    f"{asked} (found: {found})",
                    "teeth with their gingival margin",
                    "Check --teeth and --jaw, or scan again with the margins in view.",
                )
            ]
        )
    notes = list(surface.report)
    if not surface.unit_said:
        notes.append("unit: mm, since the size is that of an arch then; say the unit to confirm it")
    notes += arch.notes
    if arch.not_traced:
        notes.append("no margin could be traced: " + ", ".join(t.fdi for t in arch.not_traced))
    if teeth:
        absent = sorted(t.fdi for t in teeth - {s.tooth for s in arch.division.stretches})
        if absent:
            notes.append("not on the scan: " + ", ".join(absent))
    name = case or re.sub(r"[^A-Za-z0-9._-]+", "-", file.name.split(".")[0]).strip("-.") or "scan"
    return MeasuredScan(arch, Readings(case=name, readings=readings_of(arch)), tuple(notes))


def corrected(measured: MeasuredScan, points: Sequence[SetPoint], *, by: str | None = None) -> MeasuredScan:
    """What a scan says with the points that a person set; the rest is solved again around them.

    Nothing is remembered: the points are all that count, a tooth without one is as it was measured. The readings that rest on a set
    point say so in their flag and who set it. A papilla tip belongs to both of its teeth. About a tenth of a second a tooth.

    Parameters
    ----------
    measured : MeasuredScan
        Of the whole arch.
    points : sequence of SetPoint
    by : str, optional
        Who set them, as a pseudonymous code.

    Raises
    ------
    InputRefusedError
        If a tooth was not measured, or no margin of it can go through a point.
    """
    arch = measured.arch
    wanted: dict[Tooth, list[tuple[Place, tuple[float, float, float]]]] = {
        tooth: [] for tooth, one in arch.teeth.items() if one.by_hand.points
    }
    for one in points:
        x, y, z = (float(v) for v in arch.frame.to_arch(np.array(one.point)))
        wanted.setdefault(one.tooth, []).append((one.place, (x, y, z)))
        beside = _beside(arch, one)
        if beside is not None:
            wanted.setdefault(beside[0], []).append((beside[1], (x, y, z)))
    for tooth, own in wanted.items():
        try:
            arch = with_points(arch, tooth, ByHand(tuple(own)))
        except (KeyError, ValueError) as error:
            found = "it was not measured" if isinstance(error, KeyError) else str(error)
            places = "; ".join(", ".join(f"{v:.2f}" for v in p.point) for p in points if p.tooth == tooth)
            raise InputRefusedError(
                [
                    Fault(
                        arch.surface.name,
                        tooth.fdi,
                        f"{found} ({places})",
                        "points on its facial surface",
                        "Set them again.",
                    )
                ]
            ) from None
    readings = tuple(r.model_copy(update={"by": by}) if r.flag and BY_HAND in r.flag else r for r in readings_of(arch))
    return replace(measured, arch=arch, readings=measured.readings.model_copy(update={"readings": readings}))


def _beside(arch: TracedArch, one: SetPoint) -> tuple[Tooth, Place] | None:
    """The other tooth of a papilla tip, and what the point is there; None where there is none."""
    if one.place not in ("mesial_papilla", "distal_papilla"):
        return None
    for pair in arch.pairs:
        if one.tooth in (pair.right, pair.left) and pair.site_of(one.tooth).value == one.place.removesuffix("_papilla"):
            other = pair.left if one.tooth == pair.right else pair.right
            return other, "mesial_papilla" if pair.site_of(other).value == "mesial" else "distal_papilla"
    return None


def picture_of(measured: MeasuredScan) -> bytes:
    """The traced scan from the front and the side as PNG, teeth with a remark marked."""
    doubted = [r for r in measured.readings.readings if r.flag and not r.flag.startswith(WIDE)]
    flagged = frozenset(r.tooth for r in doubted if r.tooth)
    return draw_picture(measured.arch, flagged)


def write_measured(measured: MeasuredScan, folder: Path) -> tuple[Path, ...]:
    """Write ``readings.json``, ``scan.png`` and ``frames.json`` into ``folder``, all or none."""
    return write_whole(
        folder,
        {
            "readings.json": measured.as_json().encode(),
            "scan.png": picture_of(measured),
            "frames.json": (json.dumps(_frames(measured.arch), indent=1) + "\n").encode(),
        },
    )


def _frames(arch: TracedArch) -> dict[str, object]:
    """The arch frame, the tooth frames and the margin curves, so that another program can place what was read."""
    return {
        "file": arch.surface.name,
        "jaw": arch.division.jaw,
        "unit": arch.surface.unit,
        "file_mm_to_arch": [[round(float(v), 6) for v in row] for row in arch.frame.from_file],
        "teeth": {
            tooth.fdi: {
                "tooth_to_arch": [[round(float(v), 6) for v in row] for row in one.frame.matrix],
                "mid_width_mm": round(one.frame.middle, 4),
                "width_mm": round(one.frame.width, 4),
                "margin_mm": [[round(float(v), 4) for v in p] for p in one.margin],
                "set_by_hand": [{"place": w, "arch_mm": [round(v, 4) for v in p]} for w, p in one.by_hand.points],
            }
            for tooth, one in arch.teeth.items()
        },
    }

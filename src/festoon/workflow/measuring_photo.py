"""Measuring a photograph: from a picture, marks and what is known in millimetres to readings, and a picture of what was measured."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import Literal

import numpy as np

from festoon.errors import Fault, InputRefusedError
from festoon.model.dentition import Site, Tooth
from festoon.model.plan import Plan
from festoon.model.quantities import Quantity, QuantityReading, Readings
from festoon.photo.arch import ArchScale, KnownWidth, arch_scale
from festoon.photo.comparing import in_pose_of, reasons_apart
from festoon.photo.crown import PixelCrown, crowns_of
from festoon.photo.framing import Framing
from festoon.photo.lines import readings_of_lines
from festoon.photo.marks import MarkedPicture, Marks, ToothMarks, read_marks
from festoon.photo.outlines import found_outlines
from festoon.photo.overlay import draw_measured, draw_planned, draw_side_by_side
from festoon.photo.planned import MovedMargin, moved_margin
from festoon.photo.pose import Pose, ScannedFront, solve_pose
from festoon.photo.posed import readings_with_pose, sigma_points
from festoon.photo.quantities import UNTOLD_MM, readings_without_scan
from festoon.photo.reading import Photo, read_photo
from festoon.photo.scale import known_lengths
from festoon.records.writing import write_whole
from festoon.scan.doubts import doubts_of
from festoon.scan.raw import Unit
from festoon.scan.surface import read_surface
from festoon.scan.trace import TracedArch, trace_scan
from festoon.workflow.marking_photo import KnownSquare, unmeasured_marker, with_marker

NO_SCALE = (
    "no millimetres: nothing of known size was given, and the dpi of a file says nothing of teeth. "
    "Ratios only; give --known-width 11=8.43 (calliper or scan), hold a marker beside the teeth (--marker-size), or mark a ruler"
)
_KNOWN = re.compile(r"\s*([1-4][1-8])\s*=\s*(\d+(?:\.\d+)?)\s*(?::\s*(\d+(?:\.\d+)?))?\s*")
KNOWN_SE_MM = 0.1
"""Standard error of a known width where none is said: a calliper read to 0.1 mm (common practice, no source)."""
_SIDE = re.compile(r"\s*(\d+(?:\.\d+)?)\s*(?::\s*(\d+(?:\.\d+)?))?\s*")
_SIDES_MM = (3.0, 60.0)
"""A marker's side lies between these."""
_WIDTHS_MM = (2.5, 14.0)
"""A crown's width lies between these."""


@dataclass(frozen=True)
class MeasuredPhoto:
    """What a photograph says."""

    photo: Photo
    marks: Marks
    crowns: Mapping[Tooth, PixelCrown]
    scale: ArchScale | None
    """None without anything known in millimetres, or where the pose stands for it."""
    front: ScannedFront | None
    pose: Pose | None
    """Where the camera stood before the scan; None without a scan."""
    mm_per_px: Mapping[Tooth, tuple[float, float]]
    """Along each tooth, and its relative standard error; empty without a scale."""
    readings: Readings
    notes: tuple[str, ...]
    """What was read, what disagrees, and what cannot be known, in words."""

    def as_json(self) -> str:
        """The readings, format ``festoon-readings/1``."""
        return self.readings.model_dump_json(indent=1, exclude_none=True) + "\n"


def known_width(text: str) -> KnownWidth:
    """``11=8.43`` or, with its standard error, ``11=8.43:0.05``.

    Raises
    ------
    ValueError
        If it says anything else, or no crown is so wide.
    """
    match = _KNOWN.fullmatch(text)
    if match is None:
        raise ValueError(f"{text!r}: write it as TOOTH=MM or TOOTH=MM:SE, e.g. 11=8.43:0.05")
    mm, se = float(match[2]), float(match[3]) if match[3] else KNOWN_SE_MM
    if not _WIDTHS_MM[0] <= mm <= _WIDTHS_MM[1]:
        raise ValueError(f"{text!r}: a crown {mm:g} mm wide; expected {_WIDTHS_MM[0]:g} to {_WIDTHS_MM[1]:g} mm")
    if not se > 0:
        raise ValueError(
            f"{text!r}: no measurement is without error; give its standard error, e.g. {match[1]}={mm:g}:0.05"
        )
    return KnownWidth(Tooth(match[1]), mm, se)


def known_square(text: str, behind_mm: float = 0.0) -> KnownSquare:
    """``9.97`` or, with its standard error, ``9.97:0.05``.

    Raises
    ------
    ValueError
        If it says anything else, or no marker is so large.
    """
    match = _SIDE.fullmatch(text)
    if match is None:
        raise ValueError(f"{text!r}: write it as MM or MM:SE, e.g. 9.97:0.05")
    mm, se = float(match[1]), float(match[2]) if match[2] else KNOWN_SE_MM
    if not _SIDES_MM[0] <= mm <= _SIDES_MM[1]:
        raise ValueError(f"{text!r}: a side of {mm:g} mm; expected {_SIDES_MM[0]:g} to {_SIDES_MM[1]:g} mm")
    if not se > 0:
        raise ValueError(f"{text!r}: no measurement is without error; give its standard error, e.g. {mm:g}:0.05")
    return KnownSquare(mm, se, behind_mm)


def measure_photo(
    file: Path,
    *,
    marks: Path | None = None,
    known: Sequence[KnownWidth] = (),
    marker: KnownSquare | None = None,
    scan: Path | None = None,
    unit: Unit | None = None,
    same_tissue: bool = False,
    mirrored: Literal["as_tagged", "ignored"] | None = None,
    case: str | None = None,
    tell: Callable[[str], None] = lambda _: None,
) -> MeasuredPhoto:
    """Measure a photograph.

    Parameters
    ----------
    file : Path
        JPEG, PNG, TIFF, HEIC or WebP.
    marks : Path, optional
        Mark file, ``festoon-marks/1``; None: the outlines of the upper front teeth are found, for a person to confirm.
    known : sequence of KnownWidth
        Widths of teeth measured on the person; empty, and no marker, no ruler among the marks and no scan: ratios alone. With a scan they
        are not used for the scale.
    marker : KnownSquare, optional
        A printed marker in the picture, to be found there.
    scan : Path, optional
        Surface scan of the same person, its incisal edges as in the photograph: the camera's pose is solved from it.
    unit : {"mm", "cm", "m", "inch"}, optional
        Of the scan's coordinates.
    same_tissue : bool
        Gingival margins on scan and photograph are in one state, so that they may help to find the pose.
    mirrored : {"as_tagged", "ignored"}, optional
        What to do where the file's orientation mirrors the picture; None: refuse and ask.
    case : str, optional
        Pseudonymous id of the case; None: the file's name.
    tell : callable
        Is told what is being done, in words.

    Raises
    ------
    InputRefusedError
        If the picture, the marks or the scan cannot be used, a known width is of a tooth that is not marked, or photograph and scan do
        not fit each other.
    """
    tell("reading")
    photo = read_photo(file, mirrored)
    if marks is None:
        tell("outlines")
        read, found_notes = _found_marks(photo)
    else:
        read, found_notes = read_marks(marks.read_text("utf-8"), marks.name, photo), ()
    _check_known(known, read, marks.name if marks else photo.name)
    if marker is not None:
        tell("marker")
        read, marker_notes = with_marker(photo, read, marker)
        found_notes = (*found_notes, *marker_notes)
    tell("crowns")
    crowns = crowns_of(read)
    _check_crowns(crowns, marks.name if marks else photo.name)
    front = pose = scale = None
    if scan is not None:
        arch = trace_scan(read_surface(scan, unit), "upper" if next(iter(crowns)).is_upper else "lower", None, tell)
        front = scanned_front(arch)
        tell("pose of the camera")
        pose = _solved(front, crowns, photo, read, same_tissue, scan.name)
        along = along_with(front, crowns, pose)
        about = {tooth: doubts_of(arch, one) for tooth, one in arch.teeth.items()}
        readings = with_doubts_of(
            readings_with_pose(front, crowns, read, pose), {t: (d.all, d.sides) for t, d in about.items()}
        )
    else:
        scale = arch_scale(crowns, known, known_lengths(read), read.mark_se)
        along = {t: (s.mm_per_px, s.relative_se) for t, s in scale.teeth.items()} if scale else {}
        readings = readings_without_scan(crowns, read, scale)
    readings = (*readings, *readings_of_lines(crowns, read, along))
    name = case or re.sub(r"[^A-Za-z0-9._-]+", "-", file.name.split(".")[0]).strip("-.") or "photo"
    notes = [*photo.notes, *found_notes]
    if photo.removed:
        notes.append("not kept from the file: " + ", ".join(photo.removed))
    if photo.framed.framing is Framing.PART:
        notes.append(
            f"the picture is a part of its camera's frame ({photo.framed.why}): where the camera looked and its focal length are not known, and the "
            "pose is less sure; give the whole photograph"
        )
    if pose is not None:
        notes.append(_pose_in_words(pose))
        if known or known_lengths(read):
            notes.append("known widths, rulers and markers were not used: the scan gives the scale")
    elif scale is not None:
        notes += [*scale.notes, *scale.conflicts]
    else:
        notes += [NO_SCALE, *([seen] if (seen := unmeasured_marker(photo)) else [])]
    hidden = [t.fdi for t in crowns if not any(r.tooth == t.fdi for r in readings)]
    if hidden:
        notes.append(
            f"not measured, since the margin is not seen, the jaw has no scale, or picture and scan disagree about the width: {', '.join(hidden)}"
        )
    return MeasuredPhoto(
        photo, read, crowns, scale, front, pose, along, Readings(case=name, readings=readings), tuple(notes)
    )


FOUND_SE_SHARE = 3 / 1000
"""Standard error of an outline that was found and not drawn, as a share of the picture's width: some 0.2 mm where the mouth fills the picture
(docs/method/photo-outlines.md: 0.1 mm on average, 0.5 at worst)."""


_DOUBTFUL_TIMES = 3.0
"""The error of a doubtful outline, or scanned tooth, is so many times as large: blood or a shade have moved a margin by 0.2 to 0.5 mm (docs/method/photo-outlines.md)."""


def _found_marks(photo: Photo) -> tuple[Marks, tuple[str, ...]]:
    """Outlines found in the picture as marks, and what to look at."""
    found = found_outlines(photo)
    high, wide = photo.pixels.shape[:2]
    marks = Marks(
        photo=MarkedPicture(sha256=photo.sha256, width_px=wide, height_px=high),
        mark_se_px=round(FOUND_SE_SHARE * wide, 2),
        teeth={
            code: ToothMarks(
                outline=tuple((round(float(x), 2), round(float(y), 2)) for x, y in line),
                mark_se_px=round(_DOUBTFUL_TIMES * FOUND_SE_SHARE * wide, 2) if code in found.doubtful else None,
            )
            for code, line in found.outlines.items()
        },
    )
    told = "outlines were found, not drawn: confirm numbers, sides and margins in the picture, and correct marks.json where they are off"
    return marks, (told, *found.notes)


def scanned_front(arch: TracedArch) -> ScannedFront:
    """A traced scan as the photograph's side sees it."""
    frames = {tooth: one.frame for tooth, one in arch.teeth.items()}
    return ScannedFront(arch.scene.vertices, arch.scene.faces, arch.labels, frames)


def with_doubts_of(
    readings: Sequence[QuantityReading], doubts: Mapping[Tooth, tuple[tuple[str, ...], tuple[str, ...]]]
) -> tuple[QuantityReading, ...]:
    """Readings that rest on a doubtful scanned tooth, flagged and with a standard error three times as large; without those that say nothing then.

    Parameters
    ----------
    readings : sequence of QuantityReading
    doubts : mapping of Tooth to (doubts about everything, doubts about the crown's sides)
        The scanned margin takes no part: the margin read is that of the photograph.
    """
    out = []
    for reading in readings:
        every, sides = doubts.get(Tooth(str(reading.tooth)), ((), ()))
        said = every + (sides if reading.quantity in _ON_SIDES else ())
        if said and reading.se is not None:
            flag = "; ".join([*([reading.flag] if reading.flag else []), *(f"scan: {text}" for text in said)])
            wide = round(_DOUBTFUL_TIMES * reading.se, 3)
            if reading.unit == "mm" and wide > UNTOLD_MM:
                continue
            reading = reading.model_copy(update={"se": wide, "flag": flag})
        out.append(reading)
    return tuple(out)


_ON_SIDES = (Quantity.CROWN_WIDTH, Quantity.CROWN_RATIO, Quantity.ZENITH_OFFSET)
"""Quantities that rest on where the scanned crown ends mesially and distally."""


def _solved(
    front: ScannedFront, crowns: Mapping[Tooth, PixelCrown], photo: Photo, marks: Marks, same_tissue: bool, scan: str
) -> Pose:
    size = (photo.pixels.shape[1], photo.pixels.shape[0])
    pose = solve_pose(front, crowns, size, marks.mark_se, photo.focal_px, same_tissue, photo.framed.framing)
    if pose is None:
        fault = Fault(
            photo.name,
            "",
            f"outlines of {', '.join(t.fdi for t, c in crowns.items() if c.outline is not None) or 'no tooth'}",
            f"at least three outlined teeth that are on {scan} too ({', '.join(t.fdi for t in front.frames)})",
            "Outline more teeth, or give known widths in place of the scan.",
        )
        raise InputRefusedError([fault])
    misfit = pose.residual_px * pose.distance_mm / pose.focal_px
    if misfit > MISFIT_MM:
        fault = Fault(
            photo.name,
            "",
            f"outlines that lie {misfit:.2f} mm from those of {scan} in the best pose",
            f"at most {MISFIT_MM:g} mm: the same person, the same edges, the right tooth numbers",
            "Check the numbers of the teeth in both, and that no edge was changed in between.",
        )
        raise InputRefusedError([fault])
    return pose


MISFIT_MM = 0.3
"""A pose whose outlines lie further off (root mean square) is no pose of this person's teeth. A setting; good fits lie at
0.08 to 0.13 mm, a scan with a tooth traced wrong at 0.36 (synthetic mouths; one real person: 0.13)."""


def along_with(front: ScannedFront, crowns: Mapping[Tooth, PixelCrown], pose: Pose) -> dict[Tooth, tuple[float, float]]:
    """mm per pixel at each tooth of the scan and its relative standard error."""
    out = {}
    for tooth in crowns:
        if tooth in front.frames:
            frame = front.frames[tooth]
            at = np.stack([frame.edge, frame.edge + 5.0 * frame.axis])
            px = float(np.linalg.norm(np.diff(pose.project(at), axis=0)))
            out[tooth] = (5.0 / px, _POSED_SE)
    return out


_POSED_SE = 0.015
"""Relative standard error of mm per pixel at a tooth whose scan fits the picture (seen on synthetic mouths: lengths of centrals to 1.1 %)."""


def _pose_in_words(pose: Pose) -> str:
    yaw, pitch, roll = pose.angles_deg
    se = np.sqrt((sigma_points(pose, lambda at: np.array(at.angles_deg)) ** 2).sum(axis=0))
    return (
        f"camera {pose.distance_mm:.0f} mm away, yaw {yaw:+.1f}, pitch {pitch:+.1f}, roll {roll:+.1f} degrees (se {se[0]:.1f}, "
        f"{se[1]:.1f}, {se[2]:.1f}) by {', '.join(t.fdi for t in pose.used)}; outlines fit to "
        f"{pose.residual_px * pose.distance_mm / pose.focal_px:.2f} mm"
    )


def write_measured_photo(
    measured: MeasuredPhoto, folder: Path, more: Mapping[str, bytes] = MappingProxyType({})
) -> tuple[Path, ...]:
    """Write ``readings.json``, ``photo.png``, ``marks.json`` and what ``more`` holds by name into ``folder``, all or none."""
    drawn = draw_measured(measured.photo, measured.crowns, measured.marks, measured.readings.readings)
    marks = measured.marks.model_dump_json(indent=1, exclude_none=True) + "\n"
    return write_whole(
        folder, {"readings.json": measured.as_json().encode(), "photo.png": drawn, "marks.json": marks.encode(), **more}
    )


def draw_plan_on(measured: MeasuredPhoto, plan: Plan) -> bytes:
    """PNG of the planned margins on the photograph, marked as a simulation.

    Raises
    ------
    InputRefusedError
        If the photograph has no scale, or none of its outlined teeth has a margin that is planned to move.
    """
    drawn: dict[Tooth, MovedMargin] = {}
    for tooth, crown in measured.crowns.items():
        moves = _moves(plan, tooth)
        if tooth in measured.mm_per_px and any(abs(v) > 0 for v in moves.values()):
            moved = moved_margin(crown, moves, measured.mm_per_px[tooth][0], measured.front, measured.pose)
            if moved is not None:
                drawn[tooth] = moved
    if not drawn:
        fault = Fault(
            measured.photo.name,
            "",
            "no scale" if not measured.mm_per_px else "no outlined tooth whose margin the plan moves",
            "a photograph with a scale (or a scan) and outlines of the planned teeth",
            "Give --known-width or --scan, and outline those teeth.",
        )
        raise InputRefusedError([fault])
    present = {t: m.present for t, m in drawn.items()}
    return draw_planned(measured.photo, present, {t: m.planned for t, m in drawn.items()})


def draw_beside(before: MeasuredPhoto, after: MeasuredPhoto) -> bytes:
    """PNG of two photographs of one person beside each other, the later one in the pose of the earlier.

    Raises
    ------
    InputRefusedError
        If one has no pose, or their poses do not agree.
    """
    if before.front is None or before.pose is None or after.pose is None:
        reasons: tuple[str, ...] = ("no pose of one of them",)
    else:
        reasons = reasons_apart(before.front, before.pose, after.pose)
        if not reasons:
            shown = in_pose_of(before.front, before.pose, after.pose, after.photo)
            around = np.concatenate([c.outline for c in before.crowns.values() if c.outline is not None])
            return draw_side_by_side(before.photo, replace(after.photo, pixels=shown), around)
    fault = Fault(
        f"{before.photo.name}, {after.photo.name}",
        "",
        "; ".join(reasons),
        "two photographs whose poses were solved with one scan and agree",
        "Take the later photograph again from where the earlier was taken; their millimetres may be compared all the same.",
    )
    raise InputRefusedError([fault])


def _moves(plan: Plan, tooth: Tooth) -> dict[Site, float]:
    """Planned less present margin by facial site, both from one edge, mm."""
    return {
        s.site: s.margin_planned_mm - s.margin_present_mm
        for s in plan.sites
        if s.tooth == tooth.fdi
        and s.site.is_facial
        and s.margin_planned_mm is not None
        and s.margin_present_mm is not None
    }


def _check_crowns(crowns: Mapping[Tooth, PixelCrown], name: str) -> None:
    """Every crown has a width and a length: mesial towards the midline, the zenith apical of the edge."""
    faults = [
        Fault(
            name,
            f"teeth.{tooth}",
            f"a crown {crown.width:.0f} pixels wide and {crown.length:.0f} long",
            f"at least {_LEAST_PX} of each: mesial towards the midline, the zenith apical of the edge",
            "Check whether points were exchanged, and the number of the tooth.",
        )
        for tooth, crown in crowns.items()
        if crown.width < _LEAST_PX or crown.length < _LEAST_PX
    ]
    if faults:
        raise InputRefusedError(faults)


_LEAST_PX = 8
"""A crown of fewer pixels cannot be measured."""


def _check_known(known: Sequence[KnownWidth], marks: Marks, name: str) -> None:
    faults = [
        Fault(
            name,
            "teeth",
            f"no marks of {k.tooth}, whose width is given",
            f"a known width of a marked tooth: {', '.join(marks.teeth)}",
            "Mark that tooth too, or give the width of another.",
        )
        for k in known
        if k.tooth.fdi not in marks.teeth
    ]
    twice = sorted({k.tooth.fdi for k in known if sum(o.tooth == k.tooth for o in known) > 1})
    faults += [
        Fault(name, f"teeth.{code}", "two known widths", "one width of a tooth", "Give the better one.")
        for code in twice
    ]
    if faults:
        raise InputRefusedError(faults)

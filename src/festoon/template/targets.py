"""From a plan to lines on the teeth: planned levels from the edge that is on the scan, shaped like the present scallop."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import gaussian_filter1d

from festoon.model.dentition import Site, Tooth, as_seen
from festoon.model.plan import Plan
from festoon.template.inputs import Floats, ToothOnScan

LINE_ANGLE_SHARE = 0.3
"""Line angles lie this share of the width from mid-width, as the readings define them."""
_STEP = 0.15
"""Spacing of a line's points, mm."""
_DISAGREE = 0.5
"""Scan and plan further apart than this on a present margin are said, mm: the recheck limit of the chair."""
_NARROWEST = 0.8
"""A crown is no narrower than this share of its margin (no source)."""
_KEEP = 1.0
"""The part stays this far coronal to a margin that is not treated, mm (common practice, no source)."""
_LEADS = 1.2
"""Beside a treated tooth it gets there over so much of its width, mm (no source)."""
_MEET = 2.5
"""Ends further apart leave a gap between the teeth, mm (no source)."""
_SLOPE = 1.2
"""Beside the last crest line the part falls back by so much over each mm (no source)."""
_SITES = (Site.MESIAL, Site.MESIOFACIAL, Site.MIDFACIAL, Site.DISTOFACIAL, Site.DISTAL)


@dataclass(frozen=True)
class Target:
    """Lines of one tooth as seen from its facial side: distal from mid-width and level from the present edge, mm."""

    tooth: ToothOnScan
    treated: bool
    across: Floats
    """Increasing, shape (K,)."""
    present: Floats
    """Present facial margin, levels, shape (K,)."""
    margin: Floats
    """Where the part ends: the planned margin of a treated tooth, else clear of the margin, shape (K,)."""
    crest: Floats | None
    """Planned crest of a treated tooth; None where the plan has no crest for it."""
    lingual: Floats
    """Where the part ends on the lingual side, levels, shape (K,)."""
    bone: float
    """Most bone to be removed facially, mm."""

    @property
    def half(self) -> float:
        """Half of the width over which the margin was traced, mm."""
        return float(np.ptp(self.across)) / 2


def targets_of(plan: Plan, teeth: dict[str, ToothOnScan]) -> tuple[list[Target], list[str]]:
    """Lines of every tooth that is on the scan, as seen from the patient's right, and what should be said about them.

    A planned level is converted to the edge on the scan by the plan's own ``*_planned_from_present_edge_mm``. Between the sites the line
    keeps the shape of the present margin. A papilla that the plan leaves alone is not crossed: there the line is never apical to
    the tip on the scan.
    """
    notes: list[str] = []
    rows = [_reached(teeth[tooth.fdi]) for tooth in as_seen(Tooth(fdi) for fdi in teeth)]
    for k in range(len(rows) - 1):
        rows[k], rows[k + 1] = _parted(rows[k], rows[k + 1])
    targets = [_target(plan, tooth, across, notes) for tooth, across in rows]
    return [_led_on(k, targets) for k in range(len(targets))], notes


def _on_margin(tooth: ToothOnScan, across: Floats) -> Floats:
    """Places of the facial margin, shape (K, 3)."""
    at = tooth.coordinates(tooth.margin)
    facial, _ = halves(tooth)
    level = np.interp(across, facial[:, 0], facial[:, 1])
    front = at[at[:, 1] >= np.median(at[:, 1])]
    front = front[np.argsort(front[:, 0])]
    return tooth.points(across, np.interp(across, front[:, 0], front[:, 1]), level)


def _led_on(k: int, targets: list[Target]) -> Target:
    """An untreated tooth whose line begins where that of a treated neighbour ends, and leaves the margin from there."""
    here = targets[k]
    if here.treated:
        return here
    clear = np.full(len(here.across), np.inf)
    for near in (n for n in targets[max(k - 1, 0) : k + 2] if n.treated):
        clear = np.minimum(clear, np.abs(here.across - here.across[_facing(here, near)]) / _LEADS)
    return replace(here, margin=here.present - _KEEP * np.clip(clear, 0, 1))


def _reached(tooth: ToothOnScan) -> tuple[ToothOnScan, Floats]:
    """A tooth and the places across it at which its lines are laid."""
    facial, _ = halves(tooth)
    # A tooth at the end of a scan has no contact there to measure a width by; its margin still says how wide it is.
    reach = max(tooth.width, _NARROWEST * float(np.ptp(facial[:, 0]))) / 2 + 0.2
    return tooth, np.arange(max(facial[0, 0] + 0.05, -reach), min(facial[-1, 0] - 0.05, reach), _STEP)


def _parted(
    a: tuple[ToothOnScan, Floats], b: tuple[ToothOnScan, Floats]
) -> tuple[tuple[ToothOnScan, Floats], tuple[ToothOnScan, Floats]]:
    """Two neighbours whose lines end where they meet: a line traced beyond its papilla would cross the other's."""
    teeth = a[0], b[0]
    none = np.zeros(1)
    here, there = (t.points(none, none, none + 5.0)[0] for t in teeth)
    # Square to where both look: seen askew, how deep a line lies would move it along the row.
    way = np.cross(teeth[0].axis + teeth[1].axis, teeth[0].facial + teeth[1].facial)
    way *= np.sign(way @ (there - here)) / np.linalg.norm(way)
    share = np.ptp(a[1]) / (np.ptp(a[1]) + np.ptp(b[1]))
    meeting = float(here @ way + share * ((there - here) @ way))
    reach_a, reach_b = (_on_margin(t, across) @ way for t, across in (a, b))
    return (a[0], a[1][reach_a < meeting - _STEP / 2]), (b[0], b[1][reach_b > meeting + _STEP / 2])


def running_on(targets: list[Target]) -> list[Target]:
    """For a part along crest lines: beside the last of them the part runs on over the neighbour and slopes back to its line, since cut
    off at the papilla it would end in a blade. Nothing is cut along the slope, and it keeps off the gingiva.
    """
    out = list(targets)
    for k, here in enumerate(targets):
        for near in targets[max(k - 1, 0) : k + 2]:
            if near.crest is None or here.crest is not None:
                continue
            ends = _facing(here, near), _facing(near, here)
            tips = _tip(here, here.margin, ends[0]), _tip(near, near.crest, ends[1])
            if np.linalg.norm(tips[0][:2] - tips[1][:2]) > _MEET:
                continue
            start = here.margin[ends[0]] + (tips[1][2] - tips[0][2]) / here.tooth.axis[2]
            slope = start - _SLOPE * np.abs(here.across - here.across[ends[0]])
            out[k] = replace(out[k], margin=np.maximum(out[k].margin, slope))
    return out


def _facing(here: Target, near: Target) -> int:
    """Index of the end of a tooth's lines that faces a neighbour: the mesial one is the first."""
    mesial = Tooth(near.tooth.fdi).is_right != Tooth(here.tooth.fdi).is_right
    return 0 if mesial or Tooth(near.tooth.fdi).position < Tooth(here.tooth.fdi).position else -1


def _tip(t: Target, line: Floats, end: int) -> Floats:
    """The end of a line on the traced margin's face."""
    place = _on_margin(t.tooth, t.across[[end]])[0]
    return np.asarray(place + (line[end] - t.tooth.coordinates(place)[2]) * t.tooth.axis)


def _target(plan: Plan, tooth: ToothOnScan, across: Floats, notes: list[str]) -> Target:
    facial, lingual = halves(tooth)
    present = np.interp(across, facial[:, 0], facial[:, 1])
    behind = np.interp(across, lingual[:, 0], lingual[:, 1])
    planned = plan.teeth.get(tooth.fdi)
    treated = planned is not None and planned.procedure not in ("none", "not_advised", "undetermined")
    crest, bone, margin = None, 0.0, present - _KEEP
    if treated:
        half = float(np.ptp(across)) / 2
        margin = _margin_line(plan, tooth.fdi, across, present, half, notes)
        crest, bone = _crest_line(plan, tooth.fdi, across, margin, half)
    back = np.minimum(behind - _KEEP, 4.5)
    return Target(tooth, treated, across, present, margin, crest, back, bone)


def halves(tooth: ToothOnScan) -> tuple[Floats, Floats]:
    """Facial and lingual half of the margin as (across, level), sorted by across."""
    at = tooth.coordinates(tooth.margin)
    mesial, distal = np.argmin(at[:, 0]), np.argmax(at[:, 0])
    run = (at[:, 0] - at[mesial, 0]) / max(np.ptp(at[:, 0]), 1e-6)
    chord = at[mesial, 1] + run * (at[distal, 1] - at[mesial, 1])
    out = []
    for side in (at[:, 1] >= chord, at[:, 1] <= chord):
        own = at[side]
        out.append(_single(own[:, 0], own[:, 2]))
    return out[0], out[1]


def _single(across: Floats, level: Floats) -> Floats:
    """One level at each place across, lightly smoothed: a traced margin can turn back on itself at a papilla."""
    places = np.arange(across.min(), across.max() + _STEP, _STEP)
    k = np.clip(np.round((across - places[0]) / _STEP).astype(int), 0, len(places) - 1)
    count = np.bincount(k, minlength=len(places))
    held = count > 0
    mean = np.bincount(k, level, len(places))[held] / count[held]
    even = np.interp(places, places[held], mean)
    return np.stack([places, gaussian_filter1d(even, 1.0, mode="nearest")], axis=1)


def _places(half: float) -> dict[Site, float]:
    apart = LINE_ANGLE_SHARE * 2 * half
    return dict(zip(_SITES, (-half, -apart, 0.0, apart, half), strict=True))


def _margin_line(plan: Plan, fdi: str, across: Floats, present: Floats, half: float, notes: list[str]) -> Floats:
    middle = (across[0] + across[-1]) / 2
    sites = {s.site: s for s in plan.sites if s.tooth == fdi}
    x, shift = [], []
    for site, place in _places(half).items():
        entry = sites.get(site)
        at = place + middle if site in (Site.MESIAL, Site.DISTAL) else place
        here = float(np.interp(at, across, present))
        level = None if entry is None else entry.margin_planned_from_present_edge_mm
        if entry is None or level is None:
            if site in (Site.MESIAL, Site.DISTAL):  # nothing planned: the tip stays
                x.append(at)
                shift.append(0.0)
            continue
        kept = (
            entry.margin_present_mm is not None
            and entry.margin_planned_mm is not None
            and (entry.margin_planned_mm - entry.margin_present_mm < 0.05)
        )
        before = level - (entry.margin_planned_mm or 0.0) + (entry.margin_present_mm or 0.0)
        if entry.margin_present_mm is not None and abs(before - here) > _DISAGREE:
            notes.append(
                f"{fdi} {site.value}: present margin {before:.1f} mm in the plan, {here:.1f} mm on the scan: measure again before cutting"
            )
        x.append(at)
        shift.append(min(level - here, 0.0) if kept else level - here)
    return np.asarray(present + PchipInterpolator(np.array(x), np.array(shift))(np.clip(across, x[0], x[-1])))


def _crest_line(plan: Plan, fdi: str, across: Floats, margin: Floats, half: float) -> tuple[Floats | None, float]:
    middle = (across[0] + across[-1]) / 2
    sites = {s.site: s for s in plan.sites if s.tooth == fdi}
    x, levels, bone = [], [], 0.0
    for site, place in _places(half).items():
        entry = sites.get(site)
        if entry is None or entry.crest_planned_from_present_edge_mm is None:
            continue
        bone = max(bone, entry.bone_removal_mm or 0.0)
        x.append(place + middle if site in (Site.MESIAL, Site.DISTAL) else place)
        levels.append(entry.crest_planned_from_present_edge_mm)
    if Site.MIDFACIAL not in sites or len(x) < 3:
        return None, bone
    # The crest keeps the scallop of the planned margin; how far it lies below changes smoothly from site to site.
    under = np.array(levels) - np.interp(x, across, margin)
    return margin + PchipInterpolator(np.array(x), under)(np.clip(across, x[0], x[-1])), bone

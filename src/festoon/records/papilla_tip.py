"""The papilla between two teeth is one papilla: its tip, read from either tooth, compared and combined in heights."""

from __future__ import annotations

from dataclasses import dataclass

from festoon.evidence.errors import reading_se
from festoon.kernels.levels import axis_cosine, height, planned_edge_level
from festoon.model.case import Case, ToothChart
from festoon.model.dentition import Pair, Site, Tooth
from festoon.records.combination import Combination, combine
from festoon.records.concern import from_present_edge

LINGUAL = {Site.MESIAL: Site.MESIAL_LINGUAL, Site.DISTAL: Site.DISTAL_LINGUAL}
"""The lingual papilla behind each facial one."""


@dataclass(frozen=True)
class PapillaTip:
    """One papilla tip as its two teeth show it, in heights of the arch frame (mm, apical positive)."""

    pair: Pair
    seen_from: tuple[Tooth, ...]
    """The teeth it was read from, patient's right first."""
    combined: Combination
    """Indices are those of ``seen_from``."""


def papilla_tip(case: Case, pair: Pair, *, is_lingual: bool = False) -> PapillaTip | None:
    """The tip between two teeth from all readings of both; None where neither tooth gives its height."""
    tips: list[tuple[Tooth, Combination]] = []
    for tooth in (pair.right, pair.left):
        chart = case.tooth(tooth)
        site = pair.site_of(tooth)
        tip = chart and tip_height(chart, LINGUAL[site] if is_lingual else site)
        if tip:
            tips.append((tooth, tip))
    if not tips:
        return None
    combined = combine([tip.mean for _, tip in tips], [tip.se for _, tip in tips])
    return PapillaTip(pair, tuple(tooth for tooth, _ in tips), combined)


def tip_height(chart: ToothChart, site: Site) -> Combination | None:
    """Height of a papilla tip as one tooth shows it; None where anything it needs is unknown."""
    entry = chart.sites.get(site)
    if entry is None or chart.edge_height_mm is None or chart.incisal_extension_mm is None:
        return None
    cosine = axis_cosine(chart.axis_tip_deg or 0.0, chart.axis_torque_deg or 0.0)
    heights, errors = [], []
    for reading in entry.margin_mm:
        level = from_present_edge(reading, chart)
        if level is not None:
            from_planned = planned_edge_level(level, chart.incisal_extension_mm)
            heights.append(height(chart.edge_height_mm, from_planned, cosine))
            errors.append(reading_se("margin_mm", reading))
    return combine(heights, errors) if heights else None

"""The arch developed flat: one column per charted place, its true width, in the order seen facing the patient."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from festoon.model.case import Status
from festoon.model.dentition import Site, SiteKind, Tooth
from festoon.model.plan import Plan, SitePlan, ToothPlan

NEUTRAL_WIDTH_MM = 8.0
"""Width of a column whose tooth has no known width. A matter of drawing only, and the drawing says so."""
BREAK_MM = 6.0
"""Paper width of the break between two charted places that are no neighbours."""

Aspect = Literal["facial", "lingual"]
"""The side of the teeth that a panel shows. Both are laid out as one faces the patient: the lingual as through the teeth."""

# Sites from distal to mesial, as a share of the width from the distal end. The papillae lie on the column's
# sides; the line angles are schematic, because a chart does not say where across the width they were read.
_SHARE: dict[Aspect, dict[Site, float]] = {
    "facial": {
        Site.DISTAL: 0.0,
        Site.DISTOFACIAL: 0.2,
        Site.MIDFACIAL: 0.5,
        Site.MESIOFACIAL: 0.8,
        Site.MESIAL: 1.0,
    },
    "lingual": {
        Site.DISTAL_LINGUAL: 0.0,
        Site.DISTOLINGUAL: 0.2,
        Site.MIDLINGUAL: 0.5,
        Site.MESIOLINGUAL: 0.8,
        Site.MESIAL_LINGUAL: 1.0,
    },
}


@dataclass(frozen=True)
class Column:
    """One place of the arch on paper."""

    tooth: Tooth
    plan: ToothPlan
    x: float
    """Left side, paper mm."""
    width: float
    """Paper mm."""
    charted: dict[Site, SitePlan]
    """The charted sites of the aspect that is drawn."""
    aspect: Aspect

    @property
    def end(self) -> float:
        """Right side, paper mm."""
        return self.x + self.width

    @property
    def middle(self) -> float:
        """Middle of the column, paper mm."""
        return self.x + self.width / 2

    @property
    def is_rooted(self) -> bool:
        """True for a tooth on its own root; else the column shows its symbol and the words of its status."""
        return Status(self.plan.status).is_rooted

    @cached_property
    def sites(self) -> tuple[Site, ...]:
        """The sites shown, from the left of the drawing to the right: a line angle only where it is charted."""
        shown = [s for s in _SHARE[self.aspect] if s in self.charted or s.kind is not SiteKind.LINE_ANGLE]
        return tuple(shown if self.tooth.is_right else reversed(shown))

    @property
    def zenith(self) -> tuple[float, float] | None:
        """Abscissa of the wanted zenith, paper mm, and its level; None where either is unknown, and lingually."""
        wanted, level = self.plan.zenith_target_mm, self.plan.planned_length_mm
        if wanted is None or level is None or not self.is_rooted or self.aspect == "lingual":
            return None
        per_mm = self.width / (self.plan.width_mm or NEUTRAL_WIDTH_MM)
        return self.middle + (-wanted if self.tooth.is_right else wanted) * per_mm, level

    def site_x(self, site: Site) -> float:
        """Abscissa of a site of this aspect, paper mm."""
        share = _SHARE[self.aspect][site]
        return self.x + (share if self.tooth.is_right else 1 - share) * self.width


@dataclass(frozen=True)
class Development:
    """The columns of one jaw with its midline and its breaks."""

    columns: tuple[Column, ...]
    breaks: tuple[float, ...]
    """Left sides of the breaks between charted places that are no neighbours."""
    midline: float | None
    """None when only one side is charted."""
    aspect: Aspect

    @property
    def x(self) -> float:
        """Left side, paper mm."""
        return self.columns[0].x

    @property
    def end(self) -> float:
        """Right side, paper mm."""
        return self.columns[-1].end


def is_cut(site: SitePlan) -> bool:
    """True where gingiva or bone is taken."""
    return bool(site.bone_removal_mm) or site.incision_level_mm is not None


def aspects(plan: Plan, teeth: Sequence[Tooth]) -> tuple[Aspect, ...]:
    """What of a jaw is to be drawn: its facial side, and its lingual side where something is cut there."""
    return ("facial", "lingual") if cut_lingually(plan, teeth) else ("facial",)


def cut_lingually(plan: Plan, teeth: Sequence[Tooth]) -> list[Tooth]:
    """Those of the teeth of which gingiva or bone is taken lingually."""
    cut = {site.tooth for site in plan.sites if not site.site.is_facial and is_cut(site)}
    return [tooth for tooth in teeth if tooth.fdi in cut]


def develop(plan: Plan, teeth: Sequence[Tooth], aspect: Aspect, x: float, scale: float) -> Development:
    """Lay the teeth of one jaw side by side from ``x`` on."""
    columns: list[Column] = []
    breaks: list[float] = []
    midline = None
    previous: Tooth | None = None
    roles = {code: Tooth(place.role) for code, place in plan.teeth.items()}
    for tooth in teeth:
        if previous is not None:
            beside = previous.is_neighbour_of(tooth) or roles[previous.fdi].is_neighbour_of(roles[tooth.fdi])
            gap = 0.0 if beside else BREAK_MM
            if gap:
                breaks.append(x)
            if previous.is_right != tooth.is_right:
                midline = x + gap / 2
            x += gap
        place = plan.teeth[tooth.fdi]
        width = (place.width_mm or NEUTRAL_WIDTH_MM) * scale
        charted = {s.site: s for s in plan.sites if s.tooth == tooth.fdi and s.site in _SHARE[aspect]}
        columns.append(Column(tooth, place, x, width, charted, aspect))
        x += width
        previous = tooth
    return Development(tuple(columns), tuple(breaks), midline, aspect)

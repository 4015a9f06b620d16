"""The mouth as known: one value per quantity, made from the readings of a case.

Levels here are from the *present* edge, as charted; :meth:`ToothAnatomy.planned` converts them all at once. ``None``
means not measured.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

from festoon.kernels.levels import height, planned_edge_level
from festoon.model.case import Case, Phenotype, Purpose, ToothChart
from festoon.model.dentition import Pair, Site, Tooth


@dataclass(frozen=True)
class Known:
    """One quantity: value and standard error in mm, and the readings behind it in words."""

    value: float
    se: float
    readings: tuple[str, ...] = ()
    days: frozenset[dt.date] = frozenset()
    """Days on which it was read; empty when no reading says."""
    by: str = ""
    """How the first reading was obtained: ``probe``, ``sounding``, ``cbct``, ``direct``…"""

    def plus(self, offset: float) -> Known:
        """The same quantity counted from a datum that lies ``offset`` mm further incisally."""
        return Known(planned_edge_level(self.value, offset), self.se, self.readings, self.days, self.by)


@dataclass(frozen=True)
class SiteAnatomy:
    """One site. Levels from the same edge as its tooth's."""

    site: Site
    margin: Known | None = None
    """Gingival margin; papilla tip at interproximal sites."""
    crest: Known | None = None
    sounding: Known | None = None
    """Margin to crest; where the crest was read directly, crest minus margin."""
    probing: Known | None = None
    cej: Known | None = None
    mucogingival: Known | None = None
    contact: Known | None = None
    bone_thickness: Known | None = None
    gingiva_thickness: Known | None = None
    attached: Known | None = None
    sound_tooth: Known | None = None
    existing_finish_line: Known | None = None
    ferrule: float | None = None
    healthy_reference: bool = False
    crest_conflict: str | None = None
    """Why margin and sounding could not be added, in words."""

    def moved(self, offset: float) -> SiteAnatomy:
        """The same site with every level counted from an edge ``offset`` mm further incisally."""
        return replace(
            self,
            margin=self.margin and self.margin.plus(offset),
            crest=self.crest and self.crest.plus(offset),
            cej=self.cej and self.cej.plus(offset),
            mucogingival=self.mucogingival and self.mucogingival.plus(offset),
            contact=self.contact and self.contact.plus(offset),
            sound_tooth=self.sound_tooth and self.sound_tooth.plus(offset),
            existing_finish_line=self.existing_finish_line and self.existing_finish_line.plus(offset),
        )


@dataclass(frozen=True)
class ToothAnatomy:
    """One place of the arch."""

    tooth: Tooth
    role: Tooth
    """The aesthetic role: the tooth it stands for."""
    chart: ToothChart
    """What was charted and is no reading: status, restoration, mobility and the like."""
    purpose: Purpose
    phenotype: Phenotype
    width: Known | None = None
    apex: Known | None = None
    lip: Known | None = None
    furcation: Mapping[str, Known] = field(default_factory=dict)
    sites: Mapping[Site, SiteAnatomy] = field(default_factory=dict)
    edge_height: float | None = None
    """Planned edge in the arch frame, apical positive."""
    cosine: float = 1.0
    """Cosine of tip and torque; 1 where the axis was not charted."""
    axis_charted: bool = False
    extension: float | None = None

    def site(self, site: Site) -> SiteAnatomy:
        """One site; an empty one where it was not charted."""
        return self.sites.get(site, SiteAnatomy(site))

    @property
    def margin(self) -> Known | None:
        """Midfacial margin level."""
        return self.site(Site.MIDFACIAL).margin

    @property
    def planned(self) -> ToothAnatomy | None:
        """The same tooth with every level from the planned edge; None while the edge is not settled."""
        if self.extension is None:
            return None
        offset = self.extension
        return replace(
            self,
            apex=self.apex and self.apex.plus(offset),
            lip=self.lip and self.lip.plus(offset),
            furcation={surface: known.plus(offset) for surface, known in self.furcation.items()},
            sites={site: anatomy.moved(offset) for site, anatomy in self.sites.items()},
        )

    def height_of(self, level: float) -> float | None:
        """Height in the arch frame of a level from the planned edge; None where the edge's height is unknown."""
        return None if self.edge_height is None else height(self.edge_height, level, self.cosine)


@dataclass(frozen=True)
class PapillaAnatomy:
    """What belongs to a papilla."""

    pair: Pair
    root_distance: Known | None = None
    future_contact: float | None = None
    """From the planned edge of the tooth named first."""


@dataclass(frozen=True)
class Anatomy:
    """The whole mouth as known. Levels of its teeth are from the present edge."""

    case: Case
    teeth: Mapping[Tooth, ToothAnatomy]
    papillae: Mapping[Pair, PapillaAnatomy]
    lip_length: Known | None = None
    lip_travel: Known | None = None

    def tooth(self, tooth: Tooth) -> ToothAnatomy | None:
        """One tooth, or None when its place was not charted."""
        return self.teeth.get(tooth)

    def neighbour(self, tooth: Tooth, site: Site) -> Tooth | None:
        """The charted place at which an interproximal site, facial or lingual, looks; None where none was charted."""
        return self._beside.get((tooth, Site.MESIAL if site.faces_midline else Site.DISTAL))

    @cached_property
    def _beside(self) -> Mapping[tuple[Tooth, Site], Tooth]:
        both = [(pair, tooth) for pair in self.case.neighbours for tooth in (pair.right, pair.left)]
        return {(tooth, pair.site_of(tooth)): pair.left if tooth == pair.right else pair.right for pair, tooth in both}

"""The mouth as a problem: what each tooth wants, what it may do, and what is not known.

Everything here counts from the planned edge. :mod:`festoon.planning.pose` fills it; :mod:`festoon.planning.solve`
chooses.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum

from festoon.model.anatomy import Anatomy, ToothAnatomy
from festoon.model.case import Purpose, Status
from festoon.model.dentition import Site, Tooth
from festoon.planning.limits import Limit
from festoon.planning.policy import Policy
from festoon.planning.targets import Target

EPSILON = 1e-6
"""Two lengths closer than this are the same length: far below any reading, far above rounding of floats."""


class State(Enum):
    """What may happen to a place of the arch."""

    OPEN = "open"
    """May be operated."""
    FIXED = "fixed"
    """Implant, pontic, absent or excluded: its margin and bone stay."""
    BLOCKED = "blocked"
    """A tooth that stays until something is cleared."""
    WITHHELD = "withheld"
    """Surgery on gingiva and bone is not the answer to this case, so no tooth is operated."""
    UNKNOWN = "unknown"
    """A hard limit needs a reading that is missing."""


@dataclass(frozen=True)
class Gap:
    """A reading that is missing and needed."""

    what: str
    prevents: str
    site: Site | None = None
    hard: bool = True


@dataclass(frozen=True)
class SiteProblem:
    """One site that takes part. Levels from the planned edge, mm."""

    site: Site
    margin: float
    crest: float | None
    need: float | None
    share: float = 0.0
    """How much of the midfacial move the margin makes here: 1 midfacially, 0 at the papilla."""
    advance: float = 0.0
    """How far the margin moves here when a restorative lengthening is done, mm."""
    finish_line: float | None = None
    bone_caps: Mapping[Limit, float] = field(default_factory=dict)
    """Most bone that may be removed here, by the limit that says so."""

    @property
    def sounding(self) -> float | None:
        """Margin to crest."""
        return None if self.crest is None else self.crest - self.margin

    def bone_demand(self, move: float) -> float:
        """Bone that must go here when the tooth is operated with this midfacial move, before contour, in mm.

        The margin counts only where it moves; a finish line counts wherever it is set.
        """
        if self.crest is None or self.need is None:
            return 0.0
        shift = self.share * move + self.advance
        levels = [self.margin + shift] if shift > EPSILON else []
        if self.finish_line is not None:
            levels.append(self.finish_line)
        return max(0.0, max(levels) + self.need - self.crest) if levels else 0.0


@dataclass(frozen=True)
class ToothProblem:
    """One place of the arch."""

    anatomy: ToothAnatomy
    """From the planned edge where the edge is settled, else as charted."""
    state: State
    why: str = ""
    """Why it is not open."""
    target: Target | None = None
    margin: float | None = None
    """Present midfacial margin from the planned edge; None while unknown."""
    sites: Mapping[Site, SiteProblem] = field(default_factory=dict)
    move_caps: Mapping[Limit, float] = field(default_factory=dict)
    """Most the midfacial margin may move, by the limit that says so."""
    collar_cap: float | None = None
    """Most that may be excised; None when keratinised tissue does not limit it."""
    keratinised: float | None = None
    gaps: tuple[Gap, ...] = ()

    @property
    def tooth(self) -> Tooth:
        """Which place."""
        return self.anatomy.tooth

    @property
    def is_restorative(self) -> bool:
        """True when finish lines, not proportions, ask for the cut."""
        return self.anatomy.purpose is Purpose.RESTORATIVE

    @property
    def wish(self) -> float | None:
        """How far the margin would have to move apically for the target, mm; None when it cannot be said."""
        if self.is_restorative:
            site = self.sites.get(Site.MIDFACIAL)
            return site.advance if site else 0.0
        if self.target is None or self.margin is None:
            return None
        return self.target.length_mm - self.margin

    @property
    def wants_surgery(self) -> bool:
        """True when the wish lies outside its tolerance, or a finish line asks for bone or margin."""
        if self.is_restorative:
            return any(site.advance > EPSILON or site.bone_demand(0.0) > EPSILON for site in self.sites.values())
        wish = self.wish
        return wish is not None and self.target is not None and wish > self.target.tolerance_mm + EPSILON

    @property
    def is_guide(self) -> bool:
        """True when other teeth may be matched to this one.

        Not while it waits to be cleared, and not where it is longer than its target already: a receded margin is
        covered or accepted, and a partner is not cut to follow it.
        """
        if self.state in (State.BLOCKED, State.WITHHELD):
            return False
        if self.state is State.UNKNOWN and (self.wish is None or self.wants_surgery):
            return False
        over = -(self.wish or 0.0)
        return self.target is None or over <= self.target.tolerance_mm + EPSILON

    def height(self, level: float | None) -> float | None:
        """Height in the arch frame of a level from the planned edge."""
        return None if level is None else self.anatomy.height_of(level)


@dataclass(frozen=True)
class Problem:
    """The whole mouth."""

    anatomy: Anatomy
    policy: Policy
    teeth: Mapping[Tooth, ToothProblem]

    def by_role(self, role: Tooth) -> ToothProblem | None:
        """The tooth that plays an aesthetic role; None where nothing does."""
        return next((p for p in self.teeth.values() if p.anatomy.role == role and _stands(p)), None)

    def neighbour(self, tooth: Tooth, site: Site) -> ToothProblem | None:
        """The charted neighbour that shares the interproximal ``site``."""
        other = self.anatomy.neighbour(tooth, site)
        return None if other is None else self.teeth.get(other)


def _stands(problem: ToothProblem) -> bool:
    return problem.anatomy.chart.status not in (Status.ABSENT, Status.EXCLUDED)

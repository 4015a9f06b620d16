"""What the causes look at, derived once from the mouth as known. ``None`` means unknown everywhere."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cached_property

from festoon.evidence.table import Published, published
from festoon.findings import thresholds as t
from festoon.model.anatomy import Anatomy, Known, ToothAnatomy
from festoon.model.case import Case, Phenotype, Status, ToothChart
from festoon.model.dentition import Site, Tooth, as_seen

_MEAN_LENGTH = {
    "male": ("CRN-003", "CRN-007", "CRN-011"),
    "female": ("CRN-004", "CRN-008", "CRN-012"),
    "unknown": ("CRN-020", "CRN-023", "CRN-026"),
}
_MEAN_WIDTH = {
    "male": ("CRN-001", "CRN-005", "CRN-009"),
    "female": ("CRN-002", "CRN-006", "CRN-010"),
    "unknown": ("CRN-019", "CRN-022", "CRN-025"),
}
"""Clinical crown of central, lateral, canine, by sex; a mixed sample where the sex was not given."""
_FRONT = 3
"""Positions 1 to 3: incisors and canine."""
_AESTHETIC = 5
"""As far back as a wide smile usually shows (common practice, no source)."""


def _minus(a: Known | None, b: Known | None) -> float | None:
    """Difference of two levels; rounded far below any reading, so that 10.3 - 8.3 is 2 and not a bit more."""
    return None if a is None or b is None else round(a.value - b.value, 6)


@dataclass(frozen=True)
class ToothFacts:
    """One tooth on its own root. Lengths in mm; heights in the arch frame, apical positive."""

    anatomy: ToothAnatomy
    sex: str

    @property
    def tooth(self) -> Tooth:
        """The tooth."""
        return self.anatomy.tooth

    @property
    def chart(self) -> ToothChart:
        """What was charted and is no reading."""
        return self.anatomy.chart

    @property
    def is_natural(self) -> bool:
        """True unless a crown hides the edge and the CEJ."""
        return self.chart.status is not Status.CROWNED

    def _mean(self, rows: dict[str, tuple[str, str, str]]) -> Published | None:
        if not self.tooth.is_upper or self.tooth.position > _FRONT:
            return None
        return published(rows[self.sex][self.tooth.position - 1])

    @property
    def mean_length(self) -> Published | None:
        """Published mean of the crown length; upper incisors and canines only."""
        return self._mean(_MEAN_LENGTH)

    @property
    def mean_width(self) -> Published | None:
        """Published mean of the crown width; upper incisors and canines only."""
        return self._mean(_MEAN_WIDTH)

    @property
    def length(self) -> float | None:
        """Clinical crown today: present edge to midfacial margin."""
        return None if self.anatomy.margin is None else self.anatomy.margin.value

    @property
    def width(self) -> float | None:
        """Greatest width today."""
        return None if self.anatomy.width is None else self.anatomy.width.value

    @property
    def ratio(self) -> float | None:
        """Width to length today; unknown for teeth without published proportions."""
        if self.length is None or self.width is None or self.mean_length is None:
            return None
        return self.width / self.length if self.length > 0 else None

    @property
    def is_short(self) -> bool | None:
        """Short for its width or for its kind; False only when both were measured."""
        ratio, length, mean = self.ratio, self.length, self.mean_length
        if mean is None or length is None:
            return None
        if length <= mean.value - t.SHORT_BY.value or (ratio is not None and ratio >= t.SHORT_RATIO.value):
            return True
        return None if ratio is None else False

    @property
    def cej(self) -> float | None:
        """CEJ from the present edge: what is left of the anatomic crown."""
        known = self.anatomy.site(Site.MIDFACIAL).cej
        return None if known is None else known.value

    @property
    def crest(self) -> float | None:
        """Midfacial crest from the present edge."""
        known = self.anatomy.site(Site.MIDFACIAL).crest
        return None if known is None else known.value

    @property
    def covered(self) -> float | None:
        """Enamel under the gingiva: midfacial CEJ minus margin; negative when root shows."""
        site = self.anatomy.site(Site.MIDFACIAL)
        return _minus(site.cej, site.margin)

    @property
    def room(self) -> float | None:
        """CEJ to crest, midfacially."""
        site = self.anatomy.site(Site.MIDFACIAL)
        return _minus(site.crest, site.cej)

    @property
    def keratinised(self) -> float | None:
        """Margin to mucogingival junction, midfacially."""
        site = self.anatomy.site(Site.MIDFACIAL)
        return _minus(site.mucogingival, site.margin)

    @property
    def probing(self) -> float | None:
        """Deepest facial probing."""
        depths = [s.probing.value for site, s in self.anatomy.sites.items() if site.is_facial and s.probing]
        return max(depths) if depths else None

    @property
    def has_pseudo_pocket(self) -> bool | None:
        """Deep midfacial probing although the pocket ends on enamel or at the CEJ."""
        site = self.anatomy.site(Site.MIDFACIAL)
        covered = self.covered
        if site.probing is None or covered is None:
            return None
        return (
            site.probing.value >= t.PSEUDO_POCKET.value
            and covered > t.COVERED_CROWN.value
            and site.probing.value <= covered + t.POCKET_PAST_CEJ.value
        )

    def _height(self, level: float | None) -> float | None:
        extension = self.anatomy.extension
        found = None if level is None or extension is None else self.anatomy.height_of(level + extension)
        return None if found is None else round(found, 6)

    @property
    def edge_height(self) -> float | None:
        """Height of the edge as it is today."""
        return self._height(0.0)

    @property
    def margin_height(self) -> float | None:
        """Height of the midfacial margin."""
        return self._height(self.length)

    @property
    def cej_height(self) -> float | None:
        """Height of the midfacial CEJ."""
        return self._height(self.cej)


@dataclass(frozen=True)
class Mouth:
    """The whole mouth as the causes look at it."""

    anatomy: Anatomy

    @property
    def case(self) -> Case:
        """The case as charted."""
        return self.anatomy.case

    @cached_property
    def teeth(self) -> tuple[ToothFacts, ...]:
        """Teeth on their own roots, as seen."""
        sex = self.case.subject.sex
        rooted = [
            tooth
            for tooth, anatomy in self.anatomy.teeth.items()
            if anatomy.chart.status is None or anatomy.chart.status.is_rooted
        ]
        return tuple(ToothFacts(self.anatomy.teeth[tooth], sex) for tooth in as_seen(rooted))

    @cached_property
    def aesthetic(self) -> tuple[ToothFacts, ...]:
        """Natural teeth as far back as a smile shows: where a hidden crown matters."""
        return tuple(f for f in self.teeth if f.is_natural and f.tooth.position <= _AESTHETIC)

    @cached_property
    def front(self) -> tuple[ToothFacts, ...]:
        """Upper natural incisors and canines: the teeth with published proportions."""
        return tuple(f for f in self.aesthetic if f.tooth.is_upper and f.tooth.position <= _FRONT)

    @cached_property
    def crowns_ordinary(self) -> bool | None:
        """True when every upper front tooth was measured and none is short; False when one is; None otherwise."""
        short = [f.is_short for f in self.front]
        if any(short):
            return False
        return True if short and all(s is False for s in short) else None

    @property
    def display(self) -> float | None:
        """Gingiva shown at the smile that shows most, of those recorded."""
        smile = self.case.smile
        shown = [d for d in (smile.gingival_display_mm, smile.display_spontaneous_mm) if d is not None]
        return max(shown) if shown else None

    @property
    def is_thick(self) -> bool | None:
        """True in a thick phenotype; None where it was not assessed."""
        return None if self.case.phenotype is Phenotype.UNKNOWN else self.case.phenotype is Phenotype.THICK

    def partner(self, facts: ToothFacts) -> ToothFacts | None:
        """The tooth of the same kind on the other side."""
        return self.find(facts.tooth.contralateral)

    def stands_low(self, facts: ToothFacts) -> bool:
        """True when the unworn edge of today lies clearly apical to its partner's; False also where it cannot be said."""
        partner = self.partner(facts)
        if partner is None or facts.edge_height is None or partner.edge_height is None:
            return False
        return facts.chart.edge_worn is False and facts.edge_height - partner.edge_height >= t.CLEAR_STEP.value

    def find(self, tooth: Tooth) -> ToothFacts | None:
        """One tooth, or None."""
        return next((facts for facts in self.teeth if facts.tooth == tooth), None)


def names(teeth: Iterable[ToothFacts]) -> str:
    """Teeth in words: ``11, 21``."""
    return ", ".join(f.tooth.fdi for f in teeth)


def with_numbers(teeth: Iterable[ToothFacts], of: Callable[[ToothFacts], float | None], digits: int = 1) -> str:
    """Teeth, each with its number: ``11 8.1, 21 8.3``; teeth without one are left out."""
    known = ((f, of(f)) for f in teeth)
    return ", ".join(f"{f.tooth} {value:.{digits}f}" for f, value in known if value is not None)


def key(teeth: Iterable[ToothFacts], name: str) -> str:
    """A case-file key for one or several teeth: ``teeth.{11,21}.sites.midfacial.cej_mm``."""
    codes = [f.tooth.fdi for f in teeth]
    return f"teeth.{codes[0] if len(codes) == 1 else '{' + ','.join(codes) + '}'}.{name}"

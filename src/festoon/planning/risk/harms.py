"""What may go wrong when a fixed plan is carried out in a mouth that is not quite as charted.

The surgeon cuts to the planned *levels*: margin and incision are set where the plan says, bone is lowered to the
planned crest, all within the error of the hand. Where bone is left alone the true crest stays. Bone that truly lies
below the planned crest already is not touched, so a sounding that read too little costs an opened flap, not bone.

``TELLABLE_MM``: an outcome counts as bad from half a millimetre on. A cut to ``margin + need`` misses the need by a
hair in every second draw whatever is measured; half a millimetre is the least that a probe tells (ERR-010) and the
finest a plan is presented to (notes of the error table).
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from festoon.model.dentition import Site, SiteKind, Tooth
from festoon.planning.gingival_line import pairs
from festoon.planning.problem import EPSILON, Problem, SiteProblem, ToothProblem
from festoon.planning.risk.drawn_mouth import DrawnMouth
from festoon.planning.risk.reading_noise import Array
from festoon.planning.solve import Solution

TELLABLE_MM = 0.5
Flags = NDArray[np.bool_]
Level = float | Array
"""One level for all draws, or one for each."""


class Kind(Enum):
    """What goes wrong; the value says whether it counts towards the chance of any bad outcome."""

    NEAR_BONE = "near bone", True
    ROOT_SHOWN = "root shown", True
    TISSUE_SHORT = "keratinised tissue short", True
    PAIR_UNEVEN = "left-right difference seen", True
    ANY_ROOT = "any root shown", False
    NEEDLESS_BONE = "bone removal planned where none is needed", False

    @property
    def counts(self) -> bool:
        """Whether it counts towards the chance of any bad outcome."""
        return self.value[1]


@dataclass(frozen=True)
class Harm:
    """One thing that may go wrong at one place."""

    kind: Kind
    tooth: Tooth
    site: Site | None
    text: str


@dataclass(frozen=True)
class Cut:
    """The levels to which one site is cut."""

    margin: Level | None = None
    """None: the margin is left as it is."""
    crest: Level | None = None
    """None: bone is left alone. Minus infinity in a draw: left alone in that draw."""
    incision: Level | None = None


Cuts = Mapping[Site, Cut]


def planned_cuts(entry: ToothProblem, solution: Solution) -> dict[Site, Cut]:
    """The levels to which the sites of one operated tooth are cut."""
    tooth, cuts = entry.tooth, {}
    move, collar = solution.moves.get(tooth, 0.0), solution.collars.get(tooth, 0.0)
    for site, here in entry.sites.items():
        shift, bone = solution.shift(here, tooth), solution.bone(tooth, site)
        moves = shift > EPSILON
        excised = shift * (collar / move if move > EPSILON else 1.0)
        cuts[site] = Cut(
            margin=here.margin + shift if moves else None,
            crest=here.crest + bone if bone > EPSILON and here.crest is not None else None,
            incision=here.margin + excised if moves and excised > EPSILON else None,
        )
    return cuts


def site_harms(mouth: DrawnMouth, entry: ToothProblem, here: SiteProblem, cut: Cut) -> Iterator[tuple[Harm, Flags]]:
    """What goes wrong at one site, draw by draw."""
    tooth, site = entry.tooth, here.site
    place = f"{tooth} {words_of(site)}"
    space, bare = space_after(mouth, entry, here, cut), root_bared(mouth, entry, here, cut)
    tissue = tissue_after(mouth, entry, here, cut)
    if space is not None and here.need is not None:
        edge = "finish line" if here.finish_line is not None else "margin"
        harm = Harm(
            Kind.NEAR_BONE, tooth, site, f"{place}: {edge} closer to bone than {here.need - TELLABLE_MM:.1f} mm"
        )
        yield harm, space < here.need - TELLABLE_MM
    if bare is not None:
        beyond = " past what the restoration covers" if entry.anatomy.chart.root_cover_mm else ""
        yield (
            Harm(Kind.ROOT_SHOWN, tooth, site, f"{place}: more than {TELLABLE_MM:.1f} mm of root shown{beyond}"),
            bare > TELLABLE_MM,
        )
        yield Harm(Kind.ANY_ROOT, tooth, site, f"{place}: root shown at all{beyond}"), bare > 0
    if tissue is not None:
        least = mouth.problem.policy["keratinised_minimum_mm"] - TELLABLE_MM
        text = f"{place}: less than {max(0.0, least):.1f} mm of keratinised tissue left"
        yield Harm(Kind.TISSUE_SHORT, tooth, site, text), tissue < least


def unsayable(entry: ToothProblem, cuts: Cuts) -> Iterator[str]:
    """Chances that cannot be given at one operated tooth because something was not measured."""
    for site, cut in cuts.items():
        here, known, place = entry.sites[site], entry.anatomy.site(site), f"{entry.tooth} {words_of(site)}"
        if (cut.margin is not None or here.finish_line is not None) and (here.crest is None or here.need is None):
            yield f"{place}: distance to bone"
        if cut.margin is not None and site.is_facial and known.cej is None:
            yield f"{place}: root shown"
        if cut.incision is not None and site is Site.MIDFACIAL and known.mucogingival is None:
            yield f"{place}: keratinised tissue left"


def words_of(site: Site) -> str:
    """A site as spoken."""
    return site.value.replace("_", " ")


def finish_line(mouth: DrawnMouth, entry: ToothProblem, here: SiteProblem) -> Array | None:
    """Where the restorative margin truly comes to lie: it follows the sound tooth that the dentist finds."""
    if here.finish_line is None:
        return None
    sound = entry.anatomy.site(here.site).sound_tooth
    key = "existing_finish_line_mm" if sound is None else "sound_tooth_mm"
    known = entry.anatomy.site(here.site).existing_finish_line if sound is None else sound
    assert known is not None  # a finish line was made from one of the two
    return mouth.true(entry, here.site, key, known) + (here.finish_line - known.value)


def margin_after(mouth: DrawnMouth, entry: ToothProblem, here: SiteProblem, cut: Cut) -> Array | None:
    """True margin level after surgery; None where the margin stays."""
    return None if cut.margin is None else cut.margin + mouth.hand(entry.tooth, here.site, "margin")


def space_after(mouth: DrawnMouth, entry: ToothProblem, here: SiteProblem, cut: Cut) -> Array | None:
    """True distance from the margin or finish line to the crest, mm; None where neither is set or no crest is known."""
    finish = finish_line(mouth, entry, here)
    top = finish if finish is not None else margin_after(mouth, entry, here, cut)
    if top is None or here.crest is None:
        return None
    crest = mouth.true_crest(entry, here.site, here.crest)
    if cut.crest is not None:
        crest = np.maximum(crest, cut.crest + mouth.hand(entry.tooth, here.site, "crest"))
    space: Array = crest - top
    return space


def root_bared(mouth: DrawnMouth, entry: ToothProblem, here: SiteProblem, cut: Cut) -> Array | None:
    """How far the margin lies past the true CEJ and what a restoration covers, mm; None where nothing can be said."""
    cej, margin = entry.anatomy.site(here.site).cej, margin_after(mouth, entry, here, cut)
    if cej is None or margin is None:
        return None
    covered = mouth.true(entry, here.site, "cej_mm", cej) + (entry.anatomy.chart.root_cover_mm or 0.0)
    finish = finish_line(mouth, entry, here)
    bare: Array = margin - (covered if finish is None else np.maximum(covered, finish))
    return bare


def tissue_after(mouth: DrawnMouth, entry: ToothProblem, here: SiteProblem, cut: Cut) -> Array | None:
    """True width of keratinised tissue after the excision, mm; None where nothing is excised or nothing is known."""
    junction = entry.anatomy.site(here.site).mucogingival
    if junction is None or cut.incision is None or not here.site.is_facial or here.site.kind is SiteKind.INTERPROXIMAL:
        return None
    end: Array = mouth.true(entry, here.site, "mucogingival_mm", junction)
    return end - (cut.incision + mouth.hand(entry.tooth, here.site, "margin"))


def needless_bone(mouth: DrawnMouth, entry: ToothProblem, cuts: Cuts) -> Iterator[tuple[Harm, Flags]]:
    """Sites at which the plan lowers bone although the true distance would have sufficed.

    Bone that only follows a neighbour's step is not meant.
    """
    for site, here in entry.sites.items():
        left = space_after(mouth, entry, here, Cut(margin=cuts[site].margin))
        planned = cuts[site].crest
        if left is None or planned is None or here.need is None or here.crest is None:
            continue
        top = here.finish_line if here.finish_line is not None else cuts[site].margin
        if top is not None and np.all(here.crest < top + here.need - EPSILON):
            text = f"{entry.tooth} {words_of(site)}: bone removal planned where none is needed"
            yield Harm(Kind.NEEDLESS_BONE, entry.tooth, site, text), left >= here.need


def pair_harms(
    mouth: DrawnMouth, problem: Problem, cuts: Mapping[Tooth, Cuts], *, only: Collection[Tooth]
) -> Iterator[tuple[Harm, Flags]]:
    """Left-right differences that will be seen, for pairs of which at least one tooth is among ``only``.

    Seen from ``pair_warning_mm`` on: what dentists detect (AES-010).
    """
    seen = problem.policy["pair_warning_mm"]
    for right, left in pairs(problem):
        if right.tooth not in only and left.tooth not in only:
            continue
        heights = [_height_after(mouth, entry, cuts.get(entry.tooth, {})) for entry in (right, left)]
        if heights[0] is None or heights[1] is None:
            continue
        text = f"{right.tooth} and {left.tooth}: left-right difference of more than {seen:.1f} mm"
        yield Harm(Kind.PAIR_UNEVEN, right.tooth, None, text), np.abs(heights[0] - heights[1]) > seen


def _height_after(mouth: DrawnMouth, entry: ToothProblem, cuts: Cuts) -> Array | None:
    """True height of the midfacial margin after surgery, in the arch frame."""
    here, edge = entry.sites.get(Site.MIDFACIAL), entry.anatomy.edge_height
    known = entry.anatomy.site(Site.MIDFACIAL).margin
    if edge is None or known is None or entry.margin is None:
        return None
    level = margin_after(mouth, entry, here, cuts[Site.MIDFACIAL]) if here and Site.MIDFACIAL in cuts else None
    if level is None:
        level = mouth.true(entry, Site.MIDFACIAL, "margin_mm", known)
    return edge + level * entry.anatomy.cosine

"""Incisal wear: with the margin left in place, or with over-eruption that has carried margin and CEJ along."""

from __future__ import annotations

from dataclasses import dataclass

from festoon.evidence.table import published
from festoon.findings import thresholds as t
from festoon.findings.display import display_words
from festoon.findings.mouth import Mouth, ToothFacts, names, with_numbers
from festoon.findings.weighing import Advice, Weighed, Weighing
from festoon.findings.words import INTRUSION, NO_TREATMENT, ORTHODONTIST, RESTORATIVE, RESTORE_INCISALLY

_UNWORN = ("CRN-032", "CRN-036", "CRN-040")
"""Anatomic crown length of unworn central, lateral and canine (from memory)."""


@dataclass(frozen=True)
class Comparison:
    """A worn tooth against the unworn tooth it should match. Differences in height, coronal positive, in mm."""

    worn: ToothFacts
    against: ToothFacts
    margin: float
    cej: float | None
    """Only against the partner: CEJs of different kinds of teeth are not compared."""
    is_partner: bool


def _worn(mouth: Mouth) -> list[ToothFacts]:
    return [f for f in mouth.aesthetic if f.chart.edge_worn]


def _compare(mouth: Mouth, f: ToothFacts) -> Comparison | None:
    """Against the unworn partner; for a central whose partner is worn too, against an unworn canine."""
    partner = mouth.partner(f)
    if partner is not None and partner.chart.edge_worn is False:
        reference, is_partner = partner, True
    else:
        canine = next(
            (
                c
                for c in mouth.front
                if f.anatomy.role.position == 1
                and c.anatomy.role.position == 3
                and c.tooth.is_right == f.tooth.is_right
                and c.chart.edge_worn is False
            ),
            None,
        )
        if canine is None:
            return None
        reference, is_partner = canine, False
    if f.margin_height is None or reference.margin_height is None:
        return None
    cej = None
    if is_partner and f.cej_height is not None and reference.cej_height is not None:
        cej = round(reference.cej_height - f.cej_height, 6)
    return Comparison(f, reference, round(reference.margin_height - f.margin_height, 6), cej, is_partner)


def _words(comparisons: list[Comparison]) -> str:
    return ", ".join(f"{c.worn.tooth} {c.margin:+.1f} against {c.against.tooth}" for c in comparisons)


def _ask_for_comparison(mouth: Mouth, w: Weighing, worn: list[ToothFacts]) -> None:
    w.lacks_of([f for f in mouth.front if f.chart.edge_worn is None], "edge_worn", t.DECISIVE)
    pairs = [g for f in worn for g in (f, mouth.partner(f)) if g is not None]
    blind = [f for f in mouth.teeth if f in pairs and f.margin_height is None]
    w.lacks_of([f for f in blind if f.anatomy.edge_height is None], "edge_height_mm", t.CLEAR)
    w.lacks_of([f for f in blind if f.anatomy.extension is None], "incisal_extension_mm", t.CLEAR)
    w.lacks_of([f for f in blind if f.length is None], "sites.midfacial.margin_mm", t.CLEAR)
    w.lacks_of([f for f in worn if f.cej is None], "sites.midfacial.cej_mm", t.CLEAR)


def wear(mouth: Mouth) -> Weighed:
    """Tooth lost at the edge, margin still where it belongs."""
    w = Weighing("incisal_wear", "Incisal wear, margin in place")
    worn = _worn(mouth)
    compared = [c for f in worn if (c := _compare(mouth, f)) is not None]
    in_place = [c for c in compared if abs(c.margin) < t.STEP.value]
    carried = [c for c in compared if c.margin >= t.STEP.value]
    if worn:
        w.note(t.SOME, f"edge charted as worn: {names(worn)}", "J Prosthet Dent 2003;89:453")
        stubs = [f for f in worn if _lost(f) >= t.STEP.value]
        if stubs:
            text = f"edge to CEJ {with_numbers(stubs, lambda f: f.cej)} mm, under the unworn mean"
            w.note(t.SOME, text, "CRN-032, CRN-036, CRN-040, memory")
    if in_place:
        w.note(t.CLEAR, f"margin level with its match: {_words(in_place)} mm coronal", t.STEP.source)
    if carried:
        w.note(-t.CLEAR, f"margin carried coronally: {_words(carried)} mm", t.STEP.source)
    _weigh_unworn(mouth, w)
    _ask_for_comparison(mouth, w, worn)
    advice = Advice(
        surgery_can="Surgery can lengthen the crown apically, but only by enamel that is hidden.",
        surgery_cannot="It cannot give back the edge; used for that it uncovers root.",
        alternatives=(RESTORE_INCISALLY, NO_TREATMENT),
        ask=(RESTORATIVE,),
    )
    return w.weighed(advice, worn)


def wear_with_over_eruption(mouth: Mouth) -> Weighed:
    """Tooth lost at the edge and made up by eruption: margin and CEJ have come along, the crown is short."""
    w = Weighing("wear_with_over_eruption", "Wear with compensatory over-eruption")
    worn = _worn(mouth)
    compared = [c for f in worn if (c := _compare(mouth, f)) is not None]
    carried = [c for c in compared if c.margin >= t.STEP.value]
    affected = [c.worn for c in carried] or worn
    with_partner = [c for c in carried if c.is_partner]
    with_canine = [c for c in carried if not c.is_partner]
    if worn:
        w.note(
            t.SOME,
            f"edge charted as worn: {names(worn)}",
            "aegisdentalnetwork.com 2016/06, super-eruption after anterior wear",
        )
    if with_partner:
        w.note(
            t.CLEAR,
            f"margin coronal to the partner's: {_words(with_partner)} mm",
            "aegisdentalnetwork.com 2016/06, super-eruption after anterior wear",
        )
    if with_canine:
        w.note(
            t.SOME,
            f"margin coronal to the canine's: {_words(with_canine)} mm",
            "aegisdentalnetwork.com 2016/06, super-eruption after anterior wear; " + t.COMMON,
        )
    moved = [c for c in carried if c.cej is not None and c.cej >= t.STEP.value]
    if moved:
        text = ", ".join(f"{c.worn.tooth} {c.cej:+.1f}" for c in moved)
        w.note(
            t.CLEAR,
            f"CEJ coronal to the partner's: {text} mm",
            "aegisdentalnetwork.com 2016/06, super-eruption after anterior wear",
        )
    still = [c for c in compared if c.margin < t.STEP.value]
    if still and not carried:
        w.note(-t.CLEAR, f"margin not coronal to its match: {_words(still)} mm", t.STEP.source)
    hidden = [f for f in affected if f.covered is not None and f.covered > t.COVERED_CROWN.value]
    plain = [f for f in affected if f.covered is not None and f.covered <= t.COVERED_CROWN.value]
    if carried and plain:
        text = f"CEJ and margin in their usual relation: {with_numbers(plain, lambda f: f.covered)} mm apart"
        w.note(t.SOME, text, t.COVERED_CROWN.source)
    if hidden:
        text = f"enamel is hidden all the same: CEJ {with_numbers(hidden, lambda f: f.covered)} mm apical to the margin"
        w.note(-t.CLEAR, text, t.COVERED_CROWN.source)
    _weigh_unworn(mouth, w)
    _ask_for_comparison(mouth, w, worn)
    advice = Advice(
        surgery_can="Surgery can level the margin only by uncovering root, to be covered by a restoration.",
        surgery_cannot=f"It cannot bring the tooth back up; it shortens the root's hold. {display_words(mouth)}",
        alternatives=(INTRUSION, RESTORE_INCISALLY, NO_TREATMENT),
        ask=(ORTHODONTIST, RESTORATIVE),
    )
    withholds = w.support == "strong" and w.is_unopposed and bool(carried) and len(plain) == len(affected)
    return w.weighed(advice, affected, withholds=withholds)


def _lost(f: ToothFacts) -> float:
    """How much shorter the anatomic crown is than the unworn mean; 0 where it cannot be said."""
    if f.cej is None or not f.tooth.is_upper or f.tooth.position > len(_UNWORN):
        return 0.0
    return published(_UNWORN[f.tooth.position - 1]).value - f.cej


def _weigh_unworn(mouth: Mouth, w: Weighing) -> None:
    charted = [f.chart.edge_worn for f in mouth.front]
    if charted and all(worn is False for worn in charted):
        w.note(-t.DECISIVE, "no edge of the upper front teeth is worn", t.COMMON)

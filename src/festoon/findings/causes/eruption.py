"""Altered passive and active eruption: enamel hidden by gingiva, bone too near the CEJ."""

from __future__ import annotations

from festoon.findings import thresholds as t
from festoon.findings.display import display_words
from festoon.findings.mouth import Mouth, ToothFacts, names, with_numbers
from festoon.findings.weighing import Advice, Weighed, Weighing
from festoon.findings.words import NO_TREATMENT, ORTHODONTIST, PERIODONTIST, RESTORATIVE


def subgroup(facts: ToothFacts) -> str | None:
    """Room for the attachment between CEJ and crest: ``A``, ``B``, or ``A/B`` between the two."""
    room = facts.room
    if room is None:
        return None
    if room >= t.ROOM_A.value:
        return "A"
    return "B" if room <= t.ROOM_B.value else "A/B"


def keratinised_type(facts: ToothFacts) -> str | None:
    """Band of keratinised tissue: ``1`` when the mucogingival junction is apical to the crest, ``2`` at the CEJ."""
    if facts.keratinised is None or facts.covered is None:
        return None
    past_cej = facts.keratinised - facts.covered
    if past_cej <= t.JUNCTION_AT_CEJ.value:
        return "2"
    if facts.room is None:
        return None
    return "1" if past_cej > facts.room else "1/2"


def altered_passive_eruption(mouth: Mouth) -> Weighed:
    """Gingiva that has not withdrawn from the enamel."""
    w = Weighing("altered_passive_eruption", "Altered passive eruption")
    front = mouth.front
    covered = [f for f in front if _is_covered(f)]
    flagged = [f for f in front if f.ratio is not None and f.ratio >= t.RED_FLAG_RATIO.value]
    unworn = [f for f in flagged if f.chart.edge_worn is False]
    unsaid = [f for f in flagged if f.chart.edge_worn is None]
    affected = [f for f in front if f in covered or _is_suspected(f)]
    if affected:
        # Other teeth have no published proportions, and 2 mm of cover is ordinary in health: they only join.
        affected = [f for f in mouth.aesthetic if f in affected or (_joins(f) and f not in front)]

    if covered:
        text = f"CEJ more than {t.COVERED_CROWN.value:g} mm apical to the margin: {with_numbers(covered, lambda f: f.covered)} mm"
        w.note(t.CLEAR, text, t.COVERED_CROWN.source)
    if unworn:
        text = f"width/length {with_numbers(unworn, lambda f: f.ratio, 2)}, edges unworn"
        w.note(t.CLEAR, text, t.RED_FLAG_RATIO.source)
    elif unsaid:
        text = f"width/length {with_numbers(unsaid, lambda f: f.ratio, 2)}, wear not charted"
        w.note(t.SOME, text, t.RED_FLAG_RATIO.source)
    _weigh_milder_signs(mouth, w, affected)
    _weigh_against(mouth, w, affected)

    w.lacks_of([f for f in front if f.length is None], "sites.midfacial.margin_mm", t.DECISIVE)
    w.lacks_of([f for f in front if f.width is None], "width_mm", t.CLEAR)
    w.lacks_of([f for f in front if f.is_short is not False and f.covered is None], "sites.midfacial.cej_mm", t.CLEAR)
    w.lacks_of(unsaid, "edge_worn", t.SOME)
    w.lacks_of([f for f in affected if f.crest is None], "sites.midfacial.sounding_mm", t.SOME)
    w.lacks_of([f for f in affected if f.keratinised is None], "sites.midfacial.mucogingival_mm", t.LITTLE)
    if affected and mouth.is_thick is None:
        w.lacks("phenotype", t.LITTLE)

    classes = _classes(affected)
    if classes and w.score > 0:
        w.title = f"Altered passive eruption: {classes}"
    return w.weighed(_advice(mouth, affected), affected)


def _is_covered(f: ToothFacts) -> bool:
    return f.covered is not None and f.covered > t.COVERED_CROWN.value and f.is_short is not False


def _joins(f: ToothFacts) -> bool:
    return f.tooth.is_upper and f.covered is not None and f.covered > t.COVERED_CROWN.value


def _is_suspected(f: ToothFacts) -> bool:
    """Short, not worn, and not shown to be bare."""
    return bool(f.is_short) and not f.chart.edge_worn and (f.covered is None or f.covered > t.BARE_CROWN.value)


def _weigh_milder_signs(mouth: Mouth, w: Weighing, affected: list[ToothFacts]) -> None:
    """Signs that only accompany: a milder ratio, little room to the crest, thick tissue."""
    low, high = t.SHORT_RATIO.value, t.RED_FLAG_RATIO.value
    mild = [f for f in mouth.front if f.ratio is not None and low <= f.ratio < high and f.chart.edge_worn is False]
    if mild:
        w.note(t.LITTLE, f"width/length {with_numbers(mild, lambda f: f.ratio, 2)}, edges unworn", t.SHORT_RATIO.source)
    near = [f for f in affected if f.room is not None and f.room < t.ROOM_A.value]
    if near:
        text = f"CEJ to crest under {t.ROOM_A.value:g} mm: {with_numbers(near, lambda f: f.room)} mm"
        w.note(t.SOME, text, "DX-010")
    if affected and mouth.is_thick:
        w.note(t.LITTLE, "thick phenotype, as in two of three such mouths", "DX-011")


def _weigh_against(mouth: Mouth, w: Weighing, affected: list[ToothFacts]) -> None:
    if mouth.crowns_ordinary:
        w.note(-t.DECISIVE, "upper front crowns are of ordinary length and proportion", t.SHORT_RATIO.source)
    short = [f for f in mouth.front if f.is_short]
    bare = [f for f in short if f.covered is not None and f.covered <= t.BARE_CROWN.value]
    if bare and len(bare) == len(short):
        text = f"short crowns are not covered: CEJ {with_numbers(bare, lambda f: f.covered)} mm apical to the margin"
        w.note(-t.CLEAR, text, t.BARE_CROWN.source)
    if short and all(f.chart.edge_worn for f in short):
        w.note(
            -t.CLEAR,
            f"every short crown has a worn edge: {names(short)}",
            "DX-007 to DX-009; J Prosthet Dent 2003;89:453",
        )
    swollen = [f for f in affected if f.chart.inflamed or f.has_pseudo_pocket]
    if swollen:
        text = f"not to be told from enlargement while inflamed or with a pseudo-pocket: {names(swollen)}"
        w.note(-t.SOME, text, t.COMMON)


def _classes(affected: list[ToothFacts]) -> str:
    """The classes of the affected teeth: ``type 1B (11, 21), type 1A/B (12)``."""
    groups: dict[str, list[str]] = {}
    for f in affected:
        kind, group = keratinised_type(f), subgroup(f)
        if kind or group:
            label = f"type {kind or '?'}{group or '?'}"
            groups.setdefault(label, []).append(f.tooth.fdi)
    return ", ".join(f"{label} ({', '.join(codes)})" for label, codes in groups.items())


def _advice(mouth: Mouth, affected: list[ToothFacts]) -> Advice:
    groups = {subgroup(f) for f in affected}
    can = "Surgery can uncover the hidden enamel, down to the CEJ."
    if groups & {"B", "A/B"}:
        can += " Subgroup B, and A/B decided as B: bone must move with the margin, or it grows back (DX-005, DX-006)."
    if "A" in groups:
        can += (
            " Subgroup A: soft tissue alone only where the margin stays coronal enough to the crest; with the margin at"
            " the CEJ only 1.5-2.0 mm would be left (DX-003)."
        )
    return Advice(
        surgery_can=f"{can} {display_words(mouth)}",
        surgery_cannot="It cannot move the incisal edge, the lip or the jaw.",
        alternatives=(NO_TREATMENT, "Incisal lengthening, where the edge lies too far apical at rest."),
        ask=(PERIODONTIST, RESTORATIVE),
    )


def altered_active_eruption(mouth: Mouth) -> Weighed:
    """A tooth that has not risen far enough out of its bone: crest at or near the CEJ."""
    w = Weighing("altered_active_eruption", "Altered active eruption: crest at the CEJ")
    known = [f for f in mouth.front if f.room is not None and f.is_short is not False]
    near = [f for f in known if f.room is not None and f.room <= t.ROOM_B.value]
    low = [f for f in near if mouth.stands_low(f)]
    if near:
        text = f"CEJ to crest no more than {t.ROOM_B.value:g} mm: {with_numbers(near, lambda f: f.room)} mm"
        w.note(t.CLEAR, text, t.ROOM_B.source)
    if low:
        w.note(t.SOME, f"edge apical to its partner by {t.CLEAR_STEP.value:g} mm or more: {names(low)}", t.COMMON)
    if known and all(f.room is not None and f.room >= t.ROOM_A.value for f in known):
        text = f"CEJ to crest {with_numbers(known, lambda f: f.room)} mm: ordinary"
        w.note(-t.CLEAR, text, t.ROOM_A.source)
    unknown = [f for f in mouth.front if f.room is None and f.is_short is not False]
    w.lacks_of([f for f in unknown if f.cej is None], "sites.midfacial.cej_mm", t.CLEAR)
    w.lacks_of([f for f in unknown if f.crest is None], "sites.midfacial.sounding_mm", t.CLEAR)
    advice = Advice(
        surgery_can="Surgery can lower the crest and uncover the crown.",
        surgery_cannot="It cannot bring the edge of a tooth that stands too far apical down to its neighbours.",
        alternatives=("Orthodontic extrusion, which brings edge, margin and crest together.", NO_TREATMENT),
        ask=(PERIODONTIST, ORTHODONTIST),
    )
    return w.weighed(advice, near)

"""Enlarged gingiva: by drugs, or by plaque and inflammation. What is swollen is not excess to be measured."""

from __future__ import annotations

from festoon.findings import thresholds as t
from festoon.findings.mouth import Mouth, ToothFacts, names, with_numbers
from festoon.findings.weighing import Advice, Weighed, Weighing
from festoon.findings.words import NO_TREATMENT, PERIODONTIST, PRESCRIBER, RESTORATIVE

_TREAT = "Treat plaque and inflammation, wait, and measure anew before anything is cut."


def _pseudo_pockets(mouth: Mouth) -> list[ToothFacts]:
    return [f for f in mouth.teeth if f.has_pseudo_pocket]


def _weigh_pockets(mouth: Mouth, w: Weighing) -> None:
    deep = _pseudo_pockets(mouth)
    if deep:
        text = f"deep on enamel, a pseudo-pocket: probing {with_numbers(deep, lambda f: f.probing)} mm"
        w.note(t.CLEAR, text, t.PSEUDO_POCKET.source)
    w.lacks_of([f for f in mouth.front if f.probing is None], "sites.midfacial.probing_mm", t.CLEAR)
    w.lacks_of(
        [f for f in mouth.teeth if f.cej is None and f.probing is not None and f.probing >= t.PSEUDO_POCKET.value],
        "sites.midfacial.cej_mm",
        t.SOME,
    )


def drug_overgrowth(mouth: Mouth) -> Weighed:
    """Some calcium channel blockers, phenytoin, ciclosporin."""
    w = Weighing("drug_overgrowth", "Drug-induced gingival overgrowth")
    drug = mouth.case.subject.health.overgrowth_drug
    inflamed = [f for f in mouth.teeth if f.chart.inflamed]
    deep = _pseudo_pockets(mouth)
    if drug is None:
        w.lacks("subject.health.overgrowth_drug", t.DECISIVE)
    elif drug:
        w.note(t.CLEAR, "takes a drug known to enlarge gingiva", "mayoclinicproceedings.org, S0025-6196(11)64493-5")
        _weigh_pockets(mouth, w)
        probed = [f.probing for f in mouth.teeth if f.probing is not None]
        if probed and max(probed) < t.PSEUDO_POCKET.value:
            w.note(-t.SOME, f"no facial probing of {t.PSEUDO_POCKET.value:g} mm or more", t.PSEUDO_POCKET.source)
        if inflamed:
            w.note(t.LITTLE, f"inflamed as well: {names(inflamed)}", t.COMMON)
        w.lacks_of([f for f in mouth.front if f.chart.inflamed is None], "inflamed", t.LITTLE)
    else:
        w.note(
            -t.DECISIVE, "takes no drug known to enlarge gingiva", "mayoclinicproceedings.org, S0025-6196(11)64493-5"
        )
    advice = Advice(
        surgery_can="Surgery can remove enlarged tissue once plaque is controlled; it recurs while the drug goes on.",
        surgery_cannot="It cannot remove the cause. No drug is to be stopped on this page's word.",
        alternatives=(_TREAT, "Change of drug, if the prescriber agrees.", NO_TREATMENT),
        ask=(PRESCRIBER, PERIODONTIST),
    )
    return w.weighed(advice, withholds=bool(drug) and bool(deep or inflamed))


def inflammatory_enlargement(mouth: Mouth) -> Weighed:
    """Plaque, brackets, restoration margins: swollen gingiva measured as if it were healthy."""
    w = Weighing("inflammatory_enlargement", "Inflamed or bracketed gingiva")
    inflamed = [f for f in mouth.teeth if f.chart.inflamed]
    periodontitis = mouth.case.subject.health.active_periodontitis
    charted = [f.chart.inflamed for f in mouth.front]
    if inflamed:
        w.note(t.DECISIVE, f"inflamed or bracketed on the day: {names(inflamed)}", t.COMMON)
    elif charted and all(c is False for c in charted) and not periodontitis:
        w.note(-t.CLEAR, "gingiva of the upper front teeth charted as healthy", t.COMMON)
    if periodontitis:
        w.note(t.DECISIVE, "active periodontitis", t.COMMON)
    elif periodontitis is None:
        w.lacks("subject.health.active_periodontitis", t.CLEAR)
    _weigh_pockets(mouth, w)
    w.lacks_of([f for f in mouth.front if f.chart.inflamed is None], "inflamed", t.CLEAR)
    affected = inflamed or _pseudo_pockets(mouth)
    advice = Advice(
        surgery_can="Nothing yet: part of what looks like excess will go with the inflammation.",
        surgery_cannot="It cannot be planned on swollen tissue; read every margin and sounding anew when healthy.",
        alternatives=(_TREAT, NO_TREATMENT),
        ask=(PERIODONTIST, RESTORATIVE),
    )
    return w.weighed(advice, () if periodontitis else affected, withholds=bool(inflamed) or bool(periodontitis))

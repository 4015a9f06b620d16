"""A fused tooth that stays behind while its neighbours erupt."""

from __future__ import annotations

from festoon.findings import thresholds as t
from festoon.findings.mouth import Mouth, names
from festoon.findings.weighing import Advice, Weighed, Weighing
from festoon.findings.words import NO_TREATMENT, ORTHODONTIST, RESTORATIVE


def ankylosis(mouth: Mouth) -> Weighed:
    """From the chart; an edge far apical to its partner only raises the question."""
    w = Weighing("ankylosis", "Ankylosis or infraposition")
    fused = [f for f in mouth.teeth if f.chart.ankylosed]
    low = [f for f in mouth.teeth if f.chart.ankylosed is None and mouth.stands_low(f)]
    if fused:
        w.note(t.DECISIVE, f"charted as ankylosed: {names(fused)}", t.COMMON)
    if low:
        text = f"unworn edge {t.CLEAR_STEP.value:g} mm or more apical to its partner: {names(low)}"
        w.note(t.SOME, text, t.COMMON)
        w.lacks_of(low, "ankylosed", t.DECISIVE)
    said = [f.chart.ankylosed for f in mouth.teeth]
    if said and all(a is False for a in said):
        w.note(-t.DECISIVE, "no tooth is ankylosed", t.COMMON)
    w.lacks_of([f for f in mouth.front if f.chart.ankylosed is None and f not in low], "ankylosed", t.SOME)
    advice = Advice(
        surgery_can="Surgery can lengthen the fused tooth's crown only apically, further from its neighbours' line.",
        surgery_cannot="It cannot bring the tooth down, and the neighbours must not be cut to match it.",
        alternatives=(
            "Restorative lengthening of the edge.",
            "Luxation, repositioning or replacement after referral.",
            NO_TREATMENT,
        ),
        ask=(ORTHODONTIST, RESTORATIVE),
    )
    return w.weighed(advice, fused or low, withholds=bool(fused))

"""Earlier surgery whose margin has come back, usually because the bone was left."""

from __future__ import annotations

from festoon.findings import thresholds as t
from festoon.findings.mouth import Mouth, with_numbers
from festoon.findings.weighing import Advice, Weighed, Weighing
from festoon.findings.words import NO_TREATMENT, PERIODONTIST, RESTORATIVE


def recurrence(mouth: Mouth) -> Weighed:
    """Only where earlier surgery was charted; a crest near the CEJ then points to the bone."""
    w = Weighing("recurrence", "Recurrence after earlier surgery")
    earlier = mouth.case.subject.health.previous_surgery
    near = [f for f in mouth.front if f.room is not None and f.room < t.ROOM_A.value and f.is_short is not False]
    if earlier is None:
        w.lacks("subject.health.previous_surgery", t.DECISIVE)
    elif not earlier:
        w.note(-t.DECISIVE, "no earlier surgery on these teeth", t.COMMON)
    else:
        w.note(t.SOME, "earlier surgery on the gingiva or bone of these teeth", t.COMMON)
        if mouth.crowns_ordinary:
            w.note(-t.CLEAR, "crowns are of ordinary length now", t.SHORT_RATIO.source)
        elif mouth.crowns_ordinary is False:
            w.note(t.SOME, "crowns are short again", t.SHORT_RATIO.source)
        if near:
            text = f"CEJ to crest {with_numbers(near, lambda f: f.room)} mm: the bone was left"
            w.note(t.CLEAR, text, "DX-006")
        unknown = [f for f in mouth.front if f.room is None and f.is_short is not False]
        w.lacks_of([f for f in unknown if f.crest is None], "sites.midfacial.sounding_mm", t.CLEAR)
        w.lacks_of([f for f in unknown if f.cej is None], "sites.midfacial.cej_mm", t.CLEAR)
    advice = Advice(
        surgery_can="Surgery can lower a crest that was left too near the CEJ, on a new set of readings.",
        surgery_cannot="It cannot be planned on earlier readings, nor give back keratinised tissue taken then.",
        alternatives=("Wait until the margin is unchanged on two visits.", NO_TREATMENT),
        ask=(PERIODONTIST, RESTORATIVE),
    )
    return w.weighed(advice, near if earlier else ())

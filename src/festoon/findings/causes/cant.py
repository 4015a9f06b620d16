"""A canted occlusal plane: the whole line slopes, and a line led by the CEJs would copy the slope."""

from __future__ import annotations

from math import radians, tan
from statistics import fmean

from festoon.findings import thresholds as t
from festoon.findings.mouth import Mouth
from festoon.findings.weighing import Advice, Weighed, Weighing
from festoon.findings.words import JAW_SURGEON, NO_TREATMENT, ORTHODONTIST


def cant(mouth: Mouth) -> Weighed:
    """Weighed by the rise across the front teeth, against what dentists see."""
    w = Weighing("occlusal_cant", "Occlusal cant")
    face = mouth.case.face
    angle = face.occlusal_cant_deg
    if angle is None:
        w.lacks("face.occlusal_cant_deg", t.CLEAR)
    else:
        rise = t.CANT_SPAN.value * tan(radians(abs(angle)))
        side = "left" if angle > 0 else "right"
        if rise >= t.CANT_SEEN.value:
            text = f"cant {abs(angle):.1f} degrees, {side} higher: {rise:.1f} mm from canine to canine"
            w.note(t.CLEAR, text, f"{t.CANT_SEEN.source}; span of {t.CANT_SPAN.value:g} mm {t.COMMON}")
        else:
            w.note(-t.CLEAR, f"cant {abs(angle):.1f} degrees, {rise:.1f} mm from canine to canine", t.CANT_SEEN.source)
    if face.horizontal is None:
        w.lacks("face.horizontal", t.SOME)
    slopes = _cej_slopes(mouth)
    if len(slopes) > 1 and abs(fmean(slopes)) >= t.CLEAR_STEP.value and min(slopes) * max(slopes) > 0:
        higher = "right" if fmean(slopes) > 0 else "left"
        text = f"CEJs of the {higher} side lie {abs(fmean(slopes)):.1f} mm further apically on average"
        w.note(t.SOME, text, t.CLEAR_STEP.source)
    advice = Advice(
        surgery_can="Surgery can level margins where enamel is hidden; a line led by the CEJs alone copies the slope.",
        surgery_cannot="It cannot level edges, jaw or lip; lowering bone on one side to level margins uncovers root.",
        alternatives=(
            "Choose the horizontal to level to (pupils, horizon, lip) with the patient, and show it on the plan.",
            "Orthodontic or jaw correction of the plane.",
            NO_TREATMENT,
        ),
        ask=(ORTHODONTIST, JAW_SURGEON),
    )
    return w.weighed(advice)


def _cej_slopes(mouth: Mouth) -> list[float]:
    """Height of the right CEJ minus the left's, for every front pair where both are known."""
    slopes = []
    for f in mouth.front:
        partner = mouth.partner(f)
        if f.tooth.is_right and partner is not None and f.cej_height is not None and partner.cej_height is not None:
            slopes.append(f.cej_height - partner.cej_height)
    return slopes

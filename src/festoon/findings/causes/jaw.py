"""Vertical maxillary excess: a long upper jaw carries teeth and gingiva down below the lip."""

from __future__ import annotations

from festoon.evidence.table import published
from festoon.findings import thresholds as t
from festoon.findings.display import display_words, weigh_crowns
from festoon.findings.mouth import Mouth
from festoon.findings.weighing import Advice, Weighed, Weighing
from festoon.findings.words import INTRUSION, JAW_SURGEON, JAW_SURGERY, NO_TREATMENT, ORTHODONTIST

_REST = {"female": "AES-027", "male": "AES-026"}


def degree(display_mm: float) -> str | None:
    """Degree by gingival display: I from 2 mm, II from 4, III from 8 (DX-021 to DX-023); None below."""
    for name, threshold in (("III", t.VME_III), ("II", t.VME_II), ("I", t.VME_I)):
        if display_mm >= threshold.value:
            return name
    return None


def vertical_maxillary_excess(mouth: Mouth) -> Weighed:
    """Weighed from the thirds of the face, the incisor shown at rest, and lip and crowns that do not explain it."""
    w = Weighing("vertical_maxillary_excess", "Vertical maxillary excess")
    face, smile, display = mouth.case.face, mouth.case.smile, mouth.display
    _weigh_thirds(w, face.middle_third_mm, face.lower_third_mm)
    _weigh_rest(mouth, w)
    grade = None if display is None else degree(display)
    if display is None:
        w.lacks("smile.gingival_display_mm", t.CLEAR)
    elif grade is None:
        w.note(-t.CLEAR, f"only {display:.1f} mm of gingiva shown", t.VME_I.source)
    else:
        source = {"I": t.VME_I, "II": t.VME_II, "III": t.VME_III}[grade].source
        w.note({"I": t.LITTLE, "II": t.SOME, "III": t.CLEAR}[grade], f"{display:.1f} mm of gingiva shown", source)
        travel = mouth.anatomy.lip_travel
        if travel is not None and travel.value > t.TRAVEL_VERY_HIGH.value:
            w.note(
                -t.SOME,
                f"the lip travels {travel.value:.1f} mm, which shows gingiva by itself",
                t.TRAVEL_VERY_HIGH.source,
            )
        if mouth.crowns_ordinary and _lip_is_ordinary(mouth):
            w.note(t.SOME, "the lip is of ordinary length and travel, which leaves the jaw", t.COMMON)
        weigh_crowns(mouth, w)
    if grade is not None and w.score > 0:
        w.title = f"Vertical maxillary excess, degree {grade} by display"
    if smile.rest_display_mm is None:
        w.lacks("smile.rest_display_mm", t.SOME)
    advice = Advice(
        surgery_can=f"Surgery can lengthen crowns that are short. {display_words(mouth)}",
        surgery_cannot="It cannot shorten the jaw; lengthening ordinary crowns for it uncovers root.",
        alternatives=(INTRUSION, JAW_SURGERY, NO_TREATMENT),
        ask=(ORTHODONTIST, JAW_SURGEON),
    )
    withholds = w.support == "strong" and w.is_unopposed and mouth.crowns_ordinary is True
    return w.weighed(advice, withholds=withholds)


def _weigh_thirds(w: Weighing, middle: float | None, lower: float | None) -> None:
    if middle is None:
        w.lacks("face.middle_third_mm", t.CLEAR)
    if lower is None:
        w.lacks("face.lower_third_mm", t.CLEAR)
    if middle is None or lower is None:
        return
    excess = lower - middle
    text = f"lower third {lower:.0f} mm, middle third {middle:.0f} mm"
    if excess >= t.THIRD_JAW.value:
        w.note(t.CLEAR, text, t.THIRD_JAW.source)
    elif excess >= t.THIRD_LONG.value:
        w.note(t.SOME, text, t.THIRD_LONG.source)
    else:
        w.note(-t.CLEAR, f"{text}: not long", t.COMMON)


def _lip_is_ordinary(mouth: Mouth) -> bool:
    """True only when length and travel were measured and neither is out of the ordinary."""
    length, travel, sex = mouth.anatomy.lip_length, mouth.anatomy.lip_travel, mouth.case.subject.sex
    if length is None or travel is None or sex == "unknown":
        return False
    lower = t.LIP_SHORT_FEMALE if sex == "female" else t.LIP_SHORT_MALE
    return length.value >= lower.value and travel.value <= t.TRAVEL_HIGH.value


def _weigh_rest(mouth: Mouth, w: Weighing) -> None:
    """Incisor shown at rest against the mean for the sex."""
    rest, row = mouth.case.smile.rest_display_mm, _REST.get(mouth.case.subject.sex)
    if rest is None or row is None:
        return
    mean = published(row).value
    text = f"{rest:.1f} mm of incisor shown at rest, mean {mean:.1f}"
    if rest >= mean + t.REST_EXTRA.value:
        w.note(t.SOME, text, f"{row}, memory")
    elif rest <= mean:
        w.note(-t.SOME, f"{text}: not much", f"{row}, memory")

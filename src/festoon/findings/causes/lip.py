"""The upper lip: too short at rest, or lifted too far in a smile."""

from __future__ import annotations

from festoon.findings import thresholds as t
from festoon.findings.display import display_words, weigh_crowns
from festoon.findings.mouth import Mouth
from festoon.findings.weighing import Advice, Weighed, Weighing
from festoon.findings.words import (
    LIP_SURGERY,
    NO_TREATMENT,
    ORTHODONTIST,
    PERIODONTIST,
    TOXIN,
)


def _weigh_display(mouth: Mouth, w: Weighing) -> None:
    """Whether there is a display to explain, and whether the crowns explain it."""
    display = mouth.display
    if display is None:
        w.lacks("smile.gingival_display_mm", t.CLEAR)
        return
    if display >= t.DISPLAY.value:
        w.note(t.LITTLE, f"{display:.1f} mm of gingiva shown", t.DISPLAY.source)
    elif display < t.VME_I.value:
        w.note(-t.CLEAR, f"only {display:.1f} mm of gingiva shown", t.DISPLAY.source)
    weigh_crowns(mouth, w)


def _withholds(mouth: Mouth, w: Weighing) -> bool:
    return w.support == "strong" and w.is_unopposed and mouth.crowns_ordinary is True


def short_upper_lip(mouth: Mouth) -> Weighed:
    """Lip length at rest against the norm for the sex."""
    w = Weighing("short_upper_lip", "Short upper lip")
    lip, sex = mouth.anatomy.lip_length, mouth.case.subject.sex
    if lip is None:
        w.lacks("smile.lip_length_mm", t.DECISIVE)
    elif sex == "unknown":
        w.lacks("subject.sex", t.CLEAR)
    else:
        lower, mean = (
            (t.LIP_SHORT_FEMALE, t.LIP_MEAN_FEMALE) if sex == "female" else (t.LIP_SHORT_MALE, t.LIP_MEAN_MALE)
        )
        text = f"upper lip {lip.value:.1f} mm at rest, usual from {lower.value:g} ({sex})"
        if lip.value < mean.value - t.LIP_SPREAD.value:
            w.note(t.CLEAR, text, lower.source)
        elif lip.value < lower.value:
            w.note(t.SOME, text, lower.source)
        else:
            w.note(-t.DECISIVE, f"{text}: not short", lower.source)
    _weigh_display(mouth, w)
    advice = Advice(
        surgery_can=f"Surgery can lengthen crowns that are short. {display_words(mouth)}",
        surgery_cannot="It cannot lengthen the lip.",
        alternatives=(LIP_SURGERY, "Lip lengthening by a plastic surgeon.", NO_TREATMENT),
        ask=(PERIODONTIST, "plastic surgeon"),
    )
    return w.weighed(advice, withholds=_withholds(mouth, w))


def hypermobile_lip(mouth: Mouth) -> Weighed:
    """Lip travel from rest to smile."""
    w = Weighing("hypermobile_lip", "Hypermobile upper lip")
    travel = mouth.anatomy.lip_travel
    if travel is None:
        w.lacks("smile.lip_travel_mm", t.DECISIVE)
    else:
        text = f"lip travels {travel.value:.1f} mm from rest to smile"
        if travel.value > t.TRAVEL_VERY_HIGH.value:
            w.note(t.CLEAR, text, t.TRAVEL_VERY_HIGH.source)
        elif travel.value > t.TRAVEL_HIGH.value:
            w.note(t.SOME, text, t.TRAVEL_HIGH.source)
        else:
            w.note(-t.DECISIVE, f"{text}: ordinary", "AES-021; DX-024, weak source")
    _weigh_display(mouth, w)
    advice = Advice(
        surgery_can=f"Surgery can lengthen crowns that are short. {display_words(mouth)}",
        surgery_cannot="It cannot change how far the lip lifts.",
        alternatives=(LIP_SURGERY, TOXIN, NO_TREATMENT),
        ask=(PERIODONTIST, ORTHODONTIST),
    )
    return w.weighed(advice, withholds=_withholds(mouth, w))

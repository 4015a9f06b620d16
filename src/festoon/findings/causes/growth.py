"""Growth and eruption not finished: a young crown is short because it is still coming."""

from __future__ import annotations

from festoon.findings import thresholds as t
from festoon.findings.mouth import Mouth
from festoon.findings.weighing import Advice, Weighed, Weighing
from festoon.findings.words import NO_TREATMENT, ORTHODONTIST, PERIODONTIST


def incomplete_growth(mouth: Mouth) -> Weighed:
    """From the clinician's word on growth; else from age, since crowns lengthened up to 18-19 years."""
    w = Weighing("incomplete_growth", "Growth or eruption not finished")
    subject = mouth.case.subject
    age, grown = subject.age_years, subject.growth_complete
    is_young = age is not None and age < t.GROWN_AGE.value
    if grown is False:
        w.note(t.DECISIVE, "growth charted as not complete", t.COMMON)
    elif grown:
        w.note(-t.DECISIVE, "growth charted as complete", t.COMMON)
    else:
        w.lacks("subject.growth_complete", t.DECISIVE)
    if age is None:
        w.lacks("subject.age_years", t.CLEAR)
    elif is_young:
        w.note(t.CLEAR, f"{age:g} years: crowns still lengthen up to 18-19", t.GROWN_AGE.source)
    else:
        w.note(-t.CLEAR, f"{age:g} years", t.GROWN_AGE.source)
    advice = Advice(
        surgery_can="Nothing yet: the crown may lengthen by itself.",
        surgery_cannot="It cannot be planned on a margin that still moves; earlier surgery needs a special consent.",
        alternatives=("Wait, and measure again at yearly visits until two agree.", NO_TREATMENT),
        ask=(ORTHODONTIST, PERIODONTIST),
    )
    return w.weighed(advice, withholds=grown is False or (grown is None and is_young))

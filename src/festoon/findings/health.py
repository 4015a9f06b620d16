"""Health questions before elective surgery: flagged and referred, never cleared."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from festoon.findings import thresholds as t
from festoon.model.case import Case, Health, Subject
from festoon.model.plan import Caution
from festoon.model.reading import Method

Severity = Literal["stop", "warn", "note"]


@dataclass(frozen=True)
class Question:
    """One health question: when it raises a caution, how grave, and what is said."""

    field: str
    is_raised: Callable[[Health], bool]
    severity: Severity
    text: str
    source: str = t.COMMON


def _yes(field: str) -> Callable[[Health], bool]:
    return lambda health: getattr(health, field) is True


def _question(field: str, severity: Severity, text: str, source: str = t.COMMON) -> Question:
    return Question(field, _yes(field), severity, text, source)


QUESTIONS: tuple[Question, ...] = (
    _question(
        "bleeding_disorder",
        "stop",
        "Bleeding disorder: assess with the physician before any cut.",
        "PMC5851192",
    ),
    _question(
        "anticoagulant",
        "stop",
        "Anticoagulant: assess with the prescriber; local measures. Do not stop the drug on this plan's word.",
        "PMC5851192",
    ),
    _question(
        "antiplatelet",
        "stop",
        "Antiplatelet drug: assess with the prescriber; local measures. Do not stop the drug on this plan's word.",
        "PMC5851192",
    ),
    _question(
        "antiresorptive",
        "stop",
        "Antiresorptive or antiangiogenic drug: bone surgery carries a risk of osteonecrosis that depends on drug, "
        "reason and time. Elective bone surgery here is a specialist's decision.",
        "PMC6164200",
    ),
    _question(
        "jaw_radiotherapy",
        "stop",
        "Radiotherapy of the jaws: bone surgery carries a risk of osteonecrosis. A specialist's decision.",
        "PMC6164200",
    ),
    _question("active_periodontitis", "stop", "Active periodontitis: treat first, then measure anew.", t.COMMON),
    _question(
        "overgrowth_drug",
        "stop",
        "A drug that enlarges gingiva: ask the prescriber, control plaque, measure anew; it recurs while the drug "
        "goes on.",
        "mayoclinicproceedings.org, S0025-6196(11)64493-5",
    ),
    _question("immunosuppression", "stop", "Immunosuppression: assess with the physician; healing and infection."),
    _question("endocarditis_risk", "stop", "Risk of endocarditis: ask the cardiologist; local guideline on cover."),
    _question("pregnancy", "stop", "Pregnancy: put off elective surgery."),
    Question(
        "diabetes",
        lambda health: health.diabetes == "uncontrolled",
        "stop",
        "Diabetes not controlled: bring under control first.",
    ),
    Question(
        "diabetes",
        lambda health: health.diabetes == "controlled",
        "warn",
        "Diabetes under control: ask for a recent value; healing may be slower.",
    ),
    _question("smoker", "warn", "Smokes: healing and stability suffer; advise to stop, record the advice."),
    _question(
        "expectation_concern",
        "stop",
        "Distress far beyond the finding or repeated procedures: pause and refer before any cosmetic surgery.",
        "doi 10.4236/ojst.2017.74016",
    ),
    _question(
        "previous_surgery",
        "warn",
        "Earlier surgery here: use only readings taken since; suspect the bone.",
        t.COMMON,
    ),
)
"""Every question that raises a caution by itself; allergy, growth and radiographs stand beside them."""


def health_cautions(case: Case) -> tuple[Caution, ...]:
    """What health and growth say before elective surgery; what a single tooth says stands with that tooth's plan.

    ``stop``: not before a licensed clinician has cleared it. Unanswered questions raise no caution here; they
    are listed by :func:`unanswered_health`. No drug is to be stopped on the word of any of these.
    """
    health = case.subject.health
    cautions = [
        Caution(code=f"health.{q.field}", text=q.text, source=q.source, severity=q.severity)
        for q in QUESTIONS
        if q.is_raised(health)
    ]
    if health.allergy is not None and health.allergy.strip().lower() != "none":
        cautions.append(
            Caution(
                code="health.allergy",
                text=f"Allergy: {health.allergy}. Check anaesthetic, latex, resin of the template, drugs.",
                source=t.COMMON,
                severity="warn",
            )
        )
    cautions += _growth(case.subject)
    if _has_volume(case):
        cautions.append(
            Caution(
                code="radiograph.justification",
                text="Levels were read from a volume: each exposure needs its own justification; CBCT is not routine.",
                source="national guideline on cone-beam CT, swissdentaljournal.org",
                severity="note",
            )
        )
    return tuple(cautions)


def unanswered_health(case: Case) -> tuple[str, ...]:
    """Health questions nobody answered, by their case-file names, in the order of the file."""
    health = case.subject.health
    unanswered = [f"subject.health.{name}" for name in Health.model_fields if getattr(health, name) is None]
    if case.subject.age_years is None:
        unanswered.append("subject.age_years")
    if case.subject.growth_complete is None:
        unanswered.append("subject.growth_complete")
    return tuple(unanswered)


def _growth(subject: Subject) -> list[Caution]:
    is_young = subject.age_years is not None and subject.age_years < t.GROWN_AGE.value
    if subject.growth_complete is False or (is_young and subject.growth_complete is None):
        text = "Growth or eruption not finished: put off; crowns still lengthen. Guardian's consent for a minor."
        return [Caution(code="health.growth", text=text, source=t.GROWN_AGE.source, severity="stop")]
    if is_young:
        text = f"{subject.age_years:g} years: crowns may still lengthen although growth is charted as complete."
        return [Caution(code="health.growth", text=text, source=t.GROWN_AGE.source, severity="warn")]
    return []


def _has_volume(case: Case) -> bool:
    """True when any reading came from a cone-beam volume."""
    for chart in case.teeth.values():
        charted = [chart.width_mm, chart.root_apex_mm, chart.lip_height_smile_mm, *chart.furcation_mm.values()]
        for site in chart.sites.values():
            charted += [getattr(site, name) for name in type(site).model_fields if name.endswith("_mm")]
        for readings in charted:
            if isinstance(readings, tuple) and any(reading.method is Method.CBCT for reading in readings):
                return True
    return False

"""The causes weighed and ranked."""

from __future__ import annotations

from festoon.findings import thresholds as t
from festoon.findings.causes import CAUSES
from festoon.findings.display import display_words
from festoon.findings.mouth import Mouth
from festoon.findings.weighing import Weighed
from festoon.findings.words import NO_TREATMENT, PERIODONTIST
from festoon.model.anatomy import Anatomy
from festoon.model.case import Purpose
from festoon.model.plan import Finding

_ORDER = ("strong", "moderate", "weak", "against", "unknown")


def assess(anatomy: Anatomy) -> tuple[Finding, ...]:
    """Why the teeth are short, or why so much gingiva shows.

    Every cause of the registry is weighed; several may stand together. Where none has more for it than against it, the
    first finding says that no cause was found in what was charted.

    Parameters
    ----------
    anatomy : Anatomy
        The mouth as known, levels from the present edge.

    Returns
    -------
    tuple of Finding
        Ranked from 1: those that withhold surgery first, since they must be read first; then by support, by the sum
        of the weights, and by the order of the registry. A finding with ``withholds_surgery`` concerns its ``teeth``,
        or the whole mouth when it names none.
    """
    mouth = Mouth(anatomy)
    weighed = [cause(mouth) for cause in CAUSES]
    ranked = sorted(weighed, key=_place)  # stable: the registry breaks ties
    findings = [w.finding for w in ranked]
    if not any(f.support in ("strong", "moderate", "weak") for f in findings):
        findings.insert(0, _nothing_found(mouth, ranked))
    return tuple(f.model_copy(update={"rank": rank}) for rank, f in enumerate(findings, start=1))


def _place(weighed: Weighed) -> tuple[bool, int, float]:
    finding = weighed.finding
    return (not finding.withholds_surgery, _ORDER.index(finding.support), -weighed.score)


def _nothing_found(mouth: Mouth, ranked: list[Weighed]) -> Finding:
    """Said when no cause is supported: because there is nothing to explain, or because it was not charted."""
    display = mouth.display
    if all(anatomy.purpose is Purpose.RESTORATIVE for anatomy in mouth.anatomy.teeth.values()):
        title = "Restorative lengthening: asked for by a finish line, not by looks"
    elif mouth.crowns_ordinary and display is not None and display < t.DISPLAY.value:
        title = "Nothing to explain: crowns are of ordinary length and little gingiva shows"
    else:
        title = "No cause found in what was charted"
    missing = dict.fromkeys(name for w in ranked if w.finding.support == "unknown" for name in w.finding.missing[:1])
    return Finding(
        cause="none_found",
        title=title,
        rank=0,
        support="unknown",
        surgery_can=f"Whether surgery can help cannot be said from what was charted. {display_words(mouth)}",
        surgery_cannot="Without a cause, lengthening may treat the wrong thing.",
        alternatives=(NO_TREATMENT,),
        ask=(PERIODONTIST,),
        missing=tuple(missing),
    )

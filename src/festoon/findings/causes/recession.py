"""Root that shows already: a crown that is long by recession, where a plan from proportions fails."""

from __future__ import annotations

from festoon.findings import thresholds as t
from festoon.findings.mouth import Mouth, ToothFacts, names, with_numbers
from festoon.findings.weighing import Advice, Weighed, Weighing
from festoon.findings.words import NO_TREATMENT, PERIODONTIST, RESTORATIVE


def recession(mouth: Mouth) -> Weighed:
    """Margin apical to the CEJ. Where no restoration is to cover that root, nothing is planned there."""
    w = Weighing("recession", "Recession, root shows already")
    known = [f for f in mouth.teeth if f.covered is not None]
    bare = [f for f in known if (_shown(f) or 0.0) >= t.ROOT_SHOWS.value]
    if bare:
        w.note(t.DECISIVE, f"root shows: {with_numbers(bare, _shown)} mm", t.ROOT_SHOWS.source)
    elif known and len(known) == len(mouth.teeth):
        w.note(-t.DECISIVE, "no margin lies apical to its CEJ", t.ROOT_SHOWS.source)
    scanty = [f for f in bare if f.keratinised is not None and f.keratinised < t.KERATINISED.value]
    if scanty:
        text = f"little keratinised tissue there: {with_numbers(scanty, lambda f: f.keratinised)} mm"
        w.note(t.SOME, text, t.KERATINISED.source)
    if bare and mouth.case.subject.health.previous_surgery:
        w.note(t.SOME, "earlier surgery: scar may hold the tissue", t.COMMON)
    w.lacks_of([f for f in mouth.front if f.cej is None], "sites.midfacial.cej_mm", t.DECISIVE)
    uncovered = [f for f in bare if not f.chart.root_cover_mm]
    by_hand = f" {names(uncovered)} to be planned by hand." if uncovered else ""
    advice = Advice(
        surgery_can="Lengthening uncovers more root there; its neighbours can still be judged each by itself.",
        surgery_cannot="It cannot bring a margin back. Proportion, mirror image and template do not hold where tissue "
        f"was lost or scarred.{by_hand}",
        alternatives=("Root coverage or a graft, judged by hand.", "A restoration that covers the root.", NO_TREATMENT),
        ask=(PERIODONTIST, RESTORATIVE),
    )
    return w.weighed(advice, uncovered or bare, withholds=bool(uncovered))


def _shown(f: ToothFacts) -> float | None:
    """Root showing midfacially, mm; negative where enamel is covered."""
    return None if f.covered is None else round(-f.covered, 6) + 0.0

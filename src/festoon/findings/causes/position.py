"""Orthodontic and prosthetic causes: teeth out of line, and restoration margins that keep the gingiva swollen."""

from __future__ import annotations

from festoon.findings import thresholds as t
from festoon.findings.mouth import Mouth, ToothFacts, names, with_numbers
from festoon.findings.weighing import Advice, Weighed, Weighing
from festoon.findings.words import ALIGN_FIRST, EXTRUSION, NO_TREATMENT, ORTHODONTIST, PERIODONTIST, RESTORATIVE
from festoon.model.case import Restoration


def tooth_position(mouth: Mouth) -> Weighed:
    """Crowded or rotated teeth: margins uneven because the teeth are."""
    w = Weighing("tooth_position", "Crowded or rotated teeth")
    crowded = [f for f in mouth.teeth if f.chart.crowded]
    turned = [f for f in mouth.teeth if abs(f.chart.rotation_deg or 0.0) >= t.ROTATED.value]
    if crowded:
        w.note(t.CLEAR, f"crowded: {names(crowded)}", t.COMMON)
    if turned:
        text = f"rotated: {with_numbers(turned, lambda f: f.chart.rotation_deg, 0)} degrees"
        w.note(t.SOME, text, t.ROTATED.source)
    said = [f.chart.crowded for f in mouth.front]
    if said and all(c is False for c in said):
        w.note(-t.CLEAR, "upper front teeth are not crowded", t.COMMON)
    w.lacks_of([f for f in mouth.front if f.chart.crowded is None], "crowded", t.CLEAR)
    affected = [f for f in mouth.teeth if f in crowded or f in turned]
    advice = Advice(
        surgery_can="Surgery can trim the margin of a tooth that stays where it is; a guide seats badly over crowding.",
        surgery_cannot="It cannot align; margins change again when teeth are moved, and facial bone over them is thin.",
        alternatives=(ALIGN_FIRST, EXTRUSION, NO_TREATMENT),
        ask=(ORTHODONTIST, PERIODONTIST),
    )
    return w.weighed(advice, affected)


def restoration_margin(mouth: Mouth) -> Weighed:
    """A restoration margin inside the supracrestal attachment keeps the gingiva inflamed and enlarged."""
    w = Weighing("restoration_margin", "Restoration margin too near the crest")
    restored = [f for f in mouth.teeth if not f.is_natural or f.chart.restoration is Restoration.PRESENT]
    unsaid = [f for f in mouth.teeth if f.chart.status is None and f.chart.restoration is None]
    close = [f for f in restored if (room := _least_room(f)) is not None and room < t.RESTORATION_ROOM.value]
    if close:
        text = (
            f"restoration margin to crest under {t.RESTORATION_ROOM.value:g} mm: {with_numbers(close, _least_room)} mm"
        )
        w.note(t.CLEAR, text, t.RESTORATION_ROOM.source)
        inflamed = [f for f in close if f.chart.inflamed]
        if inflamed:
            w.note(t.SOME, f"inflamed there: {names(inflamed)}", t.COMMON)
    if restored and all((room := _least_room(f)) is not None and room >= t.RESTORATION_ROOM.value for f in restored):
        text = f"restoration margins keep {with_numbers(restored, _least_room)} mm to the crest"
        w.note(-t.CLEAR, text, t.RESTORATION_ROOM.source)
    if not restored and not unsaid:
        w.note(-t.DECISIVE, "no crown or veneer on these teeth", t.COMMON)
    blind = [f for f in restored if _least_room(f) is None]
    w.lacks_of(unsaid, "restoration", t.SOME)
    w.lacks_of(blind, "sites.midfacial.existing_finish_line_mm", t.CLEAR)
    advice = Advice(
        surgery_can="Surgery can give the margin room by lowering bone all round the tooth.",
        surgery_cannot="It cannot replace the restoration; its old margin will show where gingiva is lowered.",
        alternatives=("A new restoration with its margin further from the crest.", EXTRUSION, NO_TREATMENT),
        ask=(RESTORATIVE, PERIODONTIST),
    )
    return w.weighed(advice, close)


def _least_room(f: ToothFacts) -> float | None:
    """Smallest distance from a restoration margin to the crest, over the sites where both are known."""
    rooms = [
        site.crest.value - site.existing_finish_line.value
        for site in f.anatomy.sites.values()
        if site.crest is not None and site.existing_finish_line is not None
    ]
    return min(rooms) if rooms else None

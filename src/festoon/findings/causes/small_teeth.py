"""Teeth that are simply small: short and narrow alike, nothing hidden."""

from __future__ import annotations

from festoon.findings import thresholds as t
from festoon.findings.mouth import Mouth, ToothFacts, names, with_numbers
from festoon.findings.weighing import Advice, Weighed, Weighing
from festoon.findings.words import NO_TREATMENT, ORTHODONTIST, RESTORATIVE, RESTORE_INCISALLY


def small_teeth(mouth: Mouth) -> Weighed:
    """Width and length both under the published mean, at an ordinary ratio."""
    w = Weighing("small_teeth", "Small teeth")
    known = [f for f in mouth.front if f.width is not None and f.length is not None]
    narrow = [f for f in known if _is_narrow(f)]
    small = [f for f in narrow if _is_low(f) and f.ratio is not None and f.ratio < t.SHORT_RATIO.value]
    if small:
        text = (
            f"short and narrow alike: length {with_numbers(small, lambda f: f.length)}, "
            f"width {with_numbers(small, lambda f: f.width)} mm"
        )
        w.note(t.CLEAR, text, "CRN-001 to CRN-026")
        plain = [f for f in small if f.covered is not None and f.covered <= t.COVERED_CROWN.value]
        hidden = [f for f in small if f.covered is not None and f.covered > t.COVERED_CROWN.value]
        if plain:
            w.note(t.SOME, f"no more enamel hidden than usual: {names(plain)}", t.COVERED_CROWN.source)
        if hidden:
            w.note(-t.SOME, f"enamel is hidden: {names(hidden)}", t.COVERED_CROWN.source)
        w.lacks_of([f for f in small if f.covered is None], "sites.midfacial.cej_mm", t.SOME)
    elif known and not narrow:
        w.note(-t.CLEAR, f"widths are ordinary: {with_numbers(known, lambda f: f.width)} mm", t.NARROW_BY.source)
    w.lacks_of([f for f in mouth.front if f.width is None], "width_mm", t.CLEAR)
    w.lacks_of([f for f in mouth.front if f.length is None], "sites.midfacial.margin_mm", t.CLEAR)
    advice = Advice(
        surgery_can="Surgery can lengthen a small crown only by uncovering root, and makes it look narrower.",
        surgery_cannot="It cannot add width.",
        alternatives=(
            "Restorations that add width and length, spaces shared out first.",
            RESTORE_INCISALLY,
            NO_TREATMENT,
        ),
        ask=(RESTORATIVE, ORTHODONTIST),
    )
    return w.weighed(advice, small)


def _is_narrow(f: ToothFacts) -> bool:
    return f.width is not None and f.mean_width is not None and f.width <= f.mean_width.value - t.NARROW_BY.value


def _is_low(f: ToothFacts) -> bool:
    return f.length is not None and f.mean_length is not None and f.length <= f.mean_length.value - t.SHORT_BY.value

"""The frame round a profile: title and identity, the stamp, the key, the check line."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from festoon.drawings.columns import NEUTRAL_WIDTH_MM, Aspect, cut_lingually
from festoon.drawings.hatch import hatched_bone, hatched_gingiva
from festoon.drawings.palette import Theme
from festoon.drawings.scale import CHECK_LINE_MM, check_line
from festoon.drawings.svg import element, group, line, number, polygon, rect, text, text_width, wrap
from festoon.drawings.symbols import zenith_wedge
from festoon.model.dentition import Tooth
from festoon.model.plan import Plan

SIDES = 3.5
"""Paper mm left free at both sides of the drawing."""


def title_of(plan: Plan, teeth_by_jaw: Sequence[Sequence[Tooth]]) -> str:
    """The name of the drawing."""
    return f"Level profile, {_jaws(teeth_by_jaw)} jaw, case {plan.case}"


def _jaws(teeth_by_jaw: Sequence[Sequence[Tooth]]) -> str:
    return " and ".join("upper" if teeth[0].is_upper else "lower" for teeth in teeth_by_jaw)


def head_of(
    plan: Plan, teeth_by_jaw: Sequence[Sequence[Tooth]], width: float, scale: float, t: Theme
) -> tuple[str, float]:
    """Title, identity, scale, stamp; and where the next part may start."""
    x, end = SIDES, width - SIDES
    identity = f"case {plan.case}"
    marks = " · ".join(
        filter(
            None,
            (
                f"charted {plan.examined_at}" if plan.examined_at else "day of chart not stated",
                f"design {plan.design_version}" if plan.design_version else "design not approved",
            ),
        )
    )
    parts = [
        text(x, 8.0, f"Level profile, {_jaws(teeth_by_jaw)} jaw", 4.4, font_weight="600", fill=t.ink),
        text(end, 6.4, identity, 2.6, anchor="end", font_weight="600", fill=t.ink),
        text(end, 9.6, marks, 2.1, anchor="end", fill=t.quiet),
    ]
    sentence = (
        f"Viewed facing the patient; drawn {scale:g}:1. "
        "Levels in mm along each tooth from its planned edge (level 0), apical positive."
    )
    y = 12.6
    for row in wrap(sentence, 2.2, end - x):
        parts.append(text(x, y, row, 2.2, fill=t.quiet))
        y += 2.7
    if not plan.for_surgery:
        stamp, y = _stamp(plan, x, y - 0.4, end, t)
        parts.append(stamp)
    return group(parts), y + 1.0


def _stamp(plan: Plan, x: float, y: float, end: float, t: Theme) -> tuple[str, float]:
    """The bar NOT FOR SURGERY with its reasons."""
    title = "NOT FOR SURGERY"
    inset = 1.3 * text_width(title, 4.0) + 5.0
    reasons = [
        row for reason in plan.not_for_surgery_because[:3] for row in wrap(reason, 2.0, end - x - inset - 2.0)[:2]
    ]
    more = len(plan.not_for_surgery_because) - 3
    if more > 0:
        reasons.append(f"and {more} more: see the plan")
    height = max(6.4, len(reasons) * 2.4 + 1.8)
    parts = [
        rect(x, y, end - x, height, fill=t.stamp),
        text(x + 2.0, y + height / 2 + 1.4, title, 4.0, font_weight="700", fill=t.stamp_text),
    ]
    top = y + (height - len(reasons) * 2.4) / 2 + 1.8
    parts += [text(x + inset, top + k * 2.4, row, 2.0, fill=t.stamp_text) for k, row in enumerate(reasons)]
    return group(parts), y + height + 2.0


def foot_of(
    plan: Plan, teeth: Sequence[Tooth], drawn: Collection[Aspect], y: float, width: float, t: Theme
) -> tuple[str, float]:
    """The key to hatches and marks, and the check line; and the height of the whole drawing."""
    x = SIDES
    swatch = [(0.0, -2.2), (6.0, -2.2), (6.0, 0.6), (0.0, 0.6)]
    keys = [
        (
            hatched_gingiva(swatch, t) + polygon(swatch, fill="none", stroke=t.margin, stroke_width=0.2),
            "gingiva to remove",
        ),
        (hatched_bone(swatch, t) + polygon(swatch, fill="none", stroke=t.crest, stroke_width=0.2), "bone to remove"),
        (
            element("circle", cx=3.0, cy=-0.8, r=0.5, fill=t.paper, stroke=t.ink, stroke_width=0.25),
            "measured site",
        ),
        (
            line(0, -0.8, 6.0, -0.8, stroke=t.ink, stroke_width=0.25)
            + line(0, -1.4, 0, -0.2, stroke=t.ink, stroke_width=0.25)
            + line(6.0, -1.4, 6.0, -0.2, stroke=t.ink, stroke_width=0.25),
            "edge visible today",
        ),
        (
            line(0, -0.8, 6.0, -0.8, stroke=t.target, stroke_width=0.5, stroke_dasharray="0.7 0.5"),
            "aesthetic target not reached or not planned",
        ),
        (zenith_wedge(3.0, -0.2, -1, t), "zenith wanted"),
    ]
    parts, at = [], x
    y += 2.0
    for sample, words in keys:
        needed = 7.2 + text_width(words, 2.1) + 3.0
        if at + needed > width - SIDES and at > x:
            at, y = x, y + 3.8
        parts.append(
            group([sample, text(7.2, 0, words, 2.1, fill=t.ink)], transform=f"translate({number(at)} {number(y)})")
        )
        at += needed
    y += 3.9
    notes = [
        "Sites: D distal, F midfacial, M mesial, df and mf the line angles.",
        *(["Lingually: DL, L, ML, and dil and mil the line angles."] if "lingual" in drawn else []),
        "The lines pass through the sites; between them nothing was measured. Crown outlines are schematic.",
    ]
    if any(t_.width_mm is None and t_.status != "absent" for t_ in plan.teeth.values()):
        notes.append(f"A column without a measured width is drawn {NEUTRAL_WIDTH_MM:g} mm wide.")
    if "lingual" not in drawn:
        if cut := cut_lingually(plan, teeth):
            notes.append(f"ALSO CUT on the lingual side, which is drawn apart: {', '.join(t_.fdi for t_ in cut)}.")
        elif any(not site.site.is_facial for site in plan.sites):
            notes.append("Lingual sites are not drawn; none is cut.")
    notes.append("Rounded to 0.1 mm. Decision support; the operator decides.")
    for row in wrap(" ".join(notes), 2.1, width - 2 * SIDES):
        parts.append(text(x, y, row, 2.1, fill=t.quiet))
        y += 2.6
    y += 2.2
    parts.append(check_line(x, y, t))
    for k, row in enumerate(
        wrap(
            f"{CHECK_LINE_MM:g} mm when printed at true size. Measure it: if it is not, lay nothing on this drawing.",
            2.1,
            width - 2 * SIDES - CHECK_LINE_MM - 3.0,
        )
    ):
        parts.append(text(x + CHECK_LINE_MM + 3.0, y - 1.0 + k * 2.6, row, 2.1, fill=t.ink))
    return group(parts), y + 5.0

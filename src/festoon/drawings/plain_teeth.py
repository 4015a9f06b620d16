"""The front teeth as a person sees them, today and as planned, for a page that is no clinical paper.

A drawing from the numbers of the plan, never a picture of the mouth: outlines are plain, only widths, edges, gum lines and papillae
are those that were measured. A tooth of which one of these is unknown is left out and said; nothing is made up for it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from festoon.drawings.palette import THEMES
from festoon.drawings.svg import FONT_STACK, element, group, number, polygon, text
from festoon.model.dentition import Site, Tooth
from festoon.model.plan import Plan

_WIDTH_MM = 170.0
_GUM_MM = 4.0
"""Height of gum that is drawn beyond the highest gum line."""
_LABEL = 3.6
_SIDE_MM = 16.0


@dataclass(frozen=True)
class _Outline:
    """One tooth: heights in the arch frame, apical positive."""

    tooth: Tooth
    x: float
    width: float
    edge: float
    margin: float
    tips: tuple[float | None, float | None]
    """Papilla tips at its left and right side as seen."""


def draw_plain_teeth(
    plan: Plan, captions: tuple[str, str], sides: tuple[str, str]
) -> tuple[str | None, tuple[str, ...]]:
    """The teeth of a plan as SVG, today above and as planned below, and the teeth that could not be drawn.

    Parameters
    ----------
    plan : Plan
        Any plan.
    captions : pair of str
        Over the drawing of today and of the plan.
    sides : pair of str
        The patient's right and left, in words; the patient's right is on the left.

    Returns
    -------
    svg : str or None
        170 mm wide; None where fewer than two teeth are known well enough.
    left_out : tuple of str
        ISO 3950 codes of charted places that are not in the drawing.
    """
    parts: list[str] = []
    left_out: list[str] = []
    y = 0.0
    for jaw in plan.jaws:
        known = [tooth for tooth in jaw if _is_known(plan, tooth)]
        left_out += [tooth.fdi for tooth in jaw if tooth not in known]
        if len(known) < 2:
            continue
        for caption, is_planned in zip(captions, (False, True), strict=True):
            drawn, height = _row(plan, known, caption, sides, is_planned=is_planned)
            parts.append(element("g", drawn, transform=f"translate(0 {number(y)})"))
            y += height + 5
    if not parts:
        return None, tuple(left_out)
    svg = element(
        "svg",
        *parts,
        xmlns="http://www.w3.org/2000/svg",
        width=f"{number(_WIDTH_MM)}mm",
        height=f"{number(y)}mm",
        viewBox=f"0 0 {number(_WIDTH_MM)} {number(y)}",
        font_family=FONT_STACK,
    )
    return svg, tuple(left_out)


def _is_known(plan: Plan, tooth: Tooth) -> bool:
    place = plan.teeth[tooth.fdi]
    heights = (place.width_mm, place.edge_height_mm, place.margin_height_present_mm)
    return all(value is not None for value in heights) and place.status != "absent"


def _outline(plan: Plan, tooth: Tooth, x: float, *, is_planned: bool) -> _Outline:
    place = plan.teeth[tooth.fdi]
    present = place.margin_height_present_mm or 0.0  # known: see _is_known
    planned = place.margin_height_planned_mm
    edge = place.edge_height_mm or 0.0
    if not is_planned:
        edge += place.incisal_extension_mm or 0.0
    margin = planned if is_planned and planned is not None else present
    sides = (Site.DISTAL, Site.MESIAL) if tooth.is_right else (Site.MESIAL, Site.DISTAL)
    tips = (_tip(plan, tooth, sides[0], is_planned=is_planned), _tip(plan, tooth, sides[1], is_planned=is_planned))
    return _Outline(tooth, x, place.width_mm or 0.0, edge, margin, tips)


def _tip(plan: Plan, tooth: Tooth, side: Site, *, is_planned: bool) -> float | None:
    """Height of the papilla beside a tooth: of its two readings together, else of the tooth's own."""
    seen_left = (side is Site.DISTAL) == tooth.is_right
    for papilla in plan.papillae:
        codes = papilla.between.split("-")
        if codes[1 if seen_left else 0] == tooth.fdi and papilla.tip_height_mm is not None:
            return papilla.tip_height_mm
    place = plan.teeth[tooth.fdi]
    by_site = {site.site: site for site in plan.sites if site.tooth == tooth.fdi}
    own, middle = by_site.get(side), by_site.get(Site.MIDFACIAL)
    if own is None or middle is None or not middle.margin_present_mm or place.margin_height_present_mm is None:
        return None
    level = own.margin_planned_mm if is_planned and own.margin_planned_mm is not None else own.margin_present_mm
    edge = place.edge_height_mm or 0.0
    # The tooth's lean, as the plan turned its midfacial level into a height.
    lean = (place.margin_height_present_mm - edge) / middle.margin_present_mm
    return None if level is None else edge + level * lean


def _row(
    plan: Plan, teeth: Sequence[Tooth], caption: str, sides: tuple[str, str], *, is_planned: bool
) -> tuple[str, float]:
    t = THEMES["print"]
    x, outlines = 0.0, []
    for tooth in teeth:
        outlines.append(_outline(plan, tooth, x, is_planned=is_planned))
        x += outlines[-1].width
    both = [_outline(plan, tooth, 0.0, is_planned=planned) for tooth in teeth for planned in (False, True)]
    lowest, highest = min(o.edge for o in both), max(o.margin for o in both) + _GUM_MM
    scale = min((_WIDTH_MM - 2 * _SIDE_MM) / x, 4.0)
    left = (_WIDTH_MM - x * scale) / 2
    head = _LABEL * 1.8
    is_upper = teeth[0].is_upper

    def at(height: float) -> float:
        return head + scale * ((highest - height) if is_upper else (height - lowest))

    def point(across: float, height: float) -> str:
        return f"{number(left + across * scale)} {number(at(height))}"

    total = head + scale * (highest - lowest) + 1
    line = [(o.x, _or(o.tips[0], o.margin)) for o in outlines] + [(x, _or(outlines[-1].tips[1], outlines[-1].margin))]
    gum = polygon([(left + a * scale, at(h)) for a, h in ((0.0, highest), *line, (x, highest))], fill=t.grid)
    shapes = [_crown(outline, point, t.tooth, t.ink) for outline in outlines]
    words = [
        text(_WIDTH_MM / 2, _LABEL, caption, _LABEL, anchor="middle", font_weight="600", fill=t.ink),
        text(0, at((lowest + highest) / 2), sides[0], 3.0, fill=t.ink),
        text(_WIDTH_MM, at((lowest + highest) / 2), sides[1], 3.0, anchor="end", fill=t.ink),
    ]
    return group([gum, *shapes, *words]), total


def _crown(outline: _Outline, point: Callable[[float, float], str], fill: str, stroke: str) -> str:
    """Sides, a rounded edge, and the gum line from papilla to papilla; straight up where a papilla was not read."""
    o = outline
    right, left = o.x + o.width, o.x
    tip_left, tip_right = (_or(tip, o.margin) for tip in o.tips)
    inset = 0.06 * o.width
    round_off = 0.18 * o.width
    middle = o.x + o.width / 2
    path = (
        f"M {point(left, tip_left)} C {point(left + inset, o.edge + (tip_left - o.edge) / 2)} {point(left + inset, o.edge)} "
        f"{point(left + inset + round_off, o.edge)} L {point(right - inset - round_off, o.edge)} "
        f"C {point(right - inset, o.edge)} {point(right - inset, o.edge + (tip_right - o.edge) / 2)} {point(right, tip_right)} "
        f"C {point(right - inset, tip_right + 0.8 * (o.margin - tip_right))} {point(middle + 0.28 * o.width, o.margin)} {point(middle, o.margin)} "
        f"C {point(middle - 0.28 * o.width, o.margin)} {point(left + inset, tip_left + 0.8 * (o.margin - tip_left))} {point(left, tip_left)} Z"
    )
    return element("path", d=path, fill=fill, stroke=stroke, stroke_width=0.4, stroke_linejoin="round")


def _or(tip: float | None, margin: float) -> float:
    """Where a papilla was not read, the gum line runs straight to the side of the tooth."""
    return margin if tip is None else tip

"""The level profile: the arch developed flat, like the longitudinal profile of a road.

The drawing by which a plan is read: present and planned margin, crest, CEJ and mucogingival junction over every tooth,
what is to be removed hatched between them, and under it the level table. It takes a plan and adds nothing: every number
is a field of the plan, every position is a level times the scale.
"""

from __future__ import annotations

import hashlib
import re
from typing import Literal

from festoon.drawings.columns import Aspect, Development, aspects, develop
from festoon.drawings.frame import SIDES, foot_of, head_of, title_of
from festoon.drawings.palette import THEMES, Theme, ThemeName
from festoon.drawings.plot import Plot
from festoon.drawings.svg import FONT_STACK, element, escape, fitted, group, line, number, polygon, rect, text, wrap
from festoon.drawings.table import LevelTable, procedure_words, shown
from festoon.model.dentition import Notation
from festoon.model.plan import Plan

_SIZE = re.compile(r'<svg[^>]*? width="([0-9.]+)mm" height="([0-9.]+)mm"')
NOTATION_WORDS = {Notation.FDI: "ISO 3950", Notation.UNIVERSAL: "Universal", Notation.PALMER: "Palmer"}
Jaw = Literal["upper", "lower"]
_LARGER, _SMALLER = 2.0, 1.0
_LEFT, _RIGHT = 19.0, 22.0
_SMALLEST_WIDTH = 126.0
_HEADS = 14.2
_BETWEEN_JAWS = 5.0


def draw_profile(
    plan: Plan,
    *,
    scale: float = 2.0,
    notations: tuple[Notation, Notation] = (Notation.FDI, Notation.UNIVERSAL),
    theme: ThemeName = "light",
    jaw: Jaw | None = None,
    aspect: Aspect | None = None,
) -> str:
    """The level profile of a plan as SVG.

    Both jaws are drawn where both are charted, the upper above the lower; a jaw's lingual side under its facial one,
    where something is cut there. The drawing holds no script, no address of
    anything outside it, and is the same bytes for the same arguments.

    Parameters
    ----------
    plan : Plan
        Any plan, also one that is not for surgery: then the drawing is stamped.
    scale : float [paper mm per mm of the mouth], default 2.0
        The width and height of the drawing are in mm, so that it prints at this scale.
    notations : pair of Notation
        The two names under which every tooth is shown.
    theme : "light", "dark" or "print"
        ``print`` is grey.
    jaw : "upper", "lower" or None
        One jaw only; None draws every charted one.
    aspect : "facial", "lingual" or None
        One side only; None draws the facial one, and the lingual one where something is cut there.

    Returns
    -------
    str
        One ``svg`` element.

    Raises
    ------
    ValueError
        If the scale is not positive, or the plan has no teeth in that jaw.
    """
    if not scale > 0:
        raise ValueError(f"the scale of a drawing is positive, not {scale}")
    colours = THEMES[theme]
    prefix = "lp" + hashlib.sha256(f"{plan.model_dump_json()}{scale}{theme}{jaw}{aspect}".encode()).hexdigest()[:8]
    teeth_by_jaw = [teeth for teeth in plan.jaws if jaw is None or teeth[0].is_upper == (jaw == "upper")]
    if not teeth_by_jaw:
        raise ValueError(f"the plan has no teeth in the {jaw} jaw" if jaw else "the plan has no teeth")
    sides = [(teeth, side) for teeth in teeth_by_jaw for side in ((aspect,) if aspect else aspects(plan, teeth))]
    trial = [develop(plan, teeth, side, 0.0, scale) for teeth, side in sides]
    width = max(_SMALLEST_WIDTH, _LEFT + max(d.end for d in trial) + _RIGHT)
    head, y = head_of(plan, teeth_by_jaw, width, scale, colours)
    parts = [head]
    for (teeth, side), measured in zip(sides, trial, strict=True):
        x = _LEFT + (width - _LEFT - _RIGHT - measured.end) / 2
        panel, y = _panel(plan, develop(plan, teeth, side, x, scale), y, scale, notations, colours)
        parts.append(panel)
        y += _BETWEEN_JAWS
    teeth_drawn = [tooth for teeth in teeth_by_jaw for tooth in teeth]
    foot, height = foot_of(plan, teeth_drawn, {side for _, side in sides}, y - _BETWEEN_JAWS + 4.0, width, colours)
    parts.append(foot)
    return element(
        "svg",
        element("title", escape(title_of(plan, teeth_by_jaw)), id=f"{prefix}-title"),
        element("desc", escape(_description(plan)), id=f"{prefix}-desc"),
        rect(0, 0, width, height, fill=colours.paper),
        *parts,
        xmlns="http://www.w3.org/2000/svg",
        width=f"{number(width)}mm",
        height=f"{number(height)}mm",
        viewBox=f"0 0 {number(width)} {number(height)}",
        role="img",
        aria_labelledby=f"{prefix}-title {prefix}-desc",
        font_family=FONT_STACK,
    )


def profile_pages(
    plan: Plan,
    room: tuple[float, float],
    *,
    notations: tuple[Notation, Notation] = (Notation.FDI, Notation.UNIVERSAL),
) -> tuple[str, ...]:
    """The profile for paper, in grey, at true scale.

    All comes on one page where it fits at 2:1; else each side of each jaw has its own, at the larger of 2:1 and 1:1
    that fits a page lying or upright. What does not fit even at 1:1 is drawn at 1:1 all the same, and the sheet says that it had
    to be reduced.

    Parameters
    ----------
    plan : Plan
        What is to be drawn.
    room : (width, height) [mm]
        What the page leaves free, lying.
    notations : pair of Notation
        As for :func:`draw_profile`.

    Returns
    -------
    tuple of str
        One ``svg`` element a page.
    """

    def fits(svg: str) -> bool:
        width, height = profile_size(svg)
        return any(width <= across and height <= down for across, down in (room, room[::-1]))

    def drawn(scale: float, jaw: Jaw | None, aspect: Aspect | None) -> str:
        return draw_profile(plan, scale=scale, notations=notations, theme="print", jaw=jaw, aspect=aspect)

    panels: list[tuple[Jaw, Aspect]] = [
        ("upper" if teeth[0].is_upper else "lower", side) for teeth in plan.jaws for side in aspects(plan, teeth)
    ]
    if len(panels) > 1 and fits(together := drawn(_LARGER, None, None)):
        return (together,)
    return tuple(
        larger if fits(larger := drawn(_LARGER, jaw, side)) else drawn(_SMALLER, jaw, side) for jaw, side in panels
    )


def profile_size(svg: str) -> tuple[float, float]:
    """Width and height of a profile in mm, as it says itself.

    Raises
    ------
    ValueError
        If it does not say them.
    """
    match = _SIZE.search(svg)
    if match is None:
        raise ValueError("the drawing does not say its width and height in mm")
    return float(match[1]), float(match[2])


def _description(plan: Plan) -> str:
    """What a screen reader says in place of the drawing."""
    words = ["The arch developed flat, viewed facing the patient; levels in millimetres from the planned edge."]
    if not plan.for_surgery:
        words.append("NOT FOR SURGERY.")
    for code, tooth in plan.teeth.items():
        present = tooth.present_length_mm
        planned = tooth.planned_length_mm
        words.append(
            f"{code}, {tooth.name}, {tooth.status}: {procedure_words(tooth.procedure)};"
            f" present length {'not measured' if present is None else shown(present)},"
            f" planned length {'not given' if planned is None else shown(planned)}."
        )
    return " ".join(words)


def _panel(
    plan: Plan,
    development: Development,
    y: float,
    scale: float,
    notations: tuple[Notation, Notation],
    t: Theme,
) -> tuple[str, float]:
    """One jaw: the sides in words, plot and tooth heads as one faces them, the level table."""
    is_upper = development.columns[0].tooth.is_upper
    plot = Plot(development, t, scale, is_upper)
    table = LevelTable(development, t, development.x - _LEFT + SIDES)
    top = y
    parts = []
    if development.aspect == "lingual":
        words = "Lingual side, as seen facing the patient, through the teeth"
        parts.append(text(SIDES, y + 3.0, words, 2.8, font_weight="600", fill=t.ink))
        y, top = y + 4.6, y + 4.6
    parts.append(_sides(development, y, t))
    y += 4.6
    if is_upper:
        plot_y, heads_y = y, y + plot.height
    else:
        heads_y, plot_y = y, y + _HEADS
    table_y = y + plot.height + _HEADS
    parts.append(plot.draw(plot_y, _RIGHT))
    parts.append(_heads(development, heads_y, notations, t))
    parts.append(table.draw(table_y))
    bottom = table_y + table.height
    if development.midline is not None:
        x = development.midline
        for a, b in ((top + 3.4, top + 4.6), (heads_y, heads_y + _HEADS), (table_y, bottom)):
            parts.append(line(x, a, x, b, stroke=t.ink, stroke_width=0.8))
    if not plan.for_surgery:
        parts.append(plot.stamp(plot_y))
    # For whoever lays something on the drawing: where level 0 lies, and which way is apical.
    return group(
        parts,
        data_jaw="upper" if is_upper else "lower",
        data_aspect=development.aspect,
        data_datum=plot.datum_y(plot_y),
        data_scale=scale,
        data_top=plot_y,
        data_bottom=plot_y + plot.height,
    ), bottom


def _sides(development: Development, y: float, t: Theme) -> str:
    """Right and left in words, with arrows, so that nobody has to know the convention."""
    x, end, base = development.x, development.end, y + 2.6
    parts = [
        polygon([(x, base - 0.8), (x + 1.8, base - 1.8), (x + 1.8, base + 0.2)], fill=t.ink),
        text(x + 2.6, base, "patient's RIGHT", 2.4, font_weight="600", fill=t.ink),
        polygon([(end, base - 0.8), (end - 1.8, base - 1.8), (end - 1.8, base + 0.2)], fill=t.ink),
        text(end - 2.6, base, "patient's LEFT", 2.4, anchor="end", font_weight="600", fill=t.ink),
    ]
    if development.midline is not None and end - x > 60:
        parts.append(text(development.midline, base, "midline", 2.2, anchor="middle", fill=t.quiet))
    return group(parts)


def _heads(development: Development, y: float, notations: tuple[Notation, Notation], t: Theme) -> str:
    """Two names of each tooth, what stands there, what is done."""
    first, second = notations
    label_x = development.x - 2.5
    parts = [
        text(label_x, y + 4.6, NOTATION_WORDS[first], 2.1, anchor="end", fill=t.quiet),
        text(label_x, y + 7.5, NOTATION_WORDS[second], 2.1, anchor="end", fill=t.quiet),
    ]
    for column in development.columns:
        place = column.plan
        parts.append(
            text(
                column.middle,
                y + 4.8,
                column.tooth.shown(first),
                4.4,
                anchor="middle",
                font_weight="700",
                fill=t.ink,
            )
        )
        parts.append(text(column.middle, y + 7.6, column.tooth.shown(second), 2.3, anchor="middle", fill=t.quiet))
        words = procedure_words(place.procedure) if column.is_rooted else place.status.upper()
        if place.status == "crowned":
            words += " (crowned)"
        room = column.width - 0.4
        size = fitted(words, 1.9, room)
        rows = wrap(words, size, room)
        if place.width_mm is None and place.status != "absent":
            rows += wrap("width not measured", size, room)
        words_below = [
            text(column.middle, y + 9.8 + k * 1.95, row, size, anchor="middle", fill=t.ink)
            for k, row in enumerate(rows[:4])
        ]
        parts.append(group(words_below, data_tooth=column.tooth.fdi, data_x=column.x, data_width=column.width))
    return group(parts)

"""Margins over time: one panel a tooth with the expected band and what was measured, error bars, dates; reads in grey.

Every panel has the same scale, so that half a millimetre is as tall at every tooth. Apical lies where it lies in the
mouth as one faces it: up in the upper jaw, down in the lower.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor

from festoon.drawings.hatch import Hatch
from festoon.drawings.palette import THEMES, Theme, ThemeName
from festoon.drawings.svg import FONT_STACK, element, group, line, number, rect, text, wrap
from festoon.model.dentition import Notation, Site, Tooth, as_seen
from festoon.model.recall import RecallState
from festoon.model.verification import SutureCheck, VisitCheck

_PANEL = (62.0, 50.0)
_ROOM = (11.0, 7.5, 2.5, 11.0)
"""Left, top, right and bottom of a panel that its axes leave free, mm."""
_COLUMNS = 3
_EDGE = 4.0
_HEAD = 15.0
_FOOT = 11.0
_BAND = Hatch(lean=45.0, distance=1.6, weight=0.12)
_TICKS = ((0.0, "0"), (6.0, "6 w"), (13.0, "3 m"), (26.0, "6 m"), (52.0, "12 m"))
NORMAL_95 = 1.96
"""Half-width of a 95 % interval in standard errors, for a normal error."""


@dataclass(frozen=True)
class _Frame:
    """Where weeks and levels of one panel lie on paper."""

    x0: float
    x1: float
    y0: float
    y1: float
    weeks: float
    low: float
    high: float
    apical_is_up: bool

    def x(self, weeks: float) -> float:
        return self.x0 + (self.x1 - self.x0) * weeks / self.weeks

    def y(self, level: float) -> float:
        share = (level - self.low) / (self.high - self.low)
        return self.y1 - share * (self.y1 - self.y0) if self.apical_is_up else self.y0 + share * (self.y1 - self.y0)


def draw_margins_over_time(
    recall: RecallState,
    sutures: Sequence[SutureCheck],
    *,
    theme: ThemeName = "print",
    notations: tuple[Notation, Notation] = (Notation.FDI, Notation.UNIVERSAL),
) -> str:
    """The midfacial margins of every tooth that was sutured or seen at a visit, as SVG in mm.

    Parameters
    ----------
    sutures : sequence of SutureCheck
        What was read after suturing: level 0 weeks, and the band expected from it.
    notations : pair of Notation
        The two names under which each tooth is shown.

    Raises
    ------
    ValueError
        If there is no midfacial margin at all.
    """
    flaps = {check.tooth: check for check in sutures if check.site is Site.MIDFACIAL}
    visits: dict[str, list[VisitCheck]] = {}
    for visit in recall.verification.visits:
        if visit.site is Site.MIDFACIAL:
            visits.setdefault(visit.tooth, []).append(visit)
    teeth = as_seen(Tooth(code) for code in {*flaps, *visits})
    if not teeth:
        raise ValueError("no midfacial margin was read after suturing or at a visit: there is nothing to draw")
    t = THEMES[theme]
    spans = {tooth.fdi: _span(flaps.get(tooth.fdi), visits.get(tooth.fdi, [])) for tooth in teeth}
    tall = max(2.0, *(high - low for low, high in spans.values()))
    last = max(52.0, *(visit.weeks for found in visits.values() for visit in found), 0.0)
    # As wide for one tooth as for many: head and foot need the room, and a panel keeps its size.
    width = 2 * _EDGE + _COLUMNS * _PANEL[0]
    height = _HEAD + ceil(len(teeth) / _COLUMNS) * _PANEL[1] + _FOOT
    parts = [rect(0, 0, width, height, fill=t.paper), _head(recall, width, t)]
    for index, tooth in enumerate(teeth):
        left = _EDGE + (index % _COLUMNS) * _PANEL[0]
        top = _HEAD + (index // _COLUMNS) * _PANEL[1]
        low, high = spans[tooth.fdi]
        middle = (low + high) / 2
        frame = _Frame(
            left + _ROOM[0], left + _PANEL[0] - _ROOM[2], top + _ROOM[1], top + _PANEL[1] - _ROOM[3],
            last, middle - tall / 2, middle + tall / 2, tooth.is_upper,
        )  # fmt: skip
        name = " / ".join(tooth.shown(one) for one in notations)
        parts.append(_panel(frame, name, flaps.get(tooth.fdi), visits.get(tooth.fdi, []), t))
    parts.append(_foot(width, height, t))
    return element(
        "svg",
        element("title", f"Margins over time, case {recall.case}"),
        *parts,
        xmlns="http://www.w3.org/2000/svg",
        width=f"{number(width)}mm",
        height=f"{number(height)}mm",
        viewBox=f"0 0 {number(width)} {number(height)}",
        font_family=FONT_STACK,
    )


def _span(flap: SutureCheck | None, visits: Sequence[VisitCheck]) -> tuple[float, float]:
    """Lowest and highest level that a panel must show, with a little room."""
    levels = [level for v in visits for level in (v.margin_mm - 2 * v.se_mm, v.margin_mm + 2 * v.se_mm)]
    levels += [level for v in visits if v.expected for level in (v.expected.low_mm, v.expected.high_mm)]
    if flap is not None:
        levels += [flap.margin_mm, *(level for e in flap.expected for level in (e.low_mm, e.high_mm))]
    return min(levels) - 0.2, max(levels) + 0.2


def _head(recall: RecallState, width: float, t: Theme) -> str:
    said = (
        f"case {recall.case} · surgery {recall.surgery_at} · plan {recall.plan}. Midfacial margin, mm from the planned "
        "edge, along the tooth; apical as in the mouth."
    )
    rows = wrap(said, 2.3, width - 2 * _EDGE)
    return group(
        [
            text(_EDGE, 7.0, "Margins over time", 4.4, font_weight="600", fill=t.ink),
            *(text(_EDGE, 11.0 + 2.8 * k, row, 2.3, fill=t.quiet) for k, row in enumerate(rows)),
        ]
    )


def _panel(frame: _Frame, name: str, flap: SutureCheck | None, visits: Sequence[VisitCheck], t: Theme) -> str:
    parts = [text(frame.x0, frame.y0 - 2.2, name, 3.4, font_weight="600", fill=t.ink)]
    for level in range(ceil(frame.low), floor(frame.high) + 1):
        y = frame.y(level)
        parts.append(line(frame.x0, y, frame.x1, y, stroke=t.grid, stroke_width=0.2))
        parts.append(text(frame.x0 - 1.2, y + 0.8, f"{level}", 2.3, anchor="end", fill=t.quiet))
    for weeks, said in _TICKS:
        x = frame.x(weeks)
        parts.append(line(x, frame.y1, x, frame.y1 + 0.9, stroke=t.quiet, stroke_width=0.2))
        parts.append(text(x, frame.y1 + 3.4, said, 2.1, anchor="middle", fill=t.quiet))
    arrow_y = frame.y0 + 9.0 if frame.apical_is_up else frame.y1
    parts.append(text(frame.x0 - 6.6, arrow_y, "apical →" if frame.apical_is_up else "← apical", 2.1, turn=-90.0,
                      fill=t.quiet))  # fmt: skip
    parts += _band(frame, flap, visits, t)
    parts.append(line(frame.x0, frame.y1, frame.x1, frame.y1, stroke=t.ink, stroke_width=0.25))
    points = [] if flap is None else [(0.0, flap.margin_mm)]
    points += [(visit.weeks, visit.margin_mm) for visit in visits]
    path = "M" + "L".join(f"{number(frame.x(w))} {number(frame.y(level))}" for w, level in points)
    parts.append(element("path", d=path, fill="none", stroke=t.ink, stroke_width=0.35))
    if flap is not None:
        x, y = frame.x(0), frame.y(flap.margin_mm)
        parts.append(rect(x - 0.9, y - 0.9, 1.8, 1.8, fill=t.ink))
    last_label = -10.0
    for visit in visits:
        x = frame.x(visit.weeks)
        half = NORMAL_95 * visit.se_mm
        ends = sorted((frame.y(visit.margin_mm - half), frame.y(visit.margin_mm + half)))
        parts.append(line(x, ends[0], x, ends[1], stroke=t.ink, stroke_width=0.3))
        parts += [line(x - 0.8, y, x + 0.8, y, stroke=t.ink, stroke_width=0.3) for y in ends]
        parts.append(
            element("circle", cx=x, cy=frame.y(visit.margin_mm), r=1.0, fill=t.paper, stroke=t.ink, stroke_width=0.4)
        )
        if x - last_label >= 8.5:  # a date is about eight millimetres wide
            anchor = "end" if x > frame.x1 - 4 else "middle"
            parts.append(text(x, frame.y1 + 6.4, f"{visit.at:%d %b %y}", 1.8, anchor=anchor, fill=t.quiet))
            last_label = x
    return group(parts)


def _band(frame: _Frame, flap: SutureCheck | None, visits: Sequence[VisitCheck], t: Theme) -> list[str]:
    """The expected band: tinted, hatched and outlined, so that it stays a band on any paper."""
    if flap is not None and flap.expected:
        expected = list(flap.expected)
    else:
        expected = [visit.expected for visit in visits if visit.expected is not None]
    if not expected:
        words = "no band: distance to bone unknown"
        return [text(frame.x1, frame.y0 - 2.2, words, 2.0, anchor="end", fill=t.quiet)]
    upper = [(frame.x(e.weeks), frame.y(e.high_mm)) for e in expected]
    lower = [(frame.x(e.weeks), frame.y(e.low_mm)) for e in expected]
    outline = [*upper, *reversed(lower)]
    points = " ".join(f"{number(x)},{number(y)}" for x, y in outline)
    parts = [element("polygon", points=points, fill=t.gingiva, stroke=t.hairline, stroke_width=0.2)]
    if len(expected) > 1:
        parts.append(_BAND.fill(outline, t.hairline))
    middle = "M" + "L".join(f"{number(frame.x(e.weeks))} {number(frame.y(e.level_mm))}" for e in expected)
    parts.append(element("path", d=middle, fill="none", stroke=t.quiet, stroke_width=0.3, stroke_dasharray="1.6 1"))
    return parts


def _foot(width: float, height: float, t: Theme) -> str:
    said = (
        "Square: sutured. Circle: visit, with its 95 % interval. Hatched: band expected from published cohorts for this "
        "sutured distance, dashed its middle; a band, never a promise. It informs a licensed clinician; it does not decide."
    )
    rows = wrap(said, 2.1, width - 2 * _EDGE)
    return group(text(_EDGE, height - 7.5 + 2.7 * k, row, 2.1, fill=t.quiet) for k, row in enumerate(rows))

"""Bias with interval and limits of agreement, group by group; and the learning curve with its control limits."""

from __future__ import annotations

from collections.abc import Sequence

from festoon.drawings.audit_axes import THEME, WIDTH, Axis, page, span
from festoon.drawings.svg import element, group, line, rect, text

Row = tuple[str, int, float, tuple[float, float] | None, float | None, float | None]
"""Group, patients, bias, its interval, lower and upper limit of agreement."""
Course = tuple[str, Sequence[int], Sequence[float], float | None, float | None, float | None, str]
"""Operator, orders, means, centre, lower and upper control limit, words."""
_MOST_COURSES = 6


def draw_differences(title: str, rows: Sequence[Row]) -> str:
    """One line a group: circle and heavy bar for bias and interval, thin bar with ends for the limits of agreement."""
    ends = [
        x for _, _, bias, ci, low, high in rows for x in (bias, *(ci or ()), *(v for v in (low, high) if v is not None))
    ]
    low_end, high_end = span(ends)
    bottom = 16 + 6.2 * len(rows)
    axis = Axis(low_end, high_end, 64.0, WIDTH - 30)
    ink, quiet = THEME.ink, THEME.quiet
    inside = rect(axis.at(-0.5), 13, axis.at(0.5) - axis.at(-0.5), bottom - 13, fill=THEME.gingiva)
    parts = [text(4, 6, title, 4.2, fill=ink, font_weight="700"), text(4, 10.6, "mm, apical positive", 2.8, fill=quiet)]
    parts += [inside, axis.draw((13, bottom)), text(WIDTH - 28, 11.5, "patients   bias", 2.6, fill=quiet)]
    for k, (name, patients, bias, ci, low, high) in enumerate(rows):
        y = 17 + 6.2 * k
        parts.append(text(60, y + 1, name, 2.9, anchor="end", fill=ink))
        if low is not None and high is not None:
            parts.append(line(axis.at(low), y, axis.at(high), y, stroke=quiet, stroke_width=0.3))
            parts += [
                line(axis.at(v), y - 1.2, axis.at(v), y + 1.2, stroke=quiet, stroke_width=0.3) for v in (low, high)
            ]
        if ci is not None:
            parts.append(line(axis.at(ci[0]), y, axis.at(ci[1]), y, stroke=ink, stroke_width=1.3))
        if ci is None:
            parts.append(element("circle", cx=axis.at(bias), cy=y, r=1.1, fill="none", stroke=ink, stroke_width=0.35))
            parts.append(text(axis.at(bias) + 2.2, y + 0.9, "no interval", 2.4, fill=quiet))
        else:
            parts.append(element("circle", cx=axis.at(bias), cy=y, r=1.2, fill=ink))
        parts.append(text(WIDTH - 18, y + 1, str(patients), 2.8, anchor="end", fill=ink))
        parts.append(text(WIDTH - 4, y + 1, f"{bias:+.2f}", 2.8, anchor="end", fill=ink))
    parts.append(
        text(
            4,
            bottom + 9,
            "circle: bias, heavy bar its 95 % interval (hollow: too few patients for one)    |—| limits of agreement    tint: within ±0.5 mm. In the order of names, not of merit.",
            2.6,
            fill=quiet,
        )
    )
    return page(bottom + 12, parts)


def draw_course(courses: Sequence[Course]) -> str:
    """Mean difference of each case in order, one strip an operator: those with control limits, six at most."""
    drawable = [course for course in courses if course[4] is not None] or list(courses)
    shown = drawable[:_MOST_COURSES]
    low, high = span(
        v for _, _, means, _, lo, hi, _ in shown for v in (*means, *(x for x in (lo, hi) if x is not None))
    )
    tall, ink, quiet = 26.0, THEME.ink, THEME.quiet
    parts = [
        text(4, 6, "Learning curve: margin after the cut, less planned, case by case", 4.2, fill=ink, font_weight="700")
    ]
    for k, (operator, orders, means, centre, lower, upper, words) in enumerate(shown):
        top = 14 + k * (tall + 10)
        axis = Axis(low, high, top + tall, top, upright=True)
        first, last = min(orders), max(max(orders), min(orders) + 1)
        places = [24 + (order - first) / (last - first) * (WIDTH - 30) for order in orders]
        parts += [
            axis.draw((22, WIDTH - 4)),
            text(22, top - 1.5, f"{operator}: {words}", 3, fill=ink, font_weight="600"),
        ]
        for level, dash in ((centre, None), (lower, "2 1.2"), (upper, "2 1.2")):
            if level is not None:
                parts.append(
                    line(
                        22,
                        axis.at(level),
                        WIDTH - 4,
                        axis.at(level),
                        stroke=quiet,
                        stroke_width=0.35,
                        stroke_dasharray=dash,
                    )
                )
        path = " ".join(f"{x:.2f},{axis.at(y):.2f}" for x, y in zip(places, means, strict=True))
        parts.append(element("polyline", points=path, fill="none", stroke=THEME.hairline, stroke_width=0.25))
        size = 0.9 if len(means) < 60 else 0.45
        parts.append(
            group(element("circle", cx=x, cy=axis.at(y), r=size, fill=ink) for x, y in zip(places, means, strict=True))
        )
    end = 14 + len(shown) * (tall + 10)
    more = f"    {len(courses) - len(shown)} more operators in audit.json" if len(courses) > len(shown) else ""
    parts.append(
        text(
            4,
            end,
            f"thin line: the operator's own mean    dashed: control limits, ±3 SD by moving ranges{more}",
            2.6,
            fill=quiet,
        )
    )
    return page(end + 4, parts)

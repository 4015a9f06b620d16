"""Rebound by sutured distance: the practice's own beside the published cohorts."""

from __future__ import annotations

from collections.abc import Sequence

from festoon.drawings.audit_axes import THEME, WIDTH, Axis, page, span
from festoon.drawings.svg import element, line, text

Own = tuple[str, int, int, float, tuple[float, float] | None, float | None]
"""Band, sites, patients, mean, its interval, spread between sites."""
Cohort = tuple[str, float, float | None, str]
"""Band, mean, spread, evidence id."""


def draw_rebound(own: Sequence[Own], cohorts: Sequence[Cohort]) -> str:
    """Filled circle and heavy bar: own mean and its interval; thin bar: own spread; open square: published."""
    bands = ["under 1.5", "1.5 to 2.5", "2.5 to 3.5", "3.5 and more"]
    ends = [mean + sign * (sd or 0) for _, _, _, mean, _, sd in own for sign in (-1, 1)]
    ends += [mean + sign * (sd or 0) for _, mean, sd, _ in cohorts for sign in (-1, 1)]
    low, high = span(ends)
    axis = Axis(low, high, 84.0, 14.0, upright=True)
    ink, quiet = THEME.ink, THEME.quiet
    parts = [text(4, 6, "Rebound at about 6 months by sutured distance", 4.2, fill=ink, font_weight="700")]
    parts += [text(4, 10.6, "mm, coronal positive", 2.8, fill=quiet), axis.draw((22, WIDTH - 4))]
    room = (WIDTH - 26) / len(bands)
    for k, band in enumerate(bands):
        x = 22 + (k + 0.5) * room
        parts.append(text(x, 90, f"{band} mm", 3.2, anchor="middle", fill=ink, font_weight="600"))
        for name, sites, patients, mean, interval, sd in own:
            if name != band:
                continue
            at = x - 7
            if sd is not None:
                parts.append(line(at, axis.at(mean - sd), at, axis.at(mean + sd), stroke=quiet, stroke_width=0.3))
            if interval is not None:
                shown = [min(max(end, low), high) for end in interval]
                parts.append(line(at, axis.at(shown[0]), at, axis.at(shown[1]), stroke=ink, stroke_width=1.3))
                if shown != list(interval):
                    words = f"interval {interval[0]:+.2f} to {interval[1]:+.2f}"
                    parts.append(text(x, 97.2, f"{words}, beyond the plot", 2.4, anchor="middle", fill=ink))
            parts.append(element("circle", cx=at, cy=axis.at(mean), r=1.5, fill=ink))
            parts.append(text(at - 2.6, axis.at(mean) + 1, f"{mean:+.2f}", 2.8, anchor="end", fill=ink))
            parts.append(text(x, 94, f"{sites} sites, {patients} patients", 2.6, anchor="middle", fill=quiet))
        for name, mean, sd, row in cohorts:
            if name != band:
                continue
            at = x + 7
            if sd is not None:
                parts.append(
                    line(
                        at,
                        axis.at(mean - sd),
                        at,
                        axis.at(mean + sd),
                        stroke=quiet,
                        stroke_width=0.3,
                        stroke_dasharray="1 0.8",
                    )
                )
            parts.append(
                element(
                    "rect",
                    x=at - 1.4,
                    y=axis.at(mean) - 1.4,
                    width=2.8,
                    height=2.8,
                    fill=THEME.paper,
                    stroke=ink,
                    stroke_width=0.5,
                )
            )
            parts.append(text(at + 2.4, axis.at(mean) + 1, f"{mean:+.2f}", 2.6, fill=ink))
            parts.append(text(at + 2.4, axis.at(mean) + 4, row, 2.2, fill=quiet))
    parts.append(
        text(
            4,
            101.5,
            "circle: own mean, heavy bar its 95 % interval, thin bar ±1 SD of sites    square: published mean, dashed bar ±1 SD as printed (HEAL-036 from memory)",
            2.6,
            fill=quiet,
        )
    )
    return page(104, parts)

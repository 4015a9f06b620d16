"""The profile itself of one jaw: strata, crowns, hatched cuts, lines, gaps, targets."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, floor

from festoon.drawings.columns import BREAK_MM, Column, Development
from festoon.drawings.curves import Curve, between, runs
from festoon.drawings.hatch import hatched_bone, hatched_gingiva
from festoon.drawings.labels import Label, end_labels
from festoon.drawings.palette import Theme
from festoon.drawings.scale import LevelScale, level_ruler
from festoon.drawings.series import (
    CREST_PLANNED,
    CREST_PRESENT,
    MARGIN_PRESENT,
    SERIES,
    Series,
    curves_of,
    not_measured,
)
from festoon.drawings.svg import Value, element, fitted, group, line, polygon, rect, text, wrap
from festoon.drawings.symbols import crown, status_symbol, zenith_wedge
from festoon.drawings.table import SITE_LETTERS, shown
from festoon.model.case import Status
from festoon.model.plan import Procedure

_NOTE = 1.9
_NOTE_LEADING = 2.1
_WEDGE_BELOW = 1.6
"""How far under the margin the wedge of a zenith begins, mm. A matter of drawing only."""
_SAME_MM = 0.05
"""Half the last printed digit: closer levels print alike, so a second mark would only be a blot."""


@dataclass(frozen=True)
class Plot:
    """The plot of one jaw; it first says how tall it is, then draws itself."""

    development: Development
    theme: Theme
    scale: float
    apical_is_up: bool

    def _levels(self) -> Iterator[float]:
        for column in self.development.columns:
            for charted in column.charted.values():
                yield from (level for s in SERIES if (level := s.level(charted)) is not None)
            target = column.plan.target_length_mm if column.aspect == "facial" else None
            yield from (level for level in (target, column.plan.incisal_extension_mm) if level is not None)

    @property
    def low(self) -> int:
        """Lowest level shown: the edges, with a millimetre to spare."""
        return floor(min(0.0, *self._levels(), 0.0)) - 1

    @property
    def high(self) -> int:
        """Highest level shown."""
        return max(12, ceil(max([*self._levels(), 0.0]) + 1.0))

    @property
    def _notes(self) -> dict[str, tuple[float, list[str]]]:
        """By tooth, size and lines of the text that stands at the apical end of its column."""
        gaps = {
            series.label.removeprefix("present "): not_measured(series, self.development.columns)
            for series in SERIES
            if series.is_measured
        }
        notes: dict[str, tuple[float, list[str]]] = {}
        for column in self.development.columns:
            code, room = column.tooth.fdi, column.width - 1.0
            words = []
            if column.plan.procedure is Procedure.UNDETERMINED:
                words.append("UNDETERMINED: no cut given")
            elif column.plan.procedure is Procedure.NOT_ADVISED:
                words.append("surgery NOT ADVISED")
            asked = {s: level for s, c in column.charted.items() if (level := c.finish_line_mm) is not None}
            if asked:
                words.append("finish line " + ", ".join(f"{SITE_LETTERS[s]} {shown(v)}" for s, v in asked.items()))
            for name, sites in ((n, by_tooth.get(code, [])) for n, by_tooth in gaps.items()):
                if sites:
                    where = "" if len(sites) == len(column.sites) else " " + " ".join(SITE_LETTERS[s] for s in sites)
                    words.append(f"{name}{where} not measured")
            size = fitted(" ".join(words), _NOTE, room)
            notes[code] = (size, [row for word in words for row in wrap(word, size, room)])
        return notes

    @property
    def _notes_height(self) -> float:
        most = max(len(rows) for _, rows in self._notes.values())
        return most * _NOTE_LEADING + 1.2 if most else 0.0

    @property
    def height(self) -> float:
        """Paper mm, notes included."""
        return (self.high - self.low) * self.scale + self._notes_height

    def _scale(self, top: float) -> LevelScale:
        upper = top + self._notes_height + self.high * self.scale
        return LevelScale(upper if self.apical_is_up else top - self.low * self.scale, self.scale, self.apical_is_up)

    def datum_y(self, top: float) -> float:
        """Where level 0 lies on paper when the plot begins at ``top``."""
        return self._scale(top).datum_y

    def stamp(self, top: float) -> str:
        """NOT FOR SURGERY across the crowns, once a side, where it hides no line."""
        dev, scale = self.development, self._scale(top)
        centre = dev.midline if dev.midline is not None else dev.end
        parts = []
        for start, end in ((dev.x, centre), (centre, dev.end)):
            if end - start < 12:
                continue
            size = min(2.1 * self.scale, (end - start) / 11.5)
            middle = scale.y(1.9) + 0.36 * size
            parts.append(
                text(
                    (start + end) / 2,
                    middle,
                    "NOT FOR SURGERY",
                    size,
                    anchor="middle",
                    fill=self.theme.stamp,
                    font_weight="700",
                    stroke=self.theme.paper,
                    stroke_width=1.0,
                    paint_order="stroke",
                )
            )
        return group(parts)

    def draw(self, top: float, gutter: float) -> str:
        """The plot from ``top`` down, its labels in a gutter of the given width on the right."""
        scale = self._scale(top)
        dev, t = self.development, self.theme
        ends = sorted((scale.y(self.low), scale.y(self.high)))
        parts = [
            group(self._crown(column, scale) for column in dev.columns),
            group(self._strata(column, scale) for column in dev.columns),
            self._grid(scale),
            self._columns(top, ends, scale),
            group(self._cuts(column, scale) for column in dev.columns),
            group(self._lines(series, scale) for series in SERIES),
            group(self._edge(column, scale) for column in dev.columns),
            group(self._target(column, scale) for column in dev.columns),
            group(self._finish_line(column, scale) for column in dev.columns),
            group(self._zenith(column, scale) for column in dev.columns),
            self._notes_text(top, ends),
            text(dev.x - 4.0, ends[0] - 1.0, "mm", 2.1, anchor="end", fill=t.quiet),
            level_ruler(scale, self.low, self.high, dev.x - 1.2, side=-1, theme=t),
            end_labels(self._labels(scale), dev.end + 1.2, gutter - 1.2, ends[0], ends[1], t.hairline),
        ]
        return group(parts)

    def _curves(self, series: Series, column: Column, scale: LevelScale) -> list[Curve]:
        return curves_of(series, column, scale.y)

    def _crown(self, column: Column, scale: LevelScale) -> str:
        if column.plan.status == Status.ABSENT:
            return ""
        return crown(column, scale, self._curves(MARGIN_PRESENT, column, scale), self.theme)

    def _strata(self, column: Column, scale: LevelScale) -> str:
        """Tints between margin and crest and beyond the crest, only where both bounds were measured."""
        margins = self._curves(MARGIN_PRESENT, column, scale)
        crests = self._curves(CREST_PRESENT, column, scale)
        y_end = scale.y(self.high)
        parts = [polygon(area, fill=self.theme.gingiva) for area in between(margins, crests)]
        for crest in crests:
            floor_ = Curve.through([(crest.start, y_end), (crest.end, y_end)]) if crest.end > crest.start else None
            if floor_ is not None:
                parts += [polygon(area, fill=self.theme.bone) for area in between([crest], [floor_])]
        return group(parts)

    def _grid(self, scale: LevelScale) -> str:
        dev = self.development
        return group(
            line(dev.x, scale.y(k), dev.end, scale.y(k), stroke=self.theme.grid, stroke_width=0.15)
            for k in range(self.low, self.high + 1)
            if k % 5 == 0 and k != 0
        )

    def _columns(self, top: float, ends: list[float], scale: LevelScale) -> str:
        """Sides of the columns, site lines, the datum, and the places that are no teeth."""
        dev, t = self.development, self.theme
        parts = []
        for column in dev.columns:
            parts += [
                line(x, ends[0], x, ends[1], stroke=t.hairline, stroke_width=0.15) for x in (column.x, column.end)
            ]
            parts.append(line(column.x, scale.datum_y, column.end, scale.datum_y, stroke=t.ink, stroke_width=0.45))
            if not column.is_rooted:
                parts.append(status_symbol(Status(column.plan.status), column.middle, scale.y(5.0), t))
        if dev.midline is not None:
            parts.append(line(dev.midline, top, dev.midline, top + self.height, stroke=t.ink, stroke_width=0.8))
        for x in dev.breaks:
            parts.append(rect(x, ends[0], BREAK_MM, ends[1] - ends[0], fill=t.paper))
            parts.append(
                text(
                    x + BREAK_MM / 2 + 0.7,
                    (ends[0] + ends[1]) / 2,
                    "not charted",
                    2.1,
                    anchor="middle",
                    turn=-90,
                    fill=t.quiet,
                )
            )
        return group(parts)

    def _cuts(self, column: Column, scale: LevelScale) -> str:
        """What is to be removed: the collar from the margin to the blade, the bone from crest to planned crest."""
        blade: list[tuple[float, float | None]] = []
        for site in column.sites:
            charted = column.charted.get(site)
            level = None
            if charted is not None and column.plan.procedure.cuts:
                # A site without an incision keeps its margin: the collar tapers to nothing there.
                level = (
                    charted.incision_level_mm if charted.incision_level_mm is not None else charted.margin_present_mm
                )
            blade.append((column.site_x(site), None if level is None else scale.y(level)))
        incision = runs(blade)
        parts = [
            hatched_gingiva(area, self.theme) for area in between(self._curves(MARGIN_PRESENT, column, scale), incision)
        ]
        parts += [
            hatched_bone(area, self.theme)
            for area in between(self._curves(CREST_PRESENT, column, scale), self._curves(CREST_PLANNED, column, scale))
        ]
        return group(parts, data_cuts=column.tooth.fdi)

    def _lines(self, series: Series, scale: LevelScale) -> str:
        colour = series.colour(self.theme)
        pen: dict[str, Value] = {
            "fill": "none",
            "stroke": colour,
            "stroke_width": series.weight,
            "stroke_dasharray": series.dash,
            "stroke_linecap": series.cap if series.cap != "butt" else None,
        }
        parts: list[str] = []
        previous: Curve | None = None
        for column in self.development.columns:
            if not (column.is_rooted or series.is_measured):
                continue
            for curve in self._curves(series, column, scale):
                if len(curve.points) == 1:
                    (x, y), half = curve.points[0], 0.22 * column.width
                    parts.append(line(max(column.x, x - half), y, min(column.end, x + half), y, **pen))
                else:
                    parts.append(element("path", d=curve.path(), **pen))
                if previous is not None and abs(previous.end - curve.start) < 1e-6:
                    # One papilla, two levels: each tooth is read from its own edge.
                    parts.append(
                        line(
                            curve.start,
                            previous.at(previous.end),
                            curve.start,
                            curve.at(curve.start),
                            stroke=colour,
                            stroke_width=0.15,
                        )
                    )
                previous = curve
                if not series.where_asked:
                    parts += self._gap_ends(column, curve, colour)
                if series.is_measured:
                    parts += [
                        element("circle", cx=x, cy=y, r=0.36, fill=self.theme.paper, stroke=colour, stroke_width=0.2)
                        for x, y in curve.points
                    ]
        return group(parts, data_line=series.label)

    @staticmethod
    def _gap_ends(column: Column, curve: Curve, colour: str) -> list[str]:
        """A bar across the end of a line that stops inside a column: the next site is unknown."""
        return [
            line(x, curve.at(x) - 0.8, x, curve.at(x) + 0.8, stroke=colour, stroke_width=0.3)
            for x in sorted({curve.start, curve.end})
            if len(curve.points) > 1 and column.x + 1e-6 < x < column.end - 1e-6
        ]

    def _edge(self, column: Column, scale: LevelScale) -> str:
        """A tick at the edge visible today, where it is not the planned one."""
        extension = column.plan.incisal_extension_mm
        if extension is None or abs(extension) < _SAME_MM:
            return ""
        y, half = scale.y(extension), 0.3 * column.width
        x = column.middle
        return group(
            [
                line(x - half, y, x + half, y, stroke=self.theme.ink, stroke_width=0.25),
                line(x - half, y - 0.6, x - half, y + 0.6, stroke=self.theme.ink, stroke_width=0.25),
                line(x + half, y - 0.6, x + half, y + 0.6, stroke=self.theme.ink, stroke_width=0.25),
            ]
        )

    def _target(self, column: Column, scale: LevelScale) -> str:
        """The aesthetic target where the plan does not reach it, and always where no cut is given."""
        target, planned = column.plan.target_length_mm, column.plan.planned_length_mm
        if column.aspect == "lingual" or target is None or (planned is not None and abs(target - planned) < _SAME_MM):
            return ""
        y, half = scale.y(target), 0.36 * column.width
        tick = line(
            column.middle - half,
            y,
            column.middle + half,
            y,
            stroke=self.theme.target,
            stroke_width=0.5,
            stroke_dasharray="0.7 0.5",
        )
        if column.plan.procedure.cuts:
            return tick  # its number stands in the table; here it would cover the crest
        return tick + text(
            column.middle,
            y - 0.7 if self.apical_is_up else y + 2.2,
            f"target {shown(target)}",
            _NOTE,
            anchor="middle",
            fill=self.theme.target,
            stroke=self.theme.paper,
            stroke_width=0.7,
            paint_order="stroke",
        )

    def _finish_line(self, column: Column, scale: LevelScale) -> str:
        """Diamonds on the finish line: it may lie on the planned margin, which would hide its dash."""
        r = 0.75
        return group(
            [
                polygon(
                    [(x - r, y), (x, y - r), (x + r, y), (x, y + r)],
                    fill=self.theme.paper,
                    stroke=self.theme.finish,
                    stroke_width=0.3,
                )
                for site, charted in column.charted.items()
                if charted.finish_line_mm is not None
                for x, y in [(column.site_x(site), scale.y(charted.finish_line_mm))]
            ],
            data_finish=column.tooth.fdi,
        )

    def _zenith(self, column: Column, scale: LevelScale) -> str:
        """A wedge under the planned margin where its zenith is wanted; it stands in the crown, where no line runs."""
        if column.zenith is None:
            return ""
        x, level = column.zenith
        return zenith_wedge(x, scale.y(level - _WEDGE_BELOW), -1 if self.apical_is_up else 1, self.theme)

    def _notes_text(self, top: float, ends: list[float]) -> str:
        first = top + _NOTE_LEADING if self.apical_is_up else ends[1] + _NOTE_LEADING + 0.4
        return group(
            text(
                column.middle,
                first + k * _NOTE_LEADING,
                row,
                size,
                anchor="middle",
                fill=self.theme.ink,
            )
            for column, (size, rows) in zip(self.development.columns, self._notes.values(), strict=True)
            for k, row in enumerate(rows)
        )

    def _labels(self, scale: LevelScale) -> list[Label]:
        t, dev = self.theme, self.development
        labels = []
        for series in SERIES:
            last = next(
                (
                    curves[-1]
                    for column in reversed(dev.columns)
                    if column.is_rooted and (curves := self._curves(series, column, scale))
                ),
                None,
            )
            if last is None and series.where_asked:
                continue
            if last is None:
                at = (dev.end, scale.y(self.high - 1))
                words = f"{series.label}: not {'measured' if series.is_measured else 'given'}"
            else:
                half = 0.0 if len(last.points) > 1 else 0.22 * dev.columns[-1].width
                at = (last.end + half, last.at(last.end))
                words = series.label
            labels.append(Label(words, at, series.colour(t), series.weight, series.dash, series.cap))
        labels.append(Label("planned edge, level 0", (dev.end, scale.datum_y), t.ink, 0.45, None))
        return labels

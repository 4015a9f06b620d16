"""The level table under the profile: site, present level, planned level, cut, column by column."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import groupby

from festoon.drawings.columns import Column, Development
from festoon.drawings.palette import Theme
from festoon.drawings.svg import Value, group, line, rect, text, text_width, wrap
from festoon.model.dentition import Site
from festoon.model.plan import Mm, Procedure, SitePlan, ToothPlan

NOT_MEASURED = "not measured"
NOT_GIVEN = "not given"
SITE_LETTERS = {
    Site.DISTAL: "D",
    Site.DISTOFACIAL: "df",
    Site.MIDFACIAL: "F",
    Site.MESIOFACIAL: "mf",
    Site.MESIAL: "M",
    Site.DISTAL_LINGUAL: "DL",
    Site.DISTOLINGUAL: "dil",
    Site.MIDLINGUAL: "L",
    Site.MESIOLINGUAL: "mil",
    Site.MESIAL_LINGUAL: "ML",
}
_SIZE = 2.35
_SMALL = 1.75
_NAME = 2.0
_FAN = 3.2
_SITE_HEIGHT = 3.4


@dataclass(frozen=True)
class Row:
    """One line of the table."""

    label: str
    unit: str
    site: Callable[[SitePlan], Mm] | None = None
    """For a row with one cell a site."""
    tooth: Callable[[ToothPlan], Mm] | None = None
    """For a row with one cell a tooth."""
    is_cut: bool = False
    """Shown with its sign."""
    is_planned: bool = False
    """Bold; an unknown is ``not given``, since the plan and not the chart leaves it open."""


ROWS = (
    Row("target length", "mm from edge", tooth=lambda t: t.target_length_mm),
    Row("present margin", "mm from edge", site=lambda s: s.margin_present_mm),
    Row("planned margin", "mm from edge", site=lambda s: s.margin_planned_mm, is_planned=True),
    Row("margin moves", "mm, + apically", tooth=lambda t: t.margin_move_mm, is_cut=True, is_planned=True),
    Row("of it excised", "mm", tooth=lambda t: t.excised_collar_mm, is_cut=True, is_planned=True),
    Row("of it by flap", "mm", tooth=lambda t: t.apical_shift_mm, is_cut=True, is_planned=True),
    Row("present crest", "mm from edge", site=lambda s: s.crest_present_mm),
    Row("planned crest", "mm from edge", site=lambda s: s.crest_planned_mm, is_planned=True),
    Row("bone to take", "mm, + apically", site=lambda s: s.bone_removal_mm, is_cut=True, is_planned=True),
)


def procedure_words(procedure: Procedure) -> str:
    """What is done to a tooth, in the words of the plan."""
    return "no cut" if procedure is Procedure.NONE else procedure.value.replace("_", " ")


def shown(value: float, *, signed: bool = False) -> str:
    """A length to 0.1 mm with a true minus sign; a cut carries its plus."""
    text_ = f"{value:+.1f}" if signed else f"{value:.1f}"
    if float(text_) == 0:
        return "0.0"
    return text_.replace("-", "−")


@dataclass(frozen=True)
class LevelTable:
    """The table of one jaw; it first says how tall it is, then draws itself."""

    development: Development
    theme: Theme
    label_x: float
    """Left side of the row names."""

    @property
    def _rows(self) -> list[Row]:
        """Lingually without the rows of a whole tooth: its length and how it is reached are facial."""
        return [row for row in ROWS if row.tooth is None or self.development.aspect == "facial"]

    @property
    def _is_turned(self) -> bool:
        """Numbers stand upright along the station lines, as under a road profile, where columns are too narrow."""
        narrowest = min(c.width / len(c.sites) for c in self.development.columns)
        return narrowest < text_width("+10.0", _SIZE) + 0.6

    def _row_height(self, row: Row) -> float:
        if row.site is None:
            return 5.2
        return 7.8 if self._is_turned else 7.0

    @property
    def height(self) -> float:
        """Paper mm."""
        return _FAN + _SITE_HEIGHT + sum(self._row_height(row) for row in self._rows)

    def draw(self, top: float) -> str:
        """The table with its station lines, from ``top`` down."""
        t, dev = self.theme, self.development
        y = top + _FAN
        parts = [self._stations(top)]
        body_top = y
        parts.append(line(self.label_x, y, dev.end, y, stroke=t.ink, stroke_width=0.3))
        parts.append(text(self.label_x, y + 2.4, "site", 2.1, fill=t.ink))
        for column in dev.columns:
            if column.is_rooted:
                for x, width, site in _cells(column):
                    parts.append(text(x + width / 2, y + 2.5, SITE_LETTERS[site], 2.1, anchor="middle", fill=t.ink))
        y += _SITE_HEIGHT
        for row in self._rows:
            height = self._row_height(row)
            is_new_tissue = row.label in ("target length", "present margin", "present crest")
            pen: dict[str, Value] = (
                {"stroke": t.ink, "stroke_width": 0.25}
                if is_new_tissue
                else {"stroke": t.hairline, "stroke_width": 0.15}
            )
            parts.append(line(self.label_x, y, dev.end, y, **pen))
            weight = "600" if row.is_planned else None
            names = wrap(row.label, _NAME, self.development.x - self.label_x - 0.8)
            first = y + height / 2 - (len(names) * _NAME + _SMALL) * 0.55 + 0.8 * _NAME
            parts += [
                text(self.label_x, first + k * 1.05 * _NAME, name, _NAME, fill=t.ink, font_weight=weight)
                for k, name in enumerate(names)
            ]
            parts.append(text(self.label_x, first + len(names) * 1.05 * _NAME, row.unit, _SMALL, fill=t.quiet))
            for column in dev.columns:
                if column.is_rooted:
                    parts.append(self._row_of(column, row, y, height))
            y += height
        parts.append(line(self.label_x, y, dev.end, y, stroke=t.ink, stroke_width=0.3))
        parts += [self._locked(column, body_top, y) for column in dev.columns if not column.is_rooted]
        parts += [self._rules(column, body_top, y) for column in dev.columns]
        return group(parts)

    def _stations(self, top: float) -> str:
        """Lines that fan from the sites to their cells: a papilla is read from both of its teeth."""
        parts = []
        for column in self.development.columns:
            if column.is_rooted:
                for x, width, site in _cells(column):
                    from_x, to_x = column.site_x(site), x + width / 2
                    parts.append(line(from_x, top, to_x, top + _FAN, stroke=self.theme.hairline, stroke_width=0.15))
        return group(parts)

    def _rules(self, column: Column, top: float, bottom: float) -> str:
        sides = {column.x, column.end}
        return group(line(x, top, x, bottom, stroke=self.theme.ink, stroke_width=0.2) for x in sorted(sides))

    def _locked(self, column: Column, top: float, bottom: float) -> str:
        words = "nothing here" if column.plan.status == "absent" else f"{column.plan.status}: do not cut"
        middle, x, t = (top + bottom) / 2, column.middle, self.theme
        return rect(column.x, top, column.width, bottom - top, fill=t.paper, stroke=t.ink, stroke_width=0.3) + text(
            x + 0.8, middle, words, 2.4, anchor="middle", turn=-90, fill=t.ink, font_weight="600"
        )

    def _row_of(self, column: Column, row: Row, y: float, height: float) -> str:
        if row.tooth is not None:
            value = row.tooth(column.plan)
            return self._cell(column.x, column.width, y, height, row, value, turned=False)
        parts = []
        for value, cells in self._runs(column, row):
            x, width = cells[0][0], sum(cell[1] for cell in cells)
            parts.append(self._cell(x, width, y, height, row, value, turned=self._is_turned))
        return group(parts)

    @staticmethod
    def _runs(column: Column, row: Row) -> Iterator[tuple[Mm, list[tuple[float, float, Site]]]]:
        """The cells of a row, neighbouring unknowns joined into one."""

        def value_at(cell: tuple[float, float, Site]) -> Mm:
            charted = column.charted.get(cell[2])
            return None if charted is None or row.site is None else row.site(charted)

        for is_unknown, cells in groupby(_cells(column), key=lambda cell: value_at(cell) is None):
            if is_unknown:
                yield None, list(cells)
            else:
                for cell in cells:
                    yield value_at(cell), [cell]

    def _cell(self, x: float, width: float, y: float, height: float, row: Row, value: Mm, *, turned: bool) -> str:
        t, middle = self.theme, y + height / 2
        if value is None:
            return self._unknown(x, width, y, height, row)
        size = min(_SIZE, 0.92 * width) if turned else _SIZE
        return text(
            x + width / 2 + (0.34 * size if turned else 0.0),
            middle + (0.0 if turned else 0.34 * size),
            shown(value, signed=row.is_cut),
            size,
            anchor="middle",
            turn=-90 if turned else 0,
            fill=t.quiet if row.is_cut and value == 0 else t.ink,
            font_weight="600" if row.is_planned and not (row.is_cut and value == 0) else None,
        )

    def _unknown(self, x: float, width: float, y: float, height: float, row: Row) -> str:
        """An unknown in words, never a blank and never a zero."""
        words = NOT_GIVEN if row.is_planned or row.tooth is not None else NOT_MEASURED
        centre, middle = x + width / 2, y + height / 2
        box = rect(x + 0.25, y + 0.25, width - 0.5, height - 0.5, fill="none", stroke=self.theme.hairline,
                   stroke_width=0.15, stroke_dasharray="0.7 0.5")  # fmt: skip
        turned = text_width("measured", _SMALL) > width - 0.6
        size = min(_SMALL, (width - 0.5) / 2) if turned else _SMALL
        rows = words.split() if turned else wrap(words, size, width - 0.6)
        if len(rows) * size * 1.05 > (width if turned else height):
            rows = [words]
        parts = [box]
        for k, words_ in enumerate(rows):
            shift = (k - (len(rows) - 1) / 2) * size * 1.05 + 0.33 * size
            parts.append(
                text(
                    centre + (shift if turned else 0.0),
                    middle + (0.0 if turned else shift),
                    words_,
                    size,
                    anchor="middle",
                    turn=-90 if turned else 0,
                    fill=self.theme.ink,
                )
            )
        return group(parts)


def _cells(column: Column) -> list[tuple[float, float, Site]]:
    """Left side, width and site of each cell of a column."""
    width = column.width / len(column.sites)
    return [(column.x + k * width, width, site) for k, site in enumerate(column.sites)]

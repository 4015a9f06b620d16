"""The figures of the conventions: a tooth read from two edges; the arch frame and the ten sites. Lengths in paper mm."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, sin

from festoon.drawings.svg import FONT_STACK, element, group, line, number, polygon, rect, text
from festoon.kernels.levels import planned_edge_level
from festoon.model.dentition import FACIAL_SITES, LINGUAL_SITES

INK, QUIET, FAINT = "#1d252c", "#5b6770", "#c9d1d6"
TOOTH, GINGIVA, BONE, ADDED = "#f7f4ec", "#ecd2d0", "#e2dcc6", "#cfdfe8"
SCALE = 4.6
"""Paper mm per mm of the mouth in the figure of levels."""
# The worked numbers of the conventions, from the present edge.
MARGIN, CEJ, CREST, JUNCTION, TOP = 8.1, 10.3, 12.0, 13.9, 16.2
MOVE = 2.15


def levels_figure() -> str:
    """One tooth twice: lengthened and shortened by half a millimetre, each level read from both edges."""
    note = "The anatomy stays where it is: only the edge that is counted from moves. Move = planned margin − present margin."
    parts = [_Panel(2.0, 0.5).draw(), _Panel(102.0, -0.5).draw(), text(100, 98, note, 2.9, anchor="middle", fill=QUIET)]
    return _svg(200, 101, "One tooth, its levels read from the present and from the planned edge", parts)


@dataclass(frozen=True)
class _Panel:
    x: float
    extension: float

    @property
    def middle(self) -> float:
        """Middle of the tooth on paper."""
        return self.x + 40

    def y(self, level: float) -> float:
        """Height on paper of a level from the present edge; apical is up."""
        return 87.0 - level * SCALE

    def draw(self) -> str:
        """The whole panel."""
        word = "lengthened" if self.extension > 0 else "shortened"
        title = f"{word} at the edge: extension {_signed(self.extension, plus=True)} mm"
        return group(
            [
                text(self.middle, 5, title, 3.4, anchor="middle", font_weight="600", fill=INK),
                *self._tissues(),
                self._tooth(),
                *self._levels(),
                *self._move(),
            ]
        )

    def _tissues(self) -> list[str]:
        left, width = self.x + 20, 40.0
        bands = ((TOP, CREST, BONE), (CREST, MARGIN, GINGIVA))
        return [rect(left, self.y(a), width, self.y(b) - self.y(a), fill=fill) for a, b, fill in bands]

    def _tooth(self) -> str:
        """The present tooth, and at its edge what is added, or what is taken away."""
        levels = (0.0, 1.0, 3.0, 5.5, 8.1, CEJ, CREST, 14.0, TOP)
        half = (14.2, 15.2, 15.7, 15.8, 14.2, 11.4, 9.9, 8.4, 6.6)
        side = [(self.middle + h, self.y(v)) for v, h in zip(levels, half, strict=True)]
        other = [(self.middle - h, self.y(v)) for v, h in zip(levels, half, strict=True)]
        outline = (
            f"M{_point(other[0])} L{_point(side[0])} {_smooth(side)} L{_point(other[-1])} {_smooth(other[::-1])} Z"
        )
        low, high = sorted((0.0, -self.extension))
        edge = {"x": self.middle - 14.4, "y": self.y(high), "width": 28.8, "height": self.y(low) - self.y(high)}
        fill = ADDED if self.extension > 0 else "#ffffff"
        return group(
            [
                element("path", d=outline, fill=TOOTH, stroke=INK, stroke_width=0.35, stroke_linejoin="round"),
                rect(
                    **edge,
                    fill=fill,
                    stroke=INK,
                    stroke_width=0.35,
                    stroke_dasharray=None if self.extension > 0 else "0.9 0.9",
                ),
            ]
        )

    def _levels(self) -> list[str]:
        parts = []
        for x, anchor, which in ((self.x + 17, "end", "present edge"), (self.x + 63, "start", "planned edge")):
            parts.append(text(x, 10.5, "from the", 2.5, anchor=anchor, fill=QUIET))
            parts.append(text(x, 13.5, which, 2.5, anchor=anchor, fill=QUIET))
        named = (
            ("mucogingival junction", JUNCTION, "2.6 0.8 0.5 0.8", 0.5), ("alveolar crest", CREST, "0.5 0.7", 0.5),
            ("CEJ", CEJ, "1.6 0.9", 0.5), ("gingival margin", MARGIN, None, 0.5),
            ("present edge", 0.0, None, 0.4), ("planned edge", -self.extension, None, 0.9),
        )  # fmt: skip
        for name, level, dash, weight in named:
            y, nudge = self.y(level), self._nudge(name)
            planned = planned_edge_level(level, self.extension)
            parts += [
                line(self.x + 18.5, y, self.x + 61.5, y, stroke=INK, stroke_width=weight, stroke_dasharray=dash),
                text(self.x + 17, y + nudge, _signed(level), 3.0, anchor="end", font_weight="600", fill=INK),
                text(self.x + 63, y + nudge, _signed(planned), 3.0, font_weight="600", fill=INK),
                text(self.x + 72, y + nudge, name, 2.6, fill=INK),
            ]
        return parts

    def _nudge(self, name: str) -> float:
        """The two edges are near each other: the one above goes up a little, the one below down."""
        if name == "CEJ":
            return 0.0
        if not name.endswith("edge"):
            return 1.0
        return 2.0 if (name == "planned edge") == (self.extension > 0) else 0.2

    def _move(self) -> list[str]:
        """From the present to the planned margin, beside the tooth."""
        x, start, end = self.x + 56.5, self.y(MARGIN), self.y(MARGIN + MOVE)
        length = planned_edge_level(MARGIN, self.extension) + MOVE
        return [
            line(x, start, x, end + 2.0, stroke=INK, stroke_width=0.7),
            polygon([(x - 0.9, end + 2.2), (x + 0.9, end + 2.2), (x, end)], fill=INK),
            text(x - 4.4, (start + end) / 2 + 1.2, f"move {MOVE:.2f}", 2.6, anchor="end", font_weight="600", fill=INK),
            text(self.x + 63, end + 3.4, f"{length:.2f}", 3.0, font_weight="600", fill=INK),
            text(self.x + 72, end + 3.4, "planned margin", 2.6, fill=INK),
        ]


def _signed(value: float, *, plus: bool = False) -> str:
    return (f"{value:+.1f}" if plus else f"{value + 0.0:.1f}").replace("-0.0", "0.0").replace("-", "−")


def _point(point: tuple[float, float]) -> str:
    return f"{number(point[0])} {number(point[1])}"


def _smooth(points: list[tuple[float, float]]) -> str:
    """Curves through the points after the first: each tangent is parallel to the line between a point's neighbours."""
    padded = [points[0], *points, points[-1]]
    curves = []
    for before, start, end, after in zip(padded, padded[1:], padded[2:], padded[3:], strict=False):
        first = (start[0] + (end[0] - before[0]) / 6, start[1] + (end[1] - before[1]) / 6)
        second = (end[0] - (after[0] - start[0]) / 6, end[1] - (after[1] - start[1]) / 6)
        curves.append(f"C{_point(first)} {_point(second)} {_point(end)}")
    return " ".join(curves)


def frame_figure() -> str:
    """The arch frame as one faces the patient, and the ten sites of a tooth from its edge."""
    return _svg(186, 74, "The arch frame facing the patient, and the ten sites of a tooth", [_frame(), _sites()])


def _frame() -> str:
    parts = [
        text(4, 6, "patient's RIGHT", 2.9, font_weight="600", fill=INK),
        text(92, 6, "patient's LEFT", 2.9, anchor="end", font_weight="600", fill=INK),
        text(48, 6, "facing the patient", 2.7, anchor="middle", fill=QUIET),
    ]
    widths = {"13": 7.7, "12": 6.6, "11": 8.6, "21": 8.6, "22": 6.6, "23": 7.7}
    lower = {"43": 6.8, "42": 5.9, "41": 5.4, "31": 5.4, "32": 5.9, "33": 6.8}
    for teeth, base, direction, length in ((widths, 38.0, -1, 15.0), (lower, 46.0, 1, 12.0)):
        x = 48 - sum(teeth.values()) * 0.8
        for code, width in teeth.items():
            height = length * {"1": 1.0, "2": 0.86, "3": 0.98}[code[1]]
            top = base - height if direction < 0 else base
            parts.append(rect(x, top, width * 1.6 - 0.6, height, rx=2, fill=TOOTH, stroke=INK, stroke_width=0.3))
            parts.append(text(x + width * 0.8 - 0.3, top + height / 2 + 1, code, 2.9, anchor="middle", fill=INK))
            x += width * 1.6
    parts += [
        *_arrow(48, 38, 48, 13, "z", (1.4, 0)), *_arrow(48, 38, 84, 38, "x", (0.5, 2.6)),
        element("circle", cx=48, cy=38, r=1.0, fill=INK),
        *_arrow(6, 36, 6, 22, "", (0, 0)), *_arrow(6, 48, 6, 62, "", (0, 0)),
        text(4, 20, "height +", 2.5, fill=INK), text(4, 66, "height +", 2.5, fill=INK),
        text(48, 64, "apical is positive in both jaws: height = z above, −z below;", 2.6, anchor="middle", fill=QUIET),
        text(48, 68, "y points away from the reader, to the back of the mouth", 2.6, anchor="middle", fill=QUIET),
    ]  # fmt: skip
    return group(parts)


def _sites() -> str:
    """A tooth of the patient's right seen from its edge, facial side up: mesial towards the midline on the right."""
    x, y, rx, ry = 141.0, 38.0, 13.0, 10.0
    parts = [
        text(x, 6, "the ten sites, seen from the edge of 11", 2.7, anchor="middle", fill=QUIET),
        element("ellipse", cx=x, cy=y, rx=rx, ry=ry, fill=TOOTH, stroke=INK, stroke_width=0.4),
        text(x, y - 1.0, "facial", 2.5, anchor="middle", fill=QUIET),
        text(x, y + 3.4, "lingual", 2.5, anchor="middle", fill=QUIET),
        line(x - rx + 1.5, y + 0.4, x + rx - 1.5, y + 0.4, stroke=FAINT, stroke_width=0.3),
    ]
    places = ((12.0, "start"), (52.0, "start"), (90.0, "middle"), (128.0, "end"), (168.0, "end"))
    for sites, side in ((FACIAL_SITES, -1), (LINGUAL_SITES, 1)):
        for site, (degrees, anchor) in zip(sites, places, strict=True):
            at = degrees * pi / 180
            px, py = x + rx * cos(at), y + side * ry * sin(at)
            tx, ty = x + (rx + 3) * cos(at), y + side * (ry + 4.2) * sin(at) + 1
            parts.append(element("circle", cx=px, cy=py, r=0.9, fill=INK))
            parts.append(text(tx, ty, site.value, 2.7, anchor=anchor, fill=INK))
    parts += [
        text(182, y + 1, "to the midline", 2.4, anchor="middle", turn=90, fill=QUIET),
        text(
            x,
            64,
            "a six-site chart: mesial, midfacial, distal and their lingual three;",
            2.6,
            anchor="middle",
            fill=QUIET,
        ),
        text(x, 68, "mesiofacial and the like are the line angles", 2.6, anchor="middle", fill=QUIET),
    ]
    return group(parts)


def _arrow(x1: float, y1: float, x2: float, y2: float, name: str, away: tuple[float, float]) -> list[str]:
    length = ((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5
    ux, uy = (x2 - x1) / length, (y2 - y1) / length
    back = (x2 - 2.4 * ux, y2 - 2.4 * uy)
    head = [(x2, y2), (back[0] - 0.9 * uy, back[1] + 0.9 * ux), (back[0] + 0.9 * uy, back[1] - 0.9 * ux)]
    return [
        line(x1, y1, *back, stroke=INK, stroke_width=0.5),
        polygon(head, fill=INK),
        text(x2 + away[0], y2 + away[1], name, 3.0, font_style="italic", fill=INK) if name else "",
    ]


def _svg(width: float, height: float, title: str, parts: list[str]) -> str:
    drawing = element(
        "svg",
        element("title", title),
        rect(0, 0, width, height, fill="#ffffff"),
        *parts,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {number(width)} {number(height)}",
        role="img",
        font_family=FONT_STACK,
    )
    return f"{drawing}\n"

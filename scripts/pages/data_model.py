"""The data model of the records, drawn from the tables themselves. Lengths in paper mm."""

from __future__ import annotations

from sqlalchemy import Table

from festoon.drawings.svg import FONT_STACK, element, line, polygon, rect, text
from festoon.store.tables import SEALED_TABLES, metadata

INK, QUIET, FAINT, PAPER, SEALED, MOVES = "#1d252c", "#5b6770", "#aab4ba", "#ffffff", "#f7f4ec", "#cfdfe8"
WIDTH, ROW, HEAD, LEFT, GAP = 41.0, 4.0, 11.2, 3.0, 13.0
_COLUMNS = (
    ("case_files", "column_maps"),
    ("cases", "store_info"),
    ("case_versions", "signatures"),
    ("plans", "plan_readings"),
    ("readings", "verdicts"),
    ("surgeries", "surgery_entries"),
    ("recall_entries",),
)
"""From left to right, each from top to bottom, so that an arrow meets no box; the trail lies under all of them."""
_SAYS = {
    "cases": "one row a case, points to its head",
    "case_versions": "every version ever saved",
    "readings": "every reading ever kept",
    "verdicts": "set aside or taken back, by a person",
    "plans": "every plan, made from one version",
    "plan_readings": "exactly the readings it used",
    "signatures": "who signed which plan, by its hash",
    "surgeries": "held against one signed plan",
    "surgery_entries": "every entry at the chair, by its key",
    "recall_entries": "every visit after a surgery",
    "case_files": "names large files by their hash",
    "column_maps": "how a practice's tables are read",
    "store_info": "one row: the name of this store",
}
_MOVING = {"cases": {"head", "keep_until", "deleted", "changed"}}
"""What may change: the head moves on, and a case is kept until a day or deleted on request."""
_OVER = 10.5
"""Height of the lane above all boxes."""
Box = tuple[float, float, float]
"""Left, top, height."""


def data_model_figure() -> str:
    """Tables as boxes, keys bold, what belongs to what, and the trail that seals them."""
    boxes: dict[str, Box] = {}
    for i, names in enumerate(_COLUMNS):
        y = 15.0
        for name in names:
            height = HEAD + ROW * len(_shown(metadata.tables[name])) + 1.4
            boxes[name] = (LEFT + i * (WIDTH + GAP), y, height)
            y += height + 11.0
    bottom = max(y + height for _, y, height in boxes.values()) + 11.0
    width = LEFT * 2 + len(_COLUMNS) * WIDTH + (len(_COLUMNS) - 1) * GAP
    parts = [
        text(LEFT, 6.5, "What the records hold", 4.2, font_weight="600", fill=INK),
        text(
            width - LEFT, 6.5, "Bold: key.  Arrow: belongs to.  ◆: sealed by the trail.  Rows are only ever added; what is "
            "shaded may move.", 2.8, anchor="end", fill=QUIET,
        ),
    ]  # fmt: skip
    parts += [part for start, end in _belongings() for part in _arrow(boxes[start], boxes[end])]
    for name, box in boxes.items():
        parts += _box(metadata.tables[name], *box)
    parts += _trail(bottom, width)
    return element(
        "svg",
        element("title", "The tables of the records and the trail that seals them"),
        rect(0, 0, width, bottom + 26, fill=PAPER),
        *parts,
        xmlns="http://www.w3.org/2000/svg", viewBox=f"0 0 {width:g} {bottom + 26:g}", role="img", font_family=FONT_STACK,
    )  # fmt: skip


def _belongings() -> list[tuple[str, str]]:
    """Every table with the one it belongs to, by its foreign keys; a key on the trail is drawn as the seal."""
    found = {
        (table.name, key.column.table.name)
        for table in metadata.tables.values()
        for key in table.foreign_keys
        if key.column.table.name not in ("trail", table.name)
    }
    return sorted(found)


def _shown(table: Table) -> list[str]:
    return [column.name for column in table.columns if column.name != "entry"]


def _box(table: Table, x: float, y: float, height: float) -> list[str]:
    is_sealed = table in SEALED_TABLES
    parts = [
        rect(x, y, WIDTH, height, rx=1.2, fill=SEALED if is_sealed else PAPER, stroke=INK, stroke_width=0.35),
        text(x + 2, y + 4.6, table.name, 3.4, font_weight="600", fill=INK),
        text(x + 2, y + 8.2, _SAYS[table.name], 2.3, fill=QUIET),
        line(x, y + 9.6, x + WIDTH, y + 9.6, stroke=FAINT, stroke_width=0.25),
    ]
    if is_sealed:
        parts.append(text(x + WIDTH - 2, y + 4.6, "◆", 2.8, anchor="end", fill=INK))
    keys = {column.name for column in table.primary_key}
    for i, name in enumerate(_shown(table)):
        top = y + HEAD + ROW * i - 0.7
        if name in _MOVING.get(table.name, ()):
            parts.append(rect(x + 1, top, WIDTH - 2, ROW - 0.2, fill=MOVES))
        parts.append(text(x + 2, top + 2.9, name, 2.7, font_weight="600" if name in keys else None, fill=INK))
    return parts


def _arrow(start: Box, end: Box) -> list[str]:
    """From the box that belongs to the box it belongs to: along a column downwards, or across a gap."""
    (x1, y1, h1), (x2, y2, h2) = start, end
    if x1 == x2:
        top, bottom = (y2 + h2, y1) if y1 > y2 else (y1 + h1, y2)
        at = x1 + WIDTH / 2
        head = [(at - 1, top + 2), (at + 1, top + 2), (at, top)]
        return [line(at, bottom, at, top + 1.8, stroke=INK, stroke_width=0.35), polygon(head, fill=INK)]
    if abs(x1 - x2) > WIDTH + GAP + 1:  # over the boxes between them
        at, to = x1 + WIDTH / 2, x2 + WIDTH * 0.62
        path = element(
            "path", d=f"M{at:g} {y1:g} V{_OVER:g} H{to:g} V{y2 - 1.8:g}", fill="none", stroke=INK, stroke_width=0.35
        )
        return [path, polygon([(to - 1, y2 - 2), (to + 1, y2 - 2), (to, y2)], fill=INK)]
    sign = 1 if x2 > x1 else -1
    from_x, to_x = (x1 + WIDTH, x2) if sign > 0 else (x1, x2 + WIDTH)
    lane = from_x + sign * GAP / 2
    from_y = y1 + min(h1, 20) * (0.35 if sign > 0 else 0.5)
    to_y = min(max(from_y, y2 + 3), y2 + h2 - 3)
    points = f"M{from_x:g} {from_y:g} H{lane:g} V{to_y:g} H{to_x - sign * 1.8:g}"
    head = [(to_x - sign * 2, to_y - 1), (to_x - sign * 2, to_y + 1), (to_x, to_y)]
    return [element("path", d=points, fill="none", stroke=INK, stroke_width=0.35), polygon(head, fill=INK)]


def _trail(y: float, width: float) -> list[str]:
    parts = [
        text(LEFT, y - 2.5, "trail", 3.4, font_weight="600", fill=INK),
        text(
            LEFT + 9,
            y - 2.5,
            "◆ every row above names its entry; each entry seals its rows and its reason, and the one before by its hash",
            2.6,
            fill=QUIET,
        ),
    ]
    step = (width - 2 * LEFT - 8) / 3
    for i, name in enumerate(("entry 1", "entry 2", "entry 3")):
        x = LEFT + i * (step + 4)
        parts.append(rect(x, y, step, 18, rx=1.2, fill=SEALED, stroke=INK, stroke_width=0.35))
        parts.append(text(x + 2, y + 4.4, name, 2.9, font_weight="600", fill=INK))
        parts.append(text(x + 2, y + 9.2, "who, when, what, of which case", 2.5, fill=INK))
        parts.append(text(x + 2, y + 13.6, "seal of its rows, reason and salt", 2.5, fill=INK))
        parts.append(text(x + step - 2, y + 9.2, "previous", 2.5, anchor="end", fill=INK))
        parts.append(text(x + step - 2, y + 13.6, "hash", 2.5, anchor="end", font_weight="600", fill=INK))
        if i:
            head = [(x - 2, y + 7.4), (x - 2, y + 9.4), (x - 4, y + 8.4)]
            parts.append(line(x, y + 8.4, x - 2.2, y + 8.4, stroke=INK, stroke_width=0.35))
            parts.append(polygon(head, fill=INK))
    return parts

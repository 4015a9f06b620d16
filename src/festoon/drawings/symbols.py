"""The crown, discreetly, and the symbols of places that are no teeth: shape and words, never colour alone."""

from __future__ import annotations

from collections.abc import Sequence

from festoon.drawings.columns import Column
from festoon.drawings.curves import Curve
from festoon.drawings.palette import Theme
from festoon.drawings.scale import LevelScale
from festoon.drawings.svg import Value, element, group, line, number, polygon, rect
from festoon.model.case import Status
from festoon.model.dentition import Site

# Shares of a schematic crown where the chart is silent. They draw anatomy, never a level that could be read off.
_EDGE_INSET = 0.14
_CONTACT_SHARE = 0.42
_SCHEMATIC_LENGTH_MM = 8.0


def crown(column: Column, scale: LevelScale, margin: Sequence[Curve], theme: Theme) -> str:
    """The outline from papilla to papilla: contact points where they were charted, the edge at level 0.

    Its tint reaches up to the margin where the whole margin is known.
    """
    charted = column.charted
    mid = charted.get(Site.MIDFACIAL)
    length = (mid.margin_present_mm if mid else None) or _SCHEMATIC_LENGTH_MM
    sides = [Site.DISTAL, Site.MESIAL] if column.tooth.is_right else [Site.MESIAL, Site.DISTAL]
    contacts, tips = [], []
    for site in sides:
        read = charted.get(site)
        contact = None if read is None else read.contact_mm
        tip = None if read is None else read.margin_present_mm
        contacts.append(length * _CONTACT_SHARE if contact is None else contact)
        tips.append(tip)
    x0, x1, w, y = column.x, column.end, column.width, scale.y
    left, right = x0 + _EDGE_INSET * w, x1 - _EDGE_INSET * w
    if column.tooth.position <= 2:
        edge = f"L{number(left)} {number(y(0.0))}L{number(right)} {number(y(0.0))}"
        corner = 0.0
    else:
        corner = 0.13 * length
        edge = (
            f"Q{number(x0 + 0.3 * w)} {number(y(corner * 0.5))} {number(column.middle)} {number(y(0.0))}"
            f"Q{number(x1 - 0.3 * w)} {number(y(corner * 0.5))} {number(right)} {number(y(corner))}"
        )
        edge = f"L{number(left)} {number(y(corner))}" + edge
    start, end = (tip if tip is not None else contact for tip, contact in zip(tips, contacts, strict=True))
    inset = 0.02 * w
    path = (
        f"M{number(x0 + inset)} {number(y(start))}"
        f"Q{number(x0)} {number(y((start + contacts[0]) / 2))} {number(x0 + 0.01 * w)} {number(y(contacts[0]))}"
        f"Q{number(x0 + 0.03 * w)} {number(y(corner))} {number(left)} {number(y(corner))}"
        f"{edge}"
        f"Q{number(x1 - 0.03 * w)} {number(y(corner))} {number(x1 - 0.01 * w)} {number(y(contacts[1]))}"
        f"Q{number(x1)} {number(y((end + contacts[1]) / 2))} {number(x1 - inset)} {number(y(end))}"
    )
    along_margin = ""
    if len(margin) == 1 and margin[0].end - margin[0].start > 0.99 * w:
        steps = [margin[0].start + k / 24 * (margin[0].end - margin[0].start) for k in range(24, -1, -1)]
        along_margin = "".join(f"L{number(x)} {number(margin[0].at(x))}" for x in steps)
    outline = element("path", d=path, fill="none", stroke=theme.tooth_outline, stroke_width=0.22)
    return element("path", d=f"{path}{along_margin}Z", fill=theme.tooth) + outline if along_margin else outline


def status_symbol(status: Status, x: float, y: float, theme: Theme) -> str:
    """A symbol of about 5 by 6 mm, centred: what stands here, where it is no tooth to be cut."""
    stroke: dict[str, Value] = {"stroke": theme.ink, "stroke_width": 0.3, "fill": "none"}
    if status is Status.IMPLANT:
        threads = [line(x - 1.5 + 0.1 * k, y - 1.2 + k, x + 1.5 - 0.1 * k, y - 0.8 + k, **stroke) for k in range(4)]
        return group([rect(x - 1.0, y - 2.8, 2.0, 1.2, **stroke), *threads, line(x, y - 1.6, x, y + 3.0, **stroke)])
    if status is Status.PONTIC:
        bar = line(x - 3.2, y, x + 3.2, y, **stroke)
        return group([element("ellipse", cx=x, cy=y, rx=2.0, ry=2.6, **{**stroke, "fill": theme.paper}), bar])
    if status is Status.ABSENT:
        return rect(x - 2.0, y - 2.6, 4.0, 5.2, stroke_dasharray="0.8 0.6", **stroke)
    return group([rect(x - 2.0, y - 2.6, 4.0, 5.2, **stroke), line(x - 2.0, y + 2.6, x + 2.0, y - 2.6, **stroke)])


def zenith_wedge(x: float, y: float, apical: int, t: Theme) -> str:
    """A wedge that points apically to where a zenith is wanted; ``apical`` is -1 where apical is up on paper."""
    r = 0.75
    points = [(x, y + apical * 1.5 * r), (x - r, y), (x + r, y)]
    return polygon(points, fill=t.paper, stroke=t.ink, stroke_width=0.3)

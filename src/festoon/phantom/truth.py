"""The true value of every quantity of a phantom, by the definitions that the readings carry.

Levels are measured along the facial long axis from the present edge. What the definitions of
:mod:`festoon.model.quantities` leave open is settled here and said in :data:`CHOICES`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from festoon.model.dentition import Pair, Site, Tooth
from festoon.model.quantities import Quantity, QuantityReading
from festoon.model.reading import Datum
from festoon.phantom import curves
from festoon.phantom.arch import Placed
from festoon.phantom.curves import Ring
from festoon.phantom.tissues import LIGAMENT, Tissues

Floats = NDArray[np.float64]

LINE_ANGLE_SHARE = 0.3
SEPTUM_HALF = 2.5
NEARER = (0.0, 0.2, 0.4, 0.6)
"""How much nearer to mid-width an interproximal crest is looked for, mm, where a neighbour's root stands under the tip."""
_LEVELS = (Quantity.MARGIN_LEVEL, Quantity.CREST_LEVEL, Quantity.CEJ_LEVEL)
CHOICES = {
    "crown": "The crown's height, for the axis, is taken from the edge to the midfacial CEJ.",
    "facial direction": "Sought in three steps from the horizontal direction square to the line through the middles of the neighbours' "
    "enamel caps: on a round tooth every direction agrees with its own middle half.",
    "line angles": f"Mesiofacial and distofacial lie {LINE_ANGLE_SHARE} of the crown width from mid-width. Where a narrow root leaves "
    "that plane before it reaches bone, there is no crest at the line angle, and none is given.",
    "mid-width": "The middle of the greatest width coronal to the CEJ, so that it does not depend on where the margin is.",
    "papilla": "The view of an embrasure is horizontal, along the mean facial direction of its two teeth. The tip has the height of the most "
    f"coronal gingiva seen, and stands in the middle of the gingiva seen within {curves.TIP_BAND} mm of that height.",
    "crest": "Facially and lingually, where bone meets the root.",
    "interproximal CEJ": "The most coronal point of the CEJ on that half of the tooth.",
    "interproximal crest": "The most coronal bone in the plane through the papilla tip, along the axis and the facial direction, "
    f"within {SEPTUM_HALF} mm of the middle of the neck facially and lingually. Where the neighbour's root stands in that plane, "
    f"the plane is taken up to {NEARER[-1]} mm nearer to mid-width; where it stands there too (crowding), no crest is given.",
    "contact": "Surfaces nearer than 0.05 mm touch; the apical end is the most apical such point of the tooth.",
    "gingiva thickness": "At the level of the midfacial CEJ, from the outer surface inwards along its normal to the tooth.",
    "bone thickness": "1 mm apical to the midfacial crest, along the normal of the root, ligament (0.2 mm) not counted.",
    "root distance": "The least distance of the two roots in the horizontal plane of the interproximal crest.",
    "probing": "Midfacial margin to the bottom of the sulcus, along the axis; a probe would go further.",
}
"""What this phantom means where a definition leaves room."""


@dataclass(frozen=True)
class Truth:
    """True readings of one jaw, and the curves behind them."""

    tissues: Tissues

    @cached_property
    def margins(self) -> dict[str, Ring]:
        """Gingival margin by tooth."""
        return curves.rings(self.tissues, of_bone=False)

    @cached_property
    def crests(self) -> dict[str, Ring]:
        """Alveolar crest by tooth."""
        return curves.rings(self.tissues, of_bone=True)

    @cached_property
    def cejs(self) -> dict[str, Ring]:
        """Cemento-enamel junction by tooth."""
        return curves.cej_rings(self.tissues.arch)

    @cached_property
    def tips(self) -> dict[str, Floats]:
        """Papilla tip by pair, jaw coordinates."""
        return {str(pair): curves.papilla_tip(self.tissues, pair) for pair in self.tissues.arch.mouth.pairs}

    @cached_property
    def readings(self) -> tuple[QuantityReading, ...]:
        """Every reading, tooth by tooth as seen."""
        out: list[QuantityReading] = []
        for collar in self.tissues.collars:
            out += self._of_tooth(collar.placed)
        for pair in self.tissues.arch.mouth.pairs:
            out += self._of_pair(pair)
        return tuple(out)

    def value(self, tooth: str, quantity: Quantity, site: Site | None = None) -> float | None:
        """One true value, or None where the phantom has none."""
        return self._index.get((tooth, quantity, site))

    @cached_property
    def _index(self) -> dict[tuple[str | None, Quantity, Site | None], float]:
        return {(r.tooth, r.quantity, r.site): r.value for r in self.readings}

    def crossings(self, placed: Placed, ring: Ring, across: float, facial: bool = True) -> float | None:
        """Level at which a ring crosses the plane ``across`` distal of mid-width; None where the plane passes it by."""
        at = placed.frame.coordinates(ring.points)
        side = (np.sin(ring.phi) > 0.35) if facial else (np.sin(ring.phi) < -0.35)
        if not at[side, 0].min() < across < at[side, 0].max():
            return None
        return float(curves.spline_at(at[side, 0], at[side, 2], across))

    def mucogingival(self, placed: Placed) -> float:
        """Midfacial level of the mucogingival junction."""
        middle = self.crossings(placed, self.margins[placed.tooth.fdi], 0.0)
        if middle is None:
            raise ValueError(f"{placed.tooth}: the margin does not cross mid-width")
        return round(round(middle, 4) + placed.plan.keratinised, 4)  # the sum of two readings

    def zenith(self, placed: Placed) -> tuple[float, float]:
        """Distance distal of mid-width, and level, of the most apical point of the facial margin."""
        ring = self.margins[placed.tooth.fdi]
        at = placed.frame.coordinates(ring.points)
        side = np.flatnonzero(np.sin(ring.phi) > 0.5)
        k = side[np.argmax(at[side, 2])]
        around = np.arange(k - 6, k + 7)
        fit = np.polyfit(at[around, 0] - at[k, 0], at[around, 2], 4)
        x = np.linspace(at[around, 0].min(), at[around, 0].max(), 2001) - at[k, 0]
        y = np.polyval(fit, x)
        return float(x[np.argmax(y)] + at[k, 0]), float(y.max())

    def _of_tooth(self, placed: Placed) -> list[QuantityReading]:
        fdi, frame, plan = placed.tooth.fdi, placed.frame, placed.plan
        margin, crest, cej = self.margins[fdi], self.crests[fdi], self.cejs[fdi]
        out: list[QuantityReading] = []

        def say(quantity: Quantity, value: float, site: Site | None = None) -> None:
            out.append(_reading(placed.tooth, quantity, value, site))

        at = frame.coordinates(self._crown(placed))
        say(Quantity.CROWN_WIDTH, float(np.ptp(at[:, 0])))
        offset, length = self.zenith(placed)
        say(Quantity.CROWN_LENGTH, length)
        say(Quantity.ZENITH_OFFSET, offset)
        say(Quantity.EDGE_HEIGHT, float(frame.edge[2]))
        say(Quantity.ROOT_APEX_LEVEL, _apex(placed))
        apart = LINE_ANGLE_SHARE * float(np.ptp(at[:, 0]))
        for site, across, facial in (
            (Site.MESIOFACIAL, -apart, True), (Site.MIDFACIAL, 0.0, True), (Site.DISTOFACIAL, apart, True),
            (Site.MIDLINGUAL, 0.0, False),
        ):  # fmt: skip
            levels = [self.crossings(placed, ring, across, facial) for ring in (margin, crest, cej)]
            for quantity, level in zip(_LEVELS, levels, strict=True):
                if level is not None:
                    say(quantity, level, site)
            if levels[0] is not None and levels[1] is not None:
                say(Quantity.SOUNDING, levels[1] - levels[0], site)
        middle = self.value_of(out, Quantity.MARGIN_LEVEL, Site.MIDFACIAL)
        bone = self.value_of(out, Quantity.CREST_LEVEL, Site.MIDFACIAL)
        neck = self.value_of(out, Quantity.CEJ_LEVEL, Site.MIDFACIAL)
        say(Quantity.MUCOGINGIVAL_LEVEL, self.mucogingival(placed), Site.MIDFACIAL)
        say(Quantity.KERATINISED_WIDTH, plan.keratinised, Site.MIDFACIAL)
        sulcus = self._sulcus(placed) - middle
        say(Quantity.PROBING_DEPTH, sulcus, Site.MIDFACIAL)
        say(Quantity.ATTACHED_WIDTH, plan.keratinised - sulcus, Site.MIDFACIAL)
        if neck > middle + 0.3:
            say(Quantity.GINGIVA_THICKNESS, self._gingiva_thickness(placed, neck), Site.MIDFACIAL)
        thickness = self._bone_thickness(placed, bone + 1.0)
        if thickness is not None:
            say(Quantity.BONE_THICKNESS, thickness, Site.MIDFACIAL)
        if plan.crowned:
            say(Quantity.FINISH_LINE_LEVEL, middle + FINISH_LINE_UNDER, Site.MIDFACIAL)
        return out

    @staticmethod
    def value_of(readings: list[QuantityReading], quantity: Quantity, site: Site) -> float:
        """The value of a reading just made."""
        return next(r.value for r in readings if r.quantity is quantity and r.site is site)

    def _crown(self, placed: Placed) -> Floats:
        """Points of the crown coronal to the margin, jaw coordinates."""
        lines, ring = placed.lines, self.margins[placed.tooth.fdi]
        limit = np.interp(np.mod(lines.phi, 2 * np.pi), ring.phi, ring.levels, period=2 * np.pi)
        return placed.to_jaw(np.concatenate([lines.points[lines.levels <= limit], lines.cap]))

    def _sulcus(self, placed: Placed) -> float:
        """Level of the bottom of the sulcus, midfacially."""
        collar = next(c for c in self.tissues.collars if c.placed is placed)
        phi = np.linspace(np.radians(50), np.radians(130), 161)
        points = placed.to_jaw(placed.body.surface(phi, collar.margin(phi) + collar.sulcus))
        at = placed.frame.coordinates(points)
        return float(curves.spline_at(at[:, 0], at[:, 2], 0.0))

    def _gingiva_thickness(self, placed: Placed, level: float) -> float:
        outer = curves.surface_point(self.tissues, placed, level)
        e = 0.02
        steps = np.concatenate([outer + e * np.eye(3), outer - e * np.eye(3)])
        g = self.tissues.gingiva(steps)
        n = (g[:3] - g[3:]) / np.linalg.norm(g[:3] - g[3:])
        depths = np.arange(0.0, 6.0, 0.05)
        d = placed.body.distance(placed.to_local(outer - depths[:, None] * n))
        k = int(np.argmax(d < 0))
        return float(depths[k - 1] + 0.05 * d[k - 1] / (d[k - 1] - d[k]))

    def _bone_thickness(self, placed: Placed, level: float) -> float | None:
        phi = np.linspace(np.radians(60), np.radians(120), 121)
        frame, body = placed.local_frame, placed.body
        w = np.full(121, level)
        for _ in range(6):
            w = w + level - frame.coordinates(body.surface(phi, w))[:, 2]
        at = frame.coordinates(body.surface(phi, w))
        mid = float(curves.spline_at(at[:, 0], phi, 0.0))
        low = float(curves.spline_at(at[:, 0], w, 0.0))
        root = body.surface(np.array([mid]), np.array([low]))
        n = body.normals(np.array([mid]), np.array([low]))
        depths = np.arange(LIGAMENT, 5.0, 0.02)
        inside = self.tissues.bone(placed.to_jaw(root + depths[:, None] * n))
        if inside[0] > 0:
            return None
        k = int(np.argmax(inside > 0))
        return float(depths[k - 1] + 0.02 * inside[k - 1] / (inside[k - 1] - inside[k])) - LIGAMENT

    def interproximal_crest(self, placed: Placed, across: float, tip: float) -> float | None:
        """Level of the most coronal bone in the plane ``across`` distal of mid-width, apical to the papilla tip's level.

        None where the plane meets no free bone there, or the root of a crowded neighbour first.
        """
        frame = placed.frame
        near = [c for c in self.tissues.collars if c.placed is placed or c.placed.tooth.is_neighbour_of(placed.tooth)]

        def teeth_and_bone(points: Floats) -> tuple[Floats, Floats]:
            """Signed distance to the neighbours; a field that is negative in bone outside teeth and ligaments."""
            field, others = self.tissues.bone(points), np.full(len(points), np.inf)
            for collar in near:
                d, phi, w = collar.placed.body.polar(collar.placed.to_local(points))
                field = np.maximum(field, collar.ligament_width(phi, w) - d)
                if collar.placed is not placed:
                    others = np.minimum(others, np.where(w > collar.placed.body.shape.crown, d, np.inf))
            return others, field

        depths = np.arange(-SEPTUM_HALF, SEPTUM_HALF + 0.01, 0.1)
        foot = frame.edge + (frame.middle + across) * frame.distal
        neck = frame.coordinates(self.cejs[placed.tooth.fdi].points)[:, 1]
        middle = float(neck.max() + neck.min()) / 2
        low = foot + (middle + depths[:, None]) * frame.facial + tip * frame.axis
        columns = np.arange(0, 12.0, 0.25)
        every = (low[:, None] + columns[None, :, None] * frame.axis).reshape(-1, 3)
        others, field = (values.reshape(len(low), -1) for values in teeth_and_bone(every))
        bone = field < 0
        k = np.argmax(bone, axis=1)
        behind = (others < 0).any(axis=1) & (~bone.any(axis=1) | (np.argmax(others < 0, axis=1) < k))
        found = bone.any(axis=1) & (k > 0)
        if not found.any() or behind[np.abs(depths) < SEPTUM_HALF / 2].mean() > 0.5:
            return None
        # The most coronal of them all lies in or beside the column that is first to meet bone.
        found &= k <= k[found].min() + 1
        a = low[found] + columns[k[found] - 1, None] * frame.axis
        b = low[found] + columns[k[found], None] * frame.axis
        points = a + curves.between(lambda p: teeth_and_bone(p)[1], a, b, 16)[:, None] * (b - a)
        return float(frame.coordinates(points)[:, 2].min())

    def _of_pair(self, pair: Pair) -> list[QuantityReading]:
        out: list[QuantityReading] = []
        ends = curves.contact_end(self.tissues.arch, pair)
        tip = self.tips[str(pair)]
        heights = []
        for tooth in (pair.right, pair.left):
            placed, site = self.tissues.arch.of(tooth), pair.site_of(tooth)
            frame = placed.frame
            across, _, level = (float(x) for x in frame.coordinates(tip[None])[0])
            _, length = self.zenith(placed)
            planes = (across - np.sign(across) * nearer for nearer in NEARER)
            crest = next(
                (c for x in planes if (c := self.interproximal_crest(placed, float(x), level)) is not None), None
            )
            cej = frame.coordinates(self.cejs[tooth.fdi].points)
            half = cej[:, 0] < 0 if site is Site.MESIAL else cej[:, 0] > 0
            values = {
                Quantity.MARGIN_LEVEL: level,
                Quantity.PAPILLA_HEIGHT: length - level,
                Quantity.CEJ_LEVEL: float(cej[half, 2].min()),
            }
            if crest is not None:
                values |= {Quantity.CREST_LEVEL: crest, Quantity.SOUNDING: crest - level}
                heights.append(float(tip[2] + (crest - level) * frame.axis[2]))
            if ends is not None:
                values[Quantity.CONTACT_LEVEL] = float(frame.coordinates(ends[tooth.fdi][None])[0, 2])
            out += [_reading(tooth, quantity, value, site) for quantity, value in values.items()]
        right, left = self.tissues.arch.of(pair.right), self.tissues.arch.of(pair.left)
        apart = root_distance(right, left, float(np.mean(heights))) if heights else None
        if apart is not None:
            out.append(_reading(pair.right, Quantity.ROOT_DISTANCE, apart, pair.site_of(pair.right)))
        return out


FINISH_LINE_UNDER = 0.3
"""Finish line of a crowned tooth apical to the margin, mm (common practice, no source)."""


def root_distance(right: Placed, left: Placed, height: float) -> float | None:
    """Least distance of two roots in a horizontal plane."""
    sections = []
    for placed in (right, left):
        points = placed.to_jaw(placed.lines.points)
        ring = placed.lines.ring(points[..., 2], height)
        sections.append(placed.to_jaw(ring)[np.isfinite(ring).all(axis=1)])
    if not len(sections[0]) or not len(sections[1]):
        return None
    return float(np.sqrt(((sections[0][:, None, :2] - sections[1][None, :, :2]) ** 2).sum(-1).min()))


def _apex(placed: Placed) -> float:
    """Level of the most apical point of the root."""
    end = placed.body.end
    w = (end - 0.02 - 1.5 * np.linspace(0, 1, 300) ** 2)[:, None]
    phi = np.linspace(0, 2 * np.pi, 90)[None]
    points = placed.to_jaw(placed.body.surface(*np.broadcast_arrays(phi, w)))
    return float(placed.frame.coordinates(points)[..., 2].max())


def _reading(tooth: Tooth, quantity: Quantity, value: float, site: Site | None) -> QuantityReading:
    return QuantityReading(
        tooth=tooth.fdi,
        site=site,
        quantity=quantity,
        value=round(value, 4),
        datum=Datum.PRESENT_EDGE if quantity.is_level else None,
        by="phantom",
    )

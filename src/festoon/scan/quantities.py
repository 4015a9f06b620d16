"""From a traced arch to readings, each with its standard error and, where something is doubtful, a flag."""

from __future__ import annotations

import numpy as np

from festoon.model.dentition import Site, as_seen
from festoon.model.quantities import Quantity, QuantityReading
from festoon.model.reading import Datum, Method
from festoon.scan.doubts import BY_HAND, doubts_of
from festoon.scan.errors import HAND_SE, TIP_SE, Errors
from festoon.scan.landmarks import LINE_ANGLE_SHARE, Papilla, crossing, papillae, zenith
from festoon.scan.tooth import ScannedTooth
from festoon.scan.trace import TracedArch

WIDE = "known only to within"
"""Begins the remark on a reading that is not doubted and whose error is large: the error says it all."""


def readings_of(arch: TracedArch) -> tuple[QuantityReading, ...]:
    """Every reading of a traced arch, tooth by tooth as seen.

    Levels are along the facial long axis from the present edge. What cannot be read is left out: no reading is ever a guess.
    """
    every = papillae(arch)
    out: list[QuantityReading] = []
    for tooth in as_seen(arch.teeth):
        out += _of_tooth(arch, arch.teeth[tooth], every)
    return tuple(out)


def _of_tooth(arch: TracedArch, tooth: ScannedTooth, every: tuple[Papilla, ...]) -> list[QuantityReading]:
    errors, frame = Errors(arch, tooth), tooth.frame
    doubts = doubts_of(arch, tooth)
    out: list[QuantityReading] = []

    def say(quantity: Quantity, value: float, se: float, site: Site | None = None, also: str = "") -> None:
        se = round(max(se, 0.001) * doubts.widening(quantity, site), 3)
        said = [*doubts.of(quantity, site), *doubts.set_by_hand(quantity, site), *([also] if also else [])]
        if se > _WEAK and not said:
            said = [f"{WIDE} {1.96 * se:.1f} mm"]
        out.append(
            QuantityReading(
                tooth=tooth.tooth.fdi,
                site=site,
                quantity=quantity,
                value=round(value, 3),
                se=se,
                method=Method.SCAN,
                datum=Datum.PRESENT_EDGE if quantity.is_level else None,
                flag="; ".join(said) or None,
            )
        )

    found = zenith(tooth)
    nearer, further = (zenith(tooth, other) for other in tooth.cover_slope)
    hidden = abs(further.level - nearer.level) / 2
    length_se = float(np.hypot(errors.level(found.offset + frame.middle, found.forward), hidden))
    say(Quantity.CROWN_WIDTH, frame.width, errors.width)
    say(Quantity.CROWN_LENGTH, found.level, length_se)
    say(Quantity.ZENITH_OFFSET, found.offset, errors.zenith_offset(found, abs(further.offset - nearer.offset) / 2))
    say(Quantity.EDGE_HEIGHT, float(frame.edge @ arch.frame.apical), errors.edge_height())
    apart = LINE_ANGLE_SHARE * frame.width
    for site, across, lingual in (
        (Site.MESIOFACIAL, -apart, False),
        (Site.MIDFACIAL, 0.0, False),
        (Site.DISTOFACIAL, apart, False),
        (Site.MIDLINGUAL, 0.0, True),
    ):
        here = crossing(tooth, across, lingual)
        if here is None:
            continue
        beside = [crossing(tooth, across + d, lingual) for d in (-0.3, 0.3)]
        steep = (
            abs(float(beside[1][2] - beside[0][2])) / 0.6 if beside[0] is not None and beside[1] is not None else 0.0
        )
        spread = [crossing(tooth, across, lingual, other) for other in tooth.cover_slope]
        cover = abs(float(spread[1][2] - spread[0][2])) / 2 if spread[0] is not None and spread[1] is not None else 0.0
        se = errors.level(across + frame.middle, float(here[1]), steep, lingual)
        say(Quantity.MARGIN_LEVEL, float(here[2]), float(np.hypot(se, cover)), site)
    for papilla in every:
        if tooth.tooth not in (papilla.pair.right, papilla.pair.left):
            continue
        site = papilla.pair.site_of(tooth.tooth)
        across, forward, level = (float(v) for v in frame.coordinates(papilla.tip))
        both = "" if papilla.apart < _APART else f"its two teeth read the papilla tip {papilla.apart:.1f} mm apart"
        both = f"papilla tip {BY_HAND}" if papilla.by_hand else both
        own = HAND_SE if papilla.by_hand else float(np.hypot(TIP_SE, papilla.apart / 2))
        se = float(np.hypot(errors.level(across + frame.middle, forward), own))
        say(Quantity.MARGIN_LEVEL, level, se, site, both)
        apart_se = errors.height(own, length_se, across - found.offset)
        say(Quantity.PAPILLA_HEIGHT, found.level - level, apart_se, site, both)
    return out


_WEAK = 0.26
"""A standard error above which half a millimetre is no longer excluded (1.96 of them), mm: said."""
_APART = 0.8
"""Two readings of one papilla further apart than this are doubtful, mm."""

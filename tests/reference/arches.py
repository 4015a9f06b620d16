"""Random invented arches for the reference tests and the benchmark; the same seed gives the same arch."""

from __future__ import annotations

import random
from typing import Any

from festoon.model.dentition import Tooth, as_seen
from festoon.planning.problem import Problem
from mouths import problem, tooth


def arch(seed: int, n: int = 14, *, is_mixed: bool = False) -> Problem:
    """The posed problem of the ``n`` front teeth of an upper arch, none alike: short teeth, uneven margins, near crests.

    ``is_mixed`` puts an implant, a pontic and an excluded tooth into it and leaves one crest unread.
    """
    draw = random.Random(seed)

    def near(value: float, by: float) -> float:
        return round(value + draw.uniform(-by, by), 2)

    teeth: dict[str, dict[str, Any]] = {}
    for place in as_seen(Tooth(f"{q}{p}") for q in (1, 2) for p in range(1, n // 2 + 1)):
        position = place.position
        margin = near({1: 8.3, 2: 6.9, 3: 8.4, 4: 7.2, 5: 6.7, 6: 6.4, 7: 6.2}[position], 0.7)
        tip = round(margin * 0.55, 2)
        angle = round(tip + 0.6 * (margin - tip), 2)
        sites = {
            side: {"margin_mm": tip, "sounding_mm": near(3.9, 0.4), "contact_mm": round(tip - 0.4, 2)}
            for side in ("mesial", "distal")
        } | {
            side: {"margin_mm": angle, "sounding_mm": near(2.7, 0.5), "cej_mm": round(angle + 2.4, 2)}
            for side in ("mesiofacial", "distofacial")
        }
        chart = tooth(
            place.fdi,
            margin=margin,
            sounding=near(2.6, 0.6),
            cej=round(margin + draw.uniform(0.8, 2.6), 2),
            mucogingival=round(margin + draw.uniform(3.0, 6.0), 2),
            incisal_extension_mm=draw.choice((0.0, 0.0, 0.5, -0.3)),
            axis_tip_deg=near(0.0, 6.0),
            axis_torque_deg=near(5.0, 6.0),
            sites=sites,
        )
        chart["width_mm"] = near(chart["width_mm"], 0.4)
        chart["edge_height_mm"] = near(chart["edge_height_mm"], 0.3)
        if position >= 6:
            chart["target_length_mm"] = round(margin + draw.uniform(0.3, 1.4), 2)
            chart["furcation_mm"] = {side: round(margin + 8.5, 2) for side in ("facial", "mesial", "distal")}
        teeth[place.fdi] = chart
    if is_mixed:
        for place, standing in zip(draw.sample(sorted(teeth), 3), ("implant", "pontic", "excluded"), strict=True):
            teeth[place]["status"] = standing
        unread = draw.choice(sorted(teeth))
        del teeth[unread]["sites"]["midfacial"]["sounding_mm"]
    return problem(teeth)

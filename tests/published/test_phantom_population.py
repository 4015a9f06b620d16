"""The sizes of phantoms are distributed as the published tables say."""

from __future__ import annotations

import sys
from functools import cache
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "reference"))

from phantom_spread import compare
from phantoms import crossings, solid_faults

from festoon.evidence.table import published
from festoon.model.dentition import Tooth
from festoon.phantom import population
from festoon.phantom.arch import build_arch
from festoon.phantom.mouth import Mouth, draw_mouth
from festoon.phantom.solids import build_solids
from festoon.phantom.tissues import build_tissues
from festoon.phantom.truth import Truth

CUT = 0.96
"""A normal spread cut at 2.5 standard deviations (values beyond it moved to it) keeps about this much of itself."""


@cache
def four_hundred() -> tuple[Mouth, ...]:
    return tuple(draw_mouth(seed) for seed in range(400))


@pytest.mark.parametrize(
    ("key", "tooth", "row"),
    [
        ("width", "11", "CRN-001"), ("width", "12", "CRN-005"), ("width", "13", "CRN-009"),
        ("length", "11", "CRN-003"), ("length", "12", "CRN-007"), ("length", "13", "CRN-011"),
        ("margin_to_crest", "11", "STA-020"), ("margin_to_crest", "12", "STA-021"), ("margin_to_crest", "13", "STA-022"),
        ("gingiva", "11", "STA-023"), ("gingiva", "12", "STA-024"), ("gingiva", "13", "STA-025"),
        ("zenith_offset", "11", "GIN-005"), ("zenith_offset", "12", "GIN-006"), ("zenith_offset", "13", "GIN-007"),
        ("papilla", "11", "GIN-025"), ("papilla", "12", "GIN-026"), ("papilla", "13", "GIN-027"),
        ("keratinised", "11", "HEAL-003"), ("root", "13", "ROOT-001"),
    ],
)  # fmt: skip
def test_drawn_mouths_follow_the_table(key: str, tooth: str, row: str) -> None:
    """Mean within three standard errors of both samples; spread within 15 % where the table prints one. Source: the row."""
    mouths = four_hundred()
    men_only = row.startswith("CRN-")
    drawn = np.array([getattr(m.plan(Tooth(tooth)), key) for m in mouths if not men_only or m.sex == "male"])
    source = published(row)
    sd = source.sd or {"width": population.crown_width(True, 1, "male").sd, "length": population.crown_length(True, 1, "male").sd,
                       "root": population.root_length(True, 3).sd}[key]  # fmt: skip
    error = np.hypot(sd / np.sqrt(len(drawn)), sd / np.sqrt(source.n) if source.n else 0.0)
    assert abs(drawn.mean() - source.value) < 3 * error
    assert drawn.std(ddof=1) == pytest.approx(CUT * sd, rel=0.15)


def test_cej_lies_apical_to_the_margin_and_coronal_to_the_crest() -> None:
    """Health: margin, then CEJ, then crest at least 0.7 mm further, at every tooth of 100 mouths (GIN-061: 1 to 2 mm)."""
    for seed in range(100):
        for plan in draw_mouth(seed).teeth:
            assert plan.length < plan.cej
            assert plan.length + plan.margin_to_crest - plan.cej >= 0.7 - 1e-9
    gaps = [
        p.length + p.margin_to_crest - p.cej for s in range(100) for p in draw_mouth(s).teeth if p.tooth.position <= 3
    ]
    # GIN-061 prints 1.0 to 2.0 mm, GIN-060 tooth means of 2.24 to 3.08 mm.
    assert 1.0 < float(np.mean(gaps)) < 3.08


@pytest.mark.endurance
@pytest.mark.slow
def test_a_hundred_phantoms_are_whole_and_spread_as_published(tmp_path: Path) -> None:
    """100 seeds: watertight, no self-intersection, true values (measured, not drawn) as the tables say. Takes about half an hour."""
    people = []
    for seed in range(100):
        mouth = draw_mouth(seed, per_side=3)
        truth = Truth(build_tissues(build_arch(mouth)))
        values = {(r.tooth or "", r.quantity.value, r.site.value if r.site else None): r.value for r in truth.readings}
        people.append((mouth.sex, values))
        solids = build_solids(truth.tissues, 0.3)
        assert solid_faults(solids) == [], seed
        assert crossings(solids, tmp_path) == [], seed
    for line in compare(people):
        # The shape adds its own small bias to what was drawn: 0.15 mm are allowed beside three standard errors. Known: the mesial
        # papilla of the canine shares its tip with the lateral and is 0.8 mm higher (docs/phantom.md).
        own = 0.9 if line.what.startswith("GIN-027") else 0.15
        error = abs((line.mean - line.wanted) / line.z) if line.z else 0.0
        assert abs(line.mean - line.wanted) < own + 3 * error, str(line)
        assert line.sd == pytest.approx(line.wanted_sd, rel=0.4), str(line)

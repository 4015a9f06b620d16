"""Where papers disagree: each published answer as a preset with its source, never one hidden truth.

A case chooses by name in ``policy.presets``; the plan prints every preset of a quantity with the chosen one marked.
"""

from __future__ import annotations

from dataclasses import dataclass

from festoon.evidence.table import published


@dataclass(frozen=True)
class Preset:
    """One published answer to a question on which papers disagree."""

    name: str
    words: str
    source: str


@dataclass(frozen=True)
class ZenithPreset(Preset):
    """Distance of the zenith from the middle of the width, distal positive, mm, by position from the midline."""

    offset_mm: dict[int, float]


@dataclass(frozen=True)
class LateralPreset(Preset):
    """How far coronal to the central-canine line a lateral's margin lies, mm, from and to."""

    band_mm: tuple[float, float]


@dataclass(frozen=True)
class PhenotypePreset(Preset):
    """Thin up to and thick from these thicknesses of gingiva, mm; between them neither."""

    thin_to_mm: float
    thick_from_mm: float


def _cited(*rows: str) -> str:
    return "; ".join(published(row).citation for row in rows)


def _mean(*rows: str) -> float:
    return sum(published(row).value for row in rows) / len(rows)


def _around(row: str) -> tuple[float, float]:
    """Mean plus and minus one standard deviation."""
    value = published(row)
    return round(value.value - (value.sd or 0.0), 2), round(value.value + (value.sd or 0.0), 2)


ZENITH: tuple[ZenithPreset, ...] = (
    ZenithPreset(
        "middle",
        "105 adults: centrals 0.73, laterals 0.61",
        _cited("GIN-013", "GIN-014", "GIN-015", "GIN-016"),
        {1: _mean("GIN-013", "GIN-014"), 2: _mean("GIN-015", "GIN-016")},
    ),
    ZenithPreset(
        "far",
        "20 adults: centrals 1.0, laterals 0.4, canines on the axis",
        _cited("GIN-001", "GIN-002", "GIN-003"),
        {1: _mean("GIN-001"), 2: _mean("GIN-002"), 3: 0.0},
    ),
    ZenithPreset(
        "near",
        "60 adults: centrals 0.41, laterals 0.22, canines 0.13, premolars 0.18 and 0.17",
        _cited("GIN-005", "GIN-006", "GIN-007", "GIN-008", "GIN-009"),
        {position: _mean(f"GIN-{row:03}") for position, row in zip(range(1, 6), range(5, 10), strict=True)},
    ),
)
"""Zenith offset; the first is the default: the largest sample with both incisors."""

LATERAL: tuple[LateralPreset, ...] = (
    LateralPreset(
        "half_to_one",
        "0.5 to 1.0 mm, spans the published means",
        "CP-007; GIN-004, GIN-010, GIN-017, GIN-018",
        (0.5, 1.0),
    ),
    LateralPreset("six_tenths", "0.60 mm plus and minus one standard deviation", _cited("GIN-010"), _around("GIN-010")),
    LateralPreset("one", "about 1.0 mm", _cited("GIN-004"), (0.75, 1.25)),
)
"""Place of the lateral; 1 healthy mouth in 5 follows none of them (GIN-020)."""

PHENOTYPE: tuple[PhenotypePreset, ...] = (
    PhenotypePreset(
        "one", "thin up to 1.0 mm, thick above", _cited("STA-034"), published("STA-034").high or 1.0,
        published("STA-034").high or 1.0,
    ),
    PhenotypePreset(
        "one_and_half", "thin up to 1.5 mm, thick from 2.0 mm", _cited("STA-035"), published("STA-035").low or 1.5,
        published("STA-035").high or 2.0,
    ),
)  # fmt: skip
"""Thin and thick by measured thickness; probe show-through agrees with it only slightly (STA-036)."""

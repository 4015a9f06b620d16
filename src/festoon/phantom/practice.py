"""A synthetic practice whose truth is known: what several operators planned, cut, sutured and saw heal.

Only readings, no solids. Every spread below is a setting of the phantom; the rebound follows printed cohorts.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from festoon.evidence.table import published

Table = dict[str, Any]
"""Columns by name, arrays of one length."""
TEETH = ("13", "12", "11", "21", "22", "23")
PLACES = tuple(
    (tooth, site, kind)
    for tooth in TEETH
    for site, kind in (
        ("mesial", "interproximal"), ("midfacial", "facial"), ("distofacial", "line_angle"), ("midlingual", "lingual"),
    )
    if site in ("midfacial", "distofacial") or tooth in ("11", "21")
)  # fmt: skip
"""Tooth, site and kind of site, tooth by tooth. Between the teeth nothing is cut."""
VISIT_DAYS = (14, 42, 91, 182, 365)
SHARE_SEEN = (0.70, 0.92, 0.96, 1.0, 1.0)
"""Of the 6-month rebound at each visit: setting of the phantom; the printed course is nearly done at 6 weeks (HEAL-014)."""
KINDS = ("none", "gingival-line", "gingival-and-crest", "crest")
PROCEDURES = ("gingivectomy", "gingivectomy_with_ostectomy", "apical_flap_with_ostectomy")
SHARE_OF_PROCEDURES = (0.2, 0.4, 0.4)
"""Settings of the phantom."""


@dataclass(frozen=True)
class PracticeTruth:
    """What is true of the practice; mm, apical positive unless a name says otherwise."""

    operators: tuple[str, ...] = ("op-1", "op-2", "op-3", "op-4")
    cut_bias_mm: tuple[float, ...] = (-0.30, 0.0, 0.10, 0.25)
    """Margin after the cut less planned, by operator."""
    crest_bias_mm: float = -0.15
    suture_bias_mm: float = -0.10
    sd_patient_mm: float = 0.15
    sd_tooth_mm: float = 0.10
    sd_site_mm: float = 0.25
    sounding_bias_mm: float = -0.20
    sounding_sd_mm: float = 0.60
    reading_sd_mm: float = 0.15
    rebound_at_mm: tuple[float, ...] = (1.0, 2.0, 3.0, 4.0)
    """Sutured margin-to-crest distances between which the rebound runs straight."""
    rebound_mm: tuple[float, ...] = (
        published("HEAL-036").value, published("HEAL-011").value, published("HEAL-012").value, published("HEAL-013").value
    )  # fmt: skip
    """Coronal positive, at those distances, thick and thin averaged."""
    thick_more_mm: float = 0.08
    """Thick rebounds by this more, thin by this less."""
    rebound_sd_patient_mm: float = 0.20
    rebound_sd_site_mm: float = 0.25
    redo_chance: float = 0.04
    missed_chance: float = 0.08
    dropout_chance: float = 0.06
    """Of never coming again, before each visit."""

    def as_dict(self) -> dict[str, Any]:
        """For JSON."""
        return asdict(self)


def make_practice(seed: int, first: int, count: int, truth: PracticeTruth, practice: str = "practice-a") -> Table:
    """Cases ``first`` to ``first + count - 1`` of a practice as the long table of the audit.

    Same seed, numbers and truth, same table; a block of cases depends on its first number.
    """
    rng = np.random.default_rng([seed, first])
    places = len(PLACES)
    tooth_of = np.array([TEETH.index(tooth) for tooth, _, _ in PLACES])
    between = np.array([kind == "interproximal" for _, _, kind in PLACES])

    def per_case(values: Any) -> Any:
        return np.repeat(values, places)

    def per_tooth(sd: float) -> Any:
        return rng.normal(0, sd, (count, len(TEETH)))[:, tooth_of].ravel()

    def per_site(sd: float) -> Any:
        return rng.normal(0, sd, count * places)

    number = np.arange(first, first + count)
    operator = number % len(truth.operators)
    thick = rng.random(count) < 0.5
    kind = rng.integers(0, len(KINDS), count)
    need = rng.uniform(1.8, 4.4, count)
    procedure = rng.choice(len(PROCEDURES), count, p=SHARE_OF_PROCEDURES)
    level = np.where(between, 4.5, np.array([9.7, 8.4, 10.2, 10.2, 8.4, 9.7])[tooth_of])
    margin = np.tile(level, count) + per_case(rng.normal(0, 0.5, count))
    margin = np.round(margin, 3)
    crest_plan = np.round(margin + per_case(need), 3)
    crest_before = crest_plan - np.abs(per_site(0.5)) - 0.8
    sounded = crest_before + truth.sounding_bias_mm + per_site(truth.sounding_sd_mm)
    hand = per_case(rng.normal(0, truth.sd_patient_mm, count)) + per_tooth(truth.sd_tooth_mm)
    cut = margin + per_case(np.asarray(truth.cut_bias_mm)[operator]) + hand + per_site(truth.sd_site_mm)
    crest = crest_plan + truth.crest_bias_mm + hand + per_site(truth.sd_site_mm)
    sutured = margin + truth.suture_bias_mm + hand + per_site(truth.sd_site_mm)
    shift = np.interp(crest - sutured, truth.rebound_at_mm, truth.rebound_mm)
    shift = shift + per_case(np.where(thick, 1.0, -1.0) * truth.thick_more_mm)
    shift = shift + per_case(rng.normal(0, truth.rebound_sd_patient_mm, count)) + per_site(truth.rebound_sd_site_mm)

    def read(level: Any) -> Any:
        return np.round(level + per_site(truth.reading_sd_mm), 1)

    crest_read, sutured_read = read(crest), read(sutured)
    gone = rng.random((count, len(VISIT_DAYS))) < truth.dropout_chance
    missed = (rng.random((count, len(VISIT_DAYS))) < truth.missed_chance) | (np.cumsum(gone, axis=1) > 0)
    always = np.ones(count * places, dtype=bool)
    collar = np.tile(~between, count)
    bone = collar & per_case(procedure > 0)
    blocks = [
        ("open", 0, "crest_level", np.round(sounded, 1), read(crest_before), always),
        ("cut", 0, "margin_level", margin, read(cut), collar),
        ("cut", 0, "crest_level", crest_plan, crest_read, bone),
        ("suture", 0, "margin_level", margin, sutured_read, always),
    ]
    for k, (day, share) in enumerate(zip(VISIT_DAYS, SHARE_SEEN, strict=True)):
        blocks.append(("recall", day, "margin_level", margin, read(sutured - share * shift), per_case(~missed[:, k])))
    return _table(
        blocks,
        {
            "practice": np.full(count * places, practice),
            "case": per_case(np.array([f"case-{k:06d}" for k in number])),
            "operator": per_case(np.asarray(truth.operators)[operator]),
            "surgery_order": per_case(number // len(truth.operators) + 1),
            "tooth": np.tile([tooth for tooth, _, _ in PLACES], count),
            "site": np.tile([site for _, site, _ in PLACES], count),
            "site_type": np.tile([kind for _, _, kind in PLACES], count),
            "phenotype": per_case(np.where(thick, "thick", "thin")),
            "procedure": per_case(np.asarray(PROCEDURES)[procedure]),
            "template_kind": per_case(np.asarray(KINDS)[kind]),
            "redo": per_case(rng.random(count) < truth.redo_chance),
        },
        {"sutured_mm": sutured_read, "distance_mm": np.where(bone, np.round(crest_read - sutured_read, 2), np.nan)},
        truth.reading_sd_mm,
    )


def _table(blocks: list[Any], fixed: Table, sutured: Table, se: float) -> Table:
    """Blocks of one moment each, stacked."""
    parts: dict[str, list[Any]] = {}
    for moment, day, quantity, planned, measured, mask in blocks:
        size = int(mask.sum())
        later = moment in ("suture", "recall")
        rows = {name: values[mask] for name, values in fixed.items()} | {
            "moment": np.full(size, moment),
            "days": np.full(size, day),
            "quantity": np.full(size, quantity),
            "planned_mm": planned[mask],
            "measured_mm": measured[mask],
            "se_mm": np.full(size, se),
            "datum": np.full(size, "planned_edge"),
        }
        rows |= {name: values[mask] if later else np.full(size, np.nan) for name, values in sutured.items()}
        for name, values in rows.items():
            parts.setdefault(name, []).append(values)
    return {name: np.concatenate(arrays) for name, arrays in parts.items()}

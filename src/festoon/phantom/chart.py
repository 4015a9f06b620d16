"""The chart of a phantom: what a careful examiner would have written down, errors of probe and eye included."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from festoon.evidence.errors import default_method, reading_error
from festoon.evidence.table import published
from festoon.model.case import Case
from festoon.model.dentition import Site
from festoon.model.quantities import Quantity
from festoon.model.reading import DepthReading
from festoon.phantom.mouth import ToothPlan
from festoon.phantom.truth import Truth

EXAMINED = dt.date(2026, 1, 12)
"""The day of every phantom's chart; nothing depends on it."""
_FINE = {"width_mm": 0.1, "bone_thickness_mm": 0.1, "gingiva_thickness_mm": 0.1, "root_distance_mm": 0.1}
"""What a reading is rounded to where it is not 0.5 mm, the mark of the probe."""
_SITES = {
    Site.MIDFACIAL: (
        Quantity.MARGIN_LEVEL, Quantity.PROBING_DEPTH, Quantity.SOUNDING, Quantity.CEJ_LEVEL, Quantity.MUCOGINGIVAL_LEVEL,
        Quantity.BONE_THICKNESS, Quantity.GINGIVA_THICKNESS,
    ),
    Site.MESIAL: (Quantity.MARGIN_LEVEL, Quantity.SOUNDING, Quantity.CONTACT_LEVEL),
    Site.DISTAL: (Quantity.MARGIN_LEVEL, Quantity.SOUNDING, Quantity.CONTACT_LEVEL),
}  # fmt: skip


@dataclass(frozen=True)
class Charted:
    """One charted number beside its truth."""

    tooth: str
    site: str | None
    key: str
    true: float
    charted: float
    error_sd: float
    """Spread of the error that was drawn, before rounding."""


class _Examiner:
    """Reads true values with the published error of each method."""

    def __init__(self, truth: Truth, rng: np.random.Generator) -> None:
        self.truth, self.rng = truth, rng
        self.written: list[Charted] = []

    def read(self, tooth: str, quantity: Quantity, site: Site | None = None, least: float = 0.5) -> float | None:
        """The charted value of a true one; None where there is none."""
        true = self.truth.value(tooth, quantity, site)
        key = quantity.case_key
        if true is None or key is None:
            return None
        method = default_method(key)
        se = reading_error(key, DepthReading(value=true, method=method)).se_mm
        step = _FINE.get(key, 0.5)
        noisy = true + se * float(np.clip(self.rng.standard_normal(), -2, 2))
        value = round(max(least, step * round(noisy / step)), 3)
        self.written.append(Charted(tooth, site.value if site else None, key, true, value, round(se, 4)))
        return value

    def look_again(self, tooth: str, site: Site, entries: dict[str, float], key: str, value: float) -> None:
        """Write ``value`` for a number that contradicts another of its site: nobody leaves that in a chart."""
        if entries[key] == value:
            return
        entries[key] = value
        at = next(k for k, c in enumerate(self.written) if (c.tooth, c.site, c.key) == (tooth, site.value, key))
        self.written[at] = replace(self.written[at], charted=value)


def make_chart(truth: Truth, name: str, seed: int) -> tuple[Case, tuple[Charted, ...]]:
    """The case of a phantom, format ``festoon-case/1``, and every charted number beside its truth.

    The errors are drawn once per reading from the published error of its default method (:mod:`festoon.evidence.errors`), cut
    at two standard deviations, then rounded to the mark of the instrument. Health questions are answered as for a healthy
    adult; teeth behind the second premolar are not charted.
    """
    rng = np.random.default_rng([seed, 55])
    mouth = truth.tissues.arch.mouth
    examiner = _Examiner(truth, rng)
    teeth: dict[str, Any] = {
        plan.tooth.fdi: _tooth(examiner, truth, plan) for plan in mouth.teeth if plan.tooth.position <= 5
    }
    for tooth in mouth.missing:
        if tooth.position <= 5:
            teeth[tooth.fdi] = {"status": "absent"}
    papillae = {}
    for pair in mouth.pairs:
        if max(pair.right.position, pair.left.position) <= 5:
            apart = examiner.read(pair.right.fdi, Quantity.ROOT_DISTANCE, pair.site_of(pair.right), least=0.1)
            if apart is not None:
                papillae[str(pair)] = {"root_distance_mm": apart}
    thin = published("STA-034").high or 1.0
    front = [
        value
        for plan in mouth.teeth
        if plan.tooth.position <= 3
        and (value := truth.value(plan.tooth.fdi, Quantity.GINGIVA_THICKNESS, Site.MIDFACIAL)) is not None
    ]
    data: dict[str, Any] = {
        "format": "festoon-case/1",
        "case": name,
        "notation": "fdi",
        "examined_at": EXAMINED,
        "subject": {"age_years": mouth.age, "sex": mouth.sex, "growth_complete": True, "health": _HEALTHY},
        "face": {"horizontal": "occlusal_plane"},
        "phenotype": "unknown" if not front else "thin" if float(np.mean(front)) <= thin else "thick",
        "teeth": teeth,
        "papillae": papillae,
    }
    if mouth.upper:
        data["smile"] = _smile(truth, rng)
    return Case.model_validate(data), tuple(examiner.written)


_HEALTHY = {
    "smoker": False, "anticoagulant": False, "antiplatelet": False, "bleeding_disorder": False, "antiresorptive": False,
    "jaw_radiotherapy": False, "diabetes": "none", "overgrowth_drug": False, "immunosuppression": False,
    "endocarditis_risk": False, "pregnancy": False, "active_periodontitis": False, "allergy": "none",
    "previous_surgery": False, "expectation_concern": False,
}  # fmt: skip


def _tooth(examiner: _Examiner, truth: Truth, plan: ToothPlan) -> dict[str, Any]:
    fdi = plan.tooth.fdi
    sites: dict[str, Any] = {}
    for site, quantities in _SITES.items():
        entries: dict[str, float] = {}
        for quantity in quantities:
            if quantity is Quantity.CEJ_LEVEL and plan.crowned:
                continue  # hidden under the crown
            least = 0.1 if quantity.case_key in _FINE else 0.5
            value = examiner.read(fdi, quantity, site, least)
            if value is not None and quantity.case_key is not None:
                entries[quantity.case_key] = value
        if "contact_mm" in entries and "margin_mm" in entries:
            lowest = min(entries["contact_mm"], entries["margin_mm"])
            examiner.look_again(fdi, site, entries, "contact_mm", lowest)
        if "sounding_mm" in entries and "probing_mm" in entries:
            deepest = max(entries["sounding_mm"], entries["probing_mm"])
            examiner.look_again(fdi, site, entries, "sounding_mm", deepest)
        if entries:
            sites[site.value] = entries
    placed = truth.tissues.arch.of(plan.tooth)
    tip, torque = tip_and_torque(placed.frame.distal, placed.frame.facial, placed.frame.axis)
    height = truth.value(fdi, Quantity.EDGE_HEIGHT) or 0.0
    offset = truth.value(fdi, Quantity.ZENITH_OFFSET) or 0.0
    return {
        "status": "crowned" if plan.crowned else "natural",
        "width_mm": examiner.read(fdi, Quantity.CROWN_WIDTH),
        "edge_height_mm": round(height, 1),
        "axis_tip_deg": round(tip),
        "axis_torque_deg": round(torque),
        "incisal_extension_mm": 0.0,
        "edge_worn": plan.worn > 0,
        "restoration": "present" if plan.crowned else "none",
        "root_apex_mm": examiner.read(fdi, Quantity.ROOT_APEX_LEVEL),
        "root_form": "tapered",
        "zenith_offset_mm": round(offset, 1),
        "mobility": 0,
        "crowded": plan.set_back > 0,
        "rotation_deg": plan.turned_deg,
        "sites": sites,
    }


def tip_and_torque(distal: Any, facial: Any, axis: Any) -> tuple[float, float]:
    """Tip (root distal positive) and torque (crown facial positive) of a facial long axis, degrees."""
    flat_distal, flat_facial = np.array([*distal[:2], 0.0]), np.array([*facial[:2], 0.0])
    flat_facial /= np.linalg.norm(flat_facial)
    flat_distal /= np.linalg.norm(flat_distal)
    return (
        float(np.degrees(np.arctan2(axis @ flat_distal, axis[2]))),
        float(np.degrees(np.arctan2(-(axis @ flat_facial), axis[2]))),
    )


def _smile(truth: Truth, rng: np.random.Generator) -> dict[str, Any]:
    """Lip and display, drawn from the published means; gingival display follows from them and the crown length."""
    mouth = truth.tissues.arch.mouth
    rest = published("AES-027" if mouth.sex == "female" else "AES-026").value + 0.8 * float(
        np.clip(rng.standard_normal(), -2, 2)
    )
    travel = published("AES-021").value + 1.2 * float(np.clip(rng.standard_normal(), -2, 2))
    # AES-025 prints women; its note gives men 2.2 mm more.
    lip = published("AES-025").value + (0.0 if mouth.sex == "female" else 2.2)
    centrals = [
        length
        for plan in mouth.teeth
        if plan.tooth.position == 1 and (length := truth.value(plan.tooth.fdi, Quantity.CROWN_LENGTH)) is not None
    ]
    smile = {
        "lip_length_mm": round(lip * 2) / 2,
        "lip_travel_mm": round(travel * 2) / 2,
        "rest_display_mm": round(rest * 2) / 2,
        "posed": True,
    }
    if centrals:
        smile["gingival_display_mm"] = round((rest + travel - float(np.mean(centrals))) * 2) / 2
    return smile


def as_records(charted: tuple[Charted, ...]) -> list[dict[str, Any]]:
    """The charted numbers as plain data."""
    return [asdict(one) for one in charted]

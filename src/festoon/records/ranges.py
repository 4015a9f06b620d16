"""How large a value can be, and how large it usually is, with the source of each range.

Outside the first range a value is refused: no mouth has it, so something else was written than was read. Outside the
second it is noted and kept. Levels are from the present edge.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from festoon.evidence.defaults import COMMON_PRACTICE
from festoon.model.case import Case
from festoon.model.dentition import Site, SiteKind
from festoon.model.reading import Frozen, Reading
from festoon.records.concern import SAME_MM, Concern, Listed, Path, in_words, listed

_CP = COMMON_PRACTICE


@dataclass(frozen=True)
class Range:
    """What is possible and what is usual of one key of the case file, in the unit of the key."""

    low: float
    high: float
    usual_low: float
    usual_high: float
    source: str
    """Evidence ids of the usual range; what is possible is common practice, no source, unless an id says otherwise."""
    ask: str = ""
    """A question for whoever wrote the value, where a certain slip is likely."""


_SWAPPED = "Are mesial and distal swapped? Distal is positive on both sides."

RANGES: dict[str, Range] = {
    # Sites.
    "sounding_mm": Range(0.3, 10, 1.8, 6.2, "STA-015, 1932 sites of healthy adults; attachment alone 0.2-6.7, STA-014"),
    "probing_mm": Range(0, 12, 0, 4, f"STA-004, STA-005; 4 mm as a pocket: {_CP}"),
    "margin_mm": Range(1, 20, 4, 13, "clinical crown lengths CRN-003 to CRN-026, unworn crown CRN-032 (memory)"),
    "papilla tip": Range(0, 18, 1.5, 9, "GIN-021 to GIN-024, papilla 42-43 % of the crown"),
    "crest_mm": Range(1, 32, 4, 19, "margins as above with STA-015"),
    "cej_mm": Range(0, 22, 4, 13, "anatomic crown lengths CRN-032 to CRN-044 (memory)"),
    "mucogingival_mm": Range(1, 35, 6, 22, "margins as above with keratinised widths 1-9, DX-012"),
    "contact_mm": Range(-1, 16, 1, 9, "GIN-044 to GIN-056"),
    "sound_tooth_mm": Range(-1, 28, 0, 16, _CP),
    "existing_finish_line_mm": Range(0, 25, 2, 14, _CP),
    "bone_thickness_mm": Range(0, 12, 0, 3, "means 0.55-0.72, SD up to 0.9, ERR-022 to ERR-028; thicker: ledges"),
    "gingiva_thickness_mm": Range(0.1, 8, 0.4, 3, "means 1.1-1.5, STA-023 to STA-025"),
    "attached_mm": Range(0, 15, 0, 9, "DX-012, keratinised 1-9"),
    "ferrule_mm": Range(0, 8, 0, 3, "DX-015"),
    # Teeth.
    "width_mm": Range(3, 14, 4.5, 12, "CRN-001 to CRN-031"),
    "future_width_mm": Range(3, 14, 4.5, 12, "CRN-001 to CRN-031"),
    "edge_height_mm": Range(-15, 15, -6, 6, _CP),
    "axis_tip_deg": Range(-60, 60, -30, 30, _CP),
    "axis_torque_deg": Range(-60, 60, -45, 45, _CP),
    "incisal_extension_mm": Range(-6, 8, -2, 3, _CP),
    "target_length_mm": Range(3, 18, 6, 13, "CRN-003 to CRN-044"),
    "root_cover_mm": Range(0, 10, 0, 2, _CP),
    "root_apex_mm": Range(8, 45, 15, 34, "crowns CRN-032 to CRN-044 with roots ROOT-001 to ROOT-008"),
    "furcation_mm": Range(2, 32, 7, 20, "CEJ to furcation 2.5-7.4, ROOT-022 to ROOT-032"),
    "zenith_target_mm": Range(-5, 5, -0.5, 1.8, "means 0.1-1.0, SD up to 0.4, GIN-001 to GIN-019", _SWAPPED),
    "zenith_offset_mm": Range(-5, 5, -0.5, 1.8, "means 0.1-1.0, SD up to 0.4, GIN-001 to GIN-019", _SWAPPED),
    "rotation_deg": Range(-180, 180, -45, 45, _CP),
    "lip_height_smile_mm": Range(-20, 30, -6, 20, _CP),
    # Papillae.
    "root_distance_mm": Range(0, 10, 0.5, 4, f"GIN-042; {_CP}"),
    "future_contact_mm": Range(-1, 18, 1, 10, "GIN-044 to GIN-056"),
    # Smile and face.
    "lip_length_mm": Range(5, 45, 15, 30, "practice notes, 20-24 mm (common knowledge)"),
    "lip_travel_mm": Range(0, 25, 2, 12, "DX-024; practice notes, range 2-12 mm"),
    "rest_display_mm": Range(-12, 15, -2, 6, _CP),
    "gingival_display_mm": Range(-15, 20, -10, 10, "DX-021 to DX-023"),
    "display_spontaneous_mm": Range(-15, 25, -10, 12, "DX-021 to DX-023"),
    "occlusal_cant_deg": Range(-30, 30, -5, 5, _CP),
    "midline_shift_mm": Range(-15, 15, -4, 4, _CP),
    "middle_third_mm": Range(25, 110, 45, 85, _CP),
    "lower_third_mm": Range(25, 120, 45, 90, _CP),
    # What the clinician sets: refused only where it can be no such setting.
    "supracrestal_midfacial_mm": Range(0.5, 8, 2, 4.5, "STA-001 to STA-027"),
    "supracrestal_interproximal_mm": Range(0.5, 9, 2.5, 5.5, "GIN-043 (memory); STA-017, STA-019"),
    "keratinised_minimum_mm": Range(0, 9, 1, 5, "DX-012 to DX-014"),
    "cej_clearance_mm": Range(0, 5, 0, 2, _CP),
    "smallest_move_mm": Range(0, 4, 0, 1, "ERR-008 to ERR-010"),
    "rebound_offset_mm": Range(-1.5, 1.5, -0.8, 0.8, "spread of the cohorts' means, HEAL-011 to HEAL-039"),
    "furcation_clearance_mm": Range(3, 10, 3, 5, "DX-020 (memory)"),
    "crest_step_mm": Range(0, 15, 1, 8, "GIN-057 to GIN-059"),
    "length_tolerance_mm": Range(0, 5, 0, 1, "AES-014"),
    "pair_tolerance_mm": Range(0, 5, 0, 1, "AES-009 to AES-017"),
    "lateral_coronal_min_mm": Range(-4, 4, -0.5, 1.5, "GIN-004, GIN-010, GIN-017 to GIN-020"),
    "lateral_coronal_max_mm": Range(-4, 5, 0, 2, "GIN-004, GIN-010, GIN-017 to GIN-020"),
}
"""By key of the case file; ``papilla tip`` is ``margin_mm`` at an interproximal site."""

_DATUM_OFFSET = Range(-30, 30, -10, 10, _CP)


def range_concerns(case: Case) -> Iterator[Concern]:
    """Every value outside its range, and every level whose datum has no known place."""
    for quantity in listed(case):
        yield from _readings(quantity)
    records: list[tuple[Path, Frozen]] = [(("smile",), case.smile), (("face",), case.face), (("policy",), case.policy)]
    for tooth in case.charted:
        chart = case.teeth[tooth.fdi]
        here: Path = ("teeth", tooth.fdi)
        records.append((here, chart))
        for site, entry in chart.sites.items():
            records.append(((*here, "sites", site.value), entry))
        for datum, mm in chart.datum_offset_mm.items():
            yield from _outside(mm, _DATUM_OFFSET, (*here, "datum_offset_mm", datum), "mm")
    records += [(("papillae", name), papilla) for name, papilla in case.papillae.items()]
    for path, record in records:
        for key, value in record:
            if isinstance(value, float) and key in RANGES:
                yield from _outside(value, RANGES[key], (*path, key), "degrees" if key.endswith("_deg") else "mm")


def _readings(quantity: Listed) -> Iterator[Concern]:
    for index, (reading, value) in enumerate(zip(quantity.readings, quantity.values, strict=True)):
        path = (*quantity.path, index)
        if value is None:
            where = "incisal_extension_mm" if reading.datum == "planned_edge" else f"datum_offset_mm.{reading.datum}"
            yield Concern(
                path,
                f"a level from the datum {reading.datum}, whose place on this tooth is not given",
                f"{where} of this tooth",
                f"Give {where}, or read the level from the present edge.",
                is_refused=True,
            )
        else:
            yield from value_concerns(quantity.key, quantity.site, reading, value, path)


def value_concerns(key: str, site: Site | None, reading: Reading, value: float, path: Path) -> Iterator[Concern]:
    """What is impossible or unusual about one reading; ``value`` in mm, a level from the present edge."""
    is_tip = key == "margin_mm" and site is not None and site.kind is SiteKind.INTERPROXIMAL
    for concern in _outside(value, RANGES["papilla tip" if is_tip else key], path, "mm"):
        yield replace(concern, found=in_words(reading, value))
    if reading.se is not None and reading.se > _LARGEST_SE:
        yield Concern(
            (*path, "se"),
            f"a standard error of {reading.se:g} mm",
            f"at most {_LARGEST_SE:g} mm ({_CP})",
            "Give the standard error of the reading itself, not a share of it; drop a reading nobody trusts.",
            is_refused=True,
        )


_LARGEST_SE = 5.0


def _outside(value: float, allowed: Range, path: Path, unit: str) -> Iterator[Concern]:
    if not allowed.low - SAME_MM <= value <= allowed.high + SAME_MM:
        yield Concern(
            path,
            f"{value:g} {unit}",
            f"{allowed.low:g} to {allowed.high:g} {unit} (usual is {allowed.usual_low:g} to {allowed.usual_high:g})",
            allowed.ask or _slip(value, allowed, unit),
            is_refused=True,
        )
    elif not allowed.usual_low <= value <= allowed.usual_high:
        yield Concern(
            path,
            f"{value:g} {unit}",
            f"{allowed.usual_low:g} to {allowed.usual_high:g} {unit} ({allowed.source})",
            allowed.ask or "Kept as it stands; look again whether it is right.",
            is_refused=False,
        )


def _slip(value: float, allowed: Range, unit: str) -> str:
    if unit == "mm" and 0 < value < allowed.low and allowed.usual_low <= value * 10 <= allowed.usual_high:
        return f"Was it read in centimetres? Then it is {value * 10:g}. Otherwise read it again."
    if unit == "mm" and allowed.usual_low <= value / 10 <= allowed.usual_high:
        return f"Was a decimal point lost? Then it is {value / 10:g}. Otherwise read it again."
    return "Look again at what was read and where it was written; leave it out if it is not known."

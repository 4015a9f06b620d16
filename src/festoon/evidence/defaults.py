"""The defaults of every setting, each with its source, in one place.

A clinician may change any of them in the case's ``policy``; the plan prints each with its value and its source.
"""

from __future__ import annotations

from dataclasses import dataclass

COMMON_PRACTICE = "common practice, no source"
DESIGN = "setting of festoon, no published source"


@dataclass(frozen=True)
class Setting:
    """One setting: its default, unit, what it does and where the default comes from."""

    name: str
    value: float | bool | str
    unit: str
    meaning: str
    source: str
    """Evidence ids, or ``common practice, no source``."""


_SETTINGS = (
    Setting(
        "supracrestal_midfacial_mm",
        3.0,
        "mm",
        "wanted margin-to-crest distance, mid-surface and line angles",
        "CP-001 common practice; measured means run 2.70-3.54 (STA-018, STA-020 to 022), people 0.2-6.7 (STA-014)",
    ),
    Setting(
        "supracrestal_interproximal_mm",
        4.0,
        "mm",
        "wanted papilla-tip-to-crest distance",
        "CP-002 common practice; 3.5-5.0, usually 4.5 (GIN-043, memory)",
    ),
    Setting(
        "supracrestal_floor_mm",
        3.0,
        "mm",
        "an individual need below this wants a recorded reason",
        "rule 6 of the evidence notes, HEAL-011",
    ),
    Setting("supracrestal_basis", "fixed", "", "fixed, individual or larger", COMMON_PRACTICE),
    Setting(
        "keratinised_minimum_mm",
        2.0,
        "mm",
        "keratinised tissue to be kept",
        "DX-012 (seen), DX-014 (memory: 2-3); no agreed minimum",
    ),
    Setting("cej_clearance_mm", 0.5, "mm", "within this of the CEJ the chance of exposure is stated", DESIGN),
    Setting("smallest_move_mm", 0.5, "mm", "a margin moves by this much or not at all", "ERR-009, probe rounding"),
    Setting("interdental_ostectomy", False, "", "whether bone between the teeth may be lowered", "CP-002, GIN-033"),
    Setting(
        "furcation_clearance_mm",
        4.0,
        "mm",
        "crest to furcation entrance, per surface",
        "DX-020 (memory: 3 the floor, 4 wanted); practice notes [S54]",
    ),
    Setting(
        "root_to_crown_minimum", 1.0, "", "root in bone to crown above bone, where held as a limit", "DX-019 (memory)"
    ),
    Setting("thick_bone_mm", 2.0, "mm", "facial bone from which thinning is a task of its own", COMMON_PRACTICE),
    Setting(
        "root_distance_minimum_mm",
        1.0,
        "mm",
        "roots nearer than this: bone between them is not shaped, whatever is allowed",
        COMMON_PRACTICE,
    ),
    Setting(
        "outside_length",
        3.0,
        "",
        "what a millimetre of length outside tolerance counts against one of left-right difference or place: more than "
        "both together, so that no tooth leaves its own tolerance for another's sake, but by what a smallest move takes it past",
        DESIGN,
    ),
    Setting(
        "lower_front_move_mm", 1.0, "mm", "a lower front tooth moved further than this is warned of", COMMON_PRACTICE
    ),
    Setting("low_crest_mm", 1.0, "mm", "margin to crest this much over the need: a low crest", DESIGN + "; STA-033"),
    Setting("ferrule_mm", 1.5, "mm", "ferrule wanted for a restored tooth", "DX-015 (seen): 1.5-2.0"),
    Setting(
        "crest_step_mm",
        6.0,
        "mm",
        "largest step of the crest between neighbouring sites of one tooth",
        DESIGN + "; pronounced scallops measure 4.1 on average (GIN-059)",
    ),
    Setting(
        "crest_slope",
        1.5,
        "mm/mm",
        "largest slope of the crest between neighbouring sites",
        DESIGN + "; 4.1 (GIN-059) over half a lateral's width is 1.3",
    ),
    Setting("interdental_step_mm", 1.0, "mm", "largest step between two teeth's shares of one septum", DESIGN),
    Setting("length_tolerance_mm", 0.5, "mm", "on a length from proportion", "AES-014 (seen): 0-0.5 tolerated"),
    Setting(
        "design_tolerance_mm",
        0.0,
        "mm",
        "on a length given by the design",
        "a given length is meant as given",
    ),
    Setting("pair_tolerance_mm", 0.5, "mm", "on the left-right difference", "CP-008; AES-009 to AES-017"),
    Setting(
        "lateral_coronal_min_mm",
        0.5,
        "mm",
        "lateral margin coronal to the central-canine line, from",
        "GIN-010 (0.60), GIN-017/018 (0.61/0.54), GIN-004 (1.0, memory), CP-007; 1 mouth in 5 differs (GIN-020)",
    ),
    Setting("lateral_coronal_max_mm", 1.0, "mm", "lateral margin coronal to the line, to", "as above"),
    Setting("lateral_apical_allowed", False, "", "whether a lateral may lie apical to the line", "GIN-020"),
    Setting(
        "premolar_tolerance_mm",
        0.5,
        "mm",
        "on the premolars' place below the canine",
        "GIN-011/012, SD 0.41/0.59",
    ),
    Setting(
        "rebound_offset_mm",
        0.0,
        "mm",
        "what the practice's own margins rebound more than the cohorts, from its audit; added to the expectation, the band as wide",
        "0: the cohorts alone, HEAL-001 to HEAL-039",
    ),
    Setting("weight_pair", 3.0, "", "weight of the left-right difference", DESIGN),
    Setting("weight_length", 1.0, "", "weight of the distance to target", DESIGN),
    Setting("weight_lateral", 1.0, "", "weight of the lateral's place", DESIGN),
    Setting(
        "bone_caution_mm",
        3.0,
        "mm",
        "bone removal at one site above which everything is re-checked",
        "CP-009",
    ),
    Setting("paper_step_mm", 0.5, "mm", "grid of the printed sheet", "ERR-008, ERR-010: probes are read to 0.5 mm"),
    Setting("pair_warning_mm", 1.0, "mm", "a left-right difference left above this is warned of", "AES-010 (seen)"),
    Setting("recheck_mm", 0.5, "mm", "a reading this far off the plan on the day: recompute", COMMON_PRACTICE),
    Setting("stop_mm", 1.0, "mm", "a reading this far off the plan on the day: stop and rethink", COMMON_PRACTICE),
)

SETTINGS: dict[str, Setting] = {setting.name: setting for setting in _SETTINGS}


def default_mm(name: str) -> float:
    """The default of a numeric setting, in its own unit (mm unless its entry says otherwise)."""
    return float(SETTINGS[name].value)

"""The plan, format ``festoon-plan/1``.

Levels are from the *planned* edge unless a name says otherwise; *planned* means at the end of surgery, and what
healing is expected to make of it stands beside it. ``None`` means unknown: it is never zero.
"""

from __future__ import annotations

from enum import StrEnum
from hashlib import sha256
from typing import Literal

from pydantic import ConfigDict, Field, FiniteFloat

from festoon.model.dentition import Site, Tooth, as_seen
from festoon.model.reading import Frozen

Mm = FiniteFloat | None


class PlanPart(Frozen):
    """Base of every part of a plan."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True, use_attribute_docstrings=True)


class Procedure(StrEnum):
    """What is done to a tooth."""

    NONE = "none"
    """Nothing is cut."""
    GINGIVECTOMY = "gingivectomy"
    """A collar is excised; bone is left alone."""
    GINGIVECTOMY_WITH_OSTECTOMY = "gingivectomy_with_ostectomy"
    """A collar is excised and bone height is reduced under a flap."""
    APICAL_FLAP = "apical_flap"
    """The flap is sutured further apically; bone is left alone."""
    APICAL_FLAP_WITH_OSTECTOMY = "apical_flap_with_ostectomy"
    """The flap is sutured further apically and bone height is reduced."""
    NOT_ADVISED = "not_advised"
    """The wish stands, and surgery on gingiva and bone cannot or should not meet it."""
    UNDETERMINED = "undetermined"
    """A hard limit needs a reading that is missing: no cut is given."""

    @property
    def cuts(self) -> bool:
        """True when tissue is cut."""
        return self not in (Procedure.NONE, Procedure.NOT_ADVISED, Procedure.UNDETERMINED)


class Answer(StrEnum):
    """What the plan as a whole says."""

    SURGERY = "surgery"
    """A surgical plan is given."""
    SURGERY_WITH_RESERVATIONS = "surgery_with_reservations"
    """A surgical plan is given, and part of the complaint has a cause that it cannot change."""
    NOT_SURGERY = "not_surgery"
    """Surgery on gingiva and bone is not the answer; no surgical plan is given."""
    NOTHING_TO_DO = "nothing_to_do"
    """Every tooth is within tolerance of its target."""
    UNDETERMINED = "undetermined"
    """Too little was measured to say."""


class Caution(PlanPart):
    """Something to weigh before cutting, with its source."""

    code: str
    """Stable name of the caution."""
    text: str
    """In plain words."""
    tooth: str | None = None
    site: Site | None = None
    source: str | None = None
    """Evidence id, or ``common practice, no source``."""
    severity: Literal["stop", "warn", "note"] = "warn"
    """``stop``: not before this is cleared."""


class Missing(PlanPart):
    """A reading that is unknown, and what cannot be said without it."""

    what: str
    """The quantity, as the case file names it."""
    tooth: str | None = None
    site: Site | None = None
    prevents: str
    """What cannot be said or done without it."""
    still_known: str | None = None
    """What can be said all the same."""
    hard: bool = False
    """True when a hard limit needs it: no cut, or a sheet that is not for surgery."""
    text: str
    """The whole sentence."""


class PricePoint(PlanPart):
    """What giving one limit a stated amount would buy, from a plan solved anew."""

    relax_mm: FiniteFloat
    """By how much the limit gives."""
    buys_mm: FiniteFloat
    """How much nearer the tooth comes to its target, in mm."""
    bone_mm: FiniteFloat
    """Bone removed in addition, in the whole plan, in mm."""


class Conflict(PlanPart):
    """A wish and the limit that stops it."""

    limit: str
    tooth: str | None = None
    site: Site | None = None
    by_mm: Mm = None
    """By how much the limit would have to give for the whole wish."""
    prices: tuple[PricePoint, ...] = ()
    buys: str
    """What it would buy, in words."""
    text: str
    """The whole sentence, as a colleague would say it."""


class Thinning(PlanPart):
    """Osteoplasty: reducing the thickness of bone, a task of its own beside its height."""

    advised: bool
    bone_thickness_mm: Mm = None
    text: str


class SitePlan(PlanPart):
    """One site of one tooth. Levels from the planned edge."""

    tooth: str
    site: Site
    margin_present_mm: Mm = None
    margin_planned_mm: Mm = None
    incision_level_mm: Mm = None
    """Where the blade goes in: the present margin plus the excised collar."""
    crest_present_mm: Mm = None
    crest_planned_mm: Mm = None
    cej_mm: Mm = None
    mucogingival_mm: Mm = None
    contact_mm: Mm = None
    """Apical end of the contact; interproximal sites only."""
    sounding_present_mm: Mm = None
    """Present margin to present crest."""
    finish_line_mm: Mm = None
    """Restorative margin asked for here: sound tooth plus ferrule, or the margin that stays."""
    need_mm: Mm = None
    """Wanted margin-to-crest distance."""
    left_if_soft_only_mm: Mm = None
    """Present crest minus planned margin: what would be left if no bone were removed."""
    bone_removal_mm: Mm = None
    supracrestal_after_mm: Mm = None
    """Planned crest minus planned margin."""
    root_exposed_mm: Mm = None
    suture_level_mm: Mm = None
    """Level at which the flap margin is sutured."""
    margin_expected_6m_mm: Mm = None
    margin_expected_12m_mm: Mm = None
    margin_expected_6m_band_mm: tuple[FiniteFloat, FiniteFloat] | None = None
    margin_expected_12m_band_mm: tuple[FiniteFloat, FiniteFloat] | None = None
    margin_planned_from_present_edge_mm: Mm = None
    """The same level read from the edge that is visible today."""
    crest_planned_from_present_edge_mm: Mm = None
    thinning: Thinning | None = None
    se_mm: dict[str, FiniteFloat | None] = {}
    """Standard error by field name; None where unknown."""
    measured_by: dict[str, str] = {}
    """How margin, crest, cej and mucogingival were read: probe, sounding, scan, cbct and the like."""
    binding: tuple[str, ...] = ()
    """The rule behind each millimetre; empty where nothing is cut."""
    from_: tuple[str, ...] = Field(default=(), alias="from")
    """The readings used, each with value, error, method and datum."""
    arithmetic: tuple[str, ...] = ()
    """The sums, line by line, all from the planned edge."""


class ToothPlan(PlanPart):
    """One place of the arch."""

    name: str
    """The tooth in words, with its side."""
    status: str
    role: str
    procedure: Procedure
    why: str
    """Why this procedure, in one sentence."""
    target_length_mm: Mm = None
    """The aesthetic target, whatever surgery can do."""
    target_from: str | None = None
    """Where the target comes from."""
    present_length_mm: Mm = None
    """From the present edge."""
    planned_length_mm: Mm = None
    """From the planned edge, at the end of surgery."""
    incisal_extension_mm: Mm = None
    width_mm: Mm = None
    """Mesiodistal width the proportion is counted with: the future width where a space will be closed."""
    ratio_present: Mm = None
    ratio_planned: Mm = None
    margin_move_mm: Mm = None
    """Apical positive."""
    excised_collar_mm: Mm = None
    apical_shift_mm: Mm = None
    """The part of the move that is made by suturing the flap further apically."""
    keratinised_present_mm: Mm = None
    keratinised_after_mm: Mm = None
    mucogingival_after_mm: Mm = None
    root_exposed_mm: Mm = None
    root_to_crown_before: Mm = None
    root_to_crown_after: Mm = None
    edge_height_mm: Mm = None
    """Planned incisal edge in the arch frame, apical positive."""
    margin_height_present_mm: Mm = None
    """In the arch frame, apical positive."""
    margin_height_planned_mm: Mm = None
    zenith_offset_mm: Mm = None
    """As charted, distal positive."""
    zenith_target_mm: Mm = None
    """By the chosen preset, distal positive; a guide for the scallop, not a limit."""
    phenotype_by_thickness: Literal["thin", "thick", "between"] | None = None
    """From the charted gingival thickness, by the chosen preset."""
    finish_line_gap_mm: Mm = None
    """Old restoration margin to new gingival margin, where a restoration is kept."""
    cautions: tuple[Caution, ...] = ()


class PapillaPlan(PlanPart):
    """One papilla, read from up to two teeth and compared in heights."""

    between: str
    tip_present_mm: Mm = None
    """Level from the planned edge of the tooth named first."""
    tip_planned_mm: Mm = None
    tip_height_mm: Mm = None
    """In the arch frame; the mean of the two readings where both exist."""
    readings_differ_mm: Mm = None
    """Height read from the second tooth minus height read from the first."""
    contact_mm: Mm = None
    """Apical end of the contact that will be there, present or to be made: level from the planned edge of the tooth named first."""
    contact_to_crest_mm: Mm = None
    """The larger of the two teeth's distances after surgery."""
    fill_chance: Mm = None
    """Chance, 0 to 1, that the papilla fills the space."""
    fill_chance_low: Mm = None
    """The same from the series that disagrees downwards."""
    tip_share_present: Mm = None
    """Tip level over crown length, mean of the two teeth, 0 to 1."""
    tip_share_planned: Mm = None
    root_distance_mm: Mm = None
    text: str = ""


class GingivalLine(PlanPart):
    """The central-canine line of one side and the lateral's place under it."""

    side: Literal["right", "left"]
    central_height_mm: Mm = None
    canine_height_mm: Mm = None
    line_at_lateral_mm: Mm = None
    lateral_coronal_present_mm: Mm = None
    """Positive when the lateral's margin is coronal to the line."""
    lateral_coronal_planned_mm: Mm = None
    wanted_mm: tuple[FiniteFloat, FiniteFloat]


class Arch(PlanPart):
    """What concerns several teeth at once."""

    pair_differences_mm: dict[str, FiniteFloat | None] = {}
    """Planned margin heights, patient's right minus left, by pair."""
    pair_differences_present_mm: dict[str, FiniteFloat | None] = {}
    gingival_line: tuple[GingivalLine, ...] = ()
    flap_fields: tuple[tuple[str, ...], ...] = ()
    """Contiguous teeth under one flap; never one tooth alone."""
    residual_display_mm: Mm = None
    """Gingiva shown at the smile that was recorded, after the plan."""
    present_display_mm: Mm = None
    ties: tuple[str, ...] = ()
    """True ties between sides that the stated order had to break."""


class Evidence(PlanPart):
    """One observation for or against a cause."""

    text: str
    weight: FiniteFloat
    """Positive speaks for the cause, negative against it."""
    source: str | None = None


class Finding(PlanPart):
    """A possible cause of short teeth or of much gingiva showing."""

    cause: str
    """Stable name."""
    title: str
    rank: int
    support: Literal["strong", "moderate", "weak", "against", "unknown"]
    evidence_for: tuple[Evidence, ...] = ()
    evidence_against: tuple[Evidence, ...] = ()
    teeth: tuple[str, ...] = ()
    surgery_can: str
    surgery_cannot: str
    alternatives: tuple[str, ...] = ()
    ask: tuple[str, ...] = ()
    """Who to ask."""
    missing: tuple[str, ...] = ()
    """What is not known, in the order in which it would change the answer."""
    withholds_surgery: bool = False
    """True when, on this finding, a surgical plan must not be presented as the answer."""


class Alternative(PlanPart):
    """Another plan for the same mouth, with its price beside the chosen one."""

    name: str
    differs: str
    """In what it differs from the plan, in words."""
    teeth_operated: int
    bone_mm: FiniteFloat
    collar_mm: FiniteFloat
    distance_to_target_mm: FiniteFloat
    """Sum over the teeth of the distance to the target length."""
    largest_pair_difference_mm: Mm = None
    moves_mm: dict[str, FiniteFloat] = {}
    bone_by_tooth_mm: dict[str, FiniteFloat] = {}
    procedures: dict[str, Procedure] = {}
    price: str
    """What it costs and what it saves against the plan, in words."""


class Chance(PlanPart):
    """A probability with its Monte Carlo error."""

    what: str
    chance: FiniteFloat
    mc_se: FiniteFloat
    tooth: str | None = None
    site: Site | None = None


class MeasureAgain(PlanPart):
    """How much taking one reading again would lower the chance of a bad outcome."""

    reading: str
    tooth: str
    site: Site | None = None
    lowers_chance_by: FiniteFloat
    text: str


class RobustSite(PlanPart):
    """The cut that keeps each hard limit with the chosen probability."""

    tooth: str
    margin_move_mm: FiniteFloat
    bone_removal_mm: FiniteFloat


class Risk(PlanPart):
    """What the errors of the readings make of the plan."""

    draws: int
    seed: int
    chances: tuple[Chance, ...] = ()
    any_bad: Chance | None = None
    measure_again: tuple[MeasureAgain, ...] = ()
    robust_probability: Mm = None
    robust: tuple[RobustSite, ...] = ()
    robust_price: str | None = None
    notes: tuple[str, ...] = ()


class HealingStudy(PlanPart):
    """One cohort used, as printed."""

    id: str
    source: str
    how_known: str
    text: str


class HealingPoint(PlanPart):
    """Expected margin shift at one time after suturing, for one sutured distance; coronal positive."""

    time: str
    sutured_distance_mm: FiniteFloat
    shift_mm: FiniteFloat
    low_mm: FiniteFloat
    high_mm: FiniteFloat


class Healing(PlanPart):
    """What healing is expected to make of the margins, from published cohorts."""

    points: tuple[HealingPoint, ...] = ()
    suture_at_least_mm: Mm = None
    """Margin-to-crest distance at suturing from which little rebound is expected."""
    studies: tuple[HealingStudy, ...] = ()
    disagreement: str = ""
    milestones: tuple[str, ...] = ()
    """When to judge, scan, restore, and what two visits must show."""
    notes: tuple[str, ...] = ()


class PolicyComparison(PlanPart):
    """The same case under another basis of the supracrestal need."""

    basis: Literal["fixed", "individual", "larger"]
    need_midfacial_mm: Mm = None
    need_interproximal_mm: Mm = None
    bone_by_site_mm: dict[str, FiniteFloat | None] = {}
    note: str = ""


class PresetShown(PlanPart):
    """One published answer where papers disagree."""

    quantity: Literal["zenith", "lateral", "phenotype"]
    name: str
    """As ``policy.presets`` names it."""
    words: str
    source: str
    chosen: bool


class PaperTooth(PlanPart):
    """A tooth as printed, on the half-millimetre grid, from the planned edge."""

    planned_length_mm: Mm = None
    planned_length_from_present_edge_mm: Mm = None
    incisal_extension_mm: Mm = None
    margin_present_mm: Mm = None
    margin_move_mm: Mm = None
    excised_collar_mm: Mm = None
    apical_shift_mm: Mm = None
    keratinised_after_mm: Mm = None


class PaperSite(PlanPart):
    """A site as printed, on the half-millimetre grid, from the planned edge."""

    tooth: str
    site: Site
    margin_present_mm: Mm = None
    sounding_present_mm: Mm = None
    """The reading itself to its nearest step: what the probe of the day is held against."""
    need_mm: Mm = None
    margin_planned_from_present_edge_mm: Mm = None
    suture_level_mm: Mm = None
    suture_level_from_present_edge_mm: Mm = None
    margin_planned_mm: Mm = None
    crest_present_mm: Mm = None
    crest_planned_mm: Mm = None
    crest_planned_from_present_edge_mm: Mm = None
    left_if_soft_only_mm: Mm = None
    bone_removal_mm: Mm = None
    supracrestal_after_mm: Mm = None


class Paper(PlanPart):
    """The plan on paper: margins rounded coronally, crests apically, everything recomputed and rechecked."""

    step_mm: FiniteFloat
    teeth: dict[str, PaperTooth] = {}
    sites: tuple[PaperSite, ...] = ()
    pair_differences_mm: dict[str, FiniteFloat | None] = {}
    """Planned margin heights on the rounded numbers, patient's right minus left."""
    rechecked: bool
    """True when every hard limit holds on the rounded numbers."""
    notes: tuple[str, ...] = ()


class Provenance(PlanPart):
    """From what and by what this plan was made."""

    festoon: str
    case_sha256: str
    evidence_sha256: str
    solver: str
    seed: int
    settings: dict[str, str] = {}
    """Every setting used, with its value and its source."""


class Plan(PlanPart):
    """A whole plan."""

    format: Literal["festoon-plan/1"] = "festoon-plan/1"
    case: str
    purpose: str
    notation: str
    examined_at: str | None = None
    design_version: str | None = None
    answer: Answer
    answer_text: str
    for_surgery: bool
    """False: the sheet is stamped NOT FOR SURGERY."""
    not_for_surgery_because: tuple[str, ...] = ()
    teeth: dict[str, ToothPlan]
    sites: tuple[SitePlan, ...]
    papillae: tuple[PapillaPlan, ...] = ()
    arch: Arch
    findings: tuple[Finding, ...] = ()
    cautions: tuple[Caution, ...] = ()
    conflicts: tuple[Conflict, ...] = ()
    missing: tuple[Missing, ...] = ()
    alternatives: tuple[Alternative, ...] = ()
    policy_comparison: tuple[PolicyComparison, ...] = ()
    presets: tuple[PresetShown, ...] = ()
    risk: Risk | None = None
    healing: Healing | None = None
    paper: Paper
    signable: bool
    signable_reasons: tuple[str, ...] = ()
    """Why it cannot be signed yet."""
    provenance: Provenance

    @property
    def jaws(self) -> tuple[tuple[Tooth, ...], ...]:
        """The charted places of each jaw that has any, upper first, as seen facing the patient.

        An absent place that another tooth has taken by its role is closed: there is none.
        """
        taken = {tooth.role for code, tooth in self.teeth.items() if tooth.role != code}
        open_ = [Tooth(code) for code, tooth in self.teeth.items() if tooth.status != "absent" or code not in taken]
        halves = (tuple(t for t in as_seen(open_) if t.is_upper is upper) for upper in (True, False))
        return tuple(jaw for jaw in halves if jaw)

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the plan as written, so that file, drawing and sheet can be told to be the same version."""
        return sha256(self.as_json().encode()).hexdigest()

    def as_json(self) -> str:
        """The plan as ``plan.json`` holds it: the same plan gives the same bytes."""
        return self.model_dump_json(by_alias=True, indent=2) + "\n"

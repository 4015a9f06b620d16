"""The case file, format ``festoon-case/1``. Everything not given is unknown: never zero, never a silent default."""

from __future__ import annotations

import datetime as dt
from enum import StrEnum
from itertools import pairwise
from typing import Annotated, Literal

from pydantic import Field, FiniteFloat, StringConstraints

from festoon.model.dentition import Notation, Pair, Site, Tooth
from festoon.model.reading import Depths, Frozen, Levels

Code = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]{0,63}$")]
"""A pseudonymous id: letters, digits, dot, dash, underscore; no names of persons."""
Finite = FiniteFloat | None
NonNegative = Annotated[FiniteFloat, Field(ge=0)] | None
Positive = Annotated[FiniteFloat, Field(gt=0)] | None
Flag = bool | None


class Purpose(StrEnum):
    """What the lengthening is for."""

    AESTHETIC = "aesthetic"
    """The visible proportions and the gingival line."""
    RESTORATIVE = "restorative"
    """Sound tooth, ferrule and room for a restorative margin."""


class Phenotype(StrEnum):
    """Periodontal phenotype."""

    THIN = "thin"
    """Thin scalloped."""
    THICK = "thick"
    """Thick flat."""
    UNKNOWN = "unknown"
    """Not assessed."""


class Status(StrEnum):
    """What stands in a place of the arch."""

    NATURAL = "natural"
    """A natural tooth."""
    CROWNED = "crowned"
    """A natural root under a crown; the CEJ may be hidden."""
    IMPLANT = "implant"
    """An implant: no attachment as on teeth, so its margin and bone are locked."""
    PONTIC = "pontic"
    """A bridge member without a root: soft tissue only, locked."""
    ABSENT = "absent"
    """Nothing stands here."""
    EXCLUDED = "excluded"
    """Left out by the clinician's choice."""

    @property
    def is_rooted(self) -> bool:
        """True for a tooth on its own root, to which the rules of bone and CEJ apply."""
        return self in (Status.NATURAL, Status.CROWNED)


class Restoration(StrEnum):
    """Whether a restoration covers the facial surface."""

    NONE = "none"
    """None, and none planned."""
    PRESENT = "present"
    """Present, and to be kept."""
    PLANNED = "planned"
    """To be made after healing."""


class RootForm(StrEnum):
    """Shape of the root, from the film."""

    TAPERED = "tapered"
    """Ordinary taper."""
    CONICAL = "conical"
    """Conical: the neck narrows fast towards the apex."""
    BLUNT = "blunt"
    """Blunt or resorbed apex."""
    UNKNOWN = "unknown"
    """Not assessed."""


class Approval(Frozen):
    """Which design the patient and the restorative dentist accepted."""

    design_version: str | None = None
    """Version of the approved design."""
    mock_up_accepted_at: dt.date | None = None
    """Day on which the mock-up was accepted in the mouth."""


class Health(Frozen):
    """Health questions. An unanswered question is unknown and blocks signing."""

    smoker: Flag = None
    anticoagulant: Flag = None
    antiplatelet: Flag = None
    bleeding_disorder: Flag = None
    antiresorptive: Flag = None
    """Antiresorptive or antiangiogenic drugs."""
    jaw_radiotherapy: Flag = None
    diabetes: Literal["none", "controlled", "uncontrolled"] | None = None
    overgrowth_drug: Flag = None
    """A drug known to enlarge gingiva: some calcium channel blockers, phenytoin, ciclosporin."""
    immunosuppression: Flag = None
    endocarditis_risk: Flag = None
    pregnancy: Flag = None
    active_periodontitis: Flag = None
    allergy: str | None = None
    """``none``, or the allergies in words."""
    previous_surgery: Flag = None
    """Earlier surgery on the gingiva or bone of these teeth."""
    expectation_concern: Flag = None
    """Distress far beyond the finding, repeated procedures."""


class Subject(Frozen):
    """The patient, pseudonymous."""

    age_years: Annotated[FiniteFloat, Field(ge=0, le=120)] | None = None
    sex: Literal["female", "male", "unknown"] = "unknown"
    """Published crown sizes differ by sex."""
    growth_complete: Flag = None
    health: Health = Health()


class Smile(Frozen):
    """Lip and display, in mm."""

    lip_length_mm: Depths = ()
    """Upper lip at rest, subnasale to the lower border."""
    lip_travel_mm: Depths = ()
    """Lip travel from rest to full smile."""
    rest_display_mm: Finite = None
    """Central incisor shown at rest; negative when the lip covers the edge."""
    gingival_display_mm: Finite = None
    """Gingiva shown above the central incisors at full smile; negative when the lip covers the margin."""
    display_spontaneous_mm: Finite = None
    """The same in a spontaneous laugh, from video."""
    posed: Flag = None
    """True when the smile was posed: a posed smile under-shows."""


class Face(Frozen):
    """Reference of the arch frame and what is tilted or shifted against it."""

    horizontal: Literal["pupils", "horizon", "commissures", "occlusal_plane"] | None = None
    """The declared horizontal along which x lies."""
    occlusal_cant_deg: Finite = None
    """Positive when the patient's left is higher."""
    midline_shift_mm: Finite = None
    """Dental midline against the face, positive to the patient's left."""
    middle_third_mm: Positive = None
    """Glabella to subnasale."""
    lower_third_mm: Positive = None
    """Subnasale to menton, teeth together."""


class LimitOverride(Frozen):
    """The clinician's choice to hold a limit as hard or as a caution, with a reason that is kept."""

    force: Literal["hard", "caution"]
    reason: Annotated[str, StringConstraints(min_length=3)]


class PresetChoice(Frozen):
    """Which published answer is used where papers disagree; the plan prints all of them."""

    zenith: Literal["middle", "far", "near"] | None = None
    """Zenith offset from the middle of the width."""
    lateral: Literal["half_to_one", "six_tenths", "one"] | None = None
    """Place of the lateral's margin under the central-canine line."""
    phenotype: Literal["one", "one_and_half"] | None = None
    """Thickness at which gingiva is called thin or thick."""


class PolicyChoice(Frozen):
    """What the clinician sets for this case; every absent entry takes the default of the evidence room."""

    supracrestal_midfacial_mm: Positive = None
    """Wanted margin-to-crest distance at mid-surface sites and line angles."""
    supracrestal_interproximal_mm: Positive = None
    """Wanted papilla-tip-to-crest distance."""
    supracrestal_basis: Literal["fixed", "individual", "larger"] | None = None
    """``individual`` uses the sites marked healthy_reference; ``larger`` the larger of both."""
    supracrestal_reason: str | None = None
    """Reason for a supracrestal distance below 3.0 mm; without it 3.0 is kept."""
    keratinised_minimum_mm: NonNegative = None
    cej_clearance_mm: NonNegative = None
    smallest_move_mm: NonNegative = None
    interdental_ostectomy: Flag = None
    furcation_clearance_mm: Annotated[FiniteFloat, Field(ge=3.0)] | None = None
    """Crest to furcation entrance; 3 mm is the floor."""
    ferrule_mm: NonNegative = None
    """Ferrule wanted where a site does not say its own."""
    crest_step_mm: NonNegative = None
    """Largest step of the crest between two neighbouring sites."""
    crest_slope: NonNegative = None
    """Largest slope of the crest between two neighbouring sites, mm per mm."""
    length_tolerance_mm: NonNegative = None
    """On a length from proportion; a length given by the design has tolerance 0."""
    pair_tolerance_mm: NonNegative = None
    """On the left-right difference of the margins' heights."""
    lateral_coronal_min_mm: Finite = None
    """Lateral margin coronal to the central-canine line, from."""
    lateral_coronal_max_mm: Finite = None
    """Lateral margin coronal to the central-canine line, to."""
    lateral_apical_allowed: Flag = None
    """True lets a lateral's margin come to lie apical to the central-canine line."""
    rebound_offset_mm: Finite = None
    """What the practice's own margins rebound more than festoon expects, coronal positive, from its audit."""
    weight_pair: NonNegative = None
    """Weight of the left-right difference in the weighted sum."""
    weight_length: NonNegative = None
    """Weight of the distance to the target length."""
    weight_lateral: NonNegative = None
    """Weight of the lateral's place."""
    presets: PresetChoice = PresetChoice()
    reference_side: Literal["right", "left"] | None = None
    """The side that is right as it is, where one side is: the other follows it."""
    limits: dict[str, LimitOverride] = {}
    """Limits held otherwise than by default, by name, with the reason."""


class SiteChart(Frozen):
    """One site of one tooth, as charted."""

    margin_mm: Levels = ()
    """Gingival margin; at interproximal sites the papilla tip."""
    probing_mm: Depths = ()
    sounding_mm: Depths = ()
    """Margin to crest, under local anaesthesia."""
    crest_mm: Levels = ()
    """Alveolar crest, read directly (open flap, volume)."""
    cej_mm: Levels = ()
    mucogingival_mm: Levels = ()
    contact_mm: Levels = ()
    """Apical end of the contact; interproximal sites only."""
    bone_thickness_mm: Depths = ()
    gingiva_thickness_mm: Depths = ()
    attached_mm: Depths = ()
    """Width of attached gingiva."""
    healthy_reference: bool = False
    """True where the tissue is healthy and unaltered: its sounding may set the individual need."""
    sound_tooth_mm: Levels = ()
    """The most coronal level from which tooth substance is sound all the way to the root."""
    existing_finish_line_mm: Levels = ()
    """Margin of a present restoration."""
    ferrule_mm: NonNegative = None
    """Ferrule wanted here; absent takes the policy's."""


class ToothChart(Frozen):
    """One place of the arch, as charted."""

    status: Status | None = None
    """Absent: planned as a natural tooth, and the plan says that nobody said so."""
    purpose: Purpose | None = None
    """Overrides the purpose of the case for this tooth."""
    role: str | None = None
    """The aesthetic role in ISO 3950, when another tooth stands in this place."""
    width_mm: Depths = ()
    """Greatest mesiodistal width, contact to contact."""
    future_width_mm: Positive = None
    """Width after a space has been closed."""
    edge_height_mm: Finite = None
    """Planned incisal edge in the arch frame, apical positive."""
    axis_tip_deg: Finite = None
    axis_torque_deg: Finite = None
    incisal_extension_mm: Finite = None
    """Positive when a restoration lengthens the tooth incisally; 0 must be said."""
    edge_worn: Flag = None
    restoration: Restoration | None = None
    target_length_mm: Positive = None
    """A length given by the design, from the planned edge."""
    target_ratio: Annotated[FiniteFloat, Field(gt=0.3, lt=2.0)] | None = None
    """Width to length."""
    root_cover_mm: NonNegative = None
    """How far past the CEJ a restoration will cover."""
    root_apex_mm: Levels = ()
    root_form: RootForm = RootForm.UNKNOWN
    furcation_mm: dict[Literal["facial", "mesial", "distal", "lingual"], Levels] = {}
    """Furcation entrance by surface."""
    zenith_offset_mm: Finite = None
    """Zenith from the middle of the width, distal positive."""
    zenith_target_mm: Finite = None
    """Where the design wants the zenith, distal positive; absent takes the preset."""
    mobility: Annotated[int, Field(ge=0, le=3)] | None = None
    ankylosed: Flag = None
    lesion: Flag = None
    """Endodontic lesion, root fracture or caries still to be treated."""
    inflamed: Flag = None
    """Gingiva inflamed, or bracketed, on the day of the chart."""
    crowded: Flag = None
    rotation_deg: Finite = None
    lip_height_smile_mm: Levels = ()
    """Level of the lip line at this tooth at full smile."""
    changed_at: dt.date | None = None
    """Day on which its edge, its restoration or its place was last changed: a scan taken before no longer shows it."""
    phenotype: Phenotype | None = None
    datum_offset_mm: dict[Literal["restored_edge", "template", "bonded_mark"], FiniteFloat] = {}
    """Level of another datum from the present edge: a reading from it is converted by adding this."""
    sites: dict[Site, SiteChart] = {}


class PapillaChart(Frozen):
    """What belongs to a papilla and not to one tooth."""

    root_distance_mm: Depths = ()
    """Distance of the roots at the crest."""
    future_contact_mm: Finite = None
    """Apical end of the contact after restoration, from the planned edge of the tooth named first."""


class Case(Frozen):
    """A case as charted. Teeth are keyed by ISO 3950 code, whatever notation the file was written in."""

    format: Literal["festoon-case/1"] = "festoon-case/1"
    case: Code
    """Pseudonymous id; no names."""
    purpose: Purpose = Purpose.AESTHETIC
    notation: Notation
    """Of the file this case was read from; must be said."""
    examined_at: dt.date | None = None
    approval: Approval = Approval()
    subject: Subject = Subject()
    smile: Smile = Smile()
    face: Face = Face()
    phenotype: Phenotype = Phenotype.UNKNOWN
    high_frenum: Flag = None
    policy: PolicyChoice = PolicyChoice()
    teeth: dict[str, ToothChart] = Field(min_length=1)
    papillae: dict[str, PapillaChart] = {}

    def tooth(self, tooth: Tooth) -> ToothChart | None:
        """The chart of one tooth, or None when that place was not charted."""
        return self.teeth.get(tooth.fdi)

    @property
    def charted(self) -> tuple[Tooth, ...]:
        """Every charted place, as seen facing the patient."""
        return tuple(sorted((Tooth(code) for code in self.teeth), key=lambda t: (not t.is_upper, t.column)))

    @property
    def neighbours(self) -> tuple[Pair, ...]:
        """Charted places side by side, as seen facing the patient.

        By number; or by role, where the place between them is closed: a canine in the place of an absent lateral stands beside the
        central. A place that another tooth has taken has no neighbours.
        """
        taken = {chart.role for code, chart in self.teeth.items() if chart.role not in (None, code)}
        places = [t for t in self.charted if t.fdi not in taken or self.teeth[t.fdi].status is not Status.ABSENT]
        found = []
        for right, left in pairwise(places):
            role, other = (Tooth(self.teeth[tooth.fdi].role or tooth.fdi) for tooth in (right, left))
            if right.is_neighbour_of(left) or (right.is_upper == left.is_upper and role.is_neighbour_of(other)):
                found.append(Pair(right, left))
        return tuple(found)

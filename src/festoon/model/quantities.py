"""The quantities of a reading, defined, so that a calliper, a photo, a scan and a volume mean the same thing.

The choice of axis alone moves a crown length by up to half a millimetre and a zenith by more: the definition is printed
with the number, and the part of the error that comes from it is in the standard error. Format ``festoon-readings/1``
carries these names.
"""

from __future__ import annotations

import datetime as dt
from enum import StrEnum
from typing import Annotated, Literal

from pydantic import Field, FiniteFloat, StringConstraints, model_validator

from festoon.model.case import Code
from festoon.model.dentition import Site
from festoon.model.reading import Datum, Frozen, Method

FRAME_DEFINITIONS = {
    "facial direction": "Mean normal of the middle half of the facial surface, at right angles to the axis.",
    "facial long axis": (
        "Seen from the side: the straight line fitted to the facial profile at mid-width over the middle three fifths "
        "of the crown. Seen from the front: the line through the midpoints of the outline between 30 and 70 % of the "
        "crown's height (premolars: the arch's vertical). It never depends on where the margin is."
    ),
    "edge point, level 0": (
        "Incisors: the most incisal point within 0.3 mm of mid-width. Canines and premolars: the facial cusp tip."
    ),
    "level": "Distance in mm along the facial long axis from the edge the datum names, apical positive in both jaws.",
    "depth": "Distance in mm from the gingival margin, apical positive; it has no datum.",
}
"""What the definitions of the quantities rest on."""


Unit = Literal["mm", "1", "deg"]
"""Unit of a reading."""


class Quantity(StrEnum):
    """What was read, by its trade name: name, definition, key of the case file (None where the file derives it)."""

    definition: str
    """What exactly is read."""
    case_key: str | None
    """The key of the case file that holds this quantity; None where the case file derives it."""

    def __new__(cls, name: str, definition: str, case_key: str | None) -> Quantity:
        """A member whose value is its name."""
        member = str.__new__(cls, name)
        member._value_ = name
        member.definition = definition
        member.case_key = case_key
        return member

    CROWN_WIDTH = (
        "crown_width",
        "Greatest mesiodistal extent coronal to the margin, at right angles to the axis, contact to contact.",
        "width_mm",
    )
    CROWN_LENGTH = (
        "crown_length",
        "Level of the zenith, the most apical point of the facial margin.",
        None,
    )
    ZENITH_OFFSET = (
        "zenith_offset",
        "Mesiodistal distance of the zenith from the middle of the width, distal positive.",
        "zenith_offset_mm",
    )
    PAPILLA_HEIGHT = (
        "papilla_height",
        "Crown length minus papilla tip level, on the side of the site.",
        None,
    )
    MARGIN_LEVEL = (
        "margin_level",
        "Midfacial: where the margin crosses the crown's midline. Mesial, distal: the papilla tip, the most "
        "coronal soft tissue in a straight facial view of the embrasure. Line angles: the margin there.",
        "margin_mm",
    )
    CREST_LEVEL = (
        "crest_level",
        "Most coronal alveolar bone along the same axis at the same place as the margin level of the site.",
        "crest_mm",
    )
    CEJ_LEVEL = (
        "cej_level",
        "Cemento-enamel junction along the same axis at the same place as the margin level of the site.",
        "cej_mm",
    )
    MUCOGINGIVAL_LEVEL = (
        "mucogingival_level",
        "Mucogingival junction along the same axis at the same place as the margin level of the site.",
        "mucogingival_mm",
    )
    CONTACT_LEVEL = (
        "contact_level",
        "Apical end of the contact with the neighbour; interproximal sites only.",
        "contact_mm",
    )
    SOUND_TOOTH_LEVEL = (
        "sound_tooth_level",
        "The most coronal level from which tooth substance is sound all the way to the root.",
        "sound_tooth_mm",
    )
    FINISH_LINE_LEVEL = (
        "finish_line_level",
        "Margin of a present restoration.",
        "existing_finish_line_mm",
    )
    ROOT_APEX_LEVEL = (
        "root_apex_level",
        "Apex of the root.",
        "root_apex_mm",
    )
    FURCATION_LEVEL = (
        "furcation_level",
        "Entrance of the furcation on the surface of the site.",
        "furcation_mm",
    )
    LIP_LEVEL = (
        "lip_level",
        "Lip line at this tooth at full smile.",
        "lip_height_smile_mm",
    )
    SOUNDING = (
        "sounding",
        "Gingival margin to alveolar crest, the probe pushed to bone under local anaesthesia.",
        "sounding_mm",
    )
    PROBING_DEPTH = (
        "probing_depth",
        "Gingival margin to the bottom of the sulcus or pocket.",
        "probing_mm",
    )
    ATTACHED_WIDTH = (
        "attached_width",
        "Attached gingiva: keratinised width minus probing depth.",
        "attached_mm",
    )
    KERATINISED_WIDTH = (
        "keratinised_width",
        "Gingival margin to mucogingival junction.",
        None,
    )
    GINGIVA_THICKNESS = (
        "gingiva_thickness",
        "Thickness of the gingiva at the site, at right angles to its surface.",
        "gingiva_thickness_mm",
    )
    BONE_THICKNESS = (
        "bone_thickness",
        "Thickness of the bone over the root at the crest of the site.",
        "bone_thickness_mm",
    )
    ROOT_DISTANCE = (
        "root_distance",
        "Distance of two neighbouring roots at the crest; the tooth and its interproximal site name the papilla.",
        "root_distance_mm",
    )
    EDGE_HEIGHT = (
        "edge_height",
        "Incisal edge in the arch frame, apical positive.",
        "edge_height_mm",
    )
    CROWN_RATIO = (
        "crown_ratio",
        "Crown width divided by crown length, both of one source.",
        None,
    )
    MIDLINE_SHIFT = (
        "midline_shift",
        "Distance of the contact between the centrals from the facial midline, at right angles to it, positive to the patient's left.",
        "midline_shift_mm",
    )
    OCCLUSAL_CANT = (
        "occlusal_cant",
        "Angle of the line through the edge points of a tooth and its contralateral (the furthest back that were read) to "
        "the declared horizontal, positive when the patient's left is higher.",
        "occlusal_cant_deg",
    )
    GINGIVAL_DISPLAY = (
        "gingival_display",
        "Gingiva shown at full smile: from the zenith to the border of the lip over this tooth, along the axis; negative "
        "where the lip covers the crown. The case file holds that of the whole smile.",
        None,
    )
    REST_DISPLAY = (
        "rest_display",
        "Crown shown with the lips at rest: from the edge point to the border of the lip over this tooth, along the axis. "
        "The case file holds that of the whole mouth.",
        None,
    )

    @property
    def unit(self) -> Unit:
        """Millimetres; degrees for an angle; 1 for a ratio."""
        if self is Quantity.CROWN_RATIO:
            return "1"
        return "deg" if self is Quantity.OCCLUSAL_CANT else "mm"

    @property
    def is_level(self) -> bool:
        """True for a distance from an incisal edge: its reading must say its datum, and no other reading has one."""
        return self.value.endswith("_level") or self is Quantity.CROWN_LENGTH


class QuantityReading(Frozen):
    """One reading that names what was read and where, so that it can come from any source."""

    tooth: Annotated[str, StringConstraints(pattern=r"^[1-4][1-8]$")] | None = None
    """ISO 3950; absent only for what belongs to no tooth."""
    site: Site | None = None
    """Absent for what belongs to the whole tooth."""
    quantity: Quantity
    value: FiniteFloat
    unit: Unit = "mm"
    """That of the quantity; another is refused, never converted in silence."""
    se: Annotated[FiniteFloat, Field(gt=0)] | None = None
    """Standard error in the same unit; absent means the published error of the method is used."""
    method: Method | None = None
    datum: Datum | None = None
    """From what a level was read; levels only."""
    at: dt.date | None = None
    """The day of the reading."""
    by: str | None = None
    """Who read it, as a pseudonymous code."""
    flag: str | None = None
    """A remark of the reader, shown beside the number."""

    @model_validator(mode="after")
    def _unit_of_the_quantity(self) -> QuantityReading:
        if self.unit != self.quantity.unit:
            raise ValueError(f"{self.quantity} has the unit {self.quantity.unit}, not {self.unit}")
        return self

    @model_validator(mode="after")
    def _datum_for_levels_only(self) -> QuantityReading:
        if self.quantity.is_level and self.datum is None:
            raise ValueError(f"{self.quantity} is a level: add its datum")
        if not self.quantity.is_level and self.datum is not None:
            raise ValueError(f"{self.quantity} is no level: drop the datum")
        return self


class Readings(Frozen):
    """Readings of one case from one source, format ``festoon-readings/1``."""

    format: Literal["festoon-readings/1"] = "festoon-readings/1"
    case: Code
    """Pseudonymous id of the case."""
    readings: tuple[QuantityReading, ...] = ()

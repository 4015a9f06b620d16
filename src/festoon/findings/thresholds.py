"""Every threshold and every weight of the findings, each with its source, in one place."""

from __future__ import annotations

from typing import Literal, NamedTuple

from festoon.evidence.table import published

COMMON = "common practice, no source"
OURS = "setting of festoon, no published source"


class Threshold(NamedTuple):
    """A number that decides, its unit, what it decides and where it comes from."""

    value: float
    unit: str
    meaning: str
    source: str


def _printed(row_id: str, part: Literal["low", "high", "sd"]) -> float:
    """A bound or spread of an evidence row.

    Raises
    ------
    LookupError
        If the row prints none: a threshold must not fall back on a number of ours.
    """
    value: float | None = getattr(published(row_id), part)
    if value is None:
        raise LookupError(f"evidence row {row_id} prints no {part}")
    return value


# Crowns
RED_FLAG_RATIO = Threshold(
    0.95, "width/length", "from here altered passive eruption is suspected, edge unworn", "DX-007 to DX-009"
)
SHORT_RATIO = Threshold(0.90, "width/length", "from here a crown counts as short for its width", COMMON)
SHORT_BY = Threshold(
    _printed("AES-018", "low"), "mm", "a crown this much under the mean for role and sex is short", "AES-018, memory"
)
NARROW_BY = Threshold(0.5, "mm", "a crown this much under the mean width is narrow", COMMON)

# Cover of the anatomic crown, crest, keratinised tissue
COVERED_CROWN = Threshold(
    published("STA-037").value, "mm", "enamel covered by gingiva beyond this is more than usual", "STA-037"
)
BARE_CROWN = Threshold(1.0, "mm", "with no more enamel covered than this, no crown is hidden", "0.5-1 taught, memory")
ROOM_A = Threshold(_printed("DX-003", "low"), "mm", "CEJ to crest from here: subgroup A", "DX-003, memory; DX-010")
ROOM_B = Threshold(_printed("DX-004", "high"), "mm", "CEJ to crest up to here: subgroup B", "DX-004, memory; DX-006")

JUNCTION_AT_CEJ = Threshold(
    0.5, "mm", "mucogingival junction this near the CEJ lies at it: type 2", "DX-002, memory; " + OURS
)

ROOT_SHOWS = Threshold(0.5, "mm", "margin this far apical to the CEJ: root shows", COMMON)
KERATINISED = Threshold(
    published("DX-012").value, "mm", "keratinised tissue below this is little", "DX-012; DX-014, memory: 2 to 3"
)

# Edges and neighbours
STEP = Threshold(0.5, "mm", "a left-right difference from here is a difference", "CP-008; AES-017, memory")
CLEAR_STEP = Threshold(1.0, "mm", "a difference from here is seen by dentists", "AES-010; AES-013")

# Face, lip, display
DISPLAY = Threshold(
    published("AES-015").value, "mm", "gingiva shown from here counts as much", "AES-015; 2 to 4 by author"
)
VME_I = Threshold(_printed("DX-021", "low"), "mm", "display from here: degree I", "DX-021, memory")
VME_II = Threshold(_printed("DX-022", "low"), "mm", "display from here: degree II", "DX-022, memory")
VME_III = Threshold(_printed("DX-023", "low"), "mm", "display from here: degree III", "DX-023, memory")
THIRD_LONG = Threshold(1.0, "mm", "lower third longer than the middle by this is longer", COMMON)
THIRD_JAW = Threshold(
    5.0,
    "mm",
    "lower third this much off: jaw surgery may be needed",
    "dentistrytoday.com sp-631779980, a teaching text",
)
REST_EXTRA = Threshold(2.0, "mm", "incisor shown at rest beyond the mean for the sex", COMMON)
LIP_SHORT_FEMALE = Threshold(20.0, "mm", "usual lower end of the lip length, women", "AES-025, memory: 20-22")
LIP_SHORT_MALE = Threshold(22.0, "mm", "usual lower end of the lip length, men", "AES-025 note, memory: 22-24")
LIP_SPREAD = Threshold(_printed("AES-025", "sd"), "mm", "standard deviation of the lip length", "AES-025, memory")
LIP_MEAN_FEMALE = Threshold(published("AES-025").value, "mm", "mean lip length, women", "AES-025, memory")
LIP_MEAN_MALE = Threshold(23.4, "mm", "mean lip length, men", "AES-025 note, memory")
TRAVEL_HIGH = Threshold(_printed("DX-024", "low"), "mm", "lip travel above this is high", "DX-024, weak source")
TRAVEL_VERY_HIGH = Threshold(
    _printed("DX-024", "high"), "mm", "lip travel above this is hypermobile", "DX-024, weak source"
)

# Gingiva, growth, position
PSEUDO_POCKET = Threshold(4.0, "mm", "probing from here with the CEJ covered: a pseudo-pocket", COMMON)
POCKET_PAST_CEJ = Threshold(
    1.0, "mm", "probing past the CEJ by more than this: attachment is lost, a true pocket", COMMON
)
GROWN_AGE = Threshold(19.0, "years", "crowns still lengthened up to here", "J Dent 2000;28:469, 456 sets of models")
CANT_SPAN = Threshold(35.0, "mm", "from canine to canine, straight across", COMMON)
CANT_SEEN = Threshold(1.0, "mm", "rise across the front teeth seen by dentists", "AES-012 note")
ROTATED = Threshold(15.0, "degrees", "a rotation from here changes where the zenith is seen", COMMON)
RESTORATION_ROOM = Threshold(published("DX-018").value, "mm", "restorative margin to crest, at least", "DX-018, memory")

# Support
STRONG = Threshold(3.0, "sum of weights", "strong support from here", OURS)
MODERATE = Threshold(1.5, "sum of weights", "moderate support from here; weak above 0, against at 0 and below", OURS)

# Weights, the same for every cause
DECISIVE = 3.0
"""Nearly says it alone: a charted fact that is the cause, or a reading far past its threshold."""
CLEAR = 2.0
"""A reading past a published threshold."""
SOME = 1.0
"""Fits, and fits other causes too."""
LITTLE = 0.5
"""A statistical companion."""

Support = Literal["strong", "moderate", "weak", "against", "unknown"]


def support_word(score: float) -> Support:
    """The word for a sum of weights; ``unknown``, without any evidence, is not decided here."""
    if score >= STRONG.value:
        return "strong"
    if score >= MODERATE.value:
        return "moderate"
    return "weak" if score > 0 else "against"

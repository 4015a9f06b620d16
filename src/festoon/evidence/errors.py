"""How far a reading may be off, by quantity and method, when the reading does not say so itself.

The standard errors are derived from published figures where those exist; each entry says how. A reading's own ``se``
always wins.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from festoon.evidence.table import published
from festoon.model.reading import Method, Reading

_LIMITS = 2 * 1.96
"""A span of 95 % limits of agreement is 2 x 1.96 standard deviations (Bland and Altman)."""


def _span_sd(row_id: str) -> float:
    row = published(row_id)
    if row.low is None or row.high is None:
        raise LookupError(f"evidence row {row_id} prints no limits of agreement")
    return (row.high - row.low) / _LIMITS


def _sounding_sd() -> float:
    """Standard deviation of sounding minus direct level, from the printed shares of 190 teeth.

    The series prints shares in whole millimetres: identical, within 1 mm but not equal (taken as 1 mm off), more than
    1 mm off (taken as 2 mm, the smallest it can be). Rounding to whole millimetres is added, the mean bias taken out.
    It is a lower bound: the same paper's spreads and correlation (STA-026, STA-027, r 0.238) imply about 1.3 mm, because
    some outliers lie much further off. The simulation of risk uses that long tail; a comparison of two readings uses
    this, so that a contradiction is not explained away.
    """
    within, beyond = published("ERR-002").value / 100, published("ERR-003").value / 100
    second_moment = within * 1.0**2 + beyond * 2.0**2 + published("ERR-009").value ** 2
    return sqrt(second_moment - published("ERR-004").value ** 2)


_AXIS = 0.5 / sqrt(12)
"""The choice of axis alone moves a crown length by up to half a millimetre: taken as uniform."""
_HALF_MM = published("ERR-010").value
_LEVEL_BY_PROBE = sqrt(_HALF_MM**2 + _AXIS**2)
_CEJ_PICK = 1.0 / _LIMITS
"""Two examiners' picks of the CEJ have limits of agreement that span about 1 mm."""
_CBCT_LEVEL = _span_sd("ERR-014")
_CBCT_THICKNESS = _span_sd("ERR-015")
_CBCT_ROOT = _span_sd("ERR-019")
_PHOTO = 0.3
_SCAN = sqrt(0.05**2 + _AXIS**2)


@dataclass(frozen=True)
class ReadingError:
    """Standard error of one reading of a quantity by a method."""

    se_mm: float
    source: str


_PROBE_SOURCE = "ERR-010 (probe read to 0.5 mm) and the choice of axis (up to 0.5 mm)"
_COMMON = "common practice, no source"

_BY_METHOD: dict[Method, ReadingError] = {
    Method.PROBE: ReadingError(_LEVEL_BY_PROBE, _PROBE_SOURCE),
    Method.SOUNDING: ReadingError(_sounding_sd(), "ERR-001 to ERR-004, 190 teeth, one in eight off by more than 1 mm"),
    Method.CALLIPER: ReadingError(sqrt(0.1**2 + _AXIS**2), f"calliper 0.1 mm ({_COMMON}) and the choice of axis"),
    Method.DIRECT: ReadingError(_LEVEL_BY_PROBE, _PROBE_SOURCE),
    Method.SCAN: ReadingError(_SCAN, "ERR-029 (isolated areas worse: 0.05 mm taken) and the choice of axis"),
    Method.PHOTO: ReadingError(_PHOTO, "ERR-035, estimate 0.1-0.5, from memory"),
    Method.CBCT: ReadingError(_CBCT_LEVEL, "ERR-014, limits of agreement at 0.3 mm voxels"),
    Method.FILM: ReadingError(_CBCT_ROOT, "no figure for films; the CBCT root length's, ERR-019, is taken"),
    Method.DESIGN: ReadingError(0.05, "a given number, not a measurement: half its last printed digit"),
}
"""Error of a level or depth by method, where the quantity below adds nothing of its own."""

_WIDTH = {
    Method.CALLIPER: ReadingError(0.1, f"calliper 0.1 mm ({_COMMON})"),
    Method.SCAN: ReadingError(0.05, "ERR-029; isolated areas worse"),
    Method.PHOTO: ReadingError(_PHOTO, "ERR-035, estimate, from memory"),
}
_CEJ = {
    method: ReadingError(
        sqrt(error.se_mm**2 + _CEJ_PICK**2), f"{error.source}; CEJ pick, doi 10.1186/s12903-021-01858-9"
    )
    for method, error in _BY_METHOD.items()
}
_SOFT_LANDMARK = {
    Method.PROBE: ReadingError(sqrt(_LEVEL_BY_PROBE**2 + 0.25**2), f"{_PROBE_SOURCE}; landmark 0.25 ({_COMMON})"),
}
_PROBING = {
    Method.PROBE: ReadingError(published("ERR-011").value, published("ERR-011").citation),
}
_THICKNESS = {
    Method.CBCT: ReadingError(_CBCT_THICKNESS, "ERR-015, limits of agreement at 0.3 mm voxels; over-reads thin bone"),
}
_ROOT = {
    Method.FILM: ReadingError(_CBCT_ROOT, "no figure for films; the CBCT root length's, ERR-019, is taken"),
    Method.CBCT: ReadingError(_CBCT_ROOT, "ERR-019, limits of agreement"),
}
_LIP = {Method.PROBE: ReadingError(0.5, f"ruler at the lip, 0.5 mm ({_COMMON})")}

_QUANTITIES: dict[str, tuple[Method, dict[Method, ReadingError]]] = {
    "margin_mm": (Method.PROBE, {}),
    "probing_mm": (Method.PROBE, _PROBING),
    "sounding_mm": (Method.SOUNDING, {}),
    "crest_mm": (Method.CBCT, {}),
    "cej_mm": (Method.PROBE, _CEJ),
    "mucogingival_mm": (Method.PROBE, _SOFT_LANDMARK),
    "contact_mm": (Method.PROBE, {}),
    "bone_thickness_mm": (Method.CBCT, _THICKNESS),
    "gingiva_thickness_mm": (Method.PROBE, {}),
    "attached_mm": (Method.PROBE, _SOFT_LANDMARK),
    "sound_tooth_mm": (Method.PROBE, {}),
    "existing_finish_line_mm": (Method.PROBE, {}),
    "width_mm": (Method.CALLIPER, _WIDTH),
    "root_apex_mm": (Method.FILM, _ROOT),
    "furcation_mm": (Method.PROBE, _SOFT_LANDMARK),
    "lip_height_smile_mm": (Method.PROBE, _LIP),
    "lip_length_mm": (Method.PROBE, _LIP),
    "lip_travel_mm": (Method.PROBE, _LIP),
    "root_distance_mm": (Method.FILM, {Method.FILM: ReadingError(0.3, f"film, 0.3 mm ({_COMMON})")}),
}
"""By case-file key: the default method of a bare number, and the errors that differ from the method's own."""


def default_method(key: str) -> Method:
    """The method taken for a bare number of this case-file key, e.g. ``sounding_mm``."""
    return _QUANTITIES[key][0]


def reading_error(key: str, reading: Reading) -> ReadingError:
    """Standard error of ``reading`` in mm, and where it comes from.

    Parameters
    ----------
    key : str
        The case-file key of the quantity, e.g. ``sounding_mm``.
    reading : Reading
        Its own ``se`` wins; else the error of its method, or of the default method of the quantity.
    """
    if reading.se is not None:
        return ReadingError(reading.se, "given with the reading")
    default, own = _QUANTITIES[key]
    method = reading.method or default
    return own.get(method, _BY_METHOD[method])


def reading_se(key: str, reading: Reading) -> float:
    """Standard error of ``reading`` in mm. See :func:`reading_error`."""
    return reading_error(key, reading).se_mm

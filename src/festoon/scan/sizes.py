"""What sizes to expect of a tooth by its place: to number teeth and to guess what a scan cannot show. Never a measurement."""

from __future__ import annotations

from functools import cache

from festoon.evidence.table import published

_WIDTH_IDS: dict[tuple[bool, int], tuple[str, ...]] = {
    (True, 1): ("CRN-001", "CRN-002"), (True, 2): ("CRN-005", "CRN-006"), (True, 3): ("CRN-009", "CRN-010"),
    (True, 4): ("CRN-070",), (True, 5): ("CRN-076",), (False, 1): ("CRN-082",), (False, 2): ("CRN-088",),
    (False, 3): ("CRN-094",), (False, 4): ("CRN-100",), (False, 5): ("CRN-106",),
}  # fmt: skip
_FROM_MEMORY = {
    (True, 6): 10.0, (True, 7): 9.0, (True, 8): 8.5, (False, 6): 11.0, (False, 7): 10.5, (False, 8): 10.0,
}  # fmt: skip
"""Widths of molars, from memory (the table has none)."""
_SECTION = {
    (True, 1): 10.0, (True, 2): 6.5, (True, 3): 12.0, (True, 4): 22.0, (True, 5): 25.0, (True, 6): 35.0, (True, 7): 33.0,
    (True, 8): 30.0, (False, 1): 6.0, (False, 2): 8.0, (False, 3): 11.5, (False, 4): 16.0, (False, 5): 20.0, (False, 6): 32.0,
    (False, 7): 30.0, (False, 8): 28.0,
}  # fmt: skip
"""Greatest section of the crown across the arch, coronal to 4 mm below the row's crest, mm2. From memory and from synthetic
mouths: a tooth's class shows in it, since an incisor is a blade and a premolar a block."""
_COVER_IDS = {1: ("CRN-032", "CRN-003"), 2: ("CRN-036", "CRN-007"), 3: ("CRN-040", "CRN-011")}
COVER_SD = 0.8
"""Spread of how far the margin lies coronal to the CEJ, mm (common practice, no source: from none to over 2 mm)."""


@cache
def expected_width(upper: bool, position: int) -> float:
    """Mean crown width of a place, mm; the mean of men and women where both are printed."""
    ids = _WIDTH_IDS.get((upper, position))
    if ids is None:
        return _FROM_MEMORY[upper, position]
    return sum(published(i).value for i in ids) / len(ids)


def expected_section(upper: bool, position: int) -> float:
    """Greatest section of the row at a tooth of this place, mm2."""
    return _SECTION[upper, position]


@cache
def expected_cover(position: int) -> float:
    """How far the CEJ lies apical to the margin midfacially, mm: anatomic less clinical crown length; 1.0 for premolars and
    molars (common practice, no source)."""
    if position not in _COVER_IDS:
        return 1.0
    anatomic, clinical = _COVER_IDS[position]
    return published(anatomic).value - published(clinical).value

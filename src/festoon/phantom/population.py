"""The dimensions a phantom is drawn from: published means and spreads, each with its evidence id.

Where the table prints no spread or no row at all, the number stands here with the words "from memory" or how it was derived;
:data:`SOURCES` lists everything for the documents.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from festoon.evidence.table import published

CUT_SD = 2.5
"""Draws are cut at this many standard deviations, so that no mouth is a monster (a modelling choice)."""


@dataclass(frozen=True)
class Spread:
    """A normal distribution in mm, with where it comes from."""

    mean: float
    sd: float
    source: str

    def draw(self, z: float) -> float:
        """The value ``z`` standard deviations from the mean, cut."""
        return self.mean + self.sd * float(np.clip(z, -CUT_SD, CUT_SD))


def _row(row_id: str, sd: float | None = None, why: str = "") -> Spread:
    row = published(row_id)
    spread = row.sd if sd is None else sd
    if spread is None:
        raise LookupError(f"evidence row {row_id} prints no spread: say one and where it comes from")
    return Spread(row.value, spread, f"{row_id}{'; spread ' + why if why else ''}")


def _memory(mean: float, sd: float) -> Spread:
    return Spread(mean, sd, "from memory, not checked")


def _of_mean(*row_ids: str) -> float:
    """Spread of single teeth from the 95 % interval of a mean: half-width / 1.96 x sqrt(n)."""
    spreads = []
    for row_id in row_ids:
        row = published(row_id)
        if row.low is None or row.high is None or row.n is None:
            raise LookupError(f"evidence row {row_id} prints no interval")
        spreads.append((row.high - row.low) / 2 / 1.96 * row.n**0.5)
    return float(np.mean(spreads))


_WIDTH_SD = 0.5 / 1.341
"""82 % of widths lie within 0.5 mm of the mode (note of CRN-045 to CRN-047, memory): 0.5 / 1.341 = 0.37 mm."""
_WIDTH_WHY = "derived from the note of CRN-045"
_LENGTH_SD = 0.85
_LENGTH_WHY = "from memory, not checked"

UPPER_WIDTH: dict[int, dict[str, Spread]] = {
    position: {
        "male": _row(men, _WIDTH_SD, _WIDTH_WHY),
        "female": _row(women, _WIDTH_SD, _WIDTH_WHY),
    }
    for position, (men, women) in {
        1: ("CRN-001", "CRN-002"),
        2: ("CRN-005", "CRN-006"),
        3: ("CRN-009", "CRN-010"),
    }.items()
}
"""Clinical crown width by position and sex."""
UPPER_LENGTH: dict[int, dict[str, Spread]] = {
    position: {
        "male": _row(men, _LENGTH_SD, _LENGTH_WHY),
        "female": _row(women, _LENGTH_SD, _LENGTH_WHY),
    }
    for position, (men, women) in {
        1: ("CRN-003", "CRN-004"),
        2: ("CRN-007", "CRN-008"),
        3: ("CRN-011", "CRN-012"),
    }.items()
}
"""Clinical crown length by position and sex."""
_TEXTBOOK_WIDTH = {
    (True, 4): "CRN-070", (True, 5): "CRN-076", (False, 1): "CRN-082", (False, 2): "CRN-088", (False, 3): "CRN-094",
    (False, 4): "CRN-100", (False, 5): "CRN-106",
}  # fmt: skip
_TEXTBOOK_CROWN = {
    (True, 4): "CRN-068", (True, 5): "CRN-074", (False, 1): "CRN-080", (False, 2): "CRN-086", (False, 3): "CRN-092",
    (False, 4): "CRN-098", (False, 5): "CRN-104",
}  # fmt: skip
_TEXTBOOK_ROOT = {
    (True, 1): "CRN-051", (True, 2): "CRN-057", (True, 4): "CRN-069", (True, 5): "CRN-075",
    (False, 4): "CRN-099", (False, 5): "CRN-105",
}  # fmt: skip
_ROOT_CBCT = {
    (True, 3): "ROOT-001", (False, 1): "ROOT-005", (False, 2): "ROOT-007", (False, 3): "ROOT-003",
}  # fmt: skip
_MOLARS = {
    (True, 6): (10.0, 7.5, 12.5), (True, 7): (9.0, 7.0, 11.5), (False, 6): (11.0, 7.5, 14.0), (False, 7): (10.5, 7.0, 13.0),
}  # fmt: skip
"""Width, anatomic crown and root of the molars, from memory (the table has none)."""
DEPTH = {
    (True, 1): 7.0, (True, 2): 6.0, (True, 3): 8.0, (True, 4): 9.0, (True, 5): 9.0, (True, 6): 11.0, (True, 7): 11.0,
    (False, 1): 6.0, (False, 2): 6.5, (False, 3): 7.5, (False, 4): 7.5, (False, 5): 8.0, (False, 6): 10.5, (False, 7): 10.0,
}  # fmt: skip
"""Faciolingual diameter of the crown, from memory."""
MARGIN_TO_CEJ = {1: 1.5, 2: 1.05, 3: 0.77}
"""Midfacial margin coronal to the CEJ: anatomic less clinical crown of men (CRN-032 less CRN-003, CRN-036 less CRN-007,
CRN-040 less CRN-011). STA-037 prints 2.0 for all teeth."""


def crown_width(upper: bool, position: int, sex: str) -> Spread:
    """Clinical crown width."""
    if upper and position in UPPER_WIDTH:
        return UPPER_WIDTH[position][sex]
    if (upper, position) in _TEXTBOOK_WIDTH:
        return _row(_TEXTBOOK_WIDTH[upper, position], _WIDTH_SD, _WIDTH_WHY)
    return _memory(_MOLARS[upper, position][0], 0.5)


def crown_length(upper: bool, position: int, sex: str) -> Spread:
    """Clinical crown length: published, or the anatomic crown less what the margin covers."""
    if upper and position in UPPER_LENGTH:
        return UPPER_LENGTH[position][sex]
    cover = margin_to_cej(position).mean
    if (upper, position) in _TEXTBOOK_CROWN:
        row = published(_TEXTBOOK_CROWN[upper, position])
        return Spread(row.value - cover, 0.7, f"{row.id} less the cover of the CEJ; spread from memory")
    return _memory(_MOLARS[upper, position][1] - cover, 0.6)


def margin_to_cej(position: int) -> Spread:
    """Midfacial margin to CEJ, the margin being coronal."""
    mean = MARGIN_TO_CEJ.get(position, 1.0)
    return Spread(mean, 0.35, "CRN-032, CRN-036, CRN-040 less CRN-003, CRN-007, CRN-011; spread from memory")


def root_length(upper: bool, position: int) -> Spread:
    """CEJ to apex."""
    if (upper, position) in _ROOT_CBCT:
        row_id = _ROOT_CBCT[upper, position]
        row = published(row_id)
        return Spread(row.value, _of_mean(row_id), f"{row_id}, spread from its interval and n")
    if (upper, position) in _TEXTBOOK_ROOT:
        why = "of ROOT-005 to ROOT-008"
        return _row(_TEXTBOOK_ROOT[upper, position], _of_mean("ROOT-005", "ROOT-006", "ROOT-007", "ROOT-008"), why)
    return _memory(_MOLARS[upper, position][2], 1.2)


def cej_rise(upper: bool, position: int) -> Spread:
    """Height of the CEJ curve, facial to mesial."""
    rows = {1: ("ROOT-010", "ROOT-011"), 2: ("ROOT-009", "ROOT-012"), 3: ("ROOT-013", "ROOT-014")}
    if upper and position in rows:
        ids = rows[position]
        return Spread(float(np.mean([published(i).value for i in ids])), 0.4, f"{', '.join(ids)}; spread from memory")
    if position <= 3:
        row_id = {1: "CRN-084", 2: "CRN-090", 3: "CRN-096"}[position]
        return _row(row_id, 0.4, "from memory")
    return _row("CRN-072" if upper else "CRN-102", 0.2, "from memory")


def margin_to_crest(upper: bool, position: int) -> Spread:
    """Midfacial margin to alveolar crest."""
    if upper and position <= 3:
        return _row({1: "STA-020", 2: "STA-021", 3: "STA-022"}[position])
    return _row("STA-026")


def tip_to_crest() -> Spread:
    """Papilla tip to interproximal crest; the printed range 3.5 to 5.0 taken as two spreads to each side."""
    return _row("GIN-043", 0.375, "a quarter of its range")


def papilla_height(upper: bool, position: int) -> Spread:
    """Zenith to papilla tip."""
    if position <= 3:
        spread = _row({1: "GIN-025", 2: "GIN-026", 3: "GIN-027"}[position])
        if upper:
            return spread
        return Spread(spread.mean * 0.85, spread.sd, f"{spread.source}, less 15 % in the lower jaw (from memory)")
    return _memory(3.3 if position <= 5 else 2.6, 0.5)


def zenith_offset(position: int) -> Spread:
    """Zenith from the middle of the width, distal positive."""
    rows = {1: "GIN-005", 2: "GIN-006", 3: "GIN-007", 4: "GIN-008", 5: "GIN-009"}
    return _row(rows[position]) if position in rows else _memory(0.1, 0.15)


def below_line(upper: bool, position: int) -> Spread:
    """How far the zenith lies coronal to that of its reference: the laterals to the central-canine line, the rest to the canine."""
    if upper and position in (2, 4, 5):
        return _row({2: "GIN-010", 4: "GIN-011", 5: "GIN-012"}[position])
    return _memory({2: 0.2, 4: 1.0, 5: 1.5, 6: 2.2, 7: 2.6}.get(position, 0.0), 0.3)


def gingiva_thickness(upper: bool, position: int) -> Spread:
    """Facial thickness at the level of the CEJ."""
    if upper and position <= 3:
        return _row({1: "STA-023", 2: "STA-024", 3: "STA-025"}[position])
    return _memory(1.1 if upper else 0.95, 0.2)


def bone_thickness(upper: bool, position: int) -> Spread:
    """Facial plate over the root, near the crest."""
    if position <= 3:
        spread = _row("ERR-028")
        return spread if upper else Spread(0.5, 0.2, "from memory, not checked")
    return _memory(0.9 if position <= 5 else 1.2, 0.25)


def keratinised_width(upper: bool, position: int) -> Spread:
    """Margin to mucogingival junction, facially."""
    if upper:
        return _row("HEAL-003")
    return _memory(3.8 if position <= 2 else 3.0, 0.8)


def sulcus_depth() -> Spread:
    """Margin to the bottom of the sulcus."""
    return _row("STA-005")


def contact_height(position: int) -> Spread:
    """Height of the contact on the mesial side of the tooth."""
    row_id = {1: "GIN-044", 2: "GIN-046", 3: "GIN-048"}.get(position, "GIN-050")
    return _row(row_id, 0.3, "from memory")

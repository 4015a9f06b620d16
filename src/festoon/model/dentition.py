"""Teeth by ISO 3950 and the ten sites of a tooth.

A tooth code is a label, not a number: 11 + 1 is no neighbour. Other notations are converted at the door
(:func:`tooth_from`) and shown beside the ISO code (:meth:`Tooth.shown`), never computed with.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property


class Notation(StrEnum):
    """How teeth are named in a file."""

    FDI = "fdi"
    """Two digits, ISO 3950: quadrant 1-4, then position 1-8 from the midline."""
    UNIVERSAL = "universal"
    """1-32, from the upper right third molar round to the lower right third molar."""
    PALMER = "palmer"
    """Quadrant UR, UL, LL or LR, then position 1-8 from the midline."""


_PALMER_QUADRANT = {1: "UR", 2: "UL", 3: "LL", 4: "LR"}
_PALMER_TO_QUADRANT = {name: quadrant for quadrant, name in _PALMER_QUADRANT.items()}
_POSITION_NAME = {
    1: "central incisor",
    2: "lateral incisor",
    3: "canine",
    4: "first premolar",
    5: "second premolar",
    6: "first molar",
    7: "second molar",
    8: "third molar",
}


@dataclass(frozen=True, order=False)
class Tooth:
    """One permanent tooth, ISO 3950.

    Raises
    ------
    ValueError
        If the code is not two digits of a permanent tooth (quadrant 1-4, position 1-8).
    """

    fdi: str

    def __post_init__(self) -> None:
        if not re.fullmatch(r"[1-4][1-8]", self.fdi):
            raise ValueError(f"{self.fdi!r} is no permanent tooth in ISO 3950 (11-18, 21-28, 31-38, 41-48)")

    def __str__(self) -> str:
        return self.fdi

    @property
    def quadrant(self) -> int:
        """1 upper right, 2 upper left, 3 lower left, 4 lower right (of the patient)."""
        return int(self.fdi[0])

    @property
    def position(self) -> int:
        """1 at the midline to 8 at the back."""
        return int(self.fdi[1])

    @property
    def is_upper(self) -> bool:
        """True in the upper jaw."""
        return self.quadrant in (1, 2)

    @property
    def is_right(self) -> bool:
        """True on the patient's right."""
        return self.quadrant in (1, 4)

    @property
    def contralateral(self) -> Tooth:
        """The tooth of the same position on the other side of the same jaw."""
        return Tooth({1: "2", 2: "1", 3: "4", 4: "3"}[self.quadrant] + self.fdi[1])

    @cached_property
    def column(self) -> int:
        """Place in its jaw as one faces the patient, 0 (patient's right third molar) to 15 (left)."""
        return 8 - self.position if self.is_right else 7 + self.position

    def is_neighbour_of(self, other: Tooth) -> bool:
        """True when both stand side by side in the same jaw."""
        return self.is_upper == other.is_upper and abs(self.column - other.column) == 1

    @property
    def name(self) -> str:
        """The tooth in words, with its side: for the time-out before surgery."""
        jaw = "upper" if self.is_upper else "lower"
        side = "right" if self.is_right else "left"
        return f"{jaw} {side} {_POSITION_NAME[self.position]}"

    def shown(self, notation: Notation) -> str:
        """The tooth in another notation, for showing only."""
        if notation is Notation.FDI:
            return self.fdi
        if notation is Notation.PALMER:
            return f"{_PALMER_QUADRANT[self.quadrant]}{self.position}"
        return str(1 + self.column if self.is_upper else 32 - self.column)


def tooth_from(text: str, notation: Notation) -> Tooth:
    """The tooth named by ``text`` in a declared notation.

    Raises
    ------
    ValueError
        If the text names no permanent tooth in that notation.
    """
    text = text.strip()
    if notation is Notation.FDI:
        return Tooth(text)
    if notation is Notation.PALMER:
        match = re.fullmatch(r"(UR|UL|LL|LR)([1-8])", text.upper())
        if match is None:
            raise ValueError(f"{text!r} is no tooth in Palmer notation (UR1-UR8, UL1-UL8, LL1-LL8, LR1-LR8)")
        return Tooth(f"{_PALMER_TO_QUADRANT[match[1]]}{match[2]}")
    if not re.fullmatch(r"[1-9]|[12]\d|3[0-2]", text):
        raise ValueError(f"{text!r} is no tooth in Universal notation (1-32)")
    number = int(text)
    is_upper = number <= 16
    column = number - 1 if is_upper else 32 - number
    position = 8 - column if column < 8 else column - 7
    quadrant = (1 if column < 8 else 2) if is_upper else (4 if column < 8 else 3)
    return Tooth(f"{quadrant}{position}")


def as_seen(teeth: Iterable[Tooth]) -> list[Tooth]:
    """Teeth in the order seen facing the patient: upper jaw first, patient's right on the left."""
    return sorted(teeth, key=lambda tooth: (not tooth.is_upper, tooth.column))


class SiteKind(StrEnum):
    """What a site is, as far as the rules care."""

    MID = "mid"
    """The middle of the facial or lingual surface."""
    LINE_ANGLE = "line_angle"
    """Where the facial or lingual surface turns towards the neighbour."""
    INTERPROXIMAL = "interproximal"
    """Between two teeth: the margin there is the papilla tip."""


class Site(StrEnum):
    """The ten sites of a tooth, mesial to distal, facial before lingual."""

    MESIAL = "mesial"
    """Facial papilla on the side of the midline."""
    MESIOFACIAL = "mesiofacial"
    """Mesial line angle, facially."""
    MIDFACIAL = "midfacial"
    """Middle of the facial surface."""
    DISTOFACIAL = "distofacial"
    """Distal line angle, facially."""
    DISTAL = "distal"
    """Facial papilla away from the midline."""
    MESIAL_LINGUAL = "mesial_lingual"
    """Lingual (palatal) papilla on the side of the midline."""
    MESIOLINGUAL = "mesiolingual"
    """Mesial line angle, lingually."""
    MIDLINGUAL = "midlingual"
    """Middle of the lingual (palatal) surface."""
    DISTOLINGUAL = "distolingual"
    """Distal line angle, lingually."""
    DISTAL_LINGUAL = "distal_lingual"
    """Lingual (palatal) papilla away from the midline."""

    @property
    def kind(self) -> SiteKind:
        """Mid-surface, line angle or interproximal."""
        if self in (Site.MIDFACIAL, Site.MIDLINGUAL):
            return SiteKind.MID
        if self in (Site.MESIAL, Site.DISTAL, Site.MESIAL_LINGUAL, Site.DISTAL_LINGUAL):
            return SiteKind.INTERPROXIMAL
        return SiteKind.LINE_ANGLE

    @property
    def is_facial(self) -> bool:
        """True on the facial side."""
        return self in FACIAL_SITES

    @property
    def surface(self) -> str:
        """Which surface of the root lies under the site: facial, lingual, mesial or distal."""
        if self.kind is SiteKind.INTERPROXIMAL:
            return "mesial" if self.value.startswith("mesial") else "distal"
        return "facial" if self.is_facial else "lingual"

    @property
    def faces_midline(self) -> bool | None:
        """True on the mesial half, False on the distal half, None in the middle."""
        if self.kind is SiteKind.MID:
            return None
        return self.value.startswith("mesi")


FACIAL_SITES = (Site.MESIAL, Site.MESIOFACIAL, Site.MIDFACIAL, Site.DISTOFACIAL, Site.DISTAL)
LINGUAL_SITES = (
    Site.MESIAL_LINGUAL,
    Site.MESIOLINGUAL,
    Site.MIDLINGUAL,
    Site.DISTOLINGUAL,
    Site.DISTAL_LINGUAL,
)


@dataclass(frozen=True)
class Pair:
    """Two teeth of one jaw and the papilla between them, named as seen: patient's right first.

    Neighbours by number, or teeth between which nobody stands any more: :attr:`festoon.model.case.Case.neighbours` says which.
    """

    right: Tooth
    left: Tooth

    def __post_init__(self) -> None:
        if self.right.is_upper != self.left.is_upper or self.right.column >= self.left.column:
            raise ValueError(f"{self.right}-{self.left} are no two teeth of one jaw, patient's right first")

    def __str__(self) -> str:
        return f"{self.right}-{self.left}"

    def site_of(self, tooth: Tooth) -> Site:
        """The facial interproximal site of ``tooth`` that looks at this papilla."""
        return facing(tooth, self.left if tooth == self.right else self.right)


def facing(tooth: Tooth, other: Tooth) -> Site:
    """The facial interproximal site of ``tooth`` that looks at its neighbour ``other``."""
    if tooth.is_right != other.is_right:
        return Site.MESIAL
    return Site.MESIAL if other.position < tooth.position else Site.DISTAL

"""Who is compared with whom: the pairs of the two sides, and the lateral under the central-canine line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

from festoon.evidence.table import published
from festoon.model.dentition import Tooth
from festoon.planning.problem import Problem, ToothProblem
from festoon.planning.programme import Linear
from festoon.planning.targets import premolar_below_canine

Height = TypeVar("Height", float, Linear)
_TYPICAL_WIDTH_ROWS = {1: "CRN-019", 2: "CRN-022", 3: "CRN-025"}


@dataclass(frozen=True)
class Place:
    """Where another tooth puts a tooth's margin."""

    reference: ToothProblem
    coronal_mm: float
    """How far coronal to the reference's margin, as height."""
    source: str


def place_by_neighbour(problem: Problem, entry: ToothProblem) -> Place | None:
    """The place of an upper tooth that has no target length of its own; None where nothing gives one.

    Premolars lie below the canine by the published means. A premolar that stands for a canine is put level with the
    central (common practice, no source).
    """
    role = entry.anatomy.role
    if not role.is_upper or entry.target is not None or entry.is_restorative:
        return None
    if role.position == 3 and role != entry.tooth:
        reference, coronal, source = problem.by_role(Tooth(f"{role.quadrant}1")), 0.0, "common practice, no source"
    else:
        below = premolar_below_canine(role.position)
        if below is None:
            return None
        reference = problem.by_role(Tooth(f"{role.quadrant}3"))
        coronal, source = below
    return None if reference is None else Place(reference, coronal, source)


def pairs(problem: Problem) -> list[tuple[ToothProblem, ToothProblem]]:
    """Teeth of the same role on both sides, patient's right first."""
    found = []
    for quadrant in (1, 4):
        for position in range(1, 9):
            right = problem.by_role(Tooth(f"{quadrant}{position}"))
            left = problem.by_role(Tooth(f"{quadrant}{position}").contralateral)
            if right is not None and left is not None:
                found.append((right, left))
    return found


@dataclass(frozen=True)
class CentralCanineLine:
    """The straight line from a central's zenith to the canine's, and the lateral between them."""

    side: str
    teeth: tuple[ToothProblem, ToothProblem, ToothProblem]
    """Central, lateral, canine by role."""
    share: float
    """Where the lateral lies along the line: 0 at the central, 1 at the canine."""

    def at_lateral(self, central: Height, canine: Height) -> Height:
        """Height of the line at the lateral, from two heights that are numbers or expressions alike."""
        return central * (1 - self.share) + canine * self.share

    @property
    def present_coronal(self) -> float:
        """How far coronal to the line the lateral lies today, mm; 0 where it cannot be said."""
        central, lateral, canine = (entry.height(entry.margin) for entry in self.teeth)
        if central is None or lateral is None or canine is None:
            return 0.0
        return self.at_lateral(central, canine) - lateral


def central_canine_lines(problem: Problem) -> list[CentralCanineLine]:
    """The lines of the upper jaw, patient's right first; a side without all three roles has none."""
    found = []
    for side, quadrant in (("right", 1), ("left", 2)):
        teeth = [problem.by_role(Tooth(f"{quadrant}{position}")) for position in (1, 2, 3)]
        central, lateral, canine = teeth
        if central is None or lateral is None or canine is None:
            continue
        widths = [_width(entry) for entry in (central, lateral, canine)]
        to_lateral, to_canine = (widths[0] + widths[1]) / 2, widths[1] + (widths[0] + widths[2]) / 2
        found.append(CentralCanineLine(side, (central, lateral, canine), to_lateral / to_canine))
    return found


def _width(entry: ToothProblem) -> float:
    """Mesiodistal width for the place along the line: measured, or the published mean of the role."""
    if entry.anatomy.width is not None:
        return entry.anatomy.width.value
    return published(_TYPICAL_WIDTH_ROWS[entry.anatomy.role.position]).value

"""What can be moved on the level profile, and which entry of the case each movement writes."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel

from festoon.model.case import Status
from festoon.model.dentition import Site, Tooth
from festoon.model.plan import Plan


class Handle(BaseModel):
    """A point of the profile that can be moved along its tooth."""

    kind: Literal["edge", "length"]
    """``edge``: the planned incisal edge; ``length``: the target length, the margin's wished level."""
    tooth: str
    twin: str
    """The tooth on the other side, for moving both."""
    path: str
    """The entry of the case that is written."""
    twin_path: str
    level: float
    """Where the point lies, in mm from the planned edge."""
    value: float
    """What the entry says now."""
    sign: Literal[-1, 1]
    """How the entry grows when the point moves apically by as much: an edge moved apically shortens the tooth."""
    low: float
    high: float
    reached: float | None
    """The level that the plan reaches; None where it gives none."""
    why: str
    """What holds the margin where it is."""


_EDGE = 4.0
"""How far an edge can be moved at once, mm: a matter of handling, not a limit of the mouth."""
_LENGTHS = (4.0, 18.0)
"""Lengths that can be asked for, mm: handling, too."""


def handles_of(plan: Plan) -> list[Handle]:
    """The points of a plan's profile that can be moved: edges, then lengths, as seen."""
    edges, lengths = [], []
    for code, place in plan.teeth.items():
        if not Status(place.status).is_rooted:
            continue
        tooth = Tooth(code)
        twin = tooth.contralateral.fdi
        extension = place.incisal_extension_mm
        edges.append(
            Handle(
                kind="edge", tooth=code, twin=twin if twin in plan.teeth else "",
                path=f"teeth.{code}.incisal_extension_mm", twin_path=f"teeth.{twin}.incisal_extension_mm",
                level=0.0, value=extension or 0.0, sign=-1, low=-_EDGE, high=_EDGE, reached=None,
                why="" if extension is not None else "not said: the edge is taken to stay",
            )
        )  # fmt: skip
        if place.target_length_mm is None:
            continue
        lengths.append(
            Handle(
                kind="length", tooth=code, twin=twin if twin in plan.teeth else "",
                path=f"teeth.{code}.target_length_mm", twin_path=f"teeth.{twin}.target_length_mm",
                level=place.target_length_mm, value=place.target_length_mm, sign=1, low=_LENGTHS[0], high=_LENGTHS[1],
                reached=place.planned_length_mm, why=_why(plan, code),
            )
        )  # fmt: skip
    return [*edges, *lengths]


def _why(plan: Plan, code: str) -> str:
    """What stops the margin, in the plan's own words."""
    for conflict in plan.conflicts:
        if conflict.tooth == code:
            return conflict.text
    place = plan.teeth[code]
    mid = next((s for s in plan.sites if s.tooth == code and s.site is Site.MIDFACIAL), None)
    rules = ", ".join(rule.replace("_", " ") for rule in mid.binding) if mid else ""
    return place.why + (f" ({rules})" if rules else "")

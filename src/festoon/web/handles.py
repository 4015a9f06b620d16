"""What can be moved on the level profile, and which entry of the case each movement writes."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Literal

from pydantic import BaseModel

from festoon.model.case import Status
from festoon.model.dentition import Site, Tooth
from festoon.model.plan import Plan, ToothPlan


class Handle(BaseModel):
    """A point of the profile that can be moved along its tooth, or across it."""

    kind: Literal["edge", "length", "zenith", "contact"]
    """``edge``: the planned incisal edge; ``length``: the target length, the margin's wished level; ``zenith``: where across the
    tooth the margin is highest; ``contact``: the apical end of a contact to be made, under the papilla."""
    tooth: str
    """For a contact the tooth named first, on whose right side in the drawing it lies."""
    name: str
    """The tooth, or the two teeth of a contact, as the reader names them."""
    twin: str
    """The tooth on the other side, for moving both; '' where there is none."""
    path: str
    """The entry of the case that is written."""
    twin_path: str
    twin_shift: float = 0.0
    """What the twin's entry says more than this one: the planned edges that two contacts are read from differ in height."""
    level: float
    """Where the point lies, in mm from the planned edge."""
    across: bool = False
    """True where it moves across the tooth, distal positive, and not along it."""
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
_CONTACTS = (0.0, 9.0)
"""Levels at which a contact can be asked to end, mm: handling, too."""


def handles_of(plan: Plan, name: Callable[[str], str]) -> list[Handle]:
    """The points of a plan's profile that can be moved: edges, then lengths, zeniths and contacts, as seen; teeth named by ``name``."""
    edges, lengths, zeniths = [], [], []
    for code, place in plan.teeth.items():
        if not Status(place.status).is_rooted:
            continue
        tooth = Tooth(code)
        twin = tooth.contralateral.fdi
        extension = place.incisal_extension_mm
        edges.append(
            Handle(
                kind="edge", tooth=code, name=name(code), twin=twin if twin in plan.teeth else "",
                path=f"teeth.{code}.incisal_extension_mm", twin_path=f"teeth.{twin}.incisal_extension_mm",
                level=0.0, value=extension or 0.0, sign=-1, low=-_EDGE, high=_EDGE, reached=None,
                why="" if extension is not None else "not said: the edge is taken to stay",
            )
        )  # fmt: skip
        if place.target_length_mm is None:
            continue
        lengths.append(
            Handle(
                kind="length", tooth=code, name=name(code), twin=twin if twin in plan.teeth else "",
                path=f"teeth.{code}.target_length_mm", twin_path=f"teeth.{twin}.target_length_mm",
                level=place.target_length_mm, value=place.target_length_mm, sign=1, low=_LENGTHS[0], high=_LENGTHS[1],
                reached=place.planned_length_mm, why=_why(plan, code),
            )
        )  # fmt: skip
        if place.zenith_target_mm is not None and place.planned_length_mm is not None and place.width_mm:
            half = round(place.width_mm / 4, 1)  # further from the middle than half way is no zenith
            zeniths.append(
                Handle(
                    kind="zenith", tooth=code, name=name(code), twin=twin if twin in plan.teeth else "",
                    path=f"teeth.{code}.zenith_target_mm", twin_path=f"teeth.{twin}.zenith_target_mm",
                    level=place.planned_length_mm, value=place.zenith_target_mm, sign=1, low=-half, high=half,
                    reached=None, across=True, why=_zenith_today(place),
                )
            )  # fmt: skip
    return [*edges, *lengths, *zeniths, *_contacts(plan, name)]


def _zenith_today(place: ToothPlan) -> str:
    return "" if place.zenith_offset_mm is None else f"today {place.zenith_offset_mm:.1f} mm, distal positive"


def _contacts(plan: Plan, name: Callable[[str], str]) -> Iterator[Handle]:
    """Contacts that a restoration could carry further apically, towards a papilla."""
    for papilla in plan.papillae:
        first, second = (Tooth(code) for code in papilla.between.split("-"))
        if papilla.contact_mm is None:
            continue
        mirrored = f"{second.contralateral}-{first.contralateral}"
        heights = [plan.teeth[tooth.fdi].edge_height_mm for tooth in (first, second)]
        has_twin = mirrored != papilla.between and any(p.between == mirrored for p in plan.papillae)
        own, other = heights
        yield Handle(
            kind="contact", tooth=first.fdi, name=name(papilla.between),
            twin=second.contralateral.fdi if has_twin and own is not None and other is not None else "",
            path=f"papillae.{papilla.between}.future_contact_mm", twin_path=f"papillae.{mirrored}.future_contact_mm",
            twin_shift=round((own or 0.0) - (other or 0.0), 2),
            level=papilla.contact_mm, value=papilla.contact_mm, sign=1, low=_CONTACTS[0], high=_CONTACTS[1],
            reached=None, why=papilla.text,
        )  # fmt: skip


def _why(plan: Plan, code: str) -> str:
    """What stops the margin, in the plan's own words."""
    for conflict in plan.conflicts:
        if conflict.tooth == code:
            return conflict.text
    place = plan.teeth[code]
    mid = next((s for s in plan.sites if s.tooth == code and s.site is Site.MIDFACIAL), None)
    rules = [rule.replace("_", " ") for rule in mid.binding] if mid else []
    if None in (place.target_length_mm, place.planned_length_mm) or not rules:
        return place.why
    short = (place.target_length_mm or 0.0) - (place.planned_length_mm or 0.0)
    stopped = f"stopped {short:.1f} mm before the wish by {rules[0]}; " if short >= _SHOWN else ""
    return f"{stopped}{place.why} ({', '.join(rules)})"


_SHOWN = 0.05
"""Less than this is not seen on a number with one decimal, mm."""

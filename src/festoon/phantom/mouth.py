"""The parameters of one mouth: drawn from the population by a seed, changed by what was wished for."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from festoon.model.dentition import Pair, Tooth
from festoon.phantom import population as pop


@dataclass(frozen=True)
class Wishes:
    """What this mouth should have beside the variation of any mouth. Teeth in ISO 3950, mm and degrees."""

    worn_mm: float = 0.0
    """Height lost from the edges of the six front teeth."""
    covered_mm: float = 0.0
    """Gingiva left too far coronal over the crowns of the six front teeth: short teeth on a sound crest."""
    asymmetry_mm: float = 0.0
    """The margin of the left central more apical by this."""
    diastema_mm: float = 0.0
    """Space between the centrals."""
    crowding_mm: float = 0.0
    """How far the laterals stand to the lingual, turned by 12 degrees for every mm."""
    rotated: tuple[tuple[str, float], ...] = ()
    """Teeth and by how much each is turned, mesial edge facially positive."""
    missing: tuple[str, ...] = ()
    crowned: tuple[str, ...] = ()
    dehisced: tuple[tuple[str, float], ...] = ()
    """Teeth whose facial crest lies lower (more apical) in a narrow cleft, and by how much."""
    fenestrated: tuple[str, ...] = ()
    """Teeth whose root shows through a window in the facial plate."""


@dataclass(frozen=True)
class ToothPlan:
    """What one tooth is to be. Levels in mm from the present edge, in the tooth's own frame."""

    tooth: Tooth
    width: float
    length: float
    """Clinical crown: edge to zenith."""
    cej: float
    """Level of the CEJ midfacially, from the unworn edge."""
    root: float
    depth: float
    cej_rise: float
    margin_to_crest: float
    zenith_offset: float
    papilla: float
    """Zenith to the mesial papilla tip; the distal one is the mesial one of the neighbour."""
    gingiva: float
    bone: float
    keratinised: float
    sulcus: float
    edge_height: float
    """Height of the present edge."""
    tip_deg: float
    torque_deg: float
    turned_deg: float = 0.0
    set_back: float = 0.0
    """How far it stands lingually of the arch."""
    worn: float = 0.0
    crowned: bool = False
    dehiscence: float = 0.0
    fenestrated: bool = False


@dataclass(frozen=True)
class Mouth:
    """One jaw of one person."""

    seed: int
    upper: bool
    sex: str
    age: int
    teeth: tuple[ToothPlan, ...]
    """As seen: the patient's right first. Missing teeth are not in it."""
    missing: tuple[Tooth, ...]
    spaces: dict[str, float] = field(default_factory=dict)
    """Open spaces by pair, mm."""
    tip_to_crest: dict[str, float] = field(default_factory=dict)
    """Papilla tip to interproximal crest by pair."""
    contact_height: dict[str, float] = field(default_factory=dict)

    @property
    def pairs(self) -> tuple[Pair, ...]:
        """Neighbours with nothing between them."""
        order = [plan.tooth for plan in self.teeth]
        return tuple(Pair(a, b) for a, b in pairwise(order) if a.is_neighbour_of(b))

    def plan(self, tooth: Tooth) -> ToothPlan:
        """The plan of a tooth."""
        return next(plan for plan in self.teeth if plan.tooth == tooth)


_TIP = {1: 2.0, 2: 5.0, 3: 8.0, 4: 4.0, 5: 4.0, 6: 4.0, 7: 3.0}
_TORQUE_UPPER = {1: 7.0, 2: 3.0, 3: -5.0, 4: -7.0, 5: -7.0, 6: -9.0, 7: -9.0}
_TORQUE_LOWER = {1: -1.0, 2: -1.0, 3: -9.0, 4: -15.0, 5: -20.0, 6: -26.0, 7: -30.0}
"""Tip and torque of the facial long axis by position, degrees (crown facial positive), from memory."""

_WITHIN = 0.75
"""Share of the variance of a size that the teeth of one person have in common (a modelling choice)."""
_SIDES = 0.18
"""Left-right difference of one size, in standard deviations of that size (a modelling choice)."""


def draw_mouth(seed: int, *, upper: bool = True, per_side: int = 7, wishes: Wishes | None = None) -> Mouth:
    """The mouth of a seed.

    Parameters
    ----------
    seed : int
        Same seed, same mouth.
    upper : bool
        Which jaw.
    per_side : int
        Teeth on each side of the midline, 3 to 7.
    wishes : Wishes, optional
        What this mouth should have.

    Raises
    ------
    ValueError
        If a wish names a tooth that this mouth has not, or wishes contradict each other or go beyond what can be shaped.
    """
    wishes = wishes or Wishes()
    check_wishes(wishes, upper=upper, per_side=per_side)
    rng = np.random.default_rng([seed, 1 if upper else 2])
    sex = "female" if rng.random() < 0.5 else "male"
    age = int(rng.integers(20, 51))
    person = {name: float(rng.standard_normal()) for name in _SIZES}
    by_position = {}
    for position in range(1, 8):
        by_position[position] = {
            name: _WITHIN**0.5 * person[name] + (1 - _WITHIN) ** 0.5 * float(rng.standard_normal()) for name in _SIZES
        }
    level_z = {position: float(rng.standard_normal()) for position in range(1, 8)}
    plans: dict[str, ToothPlan] = {}
    for position in range(1, 8):
        for quadrant in ("1", "2") if upper else ("4", "3"):
            sides = {name: float(rng.standard_normal()) for name in _SIZES}
            z = {name: (1 - _SIDES**2) ** 0.5 * by_position[position][name] + _SIDES * sides[name] for name in _SIZES}
            tooth = Tooth(quadrant + str(position))
            plans[tooth.fdi] = _plan(tooth, sex, z)
    plans = _on_one_line(plans, upper, level_z)
    plans = {code: _wished(plan, wishes) for code, plan in plans.items()}
    order = sorted((plan for plan in plans.values() if plan.tooth.position <= per_side), key=lambda p: p.tooth.column)
    contacts, crests = {}, {}
    for a, b in pairwise(order):
        pair = Pair(a.tooth, b.tooth)
        front = max(a.tooth.position, b.tooth.position) if a.tooth.position != b.tooth.position else 1
        contacts[str(pair)] = pop.contact_height(front).draw(float(rng.standard_normal()))
        crests[str(pair)] = pop.tip_to_crest().draw(float(rng.standard_normal()))
    middle = "11-21" if upper else "41-31"
    return Mouth(
        seed=seed,
        upper=upper,
        sex=sex,
        age=age,
        teeth=tuple(plan for plan in order if plan.tooth.fdi not in wishes.missing),
        missing=tuple(plan.tooth for plan in order if plan.tooth.fdi in wishes.missing),
        spaces={middle: wishes.diastema_mm} if wishes.diastema_mm > 0 else {},
        tip_to_crest=crests,
        contact_height=contacts,
    )


MOST_TURNED_DEG, DEEPEST_CLEFT_MM = 90.0, 8.0
"""How far a tooth can be turned, and how far the crest of a dehiscence can lie from where it would be."""


def check_wishes(wishes: Wishes, *, upper: bool, per_side: int) -> None:
    """Refuse wishes that cannot be granted, before anything is made.

    Raises
    ------
    ValueError
        As :func:`draw_mouth` says.
    """
    quadrants = ("1", "2") if upper else ("4", "3")
    there = {q + str(position) for q in quadrants for position in range(1, per_side + 1)}
    named = {
        "rotated": [tooth for tooth, _ in wishes.rotated], "missing": wishes.missing, "crowned": wishes.crowned,
        "dehiscence": [tooth for tooth, _ in wishes.dehisced], "fenestration": wishes.fenestrated,
    }  # fmt: skip
    for wish, teeth in named.items():
        for tooth in teeth:
            if tooth not in there:
                jaw = "upper" if upper else "lower"
                raise ValueError(f"{wish}: tooth {tooth} is not in this mouth: {jaw} jaw, {per_side} teeth a side")
            if wish != "missing" and tooth in wishes.missing:
                raise ValueError(f"{wish}: tooth {tooth} is wished to be missing too")
    for q in quadrants:
        if all(q + str(position) in wishes.missing for position in range(1, per_side + 1)):
            raise ValueError(f"missing: no tooth is left in quadrant {q}; leave one at least on each side")
    for tooth, degrees in wishes.rotated:
        if not abs(degrees) <= MOST_TURNED_DEG:
            raise ValueError(
                f"rotated: {tooth}={degrees:g}; expected -{MOST_TURNED_DEG:g} to {MOST_TURNED_DEG:g} degrees"
            )
    for tooth, depth in wishes.dehisced:
        if not 0 <= depth <= DEEPEST_CLEFT_MM:
            raise ValueError(f"dehiscence: {tooth}={depth:g}; expected 0 to {DEEPEST_CLEFT_MM:g} mm")
    centrals = {q + "1" for q in quadrants}
    if wishes.diastema_mm > 0 and centrals & set(wishes.missing):
        raise ValueError("diastema: a central is wished to be missing, so there is no space between two of them")


_SIZES = (
    "width", "length", "cover", "root", "rise", "crest", "zenith", "papilla", "gingiva", "bone",
    "keratinised", "sulcus", "tip", "torque",
)  # fmt: skip


def _plan(tooth: Tooth, sex: str, z: dict[str, float]) -> ToothPlan:
    upper, position = tooth.is_upper, tooth.position
    length = pop.crown_length(upper, position, sex).draw(z["length"])
    cover = max(0.3, pop.margin_to_cej(position).draw(z["cover"]))
    papilla = pop.papilla_height(upper, position).draw(z["papilla"])
    # A crest needs to lie apical to the CEJ: less than 0.7 mm is taken for a misprint of this generator, not anatomy.
    crest = max(cover + 0.7, pop.margin_to_crest(upper, position).draw(z["crest"]))
    torque = (_TORQUE_UPPER if upper else _TORQUE_LOWER)[position]
    return ToothPlan(
        tooth=tooth,
        width=pop.crown_width(upper, position, sex).draw(z["width"]),
        length=length,
        cej=length + cover,
        root=pop.root_length(upper, position).draw(z["root"]),
        depth=pop.DEPTH[upper, position] * (1 + 0.04 * float(np.clip(z["width"], -2.5, 2.5))),
        cej_rise=max(0.1, pop.cej_rise(upper, position).draw(z["rise"])),
        margin_to_crest=crest,
        zenith_offset=pop.zenith_offset(position).draw(z["zenith"]),
        papilla=min(papilla, 0.62 * length),
        gingiva=max(0.6, pop.gingiva_thickness(upper, position).draw(z["gingiva"])),
        bone=max(0.2, pop.bone_thickness(upper, position).draw(z["bone"])),
        keratinised=max(2.0, pop.keratinised_width(upper, position).draw(z["keratinised"])),
        sulcus=float(np.clip(pop.sulcus_depth().draw(z["sulcus"]), 0.5, min(2.6, crest - 0.8))),
        edge_height=0.0,
        tip_deg=_TIP[position] + 1.5 * z["tip"],
        torque_deg=torque + 2.5 * z["torque"],
    )


def _on_one_line(plans: dict[str, ToothPlan], upper: bool, z: dict[int, float]) -> dict[str, ToothPlan]:
    """Edge heights, from the places of the zeniths on the gingival line; the line is that of the centrals."""
    centrals = [plan for plan in plans.values() if plan.tooth.position == 1]
    line = float(np.mean([plan.length for plan in centrals]))
    placed = {}
    for code, plan in plans.items():
        position = plan.tooth.position
        if position == 1:
            height = 0.0
        else:
            height = line - pop.below_line(upper, position).draw(z[position]) - plan.length
            height = float(np.clip(height, -0.6, 1.8))
        placed[code] = replace(plan, edge_height=height)
    return placed


def _wished(plan: ToothPlan, wishes: Wishes) -> ToothPlan:
    """The plan of a tooth with the wishes that concern it."""
    code, position = plan.tooth.fdi, plan.tooth.position
    changes: dict[str, float | bool] = {}
    length, crest = plan.length, plan.margin_to_crest
    if wishes.covered_mm and position <= 3:
        taken = min(wishes.covered_mm, 0.45 * length)
        length, crest = length - taken, crest + taken
        changes["papilla"] = max(1.8, plan.papilla - 0.75 * taken)
        changes["keratinised"] = plan.keratinised + taken
    if wishes.asymmetry_mm and code in ("21", "31"):
        length, crest = length + wishes.asymmetry_mm, crest
        changes["cej"] = plan.cej + max(0.0, wishes.asymmetry_mm - (plan.cej - plan.length) + 0.3)
        changes["papilla"] = plan.papilla + wishes.asymmetry_mm
    if wishes.worn_mm and position <= 3:
        worn = min(wishes.worn_mm, 0.35 * length)
        changes["worn"] = worn
        length -= worn
        changes["edge_height"] = plan.edge_height + worn
    if wishes.crowding_mm and position == 2:
        changes["set_back"] = wishes.crowding_mm
        changes["turned_deg"] = 12.0 * wishes.crowding_mm
    changes["turned_deg"] = dict(wishes.rotated).get(code, changes.get("turned_deg", 0.0))
    changes["crowned"] = code in wishes.crowned
    changes["dehiscence"] = dict(wishes.dehisced).get(code, 0.0)
    changes["fenestrated"] = code in wishes.fenestrated
    return replace(plan, length=length, margin_to_crest=crest, **changes)  # type: ignore[arg-type]  # names of float and bool fields

"""The limits a plan obeys, by name: what each says, and whether it is held hard or as a caution."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from festoon.model.case import Purpose

Force = Literal["hard", "caution"]


class Limit(StrEnum):
    """Names of the limits, as they stand in a case's ``policy.limits`` and on a plan."""

    SUPRACRESTAL_SPACE = "supracrestal_space"
    """Planned crest at least the need of the site apical to the planned margin."""
    BONE_NOT_ADDED = "bone_not_added"
    """Planned crest never coronal to the present crest."""
    MARGIN_NOT_INCISAL = "margin_not_incisal"
    """The margin never moves incisally by surgery."""
    ROOT_EXPOSURE = "root_exposure"
    """Planned margin not apical to the CEJ plus the root that a restoration covers."""
    KERATINISED_TISSUE = "keratinised_tissue"
    """Excised collar at most the present keratinised tissue minus the minimum to keep."""
    INTERDENTAL_BONE = "interdental_bone"
    """Bone between the teeth is left alone unless the clinician allows it."""
    ROOT_PROXIMITY = "root_proximity"
    """Bone between roots that nearly touch is not shaped."""
    CREST_CONTOUR = "crest_contour"
    """Step and slope of the crest no worse than the larger of limit and present."""
    ROOT_TO_CROWN = "root_to_crown"
    """Root in bone over crown above bone; a sound central can be just under 1:1."""
    FURCATION = "furcation"
    """Crest stays clear of the furcation entrance."""
    NEIGHBOURS = "neighbours"
    """Implants, pontics, absent and excluded teeth are fixed, and the bone beside an implant is locked."""
    RESTORATIVE_MARGIN = "restorative_margin"
    """Crest at least the need apical to the finish line."""
    LATERAL_LINE = "lateral_line"
    """A lateral's margin not apical to the central-canine line."""
    SMALLEST_MOVE = "smallest_move"
    """A margin moves by at least this much, or not at all."""
    CLEARED_FIRST = "cleared_first"
    """Lesion, mobility, inflammation, ankylosis: not before it is cleared."""


@dataclass(frozen=True)
class LimitRule:
    """A limit in words and its default force."""

    words: str
    """Fits the sentence ``<words> stops a further 0.4 mm``."""
    buys: str
    """Fits the sentence ``<buys> would allow it``, with the millimetres put in for ``{mm}``."""
    force: Force = "hard"
    changeable: bool = True


RULES: dict[Limit, LimitRule] = {
    Limit.SUPRACRESTAL_SPACE: LimitRule(
        "the wanted distance from margin to crest", "a margin {mm} mm nearer to bone (rebound or inflammation likely)"
    ),
    Limit.BONE_NOT_ADDED: LimitRule("bone that cannot be added", "", changeable=False),
    Limit.MARGIN_NOT_INCISAL: LimitRule(
        "a margin that surgery cannot move incisally", "{mm} mm added incisally, or root coverage,", changeable=False
    ),
    Limit.ROOT_EXPOSURE: LimitRule("the CEJ", "a restoration covering {mm} mm of root"),
    Limit.KERATINISED_TISSUE: LimitRule("the keratinised tissue to be kept", "keeping {mm} mm less of it"),
    Limit.INTERDENTAL_BONE: LimitRule(
        "the bone between the teeth, which is left alone,", "removing {mm} mm of bone between the teeth"
    ),
    Limit.ROOT_PROXIMITY: LimitRule(
        "the nearness of the roots", "orthodontic separation of the roots", changeable=False
    ),
    Limit.CREST_CONTOUR: LimitRule(
        "the step of the crest to the neighbouring site",
        "a step {mm} mm larger (a ledge that the tissue will follow)",
    ),
    Limit.ROOT_TO_CROWN: LimitRule("the root-to-crown ratio", "{mm} mm less root in bone", force="caution"),
    Limit.FURCATION: LimitRule(
        "the furcation",
        "a crest {mm} mm nearer to the furcation (3 mm is the floor), a shorter ferrule, or orthodontic extrusion first",
    ),
    Limit.NEIGHBOURS: LimitRule("the fixed neighbour", "removing {mm} mm of bone beside it", changeable=False),
    Limit.RESTORATIVE_MARGIN: LimitRule(
        "the distance from finish line to crest", "a finish line {mm} mm nearer to bone, or a shorter ferrule,"
    ),
    Limit.LATERAL_LINE: LimitRule(
        "the central-canine line", "a lateral lying {mm} mm apical to the central-canine line"
    ),
    Limit.SMALLEST_MOVE: LimitRule("the smallest move worth making", "a move smaller by {mm} mm"),
    Limit.CLEARED_FIRST: LimitRule("something that must be cleared first", "", changeable=False),
}


def default_force(limit: Limit, purpose: Purpose) -> Force:
    """Hard or caution before the clinician says otherwise: root exposure is a caution on a restorative tooth."""
    if limit is Limit.ROOT_EXPOSURE and purpose is Purpose.RESTORATIVE:
        return "caution"
    return RULES[limit].force

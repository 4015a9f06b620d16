"""Numbers and teeth as the sheet says them: one step, a unit, words for what is unknown."""

from __future__ import annotations

from festoon.model.dentition import Notation, Site, Tooth
from festoon.model.plan import Mm, Procedure

NOT_MEASURED = "NOT MEASURED"
"""Nobody read it."""
NOT_GIVEN = "NOT GIVEN"
"""The plan leaves it open."""
NOT_KNOWN = "NOT KNOWN"
"""It follows from something that was not stated, such as today's edge."""
SITE_WORDS = {site: site.value.replace("_", " ") for site in Site}
SITE_LETTERS = {Site.DISTAL: "D", Site.MIDFACIAL: "F", Site.MESIAL: "M"}
"""The sites of the main grid; the others that are cut are listed in words."""
NOTATION_WORDS = {Notation.FDI: "ISO 3950", Notation.UNIVERSAL: "Universal", Notation.PALMER: "Palmer"}
_SHORT = {Notation.FDI: "ISO", Notation.UNIVERSAL: "Univ.", Notation.PALMER: ""}
METHOD_WORDS = {
    "probe": "probed",
    "sounding": "sounded",
    "calliper": "by calliper",
    "direct": "seen, flap open",
    "scan": "from scan",
    "photo": "from photo",
    "cbct": "from CBCT",
    "film": "from film",
    "design": "from design",
}
"""How a level was read, as the sheet says it."""


def procedure_words(procedure: Procedure) -> str:
    """What is done to a tooth, in the words of the plan."""
    return "no cut" if procedure is Procedure.NONE else procedure.value.replace("_", " ")


def level(value: Mm, unknown: str = NOT_MEASURED) -> str:
    """A level or distance to one decimal; the unit stands beside it on the sheet."""
    return unknown if value is None else f"{value:.1f}".replace("-", "−")


def exact(value: Mm, unknown: str = NOT_MEASURED) -> str:
    """A value of the file, to its hundredth, with its unit."""
    return unknown if value is None else f"{value:.2f} mm".replace("-", "−")


def taken(value: Mm) -> str:
    """An amount to take, ``none``, or that no cut is given. Amounts on paper are rounded up: the level decides."""
    if value is None:
        return NOT_GIVEN
    return "none" if value == 0 else level(value)


def edge_today(extension: Mm) -> str:
    """How the planned edge stands to the edge visible today."""
    if extension is None:
        return "NOT STATED"
    if extension == 0:
        return "as today"
    return f"{level(abs(extension))} mm {'LONGER' if extension > 0 else 'SHORTER'}"


def side_difference(value: Mm, right: str, left: str) -> str:
    """A left-right difference of margin heights in words: which side lies further apically."""
    if value is None:
        return "not known"
    if value == 0:
        return "level"
    return f"{right if value > 0 else left} is {level(abs(value))} mm more apical"


def both_names(tooth: Tooth, notations: tuple[Notation, Notation]) -> str:
    """A tooth in two notations."""
    return f"{tooth.shown(notations[0])} / {tooth.shown(notations[1])}"


def both_codes(code: str, notations: tuple[Notation, Notation]) -> str:
    """A tooth, or a pair of teeth such as ``11-21``, in two notations."""
    teeth = [Tooth(part) for part in code.split("-")]
    return " / ".join("-".join(tooth.shown(one) for tooth in teeth) for one in notations)


def short_name(tooth: Tooth, notation: Notation) -> str:
    """A tooth in its second notation with the notation's name, so that its number is never taken for a measure."""
    return f"{_SHORT[notation]} {tooth.shown(notation)}".strip()

"""The sums and sentences of a plan, in the trade's words. The one place that makes them."""

from __future__ import annotations

from festoon.model.dentition import Notation, Tooth
from festoon.planning.limits import RULES, Limit


def mm(value: float) -> str:
    """A length with two decimals, no minus before a zero."""
    text = f"{value:.2f}"
    return text[1:] if text.startswith("-") and float(text) == 0 else text


def short(value: float) -> str:
    """A length as spoken: one decimal, two where one would hide half a tenth."""
    return f"{value:.1f}" if abs(value * 10 - round(value * 10)) < 0.05 else mm(value)


def two_names(tooth: str) -> str:
    """A tooth in two notations, for everything that leaves the program."""
    known = Tooth(tooth)
    return f"{known} ({known.shown(Notation.PALMER)})"


def edge_sum(name: str, present: float, extension: float) -> str:
    """A level converted from the present to the planned edge."""
    sign = "+" if extension >= 0 else "−"
    return (
        f"{name}: planned-edge level = present-edge level {sign} {mm(abs(extension))} = "
        f"{mm(present)} {sign} {mm(abs(extension))} = {mm(present + extension)} mm"
    )


def move_sum(planned: float, present: float) -> str:
    """``move = planned margin − present margin``."""
    return f"move = planned margin − present margin = {mm(planned)} − {mm(present)} = {mm(planned - present)} mm"


def left_sum(crest: float, planned: float) -> str:
    """``left = present crest − planned margin``."""
    return f"left = present crest − planned margin = {mm(crest)} − {mm(planned)} = {mm(crest - planned)} mm"


def bone_sum(need: float, left: float) -> str:
    """``bone = max(0, need − left)``."""
    return f"bone = max(0, need − left) = max(0, {mm(need)} − {mm(left)}) = {mm(max(0.0, need - left))} mm"


def finish_line_sum(sound: float, ferrule: float) -> str:
    """``finish line = sound tooth + ferrule``."""
    return f"finish line = sound tooth + ferrule = {mm(sound)} + {mm(ferrule)} = {mm(sound + ferrule)} mm"


def finish_sum(finish: float, need: float, crest: float) -> str:
    """``bone = max(0, finish line + need − present crest)``."""
    return (
        f"bone = max(0, finish line + need − present crest) = max(0, {mm(finish)} + {mm(need)} − {mm(crest)}) = "
        f"{mm(max(0.0, finish + need - crest))} mm"
    )


def contour_sum(bone: float, demanded: float) -> str:
    """More bone than the supracrestal sum asks for, so that no step is left."""
    return f"contour: {mm(bone)} mm instead of {mm(demanded)} mm, so that the crest keeps its step to the next site"


def keratinised_sum(present: float, collar: float) -> str:
    """``keratinised after = present − excised collar``."""
    return f"keratinised after = present − excised collar = {mm(present)} − {mm(collar)} = {mm(present - collar)} mm"


def root_sum(planned: float, cej: float) -> str:
    """``root shown = max(0, planned margin − CEJ)``."""
    shown = max(0.0, planned - cej)
    return f"root shown = max(0, planned margin − CEJ) = max(0, {mm(planned)} − {mm(cej)}) = {mm(shown)} mm"


def stopped(tooth: str, limit: Limit, by_mm: float) -> str:
    """Which limit stops how much, and what would allow it."""
    rule = RULES[limit]
    text = f"{tooth}: {rule.words} stops a further {short(by_mm)} mm"
    return f"{text}; {rule.buys.format(mm=short(by_mm))} would allow it" if rule.buys else text


def bought(relax_mm: float, buys_mm: float, bone_mm: float) -> str:
    """What giving a limit a stated amount would buy."""
    if buys_mm < 0.005:
        return f"+{relax_mm:g} mm would bring nothing"
    bone = f", for {short(bone_mm)} mm more bone" if bone_mm > 0.005 else ""
    return f"+{relax_mm:g} mm would bring the tooth {short(buys_mm)} mm nearer to its target{bone}"

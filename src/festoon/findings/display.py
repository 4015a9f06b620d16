"""How much gingiva shows, how much of it lengthening could take away, and whether short crowns explain it."""

from __future__ import annotations

from festoon.findings import thresholds as t
from festoon.findings.mouth import Mouth
from festoon.findings.weighing import Weighing


def furthest_move(mouth: Mouth) -> float | None:
    """How far the central margins can go before root shows, in mm: up to the CEJ; None unless known on both.

    The smaller of the two counts, since it leaves more showing.
    """
    centrals = [f for f in mouth.front if f.tooth.position == 1]
    moves = [f.covered for f in centrals if f.covered is not None]
    if not centrals or len(moves) < len(centrals):
        return None
    return max(min(moves), 0.0)


def remaining_display(mouth: Mouth) -> float | None:
    """Display now minus the furthest move, in mm; None where either is unknown."""
    move = furthest_move(mouth)
    return None if mouth.display is None or move is None else max(mouth.display - move, 0.0)


def weigh_crowns(mouth: Mouth, w: Weighing) -> None:
    """For a cause above the gum line: do the crowns explain the display, wholly, in part or not at all?"""
    if mouth.display is None or mouth.display < t.VME_I.value:
        return
    rest = remaining_display(mouth)
    if mouth.crowns_ordinary:
        w.note(t.SOME, "crowns of ordinary length and proportion do not explain the display", "DX-021 to DX-024")
    elif mouth.crowns_ordinary is False and rest is not None:
        if rest >= t.DISPLAY.value:
            w.note(t.SOME, f"{rest:.1f} mm would still show with the margins at the CEJ", t.DISPLAY.source)
        else:
            text = f"short crowns explain it: {rest:.1f} mm would show with the margins at the CEJ"
            w.note(-t.SOME, text, t.DISPLAY.source)


def display_words(mouth: Mouth) -> str:
    """How much gingiva would still show with the central margins at the CEJ, as far as it can be computed."""
    now, move, rest = mouth.display, furthest_move(mouth), remaining_display(mouth)
    if now is None:
        return "Display was not recorded, so what remains of it cannot be said."
    smile = mouth.case.smile
    in_laughter = smile.display_spontaneous_mm == now and smile.gingival_display_mm != now
    when = "Display in a spontaneous laugh" if in_laughter else "Display now"
    if move is None or rest is None:
        text = (
            f"{when} {now:.1f} mm; what lengthening would take off it cannot be said before the CEJ of both "
            "centrals is known."
        )
    else:
        text = (
            f"{when} {now:.1f} mm; with the central margins at the CEJ at most {move:.1f} mm goes, {rest:.1f} mm stays."
        )
    if smile.display_spontaneous_mm is None and smile.posed is not False:
        text += " A posed smile under-shows: expect more in laughter (doi 10.1080/00016350802060617, 122 men)."
    return text

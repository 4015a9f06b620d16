"""From where the chairside page is seen: facing the patient, or from behind the head, at 12 o'clock.

From behind the head the arch is turned by half a circle: the patient's right is on the right of the sheet and the crowns
of the upper jaw point away from the operator. Nothing but the order and the words that tell both views apart may differ.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal, get_args

from festoon.model.dentition import Tooth

View = Literal["front", "behind"]
VIEWS: tuple[View, ...] = get_args(View)

_WORDS: dict[View, dict[str, str]] = {
    "front": {
        "left": "patient's RIGHT is on the LEFT of this sheet",
        "seen": "viewed as you face the patient",
        "right": "patient's LEFT is on the RIGHT",
    },
    "behind": {
        "left": "patient's LEFT is on the LEFT",
        "seen": "SEEN FROM BEHIND THE PATIENT'S HEAD",
        "right": "patient's RIGHT is on the RIGHT of this sheet",
    },
}


def words_of(view: View) -> dict[str, Any]:
    """What the page says about its view.

    Raises
    ------
    ValueError
        If the view is not known.
    """
    if view not in VIEWS:
        raise ValueError(f"view {view!r} is not known; use {' or '.join(VIEWS)}")
    return {**_WORDS[view], "behind": view == "behind"}


def in_order(teeth: Sequence[Tooth], view: View) -> list[Tooth]:
    """Teeth that are in the order seen facing the patient, in the order of a view."""
    return list(teeth) if view == "front" else list(reversed(teeth))


def right_first(view: View) -> bool:
    """True where the patient's right is on the left of the sheet."""
    return view == "front"

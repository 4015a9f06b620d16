"""What a table can hold: the quantities of ``festoon-readings/1``, and the two of a probing chart that count from the CEJ."""

from __future__ import annotations

from enum import StrEnum
from functools import cache

from festoon.model.quantities import Quantity
from festoon.records.ranges import RANGES, Range


class FromCej(StrEnum):
    """Quantities of a probing chart that no edge is needed for. Definitions as charts use them."""

    RECESSION = "recession"
    """CEJ to gingival margin, positive where the margin lies apical to the CEJ, negative where it covers it."""
    ATTACHMENT = "attachment"
    """CEJ to the bottom of the sulcus or pocket: probing depth plus recession, in one visit."""


_CP = "common practice, no source"
_OWN_RANGES = {
    FromCej.RECESSION: Range(-8, 15, -4, 6, f"{_CP}; a real table of 65,228 teeth runs from -4 to 9"),
    FromCej.ATTACHMENT: Range(-2, 20, 0, 8, f"{_CP}; the same table runs from 0 to 15"),
    Quantity.PROBING_DEPTH: Range(
        0, 16, 0, 4, f"{_CP}; the same table runs from 0 to 15, where pockets are the subject"
    ),
}
"""A probing chart is of disease: its pockets are deeper than those of a mouth that crown lengthening is planned in."""


@cache
def quantity_named(name: str) -> Quantity | FromCej:
    """The quantity of this name.

    Raises
    ------
    ValueError
        If there is none.
    """
    every: tuple[Quantity | FromCej, ...] = (*Quantity, *FromCej)
    for quantity in every:
        if quantity == name:
            return quantity
    known = ", ".join(every)
    raise ValueError(f"no quantity {name!r}; there are {known}")


@cache
def is_level(name: str) -> bool:
    """True for a distance from an incisal edge, which must say its datum."""
    quantity = quantity_named(name)
    return isinstance(quantity, Quantity) and quantity.is_level


def possible_range(name: str, *, is_papilla: bool) -> Range | None:
    """What is possible of a quantity, mm; levels from the present edge. None where nothing is known of it."""
    quantity = quantity_named(name)
    if quantity in _OWN_RANGES:
        return _OWN_RANGES[quantity]
    if quantity is Quantity.MARGIN_LEVEL and is_papilla:
        return RANGES["papilla tip"]
    if quantity is Quantity.CROWN_LENGTH:
        return RANGES["margin_mm"]
    key = quantity.case_key if isinstance(quantity, Quantity) else None
    return RANGES.get(key) if key else None

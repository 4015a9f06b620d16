"""An entry by a few keys, as a nurse types it while the surgeon dictates.

The grammar, blanks between the parts, any of the first three left out from the left::

    [tooth [site]] [quantity] value      11 f b 12.5     crest of 11 midfacially
           [site]  [quantity] value      m 4.5           mesially at the same tooth
                              value      12.5            the reading that is asked for next

Sites: ``d`` distal, ``df`` distofacial, ``f`` midfacial, ``mf`` mesiofacial, ``m`` mesial; lingually ``dl``, ``dil``,
``l``, ``mil``, ``ml``. Quantities: ``g`` margin (gingiva), ``b`` crest (bone), ``s`` sounding, ``c`` CEJ, ``j``
mucogingival junction. A comma is a point. What is left out is taken from the reading that is asked for next; a tooth
without a site is refused, for nobody could say which site was meant.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from festoon.model.dentition import Notation, Site, tooth_from
from festoon.model.quantities import Quantity

SITE_KEYS = {
    "d": Site.DISTAL,
    "df": Site.DISTOFACIAL,
    "f": Site.MIDFACIAL,
    "mf": Site.MESIOFACIAL,
    "m": Site.MESIAL,
    "dl": Site.DISTAL_LINGUAL,
    "dil": Site.DISTOLINGUAL,
    "l": Site.MIDLINGUAL,
    "mil": Site.MESIOLINGUAL,
    "ml": Site.MESIAL_LINGUAL,
}
QUANTITY_KEYS = {
    "g": Quantity.MARGIN_LEVEL,
    "b": Quantity.CREST_LEVEL,
    "s": Quantity.SOUNDING,
    "c": Quantity.CEJ_LEVEL,
    "j": Quantity.MUCOGINGIVAL_LEVEL,
}
_NUMBER = re.compile(r"-?\d{1,2}(?:[.,]\d{1,2})?")


@dataclass(frozen=True)
class Asked:
    """The reading that is asked for next."""

    tooth: str
    site: Site
    quantity: Quantity


@dataclass(frozen=True)
class Typed:
    """What was typed, whole."""

    tooth: str
    site: Site
    quantity: Quantity
    value: float


def typed(text: str, asked: Asked | None, notation: Notation = Notation.FDI) -> Typed:
    """The reading that a few keys mean.

    Parameters
    ----------
    text : str
        As typed, e.g. ``11 f 12.5``.
    asked : Asked, optional
        What is asked for next; fills what was left out.
    notation : Notation
        How the user names teeth.

    Raises
    ------
    ValueError
        If the keys mean nothing, or more than one thing; in words for the person who typed.
    """
    parts = text.lower().split()
    if not parts:
        raise ValueError("nothing was typed: a number, or tooth, site and number such as 11 f 12.5")
    *before, last = parts
    if not _NUMBER.fullmatch(last):
        raise ValueError(f"{last!r} is no number in mm such as 12.5: the number comes last")
    value = float(last.replace(",", "."))
    tooth = site = quantity = None
    rest = list(before)
    if rest and rest[-1] in QUANTITY_KEYS:
        quantity = QUANTITY_KEYS[rest.pop()]
    if rest and rest[-1] in SITE_KEYS:
        site = SITE_KEYS[rest.pop()]
    if rest:
        tooth = tooth_from(rest.pop(0), notation).fdi
        if rest:
            raise ValueError(
                f"{rest[0]!r} is neither a site ({', '.join(SITE_KEYS)}) nor what is read ({', '.join(QUANTITY_KEYS)})"
            )
        if site is None:
            raise ValueError(f"{text.strip()!r} names a tooth and no site: type for example {before[0]} f {last}")
    if asked is not None:
        return Typed(tooth or asked.tooth, site or asked.site, quantity or asked.quantity, value)
    if tooth is None or site is None or quantity is None:
        raise ValueError("nothing is asked for now: type tooth, site, what is read and the number, such as 11 f b 12.5")
    return Typed(tooth, site, quantity, value)

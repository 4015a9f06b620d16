"""Many mouths that the readings leave possible: for every draw, what may truly be there.

Readings are drawn, not derived values: a margin error moves the margin and the crest sounded from it together. The
truth of a draw is the charted value minus the drawn error, which takes every truth for equally likely before it was
read. Every reading has a random stream of its own, named by its place in the mouth, so that adding one reading leaves
the draws of all others as they were.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from festoon.evidence.table import published
from festoon.model.anatomy import Known
from festoon.model.case import SiteChart
from festoon.model.dentition import Site, Tooth
from festoon.model.reading import Reading
from festoon.planning.problem import Problem, ToothProblem
from festoon.planning.risk.reading_noise import Array, Noise, crest_weights, noise_of, weights_of

Hand = Literal["probe", "budget"]
"""Error of setting a level at the chair: a probe read to half millimetres, or the whole budget from memory."""

EXECUTION: dict[Hand, Noise] = {
    "probe": Noise(widths=(0.5,), source="a probe read to half millimetres, ±0.25 mm (ERR-010, arithmetic)"),
    "budget": Noise(
        sd=published("ERR-042").value,
        source="the combined budget, 0.5 mm, which holds some healing (ERR-042, from memory)",
    ),
}

SITE_KEYS = (
    "margin_mm",
    "sounding_mm",
    "crest_mm",
    "cej_mm",
    "mucogingival_mm",
    "sound_tooth_mm",
    "existing_finish_line_mm",
)
"""Readings of a site that a plan rests on."""
_STREAMS = (*SITE_KEYS, "furcation_mm", "hand_margin", "hand_crest")
_PLACES = (*(site.value for site in Site), "facial", "mesial_root", "distal_root", "lingual")


@dataclass(frozen=True)
class Quantity:
    """One quantity of one site, by its case-file key."""

    tooth: Tooth
    site: Site
    key: str


class DrawnMouth:
    """Errors and truths of one mouth, arrays of shape (draws,), levels in mm from the planned edge."""

    def __init__(self, problem: Problem, *, seed: int, draws: int, hand: Hand = "probe") -> None:
        self.problem, self.draws = problem, draws
        self._seed, self._hand = seed, EXECUTION[hand]
        self._errors: dict[Quantity, Array] = {}
        self._hands: dict[Quantity, Array] = {}

    def stream(self, tooth: Tooth, place: str, key: str, nth: int = 0) -> np.random.Generator:
        """The random stream of one reading, or of one act of the hand."""
        name = (int(tooth.fdi), _PLACES.index(place), _STREAMS.index(key), nth)
        return np.random.Generator(np.random.PCG64(np.random.SeedSequence(self._seed, spawn_key=name)))

    def chart(self, tooth: Tooth, site: Site) -> SiteChart:
        """The charted readings of a site; none where it was not charted."""
        return self.problem.anatomy.case.teeth[tooth.fdi].sites.get(site) or SiteChart()

    def readings(self, quantity: Quantity) -> Sequence[Reading]:
        """The readings of a quantity."""
        found: Sequence[Reading] = getattr(self.chart(quantity.tooth, quantity.site), quantity.key)
        return found

    def error(self, quantity: Quantity) -> Array:
        """Combined charted value minus truth."""
        if quantity not in self._errors:
            self._errors[quantity] = self._drawn(
                quantity.tooth, quantity.site.value, quantity.key, self.readings(quantity)
            )
        return self._errors[quantity]

    def _drawn(self, tooth: Tooth, place: str, key: str, readings: Sequence[Reading]) -> Array:
        total = np.zeros(self.draws)
        for nth, (weight, reading) in enumerate(zip(weights_of(key, readings), readings, strict=True)):
            total += weight * noise_of(key, reading).draw(self.stream(tooth, place, key, nth), self.draws)
        return total

    def crest_error(self, tooth: Tooth, site: Site) -> Array:
        """Combined crest level minus truth: the errors of all readings behind it, as they were combined."""
        whole = Quantity(tooth, site, "crest")
        if whole not in self._errors:
            total = np.zeros(self.draws)
            for key, weight in crest_weights(self.chart(tooth, site)).items():
                total += weight * self.error(Quantity(tooth, site, key))
            self._errors[whole] = total
        return self._errors[whole]

    def furcation_error(self, tooth: Tooth, surface: str, readings: Sequence[Reading]) -> Array:
        """Furcation level minus truth, on one surface of the root."""
        place = surface if surface in ("facial", "lingual") else f"{surface}_root"
        return self._drawn(tooth, place, "furcation_mm", readings)

    def true(self, entry: ToothProblem, site: Site, key: str, known: Known) -> Array:
        """Where a charted level truly is."""
        return known.value - self.error(Quantity(entry.tooth, site, key))

    def true_crest(self, entry: ToothProblem, site: Site, crest: float) -> Array:
        """Where the crest truly is."""
        return crest - self.crest_error(entry.tooth, site)

    def hand(self, tooth: Tooth, site: Site, what: Literal["margin", "crest"]) -> Array:
        """Level set at the chair minus level planned."""
        act = Quantity(tooth, site, f"hand_{what}")
        if act not in self._hands:
            self._hands[act] = self._hand.draw(self.stream(tooth, site.value, act.key), self.draws)
        return self._hands[act]

"""What taking one reading again is worth: the fall of the chance of a bad outcome.

For every draw the second reading is drawn with the same error as the first. Two readings are combined by inverse
variance; where they differ by more than two combined standard errors they are not averaged, a third is taken and the
middle one of the three counts. Then the plan answers by its own arithmetic, at that tooth:

* *margin, sounding, crest*: bone that was left alone is lowered to ``margin + need`` where the new crest level asks it;
* *CEJ*: the margin goes to the nearer of its wish and the new limit, bone follows, and the partner tooth keeps level;
* *mucogingival junction*: the incision goes no further than the new junction less the tissue to keep;
* *sound tooth or finish line*: the crest is aimed at the new finish line plus the need.

The same truths and the same hand are then looked at again. The value is the chance before minus the chance after, and
zero where answering would raise it: nobody has to act on a reading. Since the answer is a rule, the second reading can
be drawn on the same draws and no nested simulation is needed. The chance of *any* bad outcome is used, not the expected
number of them, because it is the one number the plan states. What answering costs (a flap that was not planned, a
margin short of its target) is not counted.

Reading the bone with the flap open replaces a sounding (``direct``): the better method, stated beside the second
sounding.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from math import hypot, inf

import numpy as np
from numpy.typing import NDArray

from festoon.evidence.errors import reading_se
from festoon.model.dentition import Site, Tooth
from festoon.model.plan import MeasureAgain
from festoon.model.reading import Datum, LevelReading, Method
from festoon.planning.limits import Limit
from festoon.planning.pose import root_limit
from festoon.planning.problem import EPSILON, Problem, SiteProblem, ToothProblem
from festoon.planning.risk.drawn_mouth import SITE_KEYS, DrawnMouth, Quantity
from festoon.planning.risk.harms import Cut, Cuts, Flags, Harm, Kind, Level, pair_harms, site_harms, words_of
from festoon.planning.risk.reading_noise import Array, combined_se, crest_weights, noise_of
from festoon.planning.solve import Solution

_SECOND, _THIRD, _OPEN = 100, 101, 102
"""Numbers of the random streams of readings that were not taken yet."""
_BOUND_MM = 1e-3
_NAMES = {
    "margin_mm": "margin",
    "sounding_mm": "sounding",
    "crest_mm": "crest",
    "cej_mm": "CEJ",
    "mucogingival_mm": "mucogingival junction",
    "sound_tooth_mm": "sound tooth",
    "existing_finish_line_mm": "finish line",
}
_WARNS = {
    "margin_mm": Kind.NEAR_BONE,
    "sounding_mm": Kind.NEAR_BONE,
    "crest_mm": Kind.NEAR_BONE,
    "cej_mm": Kind.ROOT_SHOWN,
    "mucogingival_mm": Kind.TISSUE_SHORT,
    "sound_tooth_mm": Kind.NEAR_BONE,
    "existing_finish_line_mm": Kind.NEAR_BONE,
}
"""The harm that a better reading of the quantity can avert."""
WORTH_SAYING = 0.005
"""A fall of less than half a percentage point is not worth a place on the list; nor is averting a rarer harm."""
_DIRECT = LevelReading(value=0.0, method=Method.DIRECT, datum=Datum.PRESENT_EDGE)


@dataclass(frozen=True)
class Reread:
    """One reading and what taking it again makes of the chance of a bad outcome."""

    quantity: Quantity
    before: float
    after: float
    after_open: float | None
    """With the bone read on the open flap instead; None for other readings."""

    @property
    def value(self) -> float:
        """Fall of the chance by the same method."""
        return self.before - self.after


class Rereading:
    """The plan, the draws and their harms, ready to be asked about one reading after the other."""

    def __init__(
        self,
        mouth: DrawnMouth,
        problem: Problem,
        solution: Solution,
        cuts: Mapping[Tooth, Cuts],
        harms: Mapping[Harm, Flags],
    ) -> None:
        self._mouth, self._problem, self._solution = mouth, problem, solution
        self._cuts = cuts
        self._harms = {harm: flags for harm, flags in harms.items() if harm.kind.counts}
        self._worth_averting = {
            (harm.kind, harm.tooth, harm.site) for harm, flags in self._harms.items() if flags.mean() >= WORTH_SAYING
        }
        self._count = np.zeros(mouth.draws, dtype=np.int16)
        for flags in self._harms.values():
            self._count += flags

    @property
    def chance(self) -> float:
        """Chance of any bad outcome under the plan as it stands."""
        return float((self._count > 0).mean())

    def values(self) -> Iterator[Reread]:
        """Every reading that the cuts rest on."""
        for tooth, cuts in self._cuts.items():
            for site, cut in cuts.items():
                if (
                    cut.margin is None
                    and cut.crest is None
                    and self._problem.teeth[tooth].sites[site].finish_line is None
                ):
                    continue
                for key in SITE_KEYS:
                    quantity = Quantity(tooth, site, key)
                    if self._mouth.readings(quantity):
                        yield self.value(quantity)

    def value(self, quantity: Quantity) -> Reread:
        """What taking one reading again is worth; nothing where the harm it could avert is rarer than worth saying."""
        before = self.chance
        if (_WARNS[quantity.key], quantity.tooth, quantity.site) not in self._worth_averting:
            return Reread(quantity, before, before, before if quantity.key == "sounding_mm" else None)
        error = self._mouth.error(quantity)
        after = min(before, self._answered(quantity, self._second(quantity) - error))
        opened = None
        if quantity.key == "sounding_mm":
            crest = self._mouth.crest_error(quantity.tooth, quantity.site)
            change = self._drawn(quantity, _OPEN, "crest_mm", _DIRECT) - crest
            opened = min(before, self._chance(self._bone_answer(quantity, change)))
        return Reread(quantity, before, after, opened)

    def _drawn(self, quantity: Quantity, nth: int, key: str, reading: LevelReading) -> Array:
        stream = self._mouth.stream(quantity.tooth, quantity.site.value, quantity.key, nth)
        return noise_of(key, reading).draw(stream, self._mouth.draws)

    def _second(self, quantity: Quantity) -> Array:
        """Error of the estimate once the reading was taken again."""
        mouth, key = self._mouth, quantity.key
        readings = mouth.readings(quantity)
        error, noise = mouth.error(quantity), noise_of(key, readings[0])
        own, new = combined_se(key, readings), reading_se(key, readings[0])
        streams = [mouth.stream(quantity.tooth, quantity.site.value, key, nth) for nth in (_SECOND, _THIRD)]
        again = noise.draw(streams[0], mouth.draws)
        share = own**2 / (own**2 + new**2)
        estimate = error + share * (again - error)
        apart = np.flatnonzero(np.abs(error - again) > 2 * hypot(own, new))
        third = noise.draw(streams[1], len(apart))
        estimate[apart] = np.median([error[apart], again[apart], third], axis=0)
        return estimate

    def _answered(self, quantity: Quantity, change: Array) -> float:
        """Chance of any bad outcome when the plan answers to an estimate that changed by ``change`` mm."""
        if quantity.key == "cej_mm":
            return self._chance(self._margin_answer(quantity, change))
        if quantity.key == "mucogingival_mm":
            return self._chance(self._incision_answer(quantity, change))
        if quantity.key in ("sound_tooth_mm", "existing_finish_line_mm"):
            return self._chance(self._finish_answer(quantity, change))
        weight = crest_weights(self._mouth.chart(quantity.tooth, quantity.site)).get(quantity.key, 0.0)
        return self._chance(self._bone_answer(quantity, weight * change))

    def _chance(self, answer: Mapping[Tooth, Cuts]) -> float:
        """Chance of any bad outcome when some sites are cut otherwise."""
        if not answer:
            return self.chance
        count = self._count.copy()
        for tooth, cuts in answer.items():
            entry = self._problem.teeth[tooth]
            for site, cut in cuts.items():
                self._exchange(count, site_harms(self._mouth, entry, entry.sites[site], cut))
        if any(cut.margin is not self._cuts[t][s].margin for t, cuts in answer.items() for s, cut in cuts.items()):
            changed = {tooth: {**self._cuts[tooth], **cuts} for tooth, cuts in answer.items()}
            self._exchange(count, pair_harms(self._mouth, self._problem, {**self._cuts, **changed}, only=answer.keys()))
        return float((count > 0).mean())

    def _exchange(self, count: NDArray[np.int16], harms: Iterable[tuple[Harm, Flags]]) -> None:
        """Puts the flags of some harms in the place of those under the plan as it stands."""
        for harm, flags in harms:
            if harm.kind.counts:
                count += flags
                count -= self._harms[harm]

    # Answers: the cuts that change, by tooth and site ------------------------------------------------------------

    def _bone_answer(self, quantity: Quantity, change: Array) -> dict[Tooth, Cuts]:
        """Bone that was left alone is lowered where the new crest level asks for it."""
        tooth, site = quantity.tooth, quantity.site
        here, cut = self._problem.teeth[tooth].sites[site], self._cuts[tooth][site]
        top = here.finish_line if here.finish_line is not None else cut.margin
        if cut.crest is not None or top is None or here.crest is None:
            return {}
        return {tooth: {site: replace(cut, crest=_lowered(here, top, here.crest + change))}}

    def _finish_answer(self, quantity: Quantity, change: Array) -> dict[Tooth, Cuts]:
        """The crest is aimed at the new finish line plus the need."""
        tooth, site = quantity.tooth, quantity.site
        here, cut = self._problem.teeth[tooth].sites[site], self._cuts[tooth][site]
        sound = self._problem.teeth[tooth].anatomy.site(site).sound_tooth
        made_by = "existing_finish_line_mm" if sound is None else "sound_tooth_mm"
        if here.finish_line is None or here.crest is None or quantity.key != made_by:
            return {}
        return {tooth: {site: replace(cut, crest=_lowered(here, here.finish_line + change, here.crest))}}

    def _incision_answer(self, quantity: Quantity, change: Array) -> dict[Tooth, Cuts]:
        """The incision goes no further than the new junction less the tissue to keep."""
        tooth, site = quantity.tooth, quantity.site
        entry, cut = self._problem.teeth[tooth], self._cuts[tooth][site]
        junction = entry.anatomy.site(site).mucogingival
        if junction is None or cut.incision is None or cut.margin is None or entry.collar_cap is None:
            return {}
        furthest = junction.value - self._problem.policy["keratinised_minimum_mm"]
        is_bound = bool(np.all(np.abs(furthest - cut.incision) < _BOUND_MM))
        incision = np.maximum(
            entry.sites[site].margin, np.minimum(cut.margin if is_bound else cut.incision, furthest + change)
        )
        return {tooth: {site: replace(cut, incision=incision)}}

    def _margin_answer(self, quantity: Quantity, change: Array) -> dict[Tooth, Cuts]:
        """The margin goes to the nearer of its wish and the new limit; the partner tooth keeps level with it."""
        entry = self._problem.teeth[quantity.tooth]
        cap = entry.move_caps.get(Limit.ROOT_EXPOSURE)
        if cap is None or entry.is_restorative:
            return {}
        move = self._solution.moves.get(entry.tooth, 0.0)
        wanted = move + _room(entry, self._solution, Limit.ROOT_EXPOSURE) if abs(move - cap) < _BOUND_MM else move
        shift = np.clip(np.minimum(wanted, _reach(entry, quantity.site, change)), 0.0, None) - move
        answer = {entry.tooth: self._shifted(entry, shift)}
        partner = self._problem.by_role(entry.anatomy.role.contralateral)
        if partner is not None and partner.tooth in self._cuts and not partner.is_restorative:
            level = shift * (entry.anatomy.cosine / partner.anatomy.cosine)
            back = self._solution.moves.get(partner.tooth, 0.0)
            answer[partner.tooth] = self._shifted(partner, np.clip(level, -back, _room(partner, self._solution)))
        return answer

    def _shifted(self, entry: ToothProblem, shift: Array) -> Cuts:
        """The cuts of a tooth whose midfacial margin goes ``shift`` mm further apically than planned."""
        move = self._solution.moves.get(entry.tooth, 0.0) + shift
        collar = move if entry.collar_cap is None else np.minimum(move, entry.collar_cap)
        changed = {}
        for site, cut in self._cuts[entry.tooth].items():
            here = entry.sites[site]
            if cut.margin is None or here.share <= EPSILON:
                continue
            margin = here.margin + here.share * move
            crest: Level | None = cut.crest
            if cut.crest is not None:
                crest = cut.crest + here.share * shift
            elif here.crest is not None:
                crest = _lowered(here, margin, here.crest)
            incision = None if cut.incision is None else here.margin + here.share * collar
            changed[site] = Cut(margin, crest, incision)
        return changed


def _lowered(here: SiteProblem, top: Level, crest: Level) -> Level:
    """Level to which bone is lowered for this margin or finish line; minus infinity where the crest lies low enough.

    Bone that may not be touched is left alone.
    """
    most = min(here.bone_caps.values(), default=inf)
    if here.need is None or here.crest is None or most < EPSILON:
        return -inf
    wanted = np.minimum(top + here.need, here.crest + most)
    return np.where(crest < top + here.need - EPSILON, wanted, -inf)


def _reach(entry: ToothProblem, site: Site, change: Array) -> Array:
    """Furthest midfacial move that shows no root, when the limit of one site changes by ``change`` mm."""
    reach = np.full_like(change, inf)
    for other, here in entry.sites.items():
        limit = root_limit(entry.anatomy, other)
        if limit is None or here.share <= EPSILON or not other.is_facial:
            continue
        reach = np.minimum(reach, (limit + (change if other is site else 0.0) - here.margin) / here.share)
    return reach


def _room(entry: ToothProblem, solution: Solution, *lifted: Limit) -> float:
    """How much further the margin would go for its wish under its own limits, leaving out those that are lifted."""
    caps = [cap for limit, cap in entry.move_caps.items() if limit not in lifted]
    return max(0.0, min([entry.wish or 0.0, *caps]) - solution.moves.get(entry.tooth, 0.0))


def measure_again(values: Iterable[Reread], most: int) -> tuple[MeasureAgain, ...]:
    """The readings worth taking again, the most valuable first, in words."""
    worth = [item for item in values if item.value >= WORTH_SAYING]
    worth.sort(key=lambda item: -item.value)
    return tuple(_in_words(item) for item in worth[:most])


def _in_words(item: Reread) -> MeasureAgain:
    quantity = item.quantity
    name = _NAMES[quantity.key]
    # Whole per cents, unless they would hide the fall.
    decimals = 0 if item.before >= 0.1 and item.value >= 0.02 else 1
    text = (
        f"{name} at {quantity.tooth} {words_of(quantity.site)}: taking it again lowers the chance of a bad outcome "
        f"from {_percent(item.before, decimals)} to {_percent(item.after, decimals)}"
    )
    if item.after_open is not None:
        text += f"; reading the bone on the open flap, to {_percent(item.after_open, decimals)}"
    return MeasureAgain(
        reading=name,
        tooth=quantity.tooth.fdi,
        site=quantity.site,
        lowers_chance_by=round(item.value, 6),
        text=text,
    )


def _percent(chance: float, decimals: int) -> str:
    return f"{chance * 100:.{decimals}f} %"

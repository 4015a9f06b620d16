"""The programme: what is cut where, solved in ranks.

1. hard limits; 2. distance outside tolerance of the targets (length, counted most; left-right difference; the
lateral's and the premolars' place); 3. number of teeth operated; 4. a weighted sum of left-right difference, distance to target and
place, so that whoever is operated goes to the target and not to the edge of its tolerance; 5. bone, then tissue moved
by apical suturing (so a collar is excised as far as the keratinised tissue allows); 6. a fixed order of tooth
positions from the midline outwards, alike for left and right, smaller and more equal moves first.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import floor

from festoon.model.dentition import Site, Tooth
from festoon.planning.contour import Step, exact_bones, holds, steps
from festoon.planning.gingival_line import central_canine_lines, pairs, place_by_neighbour
from festoon.planning.limits import Limit
from festoon.planning.problem import EPSILON, Problem, SiteProblem, State, ToothProblem
from festoon.planning.programme import RANK_SLACK, ZERO, Array, Linear, Programme

_TIE_MM = 1e-3
_SNAP_MM = 5e-4
_FOLLOWING_ORDER = (1, 3, 2, 4, 5, 6, 7, 8)
"""Laterals follow centrals and canines, premolars the canine."""
_PREFERENCE = {
    Limit.SUPRACRESTAL_SPACE: 3.0,
    Limit.RESTORATIVE_MARGIN: 3.0,
    Limit.INTERDENTAL_BONE: 1.2,
}
"""In the elastic programme, which limit gives last where two could: the one that protects biology most."""


@dataclass(frozen=True)
class Variant:
    """How a programme differs from the plan's own: for prices, alternatives and wishes."""

    relax: Mapping[tuple[Limit, Tooth], float] = field(default_factory=dict)
    """Millimetres by which a limit gives at one tooth."""
    only: frozenset[Tooth] | None = None
    """Teeth that may be operated; None: all that are open."""
    no_bone: bool = False
    no_excision: bool = False
    to_target: bool = False
    """Everybody goes to the target; no tooth is spared for lying within tolerance."""
    share: float = 1.0
    """Part of each wish that is aimed at."""


PLAIN = Variant()


@dataclass(frozen=True)
class Solution:
    """What is done, exactly. Millimetres."""

    moves: Mapping[Tooth, float]
    """Midfacial margin move of every operated tooth."""
    collars: Mapping[Tooth, float]
    bones: Mapping[tuple[Tooth, Site], float]
    """Bone removed by site; absent means none."""
    operated: frozenset[Tooth]
    ties: tuple[str, ...] = ()

    def shift(self, problem: SiteProblem, tooth: Tooth) -> float:
        """How far the margin moves at one site."""
        if tooth not in self.operated:
            return 0.0
        return problem.share * self.moves.get(tooth, 0.0) + problem.advance

    def bone(self, tooth: Tooth, site: Site) -> float:
        """Bone removed at one site."""
        return self.bones.get((tooth, site), 0.0)


class Model:
    """The programme of one problem: variables by tooth, rows by limit."""

    def __init__(self, problem: Problem, variant: Variant = PLAIN, *, elastic: bool = False) -> None:
        self.problem, self.variant, self._elastic = problem, variant, elastic
        self.programme = Programme()
        self.moves: dict[Tooth, Linear] = {}
        self.collars: dict[Tooth, Linear] = {}
        self.bones: dict[tuple[Tooth, Site], Linear] = {}
        self.cut: dict[Tooth, Linear] = {}
        """1 when the margin moves or a finish line is served."""
        self.operated: dict[Tooth, Linear] = {}
        self.given: dict[tuple[Limit, Tooth], Linear] = {}
        """In the elastic programme: by how much each limit gives."""
        self.outside, self.distance, self.unmet = ZERO, ZERO, ZERO
        self._reach = self._farthest_height()
        self._most_bone = 0.0
        for tooth, entry in problem.teeth.items():
            if self._may_operate(tooth, entry):
                self._margin(tooth, entry)
        for tooth in self.moves:
            self._bone(tooth, problem.teeth[tooth])
        self._contours()
        self._lengths()
        self._pairs()
        self._laterals()
        self._placed_by_neighbours()

    # The parts of the mouth -------------------------------------------------------------------------------------

    def _may_operate(self, tooth: Tooth, entry: ToothProblem) -> bool:
        if entry.state is not State.OPEN or (entry.margin is None and not entry.is_restorative):
            return False
        return self.variant.only is None or tooth in self.variant.only

    def _give(self, limit: Limit, tooth: Tooth) -> Linear:
        """How much a limit gives at a tooth: nothing, a stated amount, or, in the elastic programme, a variable."""
        if not self._elastic:
            return ZERO + self.variant.relax.get((limit, tooth), 0.0)
        if (limit, tooth) not in self.given:
            self.given[limit, tooth] = self.programme.variable()
        return self.given[limit, tooth]

    def _margin(self, tooth: Tooth, entry: ToothProblem) -> None:
        programme, policy = self.programme, self.problem.policy
        cut = programme.variable(0, 1, integer=True)
        self.cut[tooth] = self.operated[tooth] = cut
        if entry.is_restorative:
            middle = entry.sites.get(Site.MIDFACIAL)
            advance = middle.advance if middle else 0.0
            self.moves[tooth] = cut * advance
            if not entry.wants_surgery:
                programme.require(cut, at_most=0)
            for limit, cap in entry.move_caps.items():
                programme.require(cut * advance - self._give(limit, tooth), at_most=cap)
        else:
            reach = self._farthest_move(entry)
            move = programme.variable(0, reach)
            programme.require(move - cut * reach, at_most=0)
            programme.require(move - cut * policy["smallest_move_mm"], at_least=0)
            for limit, cap in entry.move_caps.items():
                programme.require(move - self._give(limit, tooth), at_most=cap)
            self.moves[tooth] = move
        collar = programme.variable()
        programme.require(collar - self.moves[tooth], at_most=0)
        if self.variant.no_excision:
            programme.require(collar, at_most=0)
        elif entry.collar_cap is not None:
            programme.require(collar - self._give(Limit.KERATINISED_TISSUE, tooth), at_most=entry.collar_cap)
        self.collars[tooth] = collar

    def _farthest_height(self) -> float | None:
        """The most apical height any target or margin of the mouth asks for; None without heights."""
        heights = [
            height
            for entry in self.problem.teeth.values()
            for level in (entry.margin, entry.target.length_mm if entry.target else None)
            if (height := entry.height(level)) is not None
        ]
        return max(heights) if heights else None

    def _farthest_move(self, entry: ToothProblem) -> float:
        """A bound as tight as the anatomy: nothing draws a margin further, nor past its own limits.

        What may draw it: its own target and tolerance, the most apical margin or target of the mouth, a lateral's place
        under that, and that a move is at least the smallest.
        """
        policy, own = self.problem.policy, entry.height(entry.margin)
        wishes = [policy["smallest_move_mm"]]
        if entry.wish is not None and entry.target is not None:
            wishes.append(entry.wish + entry.target.tolerance_mm)
        if own is not None and self._reach is not None:
            wishes.append((self._reach + policy["lateral_coronal_max_mm"] - own) / entry.anatomy.cosine)
        reach = max(0.0, *wishes)
        if not self._elastic:
            reach = min([reach, *self._caps(entry)])
        return reach

    def _bone(self, tooth: Tooth, entry: ToothProblem) -> None:
        programme = self.programme
        reach = 0.0 if entry.is_restorative else self._farthest_move(entry)
        demands = {site: problem.bone_demand(reach) for site, problem in entry.sites.items()}
        most = max(demands.values(), default=0.0)
        self._most_bone = max(self._most_bone, most)
        policy, purpose = self.problem.policy, entry.anatomy.purpose
        for site, problem in entry.sites.items():
            if problem.crest is None:
                continue
            bone = programme.variable()
            self.bones[tooth, site] = bone
            for limit, cap in problem.bone_caps.items():
                programme.require(bone - self._give(limit, tooth), at_most=cap)
            if self.variant.no_bone:
                programme.require(bone, at_most=0)
            if problem.need is None:
                continue
            cut, move = self.cut[tooth], self.moves[tooth]
            if entry.is_restorative:
                limit, demand = Limit.RESTORATIVE_MARGIN, cut * problem.bone_demand(0.0)
            elif problem.share > EPSILON:
                limit, short = Limit.SUPRACRESTAL_SPACE, problem.need - (problem.crest - problem.margin)
                demand = move * problem.share + (cut * short if short > 0 else ZERO + short)
            else:
                continue
            if policy.is_hard(limit, purpose):
                programme.require(bone - demand + self._give(limit, tooth), at_least=0)

    # Contour ----------------------------------------------------------------------------------------------------

    def _contours(self) -> None:
        """Steps of the crest between neighbouring sites, and the bone that a step may ask of a neighbour."""
        for tooth in self.moves:
            entry = self.problem.teeth[tooth]
            if self.problem.policy.is_hard(Limit.CREST_CONTOUR, entry.anatomy.purpose):
                for step in steps(self.problem, entry):
                    self._step(step)
        self._bone_only_where_operated()

    def _step(self, step: Step) -> None:
        difference = (
            (self.bones.get(step.first, ZERO) + step.first_crest) * step.first_cosine
            - (self.bones.get(step.second, ZERO) + step.second_crest) * step.second_cosine
            + step.edge_difference
        )
        if difference.terms:
            give = self._give(Limit.CREST_CONTOUR, step.first[0])
            self.programme.require(difference - give, at_most=step.limit)
            self.programme.require(difference + give, at_least=-step.limit)

    def _bone_only_where_operated(self) -> None:
        programme, most = self.programme, self._most_bone
        for tooth, entry in self.problem.teeth.items():
            if tooth not in self.moves:
                continue
            free = [
                site
                for site, problem in entry.sites.items()
                if (tooth, site) in self.bones and (not problem.bone_caps or min(problem.bone_caps.values()) > EPSILON)
            ]
            moving = [site for site in free if entry.sites[site].share > EPSILON or entry.sites[site].finish_line]
            if len(free) > len(moving) and (self.problem.policy.interdental_ostectomy or self._elastic):
                # Bone may be blended here although the margin stays: the tooth then counts as operated all the same.
                blended = programme.variable(0, 1, integer=True)
                self.operated[tooth] = blended
                programme.require(blended - self.cut[tooth], at_least=0)
            for site in entry.sites:
                if (tooth, site) in self.bones:
                    programme.require(self.bones[tooth, site] - self.operated[tooth] * most, at_most=0)

    # Wishes -----------------------------------------------------------------------------------------------------

    def level(self, entry: ToothProblem) -> Linear | None:
        """Planned midfacial margin level; None where it is not known or no other tooth is matched to it."""
        if entry.margin is None or not entry.is_guide:
            return None
        return self.moves.get(entry.tooth, ZERO) + entry.margin

    def height(self, entry: ToothProblem | None) -> Linear | None:
        """Planned midfacial margin height in the arch frame."""
        level = self.level(entry) if entry else None
        edge = entry.anatomy.edge_height if entry else None
        if level is None or entry is None or edge is None:
            return None
        return level * entry.anatomy.cosine + edge

    def _lengths(self) -> None:
        weight = self.problem.policy["weight_length"]
        for tooth in self.moves:
            entry = self.problem.teeth[tooth]
            if entry.is_restorative:
                if entry.wants_surgery:
                    wanted = max(max(site.advance, site.bone_demand(0.0)) for site in entry.sites.values())
                    unserved = self.cut[tooth] * -wanted + wanted
                    self.outside, self.unmet = self.outside + unserved, self.unmet + unserved
                continue
            if entry.target is None or entry.margin is None:
                continue
            length = self.moves[tooth] + entry.margin
            aim = entry.margin + (entry.target.length_mm - entry.margin) * self.variant.share
            tolerance = 0.0 if self.variant.to_target else entry.target.tolerance_mm
            outside = self.programme.excess(length, aim - tolerance, aim + tolerance)
            # Counted more than a partner's wishes: no tooth leaves its own tolerance for another's sake.
            self.outside = self.outside + outside * self.problem.policy["outside_length"]
            apart = self.programme.absolute(length - aim)
            self.distance = self.distance + apart * weight
            self.unmet = self.unmet + apart

    def _pairs(self) -> None:
        policy = self.problem.policy
        for right, left in pairs(self.problem):
            heights = self.height(right), self.height(left)
            if heights[0] is None or heights[1] is None or not (heights[0].terms or heights[1].terms):
                continue
            difference, tolerance = heights[0] - heights[1], policy["pair_tolerance_mm"]
            self.outside = self.outside + self.programme.excess(difference, -tolerance, tolerance)
            self.distance = self.distance + self.programme.absolute(difference) * policy["weight_pair"]

    def _laterals(self) -> None:
        policy = self.problem.policy
        for line in central_canine_lines(self.problem):
            central, lateral, canine = (self.height(entry) for entry in line.teeth)
            if central is None or lateral is None or canine is None:
                continue
            under = line.at_lateral(central, canine) - lateral
            if not under.terms:
                continue
            place = self.programme.excess(under, policy["lateral_coronal_min_mm"], policy["lateral_coronal_max_mm"])
            self.outside = self.outside + place
            self.distance = self.distance + place * policy["weight_lateral"]
            entry = line.teeth[1]
            hard = policy.is_hard(Limit.LATERAL_LINE, entry.anatomy.purpose) and not policy.lateral_apical_allowed
            if hard and lateral.terms:
                present = line.present_coronal
                self.programme.require(under + self._give(Limit.LATERAL_LINE, entry.tooth), at_least=min(0.0, present))

    def _placed_by_neighbours(self) -> None:
        """Teeth whose place another tooth gives: premolars below the canine, a canine's stand-in level with the central."""
        policy = self.problem.policy
        for entry in self.problem.teeth.values():
            place = place_by_neighbour(self.problem, entry)
            if place is None or entry.tooth not in self.moves:
                continue
            own, reference = self.height(entry), self.height(place.reference)
            if own is None or reference is None:
                continue
            apart, tolerance = reference - own - place.coronal_mm, policy["premolar_tolerance_mm"]
            self.outside = self.outside + self.programme.excess(apart, -tolerance, tolerance)
            self.distance = self.distance + self.programme.absolute(apart) * policy["weight_lateral"]

    # Ranks ------------------------------------------------------------------------------------------------------

    def solve(self) -> Solution:
        """The plan's own answer: every rank in turn."""
        if not self.moves:
            return Solution({}, {}, {}, frozenset())
        teeth = _total(self.operated)
        apical = _total(self.moves) - _total(self.collars)
        ranks = [self.outside, teeth, self.distance, _total(self.bones), apical, self._order()]
        if self.variant.to_target:
            ranks.remove(teeth)
        answer = self.programme.solve(ranks, probe=self._probe())
        if answer is None:
            # Doing nothing satisfies every row, so this cannot be a property of the mouth.
            raise AssertionError("leaving the mouth alone must be feasible")
        return self._exact(answer[0], self._ties(*answer))

    def wishes(self) -> dict[tuple[Limit, Tooth], float]:
        """Elastic: by how much each limit would have to give for every wish to be met."""
        if not self.moves:
            return {}
        given = ZERO
        for (limit, _), amount in self.given.items():
            given = given + amount * _PREFERENCE.get(limit, 1.0)
        answer = self.programme.solve([self.unmet, given])
        if answer is None:
            return {}
        return {key: value for key, amount in self.given.items() if (value := amount.value(answer[0])) > _TIE_MM}

    def _order(self) -> Linear:
        """Rank 6: positions from the midline outwards; of two answers the smaller, then the more equal, is taken."""
        order = ZERO
        for position in range(1, 9):
            moves = [move for tooth, move in self.moves.items() if tooth.position == position and move.terms]
            if moves:
                larger = self.programme.variable()
                for move in moves:
                    self.programme.require(larger - move, at_least=0)
                order = order + (_sum(moves) + larger * 0.5) * 0.5**position
        return order

    def _probe(self) -> Linear:
        """Tells any two answers apart: a different weight for every tooth, the patient's left weighing more."""
        return _sum([move * (1 + tooth.column / 16) for tooth, move in self.moves.items()])

    def _ties(self, answer: Array, other: Array) -> tuple[str, ...]:
        differing = [
            tooth for tooth, move in self.moves.items() if abs(move.value(answer) - move.value(other)) > _TIE_MM
        ]
        if not differing:
            return ()
        return (
            "A true tie: the same goals are met as well on the other side of "
            + ", ".join(tooth.fdi for tooth in differing)
            + "; the patient's left was left alone, by order, not by reason.",
        )

    def _exact(self, values: Array, ties: tuple[str, ...]) -> Solution:
        """The solver's answer brought back to exact numbers: what it meant, not its last digits."""
        operated = frozenset(t for t, done in self.operated.items() if done.value(values) > 0.5)
        solved = {tooth: self.moves[tooth].value(values) for tooth in operated}
        exact = {tooth: number for tooth in operated if (number := self._meant(tooth, solved[tooth])) is not None}
        # What follows another tooth's margin is brought to that margin's exact height.
        for position in _FOLLOWING_ORDER:
            open_ones = [t for t in self.moves if t in operated and t.position == position and t not in exact]
            exact |= {t: move for t in open_ones if (move := self._followed(t, solved[t], exact)) is not None}
            for tooth in [t for t in open_ones if t not in exact]:
                follows = self._followed(tooth, solved[tooth], exact)
                # Anything else is cut off towards less movement at a thousandth of a millimetre.
                cut_off = floor((solved[tooth] + 2 * RANK_SLACK) * 1000) / 1000
                caps = self._caps(self.problem.teeth[tooth])
                exact[tooth] = min([cut_off, *caps]) if follows is None else follows
        moves = {tooth: exact[tooth] for tooth in self.moves if exact.get(tooth, 0.0) > EPSILON}
        bones = exact_bones(self.problem, operated, moves, self.variant.relax)
        passed = [tooth for tooth in moves if not holds(self.problem, tooth, moves, bones, self.variant.relax)]
        if passed:
            # Following a partner to the last digit would pass a limit of bone by as much: the solver's own side is kept.
            moves |= {tooth: min(moves[tooth], floor(solved[tooth] * 1000) / 1000) for tooth in passed}
            bones = exact_bones(self.problem, operated, moves, self.variant.relax)
        lowered = {tooth for tooth, _ in bones}
        operated = frozenset(t for t in operated if t in lowered or self.cut[t].value(values) > 0.5)
        collars = {}
        for tooth, move in moves.items():
            cap = self.problem.teeth[tooth].collar_cap
            relax = self.variant.relax.get((Limit.KERATINISED_TISSUE, tooth), 0.0)
            collars[tooth] = 0.0 if self.variant.no_excision else move if cap is None else min(move, cap + relax)
        return Solution(moves, collars, bones, operated, ties)

    def _meant(self, tooth: Tooth, value: float) -> float | None:
        """The exact number that the solver's value stands for: a target, a limit, the smallest move; else None."""
        entry = self.problem.teeth[tooth]
        if entry.is_restorative:
            middle = entry.sites.get(Site.MIDFACIAL)
            return middle.advance if middle else 0.0
        caps = self._caps(entry)
        numbers = [*caps, *self._bone_bound_moves(entry), self.problem.policy["smallest_move_mm"]]
        if entry.wish is not None:
            numbers.append(entry.wish * self.variant.share)
        near = [number for number in numbers if abs(number - value) < _SNAP_MM]
        return min([min(near, key=lambda number: abs(number - value)), *caps]) if near else None

    def _followed(self, tooth: Tooth, value: float, exact: Mapping[Tooth, float]) -> float | None:
        """The exact move that matches a partner's margin, or lies at the edge of its tolerance or place; else None."""
        entry = self.problem.teeth[tooth]
        edge = entry.anatomy.edge_height
        caps = self._caps(entry)
        if edge is not None and entry.margin is not None:
            for height in self._followed_heights(entry, exact):
                move = (height - edge) / entry.anatomy.cosine - entry.margin
                if abs(move - value) < _SNAP_MM:
                    return min([move, *caps])
        return None

    def _followed_heights(self, entry: ToothProblem, exact: Mapping[Tooth, float]) -> list[float]:
        def of(other: ToothProblem | None) -> float | None:
            if other is None or other.margin is None:
                return None
            return other.height(other.margin + exact.get(other.tooth, 0.0))

        policy, role = self.problem.policy, entry.anatomy.role
        heights: list[float] = []
        partner = of(self.problem.by_role(role.contralateral))
        if partner is not None:
            tolerance = policy["pair_tolerance_mm"]
            heights += [partner, partner - tolerance, partner + tolerance]
        for line in central_canine_lines(self.problem):
            central, canine = of(line.teeth[0]), of(line.teeth[2])
            if line.teeth[1] is entry and central is not None and canine is not None:
                at = line.at_lateral(central, canine)
                heights += [at, at - policy["lateral_coronal_min_mm"], at - policy["lateral_coronal_max_mm"]]
        place = place_by_neighbour(self.problem, entry)
        reference = of(place.reference) if place else None
        if place is not None and reference is not None:
            tolerance, at = policy["premolar_tolerance_mm"], reference - place.coronal_mm
            heights += [at, at - tolerance, at + tolerance]
        return heights

    def _caps(self, entry: ToothProblem) -> list[float]:
        relax = self.variant.relax
        return [cap + relax.get((limit, entry.tooth), 0.0) for limit, cap in entry.move_caps.items()]

    def _bone_bound_moves(self, entry: ToothProblem) -> list[float]:
        """The moves at which a site's most bone is used up."""
        relax, tooth = self.variant.relax, entry.tooth
        return [
            (min(cap + relax.get((limit, tooth), 0.0) for limit, cap in site.bone_caps.items()) + spare) / site.share
            for site in entry.sites.values()
            if site.share > EPSILON and site.bone_caps and site.crest is not None and site.need is not None
            for spare in (site.crest - site.margin - site.need,)
        ]


def _sum(parts: list[Linear]) -> Linear:
    total = ZERO
    for part in parts:
        total = total + part
    return total


def _total(parts: Mapping[Tooth, Linear] | Mapping[tuple[Tooth, Site], Linear]) -> Linear:
    return _sum(list(parts.values()))


def solve(problem: Problem, variant: Variant = PLAIN) -> Solution:
    """What is cut where, under the limits and in the ranks of this module.

    Raises
    ------
    SolverError
        If the solver fails; no number is given then.
    """
    return Model(problem, variant).solve()

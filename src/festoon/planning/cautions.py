"""What to weigh before cutting, tooth by tooth: each caution with its number and its source."""

from __future__ import annotations

from collections.abc import Iterator
from statistics import NormalDist

from festoon.evidence.table import published
from festoon.model.case import Phenotype, Restoration, RootForm
from festoon.model.dentition import Site
from festoon.model.plan import Caution, Procedure, ToothPlan
from festoon.planning import words
from festoon.planning.limits import RULES, Limit
from festoon.planning.pose import root_limit
from festoon.planning.problem import EPSILON, Problem, ToothProblem
from festoon.planning.solve import Solution
from festoon.planning.standing import COMMON, caution, standing_cautions

_KERATINISED_WANTED_MM = published("DX-014").high or 3.0


def tooth_cautions(problem: Problem, solution: Solution, entry: ToothProblem, plan: ToothPlan) -> Iterator[Caution]:
    """The cautions of one tooth."""
    yield from standing_cautions(problem, entry, plan)
    if not (plan.procedure.cuts or plan.procedure is Procedure.UNDETERMINED):
        return
    yield from _root(problem, solution, entry, plan)
    yield from _keratinised(problem, entry, plan)
    yield from _bone(problem, solution, entry)
    yield from _tissue(problem, entry, plan)
    yield from _limits_held_as_cautions(problem, solution, entry)


def _root(problem: Problem, solution: Solution, entry: ToothProblem, plan: ToothPlan) -> Iterator[Caution]:
    """Nearness of the CEJ, and length and shape of the root."""
    clearance = problem.policy["cej_clearance_mm"]
    for site, here in entry.sites.items():
        limit, cej = root_limit(entry.anatomy, site), entry.anatomy.site(site).cej
        shift = solution.shift(here, entry.tooth)
        if limit is None or cej is None or shift < EPSILON:
            continue
        room = limit - here.margin - shift
        if room < -EPSILON and not problem.policy.is_hard(Limit.ROOT_EXPOSURE, entry.anatomy.purpose):
            continue  # told below as a limit that is passed
        if room < clearance - EPSILON:
            chance = 1 - NormalDist(0.0, cej.se).cdf(room)
            beyond = f"{words.short(-room)} mm past" if room < -EPSILON else f"{words.short(max(room, 0.0))} mm from"
            what = "the CEJ" if not (entry.anatomy.chart.root_cover_mm or 0.0) else "the covered root's end"
            yield caution(
                entry,
                "near_cej",
                f"planned margin {beyond} {what}; chance that bare root shows about {chance:.0%} "
                f"(CEJ read to ± {cej.se:.2f} mm)",
                "normal error of the CEJ reading",
                site=site,
            )
    before, after = plan.root_to_crown_before, plan.root_to_crown_after
    minimum = problem.policy["root_to_crown_minimum"]
    if before is not None and after is not None and after < minimum and after < before - EPSILON:
        yield _shortened_root(problem, entry, before, after)
    if entry.anatomy.chart.root_form in (RootForm.CONICAL, RootForm.BLUNT):
        form = entry.anatomy.chart.root_form.value
        yield caution(
            entry, "root_form", f"{form} root: the neck narrows apically, spaces open and support is short", COMMON
        )


def _shortened_root(problem: Problem, entry: ToothProblem, before: float, after: float) -> Caution:
    """The ratio before and after, with the crest at which it would be the stop value.

    A root charted as conical or blunt stops the signature here, until the clinician says in ``policy.limits`` how the
    ratio is to be held.
    """
    minimum = problem.policy["root_to_crown_minimum"]
    weak = entry.anatomy.chart.root_form in (RootForm.CONICAL, RootForm.BLUNT)
    undecided = weak and Limit.ROOT_TO_CROWN not in problem.policy.forces
    text = f"root in bone to crown above bone {before:.2f} before, {after:.2f} after"
    if entry.anatomy.apex is not None:
        stop = entry.anatomy.apex.value / (1 + minimum)
        passed = "passed already today" if before < minimum else "passed by this plan"
        text += f"; {minimum:g}:1 would be a crest at {stop:.1f} mm, {passed}"
    text += (
        "; on such a root decide first, with the restorative dentist, how little is enough "
        "(policy.limits.root_to_crown holds the answer)"
        if undecided
        else "; a sound central can be just under 1:1, so compare with before"
    )
    return caution(entry, "root_to_crown", text, "DX-019 (memory), ROOT-015", severity="stop" if undecided else "warn")


def _keratinised(problem: Problem, entry: ToothProblem, plan: ToothPlan) -> Iterator[Caution]:
    minimum, after = problem.policy["keratinised_minimum_mm"], plan.keratinised_after_mm
    if after is None or not plan.procedure.cuts:
        return
    if after < minimum - EPSILON:
        yield caution(
            entry,
            "keratinised",
            f"keratinised tissue after {after:.1f} mm, below {minimum:g}: no excision",
            "DX-012, DX-014",
        )
    elif after < _KERATINISED_WANTED_MM - EPSILON and (plan.excised_collar_mm or 0.0) > EPSILON:
        yield caution(
            entry,
            "keratinised",
            f"keratinised tissue after {after:.1f} mm, on the line; many want {_KERATINISED_WANTED_MM:g} or more: "
            "an apically positioned flap keeps it",
            "DX-014 (memory)",
        )


def _bone(problem: Problem, solution: Solution, entry: ToothProblem) -> Iterator[Caution]:
    sounded = False
    for site, here in entry.sites.items():
        bone = solution.bone(entry.tooth, site)
        if bone > problem.policy["bone_caution_mm"] + EPSILON:
            yield caution(
                entry,
                "much_bone",
                f"{words.short(bone)} mm of bone: check root length, neighbours and proportion again",
                "CP-009, common practice",
                site=site,
            )
        known = entry.anatomy.site(site)
        sounded |= bone > EPSILON and known.sounding is not None and known.sounding.by == "sounding"
        if here.crest is not None and known.cej is not None and here.crest < known.cej.value - EPSILON:
            yield caution(
                entry,
                "crest_coronal_to_cej",
                f"crest {words.short(known.cej.value - here.crest)} mm coronal to the CEJ, as in altered passive "
                "eruption: probe again with the flap open",
                "DX-004, DX-006",
                site=site,
            )
    if sounded:
        bias = -published("ERR-004").value
        yield caution(
            entry,
            "sounded_bone",
            f"bone from sounding reads about {bias:.2f} mm too much on average and 1 sounding in 8 is off by more than "
            "1 mm: measure again with the flap open before cutting bone",
            "ERR-003, ERR-004 (190 teeth)",
            severity="note",
        )


def _tissue(problem: Problem, entry: ToothProblem, plan: ToothPlan) -> Iterator[Caution]:
    middle = entry.sites.get(Site.MIDFACIAL)
    if middle is not None and middle.sounding is not None and middle.need is not None:
        if middle.sounding > middle.need + problem.policy["low_crest_mm"] - EPSILON:
            yield caution(
                entry,
                "low_crest",
                f"low crest: {middle.sounding:.1f} mm from margin to crest: gingiva may recede further by itself after excision",
                "STA-033 (memory)",
            )
        elif middle.sounding < middle.need - EPSILON:
            yield caution(
                entry,
                "high_crest",
                f"high crest: {middle.sounding:.1f} mm from margin to crest: bone goes wherever the margin moves; little "
                "room for a restoration margin in the sulcus",
                "STA-032 (memory)",
                severity="note",
            )
    yield from _thinness(entry, plan)
    thickness = entry.anatomy.site(Site.MIDFACIAL).bone_thickness
    if thickness is not None and thickness.value < 1.0:
        yield caution(
            entry,
            "thin_bone",
            f"facial bone read as {thickness.value:.1f} mm: under 1 mm no reading is exact; a dehiscence may hide",
            "ERR-015, ERR-022 to 028",
            severity="note",
        )
    thick = problem.policy["thick_bone_mm"]
    if thickness is not None and thickness.value >= thick:
        yield caution(
            entry,
            "thick_bone",
            f"facial bone {thickness.value:.1f} mm: thickness and height are two tasks, thin first; an open flap, flapless "
            "is no option",
            COMMON,
        )
    if not entry.tooth.is_upper and entry.tooth.position <= 3:
        yield _lower_front(problem, entry, plan)
    if entry.anatomy.chart.restoration is None:
        yield caution(entry, "restoration_unknown", "whether it will be restored was not said", COMMON, severity="note")
    elif entry.anatomy.chart.restoration is Restoration.PLANNED:
        yield caution(
            entry,
            "restore_later",
            "final restoration not before the margin stands still on two visits; provisional line supragingival",
            "HEAL-042, HEAL-043",
            severity="note",
        )


def _thinness(entry: ToothProblem, plan: ToothPlan) -> Iterator[Caution]:
    """Thin by the clinician's word, or by the measured thickness whatever the word."""
    measured = entry.anatomy.site(Site.MIDFACIAL).gingiva_thickness
    shown = f"gingiva {words.short(measured.value)} mm" if measured is not None else ""
    advice = "dehiscence and further recession; smaller moves, less bone, consider a graft"
    if entry.anatomy.phenotype is Phenotype.THIN:
        text = f"thin phenotype{f' ({shown})' if shown else ''}: {advice}"
        yield caution(entry, "thin_phenotype", text, COMMON)
    elif plan.phenotype_by_thickness == "thin":
        said = entry.anatomy.phenotype.value
        text = f"{shown}: thin as measured, phenotype charted as {said}: {advice}"
        yield caution(entry, "thin_phenotype", text, "STA-034, STA-035: they disagree")


def _lower_front(problem: Problem, entry: ToothProblem, plan: ToothPlan) -> Caution:
    most, move = problem.policy["lower_front_move_mm"], plan.margin_move_mm
    text = (
        f"lower front tooth: thin bone, roots close together, shallow vestibule: small moves only, {most:g} mm at most"
    )
    if move is not None and move > most + EPSILON:
        text += f"; this one is {words.short(move)} mm: divide it, or lengthen at the edge"
    return caution(entry, "lower_front", text, COMMON)


def _limits_held_as_cautions(problem: Problem, solution: Solution, entry: ToothProblem) -> Iterator[Caution]:
    """Limits that the clinician, or the purpose, holds as cautions, where this plan goes past them."""
    tooth, policy, purpose = entry.tooth, problem.policy, entry.anatomy.purpose
    for site, here in entry.sites.items():
        bone, shift = solution.bone(tooth, site), solution.shift(here, tooth)
        past: dict[Limit, float] = {}
        if (limit := root_limit(entry.anatomy, site)) is not None and shift > EPSILON:
            past[Limit.ROOT_EXPOSURE] = here.margin + shift - limit
        furcation = entry.anatomy.furcation.get(site.surface)
        if furcation is not None and here.crest is not None and bone > EPSILON:
            past[Limit.FURCATION] = here.crest + bone + policy["furcation_clearance_mm"] - furcation.value
        demand = here.bone_demand(solution.moves.get(tooth, 0.0))
        space = Limit.RESTORATIVE_MARGIN if here.finish_line is not None else Limit.SUPRACRESTAL_SPACE
        past[space] = demand - bone
        for limit_name, by in past.items():
            if by > 1e-3 and not policy.is_hard(limit_name, purpose):
                yield caution(
                    entry,
                    limit_name.value,
                    f"{RULES[limit_name].words} is held as a caution and passed by {words.short(by)} mm",
                    policy.printed.get(f"limits.{limit_name}", "restorative tooth"),
                    site=site,
                )

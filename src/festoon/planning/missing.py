"""What is unknown on a plan, what cannot be said without it, and what can be said all the same."""

from __future__ import annotations

from collections.abc import Iterable

from festoon.model.dentition import Site
from festoon.model.plan import Arch, Missing, Procedure, ToothPlan
from festoon.planning import words
from festoon.planning.problem import Problem, ToothProblem

_CUTS_BONE = (Procedure.GINGIVECTOMY_WITH_OSTECTOMY, Procedure.APICAL_FLAP_WITH_OSTECTOMY)
_SEPTA = (Site.MESIAL, Site.DISTAL)


def missing_of(problem: Problem, teeth: dict[str, ToothPlan], arch: Arch) -> Iterable[Missing]:
    """What is unknown, the hard ones first; hard only where the tooth is, or wants to be, cut."""
    found = []
    for tooth, entry in problem.teeth.items():
        plan = teeth[tooth.fdi]
        for gap in entry.gaps:
            # The contour of a cut crest cannot be checked against an uncharted septum.
            unchecked = plan.procedure in _CUTS_BONE and gap.what == "sounding_mm" and gap.site in _SEPTA
            hard = (gap.hard and plan.procedure is Procedure.UNDETERMINED) or unchecked
            where = f"{tooth} {gap.site}" if gap.site else f"{tooth}"
            known = _still_known(entry, plan)
            found.append(
                Missing(
                    what=gap.what,
                    tooth=tooth.fdi,
                    site=gap.site,
                    prevents=gap.prevents,
                    still_known=known,
                    hard=hard,
                    text=f"{where}: {gap.what} not measured: {gap.prevents}"
                    + (f". Still known: {known}" if known else ""),
                )
            )
    found += _missing_of_case(problem, arch)
    return sorted(found, key=lambda item: not item.hard)


def _still_known(entry: ToothProblem, plan: ToothPlan) -> str | None:
    parts = []
    if plan.present_length_mm is not None:
        parts.append(f"present length {plan.present_length_mm:.2f} mm")
    if plan.ratio_present is not None:
        parts.append(f"width to length {plan.ratio_present:.2f}")
    if plan.root_to_crown_before is not None:
        parts.append(f"root to crown {plan.root_to_crown_before:.2f} today")
    if plan.target_length_mm is not None:
        parts.append(f"aesthetic target {plan.target_length_mm:.2f} mm")
        if plan.procedure is Procedure.UNDETERMINED:
            parts += _at_target(entry, plan.target_length_mm)
    return ", ".join(parts) or None


def _at_target(entry: ToothProblem, target: float) -> Iterable[str]:
    """What the film, the sounding and the crown's margin say of the target, though no cut can be given."""
    here = entry.sites.get(Site.MIDFACIAL)
    if here is not None and here.crest is not None and here.need is not None:
        yield f"{words.short(here.crest - target)} mm from there to the crest where {here.need:g} are wanted"
        apex, crest = entry.anatomy.apex, max(here.crest, target + here.need)
        if apex is not None:
            yield f"root to crown {(apex.value - crest) / crest:.2f} with the crest at {words.short(crest)} mm"
    line = entry.anatomy.site(Site.MIDFACIAL).existing_finish_line
    if line is not None and line.value < target:
        yield f"the restoration's margin lies at {words.short(line.value)} mm, {words.short(target - line.value)} mm coronal to it"


def _missing_of_case(problem: Problem, arch: Arch) -> list[Missing]:
    case, found = problem.anatomy.case, []
    wanted = (
        ("smile.gingival_display_mm", case.smile.gingival_display_mm, "how much gingiva will show after the plan"),
        ("face.horizontal", case.face.horizontal, "against which line heights and cant were taken"),
        (
            "subject.sex",
            None if case.subject.sex == "unknown" else case.subject.sex,
            "published sizes by sex: the pooled series is used",
        ),
        ("examined_at", case.examined_at, "how old the readings are"),
    )
    for what, value, prevents in wanted:
        if value is None:
            found.append(Missing(what=what, prevents=prevents, text=f"{what} not given: cannot be said: {prevents}"))
    uneven = _uneven(problem, arch)
    if uneven and problem.policy.reference_side is None:
        prevents = "which side, if any, is right as it is: each tooth was compared with its own target"
        found.append(
            Missing(
                what="policy.reference_side",
                prevents=prevents,
                text=f"the sides differ today ({uneven}) and policy.reference_side was not given: cannot be said: "
                f"{prevents}. Look at the lip too: it may be the asymmetric one",
            )
        )
    return found


def _uneven(problem: Problem, arch: Arch) -> str:
    """Pairs whose margins differ today by more than the tolerance, in words."""
    tolerance = problem.policy["pair_tolerance_mm"]
    return ", ".join(
        f"{pair} {words.short(abs(difference))} mm"
        for pair, difference in arch.pair_differences_present_mm.items()
        if difference is not None and abs(difference) > tolerance + 1e-3
    )

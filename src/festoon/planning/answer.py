"""What the plan as a whole says: surgery, surgery with reservations, not surgery, nothing, or not enough known."""

from __future__ import annotations

from collections.abc import Iterable

from festoon.model.case import Purpose
from festoon.model.plan import Answer, Arch, Finding, Missing, Procedure, ToothPlan
from festoon.planning.problem import EPSILON, Problem, State, ToothProblem

_ERUPTION = "altered_passive"
_NO_CAUSE = "none_found"


def answer_of(problem: Problem, teeth: dict[str, ToothPlan], findings: tuple[Finding, ...]) -> tuple[Answer, str]:
    """The answer, and the same in words: what is done, what surgery cannot change, what else to consider, whom to ask."""
    cut = [code for code, plan in teeth.items() if plan.procedure.cuts]
    by_procedure = {p: [code for code, plan in teeth.items() if plan.procedure is p] for p in Procedure}
    unknown, not_advised = by_procedure[Procedure.UNDETERMINED], by_procedure[Procedure.NOT_ADVISED]
    withheld = any(entry.state is State.WITHHELD for entry in problem.teeth.values())
    behind = [finding for finding in findings if _reserves(problem, finding)]
    if not cut and not unknown and (withheld or not_advised):
        lead = (
            "Surgery on gingiva and bone is not the answer here."
            if any(finding.withholds_surgery for finding in behind)
            else f"No cut is advised at {', '.join(not_advised)}: see the conflicts."
        )
        return Answer.NOT_SURGERY, f"{lead} {_unchanged(behind)}".strip()
    if unknown:
        also = f" A cut is given at {', '.join(cut)} only." if cut else ""
        text = f"Too little was measured to say what to cut at {', '.join(unknown)}.{also}"
        return Answer.UNDETERMINED, f"{text} {_unchanged([f for f in behind if f.withholds_surgery])}".strip()
    if not cut:
        return Answer.NOTHING_TO_DO, _nothing(problem)
    kinds = "; ".join(
        f"{procedure.value.replace('_', ' ')} at {', '.join(codes)}"
        for procedure, codes in by_procedure.items()
        if procedure.cuts and codes
    )
    text = f"Surgery: {kinds}."
    if not_advised:
        text += f" Not advised at {', '.join(not_advised)}."
    if behind or not_advised:
        return Answer.SURGERY_WITH_RESERVATIONS, f"{text} {_unchanged(behind)}".strip()
    return Answer.SURGERY, text


def _reserves(problem: Problem, finding: Finding) -> bool:
    """A finding that surgery cannot answer wholly: another strong cause, or no cause at all for a cut made for looks."""
    if finding.cause == _NO_CAUSE:
        return any(entry.anatomy.purpose is Purpose.AESTHETIC for entry in problem.teeth.values())
    return finding.withholds_surgery or (finding.support == "strong" and not finding.cause.startswith(_ERUPTION))


def _nothing(problem: Problem) -> str:
    if all(entry.is_restorative for entry in problem.teeth.values()):
        return "No finish line asks for room: nothing is cut."
    longer = [entry.tooth.fdi for entry in problem.teeth.values() if is_longer(entry)]
    if longer:
        return f"No tooth is short of its target, and {', '.join(longer)} longer than it already: nothing is cut."
    return "Every tooth lies within tolerance of its target: nothing is cut."


def is_longer(entry: ToothProblem) -> bool:
    """True where a tooth is longer than its target by more than the tolerance, which surgery cannot mend."""
    wish, target = entry.wish, entry.target
    return wish is not None and target is not None and -wish > target.tolerance_mm + EPSILON


def _unchanged(findings: list[Finding]) -> str:
    """What surgery on gingiva and bone cannot change, what else there is, and who to ask."""
    if not findings:
        return ""
    cannot = " ".join(f"{finding.title}: {finding.surgery_cannot}" for finding in findings)
    firsts = dict.fromkeys(finding.alternatives[0] for finding in findings if finding.alternatives)
    consider = " ".join(f"Consider: {alternative}" for alternative in firsts if not alternative.startswith("No "))
    people = dict.fromkeys(person for finding in findings for person in finding.ask)
    ask = f"Ask: {', '.join(people)}." if people else ""
    return " ".join(part for part in (cannot, consider, ask) if part)


def not_for_surgery(
    problem: Problem,
    teeth: dict[str, ToothPlan],
    arch: Arch,
    missing: tuple[Missing, ...],
    answer: Answer,
    findings: tuple[Finding, ...],
) -> Iterable[str]:
    """Why the sheet is stamped NOT FOR SURGERY; nothing when it is not."""
    unknown = [code for code, plan in teeth.items() if plan.procedure is Procedure.UNDETERMINED]
    if unknown:
        yield f"a hard limit lacks a reading at {', '.join(unknown)}"
    unchecked = dict.fromkeys(
        f"{item.tooth} {item.site}" for item in missing if item.hard and item.tooth not in unknown
    )
    if unchecked:
        yield f"the crest's contour cannot be checked: no sounding at {', '.join(unchecked)}"
    waiting = [entry.tooth.fdi for entry in problem.teeth.values() if _field_waits(entry, teeth, arch)]
    if waiting:
        yield f"{', '.join(waiting)} must be cleared first and lies in the field, or is the partner of a tooth that is cut"
    if answer is Answer.NOT_SURGERY:
        titles = "; ".join(dict.fromkeys(finding.title for finding in findings if finding.withholds_surgery))
        yield (
            f"surgery on gingiva and bone is not the answer: {titles}"
            if titles
            else "no cut is advised: see the conflicts"
        )
    if answer is Answer.NOTHING_TO_DO:
        yield "nothing is to be cut"


def _field_waits(entry: ToothProblem, teeth: dict[str, ToothPlan], arch: Arch) -> bool:
    """True where a tooth that can be cleared lies under the flap, or would be left behind by its partner."""
    if entry.state is not State.BLOCKED or entry.anatomy.chart.ankylosed:
        return False
    partner = teeth.get(entry.tooth.contralateral.fdi)
    in_field = any(entry.tooth.fdi in field for field in arch.flap_fields)
    return in_field or (partner is not None and partner.procedure.cuts)

"""The plan as a whole: problem, solution, and everything that is said about it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from festoon import __version__
from festoon.evidence.table import table_sha256
from festoon.model.anatomy import Anatomy
from festoon.model.dentition import Site, Tooth
from festoon.model.plan import (
    Alternative,
    Answer,
    Caution,
    Finding,
    Healing,
    Missing,
    Plan,
    PolicyComparison,
    Procedure,
    Provenance,
    SitePlan,
    ToothPlan,
)
from festoon.planning.alternatives import alternatives_of
from festoon.planning.arch import arch_of
from festoon.planning.cautions import arch_cautions, grouped, tooth_cautions
from festoon.planning.compose import procedure_of, site_plans, tooth_plan
from festoon.planning.conflicts import conflicts_of
from festoon.planning.healing import healing_summary
from festoon.planning.paper import paper_of
from festoon.planning.papillae import papillae
from festoon.planning.policy import Policy, policy_of, presets_shown
from festoon.planning.pose import build
from festoon.planning.problem import EPSILON, Problem, State
from festoon.planning.programme import solver_version
from festoon.planning.risk import risk_of
from festoon.planning.solve import Solution, solve

SEED = 20260211
"""Of every random draw of a plan, unless the caller says otherwise; it stands in the provenance."""
_BASES = ("fixed", "individual", "larger")
_APART_MM = 0.5
_CUTS_BONE = (Procedure.GINGIVECTOMY_WITH_OSTECTOMY, Procedure.APICAL_FLAP_WITH_OSTECTOMY)
_ERUPTION = "altered_passive"
_SEPTA = (Site.MESIAL, Site.DISTAL)


@dataclass(frozen=True)
class Context:
    """What other rooms found about the case before it is planned."""

    findings: tuple[Finding, ...] = ()
    cautions: tuple[Caution, ...] = ()
    """Health cautions."""
    unanswered_health: tuple[str, ...] = ()
    case_sha256: str = ""
    seed: int = SEED


def make_plan(anatomy: Anatomy, context: Context) -> Plan:
    """The plan of a case.

    The same case, context and version give the same plan, byte for byte.

    Raises
    ------
    SolverError
        If the solver fails; no number is given then.
    InputRefusedError
        If the policy names a limit that does not exist or cannot be changed.
    """
    policy = policy_of(anatomy)
    withheld = withheld_teeth(anatomy, context.findings)
    problem = build(anatomy, policy, withheld=withheld)
    solution = solve(problem)
    bare = {tooth.fdi: tooth_plan(policy, solution, entry) for tooth, entry in problem.teeth.items()}
    teeth = {
        code: plan.model_copy(
            update={"cautions": tuple(tooth_cautions(problem, solution, problem.teeth[Tooth(code)], plan))}
        )
        for code, plan in bare.items()
    }
    sites = tuple(
        site
        for tooth, entry in problem.teeth.items()
        for site in site_plans(problem, solution, entry, teeth[tooth.fdi].procedure)
    )
    arch, tips = arch_of(problem, solution), papillae(problem, solution)
    missing = tuple(_missing(problem, teeth))
    answer, answer_text = _answer(problem, teeth, context.findings)
    not_for_surgery = tuple(_not_for_surgery(teeth, missing, answer))
    paper = paper_of(problem, solution, teeth, sites)
    if not paper.rechecked:
        not_for_surgery += ("the numbers rounded for paper break a hard limit: use the exact values of the file",)
    per_tooth = [caution for plan in teeth.values() for caution in plan.cautions]
    cautions = grouped((*context.cautions, *per_tooth, *arch_cautions(problem, arch, tips)))
    reasons = tuple(_unsigned(anatomy, not_for_surgery, context, cautions))
    return Plan(
        case=anatomy.case.case,
        purpose=anatomy.case.purpose.value,
        notation=anatomy.case.notation.value,
        examined_at=anatomy.case.examined_at.isoformat() if anatomy.case.examined_at else None,
        design_version=anatomy.case.approval.design_version,
        answer=answer,
        answer_text=answer_text,
        for_surgery=not not_for_surgery,
        not_for_surgery_because=not_for_surgery,
        teeth=teeth,
        sites=sites,
        papillae=tips,
        arch=arch,
        findings=context.findings,
        cautions=cautions,
        conflicts=conflicts_of(problem, solution),
        missing=missing,
        alternatives=_alternatives(anatomy, policy, problem, solution, withheld),
        policy_comparison=tuple(_policies(anatomy, withheld)),
        presets=presets_shown(policy),
        risk=risk_of(problem, solution, seed=context.seed),
        healing=_healing(anatomy, sites),
        paper=paper,
        signable=not reasons,
        signable_reasons=reasons,
        provenance=Provenance(
            festoon=__version__,
            case_sha256=context.case_sha256,
            evidence_sha256=table_sha256(),
            solver=solver_version(),
            seed=context.seed,
            settings=policy.printed,
        ),
    )


def withheld_teeth(anatomy: Anatomy, findings: Iterable[Finding]) -> dict[Tooth, str]:
    """Teeth for which surgery is not presented as the answer, and why: by name, or all where a finding names none."""
    reasons: dict[Tooth, list[str]] = {}
    for finding in findings:
        if finding.withholds_surgery:
            for tooth in anatomy.teeth:
                if not finding.teeth or tooth.fdi in finding.teeth:
                    reasons.setdefault(tooth, []).append(finding.title)
    return {
        tooth: f"surgery on gingiva and bone is not the answer here: {'; '.join(titles)}"
        for tooth, titles in reasons.items()
    }


def _answer(problem: Problem, teeth: dict[str, ToothPlan], findings: tuple[Finding, ...]) -> tuple[Answer, str]:
    cut = [code for code, plan in teeth.items() if plan.procedure.cuts]
    by_procedure = {p: [code for code, plan in teeth.items() if plan.procedure is p] for p in Procedure}
    unknown, not_advised = by_procedure[Procedure.UNDETERMINED], by_procedure[Procedure.NOT_ADVISED]
    withheld = any(entry.state is State.WITHHELD for entry in problem.teeth.values())
    behind = [
        f for f in findings if f.withholds_surgery or (f.support == "strong" and not f.cause.startswith(_ERUPTION))
    ]
    if not cut and not unknown and (withheld or not_advised):
        titles = "; ".join(dict.fromkeys(f.title for f in behind if f.withholds_surgery))
        lead = (
            "Surgery on gingiva and bone is not the answer here" if titles else "No cut is advised: see the conflicts"
        )
        return Answer.NOT_SURGERY, f"{lead}{': ' if titles else ''}{titles}. {_unchanged(behind)}".strip()
    if unknown:
        also = f" A cut is given at {', '.join(cut)} only." if cut else ""
        return Answer.UNDETERMINED, f"Too little was measured to say what to cut at {', '.join(unknown)}.{also}"
    if not cut:
        return Answer.NOTHING_TO_DO, "Every tooth lies within tolerance of its target: nothing is cut."
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


def _unchanged(findings: list[Finding]) -> str:
    """What surgery on gingiva and bone cannot change, and who to ask."""
    if not findings:
        return ""
    cannot = " ".join(f"{finding.title}: {finding.surgery_cannot}" for finding in findings)
    people = dict.fromkeys(person for finding in findings for person in finding.ask)
    return cannot + (f" Ask: {', '.join(people)}." if people else "")


def _missing(problem: Problem, teeth: dict[str, ToothPlan]) -> Iterable[Missing]:
    """What is unknown, the hard ones first; hard only where the tooth is, or wants to be, cut."""
    found = []
    for tooth, entry in problem.teeth.items():
        plan = teeth[tooth.fdi]
        for gap in entry.gaps:
            # The contour of a cut crest cannot be checked against an uncharted septum.
            unchecked = plan.procedure in _CUTS_BONE and gap.what == "sounding_mm" and gap.site in _SEPTA
            hard = (gap.hard and plan.procedure is Procedure.UNDETERMINED) or unchecked
            where = f"{tooth} {gap.site}" if gap.site else f"{tooth}"
            known = _still_known(plan)
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
    found += _missing_of_case(problem)
    return sorted(found, key=lambda item: not item.hard)


def _still_known(plan: ToothPlan) -> str | None:
    parts = []
    if plan.present_length_mm is not None:
        parts.append(f"present length {plan.present_length_mm:.2f} mm")
    if plan.ratio_present is not None:
        parts.append(f"width to length {plan.ratio_present:.2f}")
    if plan.target_length_mm is not None:
        parts.append(f"aesthetic target {plan.target_length_mm:.2f} mm")
    return ", ".join(parts) or None


def _missing_of_case(problem: Problem) -> list[Missing]:
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
    return found


def _not_for_surgery(teeth: dict[str, ToothPlan], missing: tuple[Missing, ...], answer: Answer) -> Iterable[str]:
    unknown = [code for code, plan in teeth.items() if plan.procedure is Procedure.UNDETERMINED]
    if unknown:
        yield f"a hard limit lacks a reading at {', '.join(unknown)}"
    unchecked = dict.fromkeys(
        f"{item.tooth} {item.site}" for item in missing if item.hard and item.tooth not in unknown
    )
    if unchecked:
        yield f"the crest's contour cannot be checked: no sounding at {', '.join(unchecked)}"
    if answer is Answer.NOT_SURGERY:
        yield "surgery on gingiva and bone is not the answer, or not yet"
    if answer is Answer.NOTHING_TO_DO:
        yield "nothing is to be cut"


def _unsigned(
    anatomy: Anatomy, not_for_surgery: tuple[str, ...], context: Context, cautions: tuple[Caution, ...]
) -> Iterable[str]:
    yield from not_for_surgery
    if context.unanswered_health:
        yield f"health questions not answered: {', '.join(context.unanswered_health)}"
    approval = anatomy.case.approval
    if approval.design_version is None or approval.mock_up_accepted_at is None:
        yield "no approved design: approval.design_version and approval.mock_up_accepted_at"
    for caution in cautions:
        if caution.severity == "stop":
            yield f"to be cleared by a clinician first: {caution.tooth + ': ' if caution.tooth else ''}{caution.text}"


def _alternatives(
    anatomy: Anatomy, policy: Policy, problem: Problem, solution: Solution, withheld: dict[Tooth, str]
) -> tuple[Alternative, ...]:
    """Alternatives; where surgery is withheld, what a plan would be were the cause excluded is one of them."""
    if not withheld:
        return alternatives_of(problem, solution)
    return alternatives_of(build(anatomy, policy), solution)


def _policies(anatomy: Anatomy, withheld: dict[Tooth, str]) -> Iterable[PolicyComparison]:
    """The same case under each basis of the supracrestal need."""
    by_basis: dict[str, dict[str, float | None]] = {}
    needs = {}
    for basis in _BASES:
        policy = policy_of(anatomy, basis=basis)
        problem = build(anatomy, policy, withheld=withheld)
        solution = solve(problem)
        needs[basis] = policy
        by_basis[basis] = {
            f"{tooth} {site}": None
            if procedure_of(entry, solution)[0] is Procedure.UNDETERMINED
            else round(solution.bone(tooth, site), 4) + 0.0
            for tooth, entry in problem.teeth.items()
            for site in entry.sites
        }
    for basis in _BASES:
        apart = [
            f"{where} {bone:.1f} against {fixed:.1f} mm"
            for where, bone in by_basis[basis].items()
            if bone is not None
            and (fixed := by_basis["fixed"].get(where)) is not None
            and abs(bone - fixed) > _APART_MM + EPSILON
        ]
        policy = needs[basis]
        note = f"mid-surface: {policy.need_mid.source}; interproximal: {policy.need_interproximal.source}"
        if apart:
            note += f". Differs from fixed by more than {_APART_MM:g} mm of bone at {'; '.join(apart)}"
        yield PolicyComparison.model_validate(
            {
                "basis": basis,
                "need_midfacial_mm": policy.need_mid.value,
                "need_interproximal_mm": policy.need_interproximal.value,
                "bone_by_site_mm": by_basis[basis],
                "note": note,
            }
        )


def _healing(anatomy: Anatomy, sites: tuple[SitePlan, ...]) -> Healing | None:
    """What healing is expected to make of the cut margins; None where nothing is cut."""
    distances = {
        site.tooth: site.crest_planned_mm - site.suture_level_mm
        for site in sites
        if site.site is Site.MIDFACIAL and site.crest_planned_mm is not None and site.suture_level_mm is not None
    }
    if not distances:
        return None
    has_bone_work = any((site.bone_removal_mm or 0.0) > EPSILON for site in sites)
    return healing_summary(distances, anatomy.case.phenotype, has_bone_work=has_bone_work)

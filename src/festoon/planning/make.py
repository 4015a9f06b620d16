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
    Caution,
    Finding,
    Healing,
    Plan,
    PolicyComparison,
    Procedure,
    Provenance,
    SitePlan,
)
from festoon.planning.alternatives import alternatives_of
from festoon.planning.answer import answer_of, not_for_surgery
from festoon.planning.arch import arch_of
from festoon.planning.arch_cautions import arch_cautions, grouped
from festoon.planning.cautions import tooth_cautions
from festoon.planning.compose import procedure_of, site_plans, tooth_plan
from festoon.planning.conflicts import conflicts_of
from festoon.planning.healing.forecast import healing_summary
from festoon.planning.missing import missing_of
from festoon.planning.paper import paper_of
from festoon.planning.papillae import papillae
from festoon.planning.policy import Policy, policy_of, presets_shown
from festoon.planning.pose import build
from festoon.planning.problem import EPSILON, Problem
from festoon.planning.programme import solver_version
from festoon.planning.risk.outlook import risk_of
from festoon.planning.solve import Solution, solve

SEED = 20260211
"""Of every random draw of a plan, unless the caller says otherwise; it stands in the provenance."""
_BASES = ("fixed", "individual", "larger")
_APART_MM = 0.5


@dataclass(frozen=True)
class Context:
    """What other rooms found about the case before it is planned."""

    findings: tuple[Finding, ...] = ()
    cautions: tuple[Caution, ...] = ()
    """Health cautions."""
    unanswered_health: tuple[str, ...] = ()
    case_sha256: str = ""
    seed: int = SEED


def make_plan(anatomy: Anatomy, context: Context, *, is_draft: bool = False) -> Plan:
    """The plan of a case.

    The same case, context and version give the same plan, byte for byte. A draft is the same plan without what needs
    further solving: prices, alternatives, the policy comparison and the risk. It is for a screen on which a target is
    being moved; it can never be signed, and says so.

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
    missing = tuple(missing_of(problem, teeth, arch))
    answer, answer_text = answer_of(problem, teeth, context.findings)
    stamped = tuple(not_for_surgery(problem, teeth, arch, missing, answer, context.findings))
    paper = paper_of(problem, solution, teeth, sites)
    if not paper.rechecked:
        stamped += ("the numbers rounded for paper break a hard limit: use the exact values of the file",)
    per_tooth = [caution for plan in teeth.values() for caution in plan.cautions]
    cautions = grouped((*context.cautions, *per_tooth, *arch_cautions(problem, arch, tips)))
    reasons = tuple(_unsigned(anatomy, stamped, context, cautions))
    if is_draft:
        reasons += ("this is a draft: plan the case to sign it",)
    return Plan(
        case=anatomy.case.case,
        purpose=anatomy.case.purpose.value,
        notation=anatomy.case.notation.value,
        examined_at=anatomy.case.examined_at.isoformat() if anatomy.case.examined_at else None,
        design_version=anatomy.case.approval.design_version,
        answer=answer,
        answer_text=answer_text,
        for_surgery=not stamped,
        not_for_surgery_because=stamped,
        teeth=teeth,
        sites=sites,
        papillae=tips,
        arch=arch,
        findings=context.findings,
        cautions=cautions,
        conflicts=() if is_draft else conflicts_of(problem, solution),
        missing=missing,
        alternatives=() if is_draft else _alternatives(anatomy, policy, problem, solution, withheld),
        policy_comparison=() if is_draft else tuple(_policies(anatomy, withheld)),
        presets=presets_shown(policy),
        risk=None if is_draft else risk_of(problem, solution, seed=context.seed),
        healing=_healing(anatomy, policy, sites),
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


def _unsigned(
    anatomy: Anatomy, stamped: tuple[str, ...], context: Context, cautions: tuple[Caution, ...]
) -> Iterable[str]:
    yield from stamped
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
    """Alternatives; where surgery is withheld altogether, what a plan would be were the cause excluded."""
    if not withheld or solution.operated:
        return alternatives_of(problem, solution)
    codes = {tooth.fdi for tooth in withheld}
    return tuple(
        found.model_copy(update={"name": f"only once the cause is excluded: {found.name}"})
        if codes & found.moves_mm.keys()
        else found
        for found in alternatives_of(build(anatomy, policy), solution)
    )


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


def _healing(anatomy: Anatomy, policy: Policy, sites: tuple[SitePlan, ...]) -> Healing | None:
    """What healing is expected to make of the cut margins; None where nothing is cut."""
    distances = {
        site.tooth: site.crest_planned_mm - site.suture_level_mm
        for site in sites
        if site.site is Site.MIDFACIAL and site.crest_planned_mm is not None and site.suture_level_mm is not None
    }
    if not distances:
        return None
    has_bone_work = any((site.bone_removal_mm or 0.0) > EPSILON for site in sites)
    return healing_summary(
        distances, anatomy.case.phenotype, has_bone_work=has_bone_work, own_offset_mm=policy["rebound_offset_mm"]
    )

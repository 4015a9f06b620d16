"""From a solution to the teeth and sites of a plan: every number with its sum, error, limit and readings."""

from __future__ import annotations

from collections.abc import Iterable
from math import hypot
from typing import Literal

from festoon.evidence.presets import PhenotypePreset
from festoon.evidence.table import published
from festoon.kernels.levels import present_edge_level
from festoon.model.anatomy import Known, SiteAnatomy, ToothAnatomy
from festoon.model.case import Phenotype, Restoration, Status
from festoon.model.dentition import FACIAL_SITES, LINGUAL_SITES, Site
from festoon.model.plan import Procedure, SitePlan, Thinning, ToothPlan
from festoon.planning import words
from festoon.planning.binding import bindings_of
from festoon.planning.healing.forecast import WEEKS, expected_shift, suture_level
from festoon.planning.outcome import is_decided
from festoon.planning.policy import Policy
from festoon.planning.pose import root_limit
from festoon.planning.problem import EPSILON, Problem, SiteProblem, State, ToothProblem
from festoon.planning.solve import Solution

_CHAIR_SE = published("ERR-010").value
"""A level set or read at the chair with a probe marked in half millimetres."""
_KEPT_DECIMALS = 6
"""The file keeps exact values; this only drops the noise of binary fractions."""


def rounded(value: float | None) -> float | None:
    """A number as the file keeps it, without a negative zero."""
    return None if value is None else round(value, _KEPT_DECIMALS) + 0.0


def procedure_of(entry: ToothProblem, solution: Solution) -> tuple[Procedure, str]:
    """What is done to a tooth, and why, in one sentence."""
    tooth = entry.tooth
    if entry.state is State.FIXED:
        return Procedure.NONE, entry.why
    if entry.state in (State.BLOCKED, State.WITHHELD):
        wants = entry.wants_surgery or entry.wish is None
        return (Procedure.NOT_ADVISED if wants else Procedure.NONE), entry.why
    if entry.state is State.UNKNOWN:
        if not is_decided(entry):
            return Procedure.UNDETERMINED, entry.why
        return Procedure.NONE, f"within tolerance of its target; {entry.why}, so it could not be cut anyway"
    bone = any(solution.bone(tooth, site) > EPSILON for site in entry.sites)
    shift = any(solution.shift(site, tooth) > EPSILON for site in entry.sites.values())
    if not bone and not shift:
        if entry.wants_surgery:
            return Procedure.NOT_ADVISED, "a limit leaves no room for a move worth making: see the conflicts"
        return Procedure.NONE, _left_alone(entry)
    collar, move = solution.collars.get(tooth, 0.0), solution.moves.get(tooth, 0.0)
    if not shift:
        return Procedure.APICAL_FLAP_WITH_OSTECTOMY, "bone only: the flap is raised and replaced, nothing is excised"
    if move - collar > EPSILON:
        kept = f"keratinised tissue allows {words.short(collar)} mm of collar; the rest is moved by suturing apically"
        return (Procedure.APICAL_FLAP_WITH_OSTECTOMY if bone else Procedure.APICAL_FLAP), kept
    if bone:
        return Procedure.GINGIVECTOMY_WITH_OSTECTOMY, "keratinised tissue allows the excision; the crest is too near"
    return Procedure.GINGIVECTOMY, "keratinised tissue allows the excision; the crest is far enough"


def _left_alone(entry: ToothProblem) -> str:
    """Why nothing is done to a tooth that could be operated."""
    if entry.is_restorative:
        return "no finish line asks for room"
    wish, target = entry.wish, entry.target
    if wish is None or target is None:
        return "no target of its own, and its place among its neighbours asks for no move"
    if -wish > target.tolerance_mm + EPSILON:
        return f"{words.short(-wish)} mm longer than its target: surgery cannot bring a margin back"
    return "within tolerance of its target"


def site_plans(problem: Problem, solution: Solution, entry: ToothProblem, procedure: Procedure) -> list[SitePlan]:
    """The charted sites of one tooth, in the order of the dentition module."""
    settled = entry.anatomy.extension is not None
    return [
        _site_plan(problem, solution, entry, procedure, entry.anatomy.site(site))
        for site in (*FACIAL_SITES, *LINGUAL_SITES)
        if site in entry.anatomy.sites and settled
    ] + [
        SitePlan(tooth=entry.tooth.fdi, site=site, from_=tuple(dict.fromkeys(_readings(entry.anatomy.site(site)))))
        for site in (*FACIAL_SITES, *LINGUAL_SITES)
        if site in entry.anatomy.sites and not settled
    ]


def _site_plan(
    problem: Problem, solution: Solution, entry: ToothProblem, procedure: Procedure, known: SiteAnatomy
) -> SitePlan:
    tooth, site = entry.tooth, known.site
    here = entry.sites.get(site)
    decided = procedure is not Procedure.UNDETERMINED and entry.margin is not None
    shift = solution.shift(here, tooth) if here else 0.0
    bone = solution.bone(tooth, site)
    margin = known.margin.value if known.margin else None
    crest = known.crest.value if known.crest else None
    planned = margin + shift if decided and margin is not None else None
    planned_crest = crest + bone if decided and crest is not None else None
    extension = entry.anatomy.extension or 0.0
    collar = solution.collars.get(tooth, 0.0)
    move = solution.moves.get(tooth, 0.0)
    excised = shift * (collar / move if move > EPSILON else 1.0)
    values = {
        "margin_present_mm": margin,
        "margin_planned_mm": planned,
        "incision_level_mm": margin + excised if decided and margin is not None and shift > EPSILON else None,
        "crest_present_mm": crest,
        "crest_planned_mm": planned_crest,
        "cej_mm": _value(known.cej),
        "mucogingival_mm": _value(known.mucogingival),
        "contact_mm": _value(known.contact),
        "sounding_present_mm": _value(known.sounding),
        "finish_line_mm": here.finish_line if here else None,
        "need_mm": here.need if here and (shift > EPSILON or here.finish_line is not None) else None,
        "left_if_soft_only_mm": crest - planned if crest is not None and planned is not None else None,
        "bone_removal_mm": bone if decided else None,
        "supracrestal_after_mm": planned_crest - planned if planned_crest is not None and planned is not None else None,
        "root_exposed_mm": max(0.0, planned - known.cej.value) if planned is not None and known.cej else None,
        "margin_planned_from_present_edge_mm": None if planned is None else present_edge_level(planned, extension),
        "crest_planned_from_present_edge_mm": None
        if planned_crest is None
        else present_edge_level(planned_crest, extension),
    }
    return SitePlan(
        tooth=tooth.fdi,
        site=site,
        **{name: rounded(value) for name, value in values.items()},
        **_healed(entry, known, planned, planned_crest, shift, bone, problem.policy["rebound_offset_mm"]),
        thinning=_thinning(known, bone, problem.policy["thick_bone_mm"]) if procedure.cuts else None,
        se_mm=_errors(known, planned, shift, bone),
        measured_by={
            name: quantity.by
            for name, quantity in (
                ("margin", known.margin),
                ("crest", known.crest),
                ("cej", known.cej),
                ("mucogingival", known.mucogingival),
            )
            if quantity is not None
        },
        binding=tuple(bindings_of(problem, solution, entry, here)) if here else (),
        from_=tuple(dict.fromkeys(_readings(known))),
        arithmetic=tuple(_arithmetic(entry, known, here, solution, shift, bone, decided=decided)),
    )


def _value(known: Known | None) -> float | None:
    return known.value if known else None


def _readings(known: SiteAnatomy) -> Iterable[str]:
    for quantity in (
        known.margin, known.sounding, known.crest, known.cej, known.mucogingival, known.contact, known.probing,
        known.bone_thickness, known.sound_tooth, known.existing_finish_line,
    ):  # fmt: skip
        if quantity is not None:
            yield from quantity.readings


def _healed(
    entry: ToothProblem,
    known: SiteAnatomy,
    planned: float | None,
    planned_crest: float | None,
    shift: float,
    bone: float,
    own_offset: float,
) -> dict[str, float | tuple[float, float] | None]:
    """Where the flap is sutured and where the margin is expected; nothing where nothing was cut."""
    if planned is None or (shift < EPSILON and bone < EPSILON):
        return {}
    if planned_crest is None:
        return {"suture_level_mm": rounded(planned)}
    phenotype: Phenotype = entry.anatomy.phenotype
    sutured = suture_level(planned, planned_crest, root_limit(entry.anatomy, known.site), phenotype, own_offset)
    result: dict[str, float | tuple[float, float] | None] = {"suture_level_mm": rounded(sutured.level_mm)}
    for label, months in (("6m", "6 months"), ("12m", "12 months")):
        expected = expected_shift(sutured.distance_mm, WEEKS[months], phenotype, own_offset)
        result[f"margin_expected_{label}_mm"] = rounded(sutured.level_mm - expected.mean_mm)
        result[f"margin_expected_{label}_band_mm"] = (
            round(sutured.level_mm - expected.high_mm, 4),
            round(sutured.level_mm - expected.low_mm, 4),
        )
    return result


def _thinning(known: SiteAnatomy, bone: float, threshold: float) -> Thinning | None:
    """Thickness is a task of its own beside height; said where bone is lowered, or is thick."""
    if known.bone_thickness is None:
        text = "bone thickness NOT MEASURED: judge ledges with the flap open, thin before lowering"
        return Thinning(advised=False, text=text) if bone > EPSILON else None
    thickness = known.bone_thickness.value
    if thickness >= threshold:
        lowering = "then lower" if bone > EPSILON else "height stays"
        return Thinning(
            advised=True,
            bone_thickness_mm=thickness,
            text=f"facial bone {thickness:.1f} mm: thin first (osteoplasty), {lowering}; no ledge at the line angles",
        )
    if bone < EPSILON:
        return None
    caution = "; under 1 mm: a reading this thin is not exact (ERR-015)" if thickness < 1 else ""
    return Thinning(
        advised=False, bone_thickness_mm=thickness, text=f"facial bone {thickness:.1f} mm: lower only{caution}"
    )


def _errors(known: SiteAnatomy, planned: float | None, shift: float, bone: float) -> dict[str, float | None]:
    """Standard errors. A planned level that is cut to is set at the chair; one that is left keeps its reading's."""
    margin = known.margin.se if known.margin else None
    crest = known.crest.se if known.crest else None
    planned_margin = None if planned is None else _CHAIR_SE if shift > EPSILON else margin
    planned_crest = _CHAIR_SE if bone > EPSILON else crest
    return {
        "margin_present_mm": _round_se(margin),
        "margin_planned_mm": _round_se(planned_margin),
        "crest_present_mm": _round_se(crest),
        "crest_planned_mm": _round_se(planned_crest),
        "left_if_soft_only_mm": _round_se(_both(crest, planned_margin)),
        "bone_removal_mm": _round_se(_both(crest, planned_crest) if bone > EPSILON else None),
        "supracrestal_after_mm": _round_se(_both(planned_crest, planned_margin)),
        "cej_mm": _round_se(known.cej.se if known.cej else None),
        "mucogingival_mm": _round_se(known.mucogingival.se if known.mucogingival else None),
    }


def _both(first: float | None, second: float | None) -> float | None:
    return None if first is None or second is None else hypot(first, second)


def _round_se(value: float | None) -> float | None:
    return None if value is None else round(value, 3)


def _arithmetic(
    entry: ToothProblem,
    known: SiteAnatomy,
    here: SiteProblem | None,
    solution: Solution,
    shift: float,
    bone: float,
    *,
    decided: bool,
) -> Iterable[str]:
    extension = entry.anatomy.extension or 0.0
    if abs(extension) > EPSILON:
        for name, quantity in (
            ("margin", known.margin),
            ("CEJ", known.cej),
            ("crest", known.crest),
            ("mucogingival junction", known.mucogingival),
        ):
            if quantity is not None:
                yield words.edge_sum(name, quantity.value - extension, extension)
    if not decided or here is None:
        return
    planned = here.margin + shift
    if shift > EPSILON:
        yield words.move_sum(planned, here.margin)
    if known.site is Site.MIDFACIAL and entry.keratinised is not None and shift > EPSILON:
        yield words.keratinised_sum(entry.keratinised, solution.collars.get(entry.tooth, 0.0))
    if known.cej is not None and shift > EPSILON:
        yield words.root_sum(planned, known.cej.value)
    if here.crest is None or here.need is None or (shift < EPSILON and here.finish_line is None):
        return
    if here.finish_line is not None and known.sound_tooth is not None:
        yield words.finish_line_sum(known.sound_tooth.value, here.finish_line - known.sound_tooth.value)
    yield words.left_sum(here.crest, planned)
    if here.finish_line is not None:
        yield words.finish_sum(max(here.finish_line, planned if shift > EPSILON else 0.0), here.need, here.crest)
    else:
        yield words.bone_sum(here.need, here.crest - planned)
    demand = here.bone_demand(solution.moves.get(entry.tooth, 0.0))
    if bone > demand + EPSILON:
        yield words.contour_sum(bone, demand)


def tooth_plan(policy: Policy, solution: Solution, entry: ToothProblem) -> ToothPlan:
    """One place of the arch, without its cautions."""
    tooth, anatomy, chart = entry.tooth, entry.anatomy, entry.anatomy.chart
    procedure, why = procedure_of(entry, solution)
    decided = procedure is not Procedure.UNDETERMINED and entry.margin is not None
    move = solution.moves.get(tooth, 0.0)
    collar = solution.collars.get(tooth, 0.0)
    planned = entry.margin + move if decided and entry.margin is not None else None
    width = anatomy.width.value if anatomy.width else None
    counted = chart.future_width_mm or width
    extension = anatomy.extension
    # Without a settled edge the anatomy still counts from the edge of today.
    present = anatomy.margin.value - (extension or 0.0) if anatomy.margin else None
    rooted = (chart.status or Status.NATURAL).is_rooted
    crest = anatomy.site(Site.MIDFACIAL).crest if rooted else None
    mucogingival = anatomy.site(Site.MIDFACIAL).mucogingival
    cej = anatomy.site(Site.MIDFACIAL).cej
    shown = {
        "target_length_mm": entry.target.length_mm if entry.target else None,
        "present_length_mm": present,
        "planned_length_mm": planned if entry.state is not State.FIXED or planned is not None else None,
        "incisal_extension_mm": extension,
        "width_mm": counted,
        "ratio_present": width / present if width and present else None,
        "ratio_planned": counted / planned if counted and planned else None,
        "margin_move_mm": move if decided else None,
        "excised_collar_mm": collar if decided else None,
        "apical_shift_mm": move - collar if decided else None,
        "keratinised_present_mm": entry.keratinised,
        "keratinised_after_mm": entry.keratinised - collar if decided and entry.keratinised is not None else None,
        "mucogingival_after_mm": mucogingival.value + move - collar
        if decided and mucogingival and extension is not None
        else None,
        "root_exposed_mm": max(0.0, planned - cej.value) if planned is not None and cej else None,
        "root_to_crown_before": _root_to_crown(anatomy.apex, crest, extension or 0.0, 0.0),
        "root_to_crown_after": _root_to_crown(anatomy.apex, crest, 0.0, solution.bone(tooth, Site.MIDFACIAL))
        if decided
        else None,
        "edge_height_mm": anatomy.edge_height,
        "margin_height_present_mm": entry.height(entry.margin),
        "margin_height_planned_mm": entry.height(planned),
        "zenith_offset_mm": chart.zenith_offset_mm,
        "zenith_target_mm": _zenith_target(anatomy, policy),
        "finish_line_gap_mm": _finish_gap(entry, planned),
    }
    return ToothPlan(
        name=tooth.name,
        status=(chart.status or Status.NATURAL).value,
        role=anatomy.role.fdi,
        procedure=procedure,
        why=why,
        target_from=entry.target.source if entry.target else None,
        phenotype_by_thickness=_phenotype(anatomy.site(Site.MIDFACIAL).gingiva_thickness, policy.phenotype),
        **{name: rounded(value) for name, value in shown.items()},
    )


def _phenotype(thickness: Known | None, preset: PhenotypePreset) -> Literal["thin", "thick", "between"] | None:
    if thickness is None:
        return None
    if thickness.value <= preset.thin_to_mm:
        return "thin"
    return "thick" if thickness.value >= preset.thick_from_mm else "between"


def _root_to_crown(apex: Known | None, crest: Known | None, extension: float, bone: float) -> float | None:
    """``(apex − crest) / (crest − edge)`` midfacially; ``extension`` takes levels back to the present edge."""
    if apex is None or crest is None:
        return None
    level = crest.value + bone - extension
    return (apex.value - crest.value - bone) / level if level > EPSILON else None


def _finish_gap(entry: ToothProblem, planned: float | None) -> float | None:
    """How far the new gingival margin lies apical to the margin of a restoration that is kept."""
    line = entry.anatomy.site(Site.MIDFACIAL).existing_finish_line
    if line is None or planned is None or entry.anatomy.chart.restoration is not Restoration.PRESENT:
        return None
    return planned - line.value


def _zenith_target(anatomy: ToothAnatomy, policy: Policy) -> float | None:
    """Where the zenith is wanted, distal positive: by the design, else by the preset, which knows upper teeth only."""
    if anatomy.chart.zenith_target_mm is not None:
        return anatomy.chart.zenith_target_mm
    return policy.zenith.offset_mm.get(anatomy.role.position) if anatomy.role.is_upper else None

"""Plausible hand-made plans for the tests of drawings and reports: invented mouths, no solver.

The levels are ordinary clinical ones, the sums are those of the design (move, left, bone), done here in the open so
that the drawings and reports can be tested without the planner. Nothing here is used outside the tests.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from math import ceil, floor

from festoon.model.dentition import Site, Tooth, as_seen
from festoon.model.plan import (
    Answer,
    Arch,
    Caution,
    Healing,
    HealingStudy,
    Missing,
    Paper,
    PaperSite,
    PaperTooth,
    PapillaPlan,
    Plan,
    Procedure,
    Provenance,
    SitePlan,
    ToothPlan,
)

UPPER_WIDTH = {1: 8.6, 2: 6.7, 3: 7.7, 4: 7.1, 5: 6.7, 6: 10.3, 7: 9.7}
LOWER_WIDTH = {1: 5.4, 2: 5.9, 3: 6.8, 4: 7.0, 5: 7.2, 6: 11.0, 7: 10.5}
TARGET = {1: 10.6, 2: 9.2, 3: 10.4, 4: 8.7, 5: 8.1, 6: 7.9, 7: 7.6}
PRESENT = {1: 8.6, 2: 7.6, 3: 9.2, 4: 7.7, 5: 7.4, 6: 7.4, 7: 7.2}
SITES = (Site.DISTAL, Site.MIDFACIAL, Site.MESIAL)
NEED = {Site.DISTAL: 4.0, Site.MIDFACIAL: 3.0, Site.MESIAL: 4.0}


@dataclass(frozen=True)
class Wish:
    """What the plan of a test should hold."""

    n: int = 6
    upper: bool = True
    status: dict[str, str] = field(default_factory=dict)
    undetermined: tuple[str, ...] = ()
    not_advised: tuple[str, ...] = ()
    crest_unknown: tuple[tuple[str, Site], ...] = ()
    extension: float | None = 0.5
    cautions: int = 3
    case: str = "demo-harbour"
    text: str = ""
    """Put into every free text."""
    answer: Answer = Answer.SURGERY


def teeth_of(n: int, upper: bool) -> list[Tooth]:
    """The n front teeth of a jaw as seen."""
    quadrants = (1, 2) if upper else (4, 3)
    return as_seen(Tooth(f"{q}{p}") for q in quadrants for p in range(1, n // 2 + 1))


def _half_down(value: float | None) -> float | None:
    return None if value is None else floor(value * 2 + 1e-9) / 2


def _half_up(value: float | None) -> float | None:
    return None if value is None else ceil(value * 2 - 1e-9) / 2


def _wobble(tooth: Tooth) -> float:
    """A small difference between the sides, so that no mouth is symmetric."""
    return {11: 0.2, 21: -0.3, 12: -0.2, 23: 0.3, 32: 0.2, 41: -0.1}.get(int(tooth.fdi), 0.0)


def _tooth(tooth: Tooth, wish: Wish) -> tuple[ToothPlan, list[SitePlan], PaperTooth | None, list[PaperSite]]:
    status = wish.status.get(tooth.fdi, "natural")
    position = tooth.position
    width = (UPPER_WIDTH if tooth.is_upper else LOWER_WIDTH)[position]
    rooted = status in ("natural", "crowned")
    if not rooted:
        locked = ToothPlan(
            name=tooth.name,
            status=status,
            role=tooth.fdi,
            procedure=Procedure.NONE,
            why=f"{status}: fixed{wish.text}",
            width_mm=None if status == "absent" else width,
        )
        margin = None if status == "absent" else PRESENT[position] - 0.4
        site = SitePlan(tooth=tooth.fdi, site=Site.MIDFACIAL, margin_present_mm=margin, margin_planned_mm=margin)
        return locked, [site] if margin else [], None, []
    extension = wish.extension if position == 1 else (0.0 if wish.extension is not None else None)
    shift = extension or 0.0
    unknown = tooth.fdi in wish.undetermined
    refused = tooth.fdi in wish.not_advised
    present = PRESENT[position] + _wobble(tooth) + shift
    target = TARGET[position] + shift
    move = 0.0 if unknown or refused else round(max(0.0, target - present), 2)
    if move < 0.5:
        move = 0.0
    keratinised = 5.0
    collar = min(move, keratinised - 2.0 - 1.4)
    sites, paper_sites = [], []
    for site in SITES:
        mid = site is Site.MIDFACIAL
        margin = present if mid else round(present * 0.46, 1) + (0.2 if site is Site.DISTAL else 0.0)
        sounding = 2.4 if mid else 3.9
        crest = None if unknown or (tooth.fdi, site) in wish.crest_unknown else round(margin + sounding, 2)
        planned = margin + (move if mid else 0.0)
        left = None if crest is None else crest - planned
        moved = mid and move > 0
        bone = None if unknown else (0.0 if not moved or left is None else max(0.0, NEED[site] - left))
        after = None if crest is None or bone is None else crest + bone
        sites.append(
            SitePlan(
                tooth=tooth.fdi,
                site=site,
                margin_present_mm=margin,
                margin_planned_mm=None if unknown else planned,
                incision_level_mm=None if unknown or not moved else margin + collar,
                crest_present_mm=crest,
                crest_planned_mm=after,
                cej_mm=(target + 0.35 if mid else margin + 2.0) if status == "natural" else None,
                mucogingival_mm=present + keratinised if mid else None,
                contact_mm=None if mid else margin - 0.3,
                sounding_present_mm=None if crest is None else sounding,
                need_mm=NEED[site],
                left_if_soft_only_mm=left,
                bone_removal_mm=bone,
                supracrestal_after_mm=None if after is None else after - planned,
                root_exposed_mm=0.0 if not unknown else None,
                suture_level_mm=None if unknown else planned,
                margin_planned_from_present_edge_mm=None if unknown or extension is None else planned - extension,
                crest_planned_from_present_edge_mm=None if after is None or extension is None else after - extension,
                se_mm={"margin_planned_mm": 0.3, "crest_planned_mm": 0.6},
                binding=("supracrestal space",) if bone else (),
                **{"from": ("margin 8.6 ± 0.3 mm, probe, present edge", "sounding 2.4 ± 0.6 mm, sounding")},
                arithmetic=(
                    f"move = {planned:.2f} − {margin:.2f} = {planned - margin:.2f} mm",
                    *(
                        (
                            f"left = {crest:.2f} − {planned:.2f} = {left:.2f} mm",
                            f"bone = max(0, {NEED[site]:.1f} − {left:.2f}) = {bone:.2f} mm" + wish.text,
                        )
                        if crest is not None and left is not None and bone is not None
                        else ()
                    ),
                ),
            )
        )
        margin_p = _half_down(planned)
        crest_p = _half_down(crest)
        left_p = None if crest_p is None or margin_p is None else crest_p - margin_p
        bone_p = None if unknown else (0.0 if not moved or left_p is None else max(0.0, NEED[site] - left_p))
        after_p = None if crest_p is None or bone_p is None else crest_p + bone_p
        paper_sites.append(
            PaperSite(
                tooth=tooth.fdi,
                site=site,
                margin_planned_mm=None if unknown else margin_p,
                margin_present_mm=_half_down(margin),
                crest_present_mm=crest_p,
                crest_planned_mm=after_p,
                crest_planned_from_present_edge_mm=None
                if after_p is None or extension is None
                else after_p - extension,
                left_if_soft_only_mm=left_p,
                need_mm=NEED[site],
                bone_removal_mm=bone_p,
                supracrestal_after_mm=None if after_p is None or margin_p is None else after_p - margin_p,
                sounding_present_mm=None if crest is None else _half_down(sounding),
                suture_level_mm=None if unknown else margin_p,
                suture_level_from_present_edge_mm=None
                if unknown or margin_p is None or extension is None
                else margin_p - extension,
                margin_planned_from_present_edge_mm=None
                if unknown or margin_p is None or extension is None
                else margin_p - extension,
            )
        )
    bone_any = any(site.bone_removal_mm for site in sites)
    flap = move > collar
    if unknown:
        procedure = Procedure.UNDETERMINED
    elif refused:
        procedure = Procedure.NOT_ADVISED
    elif move == 0:
        procedure = Procedure.NONE
    elif flap:
        procedure = Procedure.APICAL_FLAP_WITH_OSTECTOMY if bone_any else Procedure.APICAL_FLAP
    else:
        procedure = Procedure.GINGIVECTOMY_WITH_OSTECTOMY if bone_any else Procedure.GINGIVECTOMY
    plan = ToothPlan(
        name=tooth.name,
        status=status,
        role=tooth.fdi,
        procedure=procedure,
        why=("the crest was not measured" if unknown else "the margin is short of its target") + wish.text,
        target_length_mm=target,
        target_from="width-to-length by role",
        present_length_mm=present - shift,
        planned_length_mm=None if unknown else present + move,
        incisal_extension_mm=extension,
        margin_move_mm=None if unknown else move,
        excised_collar_mm=None if unknown else collar if move else 0.0,
        apical_shift_mm=None if unknown else round(move - collar, 2) if move else 0.0,
        keratinised_present_mm=keratinised,
        keratinised_after_mm=None if unknown else keratinised - (collar if move else 0.0),
        width_mm=width,
        cautions=(
            Caution(
                code="cej_near",
                text=f"planned margin 0.4 mm from the CEJ{wish.text}",
                tooth=tooth.fdi,
                site=Site.MIDFACIAL,
                source="DX-001",
            ),
        )
        if position == 1 and not unknown
        else (),
    )
    length_p = None if unknown else _half_down(present + move)
    paper = PaperTooth(
        planned_length_mm=length_p,
        planned_length_from_present_edge_mm=None if length_p is None or extension is None else length_p - extension,
        incisal_extension_mm=extension,
        margin_present_mm=_half_down(present),
        margin_move_mm=None if length_p is None else length_p - (_half_down(present) or 0.0),
        excised_collar_mm=None if unknown else _half_down(collar if move else 0.0),
        apical_shift_mm=None if unknown else _half_up(max(0.0, move - collar) if move else 0.0),
        keratinised_after_mm=None if unknown else _half_down(keratinised - (collar if move else 0.0)),
    )
    return plan, sites, paper, paper_sites


def make_plan(wish: Wish | None = None) -> Plan:
    """A plan as wished for."""
    wish = wish or Wish()
    teeth, sites, paper_teeth, paper_sites = {}, [], {}, []
    seen = teeth_of(wish.n, wish.upper)
    for tooth in seen:
        plan, its_sites, paper, its_paper = _tooth(tooth, wish)
        teeth[tooth.fdi] = plan
        sites += its_sites
        paper_sites += its_paper
        if paper is not None:
            paper_teeth[tooth.fdi] = paper
    missing = tuple(
        Missing(
            what="sounding_mm",
            tooth=code,
            site=Site.MIDFACIAL,
            prevents="whether bone must be removed",
            hard=True,
            text=f"{code}: sounding not measured; the supracrestal space cannot be checked: no cut.{wish.text}",
        )
        for code in wish.undetermined
    )
    cautions = tuple(
        Caution(
            code=f"caution_{k}",
            text=(
                "Anticoagulant: assess with the prescriber before any cut"
                if k == 0
                else f"Thin phenotype: expect recession after a full cut; consider a smaller move ({k})"
            )
            + wish.text,
            source="common practice, no source",
            severity="stop" if k == 0 else "warn",
        )
        for k in range(wish.cautions)
    )
    upper = wish.upper
    pairs = {f"{a}-{b}": d for a, b, d in (("13", "23", -0.3), ("12", "22", -0.2), ("11", "21", 0.5))}
    if not upper:
        pairs = {"43-33": 0.0, "42-32": -0.2, "41-31": -0.1}
    because = tuple(entry.text for entry in missing)
    return Plan(
        case=wish.case,
        purpose="aesthetic",
        notation="fdi",
        examined_at="2026-02-11",
        design_version="B2",
        answer=wish.answer,
        answer_text="A surgical plan is given." + wish.text,
        for_surgery=not because and wish.answer is not Answer.NOT_SURGERY,
        not_for_surgery_because=because,
        teeth=teeth,
        sites=tuple(sites),
        papillae=tuple(
            PapillaPlan(
                between=f"{a}-{b}", tip_present_mm=4.2, tip_planned_mm=4.2, contact_to_crest_mm=5.2, fill_chance=0.8
            )
            for a, b in pairwise(seen)
        ),
        arch=Arch(pair_differences_mm=pairs),
        cautions=cautions,
        missing=missing,
        healing=Healing(
            suture_at_least_mm=3.0,
            studies=(
                HealingStudy(
                    id="HEAL-001", source="cohort, 12 months", how_known="seen", text="rebound by sutured distance"
                ),
            ),
            milestones=("judge not before 3 months", "final restorations after two stable visits"),
        ),
        paper=Paper(
            step_mm=0.5,
            teeth=paper_teeth,
            sites=tuple(paper_sites),
            rechecked=True,
            pair_differences_mm={name: round(value * 2) / 2 for name, value in pairs.items()},
        ),
        signable=False,
        signable_reasons=("health questions unanswered",),
        provenance=Provenance(
            festoon="0.1.0", case_sha256="a" * 64, evidence_sha256="b" * 64, solver="none", seed=1, settings={}
        ),
    )


PLANS = {
    "six": Wish(),
    "ten": Wish(n=10),
    "fourteen": Wish(n=14, cautions=9),
    "lower": Wish(upper=False),
    "holes": Wish(
        status={"12": "implant", "22": "absent"},
        undetermined=("21",),
        crest_unknown=(("13", Site.DISTAL), ("23", Site.MESIAL)),
        extension=None,
    ),
    "mixed": Wish(
        n=10, status={"15": "excluded", "25": "pontic", "22": "crowned"}, not_advised=("13",), undetermined=("24",)
    ),
}
"""The mouths the tests look at, by name."""

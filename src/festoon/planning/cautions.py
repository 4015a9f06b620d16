"""What to weigh before cutting, tooth by tooth: each caution with its number and its source."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from statistics import NormalDist

from festoon.evidence.table import published
from festoon.model.case import Phenotype, Restoration, RootForm, Status
from festoon.model.dentition import Site
from festoon.model.plan import Arch, Caution, PapillaPlan, Procedure, ToothPlan
from festoon.planning import words
from festoon.planning.limits import RULES, Limit
from festoon.planning.pose import root_limit
from festoon.planning.problem import EPSILON, Problem, State, ToothProblem
from festoon.planning.solve import Solution

_COMMON = "common practice, no source"
_KERATINISED_WANTED_MM = published("DX-014").high or 3.0


def tooth_cautions(problem: Problem, solution: Solution, entry: ToothProblem, plan: ToothPlan) -> Iterator[Caution]:
    """The cautions of one tooth."""
    if entry.state is State.BLOCKED:
        yield _caution(entry, "cleared_first", entry.why, _COMMON, severity="stop")
    yield from _standing(entry, plan)
    if not (plan.procedure.cuts or plan.procedure is Procedure.UNDETERMINED):
        return
    yield from _root(problem, solution, entry, plan)
    yield from _keratinised(problem, entry, plan)
    yield from _bone(problem, solution, entry)
    yield from _tissue(problem, entry)
    yield from _limits_held_as_cautions(problem, solution, entry)


def _caution(
    entry: ToothProblem,
    code: str,
    text: str,
    source: str | None,
    *,
    severity: str = "warn",
    site: Site | None = None,
) -> Caution:
    return Caution.model_validate(
        {"code": code, "text": text, "tooth": entry.tooth.fdi, "site": site, "source": source, "severity": severity}
    )


def _standing(entry: ToothProblem, plan: ToothPlan) -> Iterator[Caution]:
    """What holds whether or not the tooth is cut."""
    chart = entry.anatomy.chart
    if chart.status is Status.CROWNED and entry.anatomy.site(Site.MIDFACIAL).cej is None:
        yield _caution(
            entry, "hidden_cej", "crowned: the CEJ is hidden; the crown's margin is not taken for it", _COMMON
        )
    if chart.mobility == 1:
        yield _caution(entry, "mobility", "mobility 1: find the cause before bone is removed", _COMMON)
    if chart.edge_worn:
        yield _caution(
            entry, "worn_edge", "worn edge: lengths count from the planned edge, never from the worn one", _COMMON
        )
    if chart.crowded or abs(chart.rotation_deg or 0.0) >= 15:
        yield _caution(
            entry,
            "crowded",
            "rotated or crowded: zenith along the tooth's own axis; thin bone over a prominent root; a template may not "
            "seat; consider alignment first",
            _COMMON,
        )
    if plan.finish_line_gap_mm is not None and plan.finish_line_gap_mm > EPSILON:
        yield _caution(
            entry,
            "kept_restoration",
            f"the kept restoration ends {words.short(plan.finish_line_gap_mm)} mm coronal to the new margin: the gap shows",
            _COMMON,
        )


def _root(problem: Problem, solution: Solution, entry: ToothProblem, plan: ToothPlan) -> Iterator[Caution]:
    """Nearness of the CEJ, and length and shape of the root."""
    clearance = problem.policy["cej_clearance_mm"]
    for site, here in entry.sites.items():
        limit, cej = root_limit(entry.anatomy, site), entry.anatomy.site(site).cej
        shift = solution.shift(here, entry.tooth)
        if limit is None or cej is None or shift < EPSILON:
            continue
        room = limit - here.margin - shift
        if room < clearance - EPSILON:
            chance = 1 - NormalDist(0.0, cej.se).cdf(room)
            beyond = f"{words.short(-room)} mm past" if room < -EPSILON else f"{words.short(max(room, 0.0))} mm from"
            what = "the CEJ" if not (entry.anatomy.chart.root_cover_mm or 0.0) else "the covered root's end"
            yield _caution(
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
        yield _caution(
            entry,
            "root_to_crown",
            f"root in bone to crown above bone {before:.2f} before, {after:.2f} after; a sound central can be just under "
            "1:1, so compare with before",
            "DX-019 (memory), ROOT-015",
        )
    if entry.anatomy.chart.root_form in (RootForm.CONICAL, RootForm.BLUNT):
        form = entry.anatomy.chart.root_form.value
        yield _caution(
            entry, "root_form", f"{form} root: the neck narrows apically, spaces open and support is short", _COMMON
        )


def _keratinised(problem: Problem, entry: ToothProblem, plan: ToothPlan) -> Iterator[Caution]:
    minimum, after = problem.policy["keratinised_minimum_mm"], plan.keratinised_after_mm
    if after is None or not plan.procedure.cuts:
        return
    if after < minimum - EPSILON:
        yield _caution(
            entry,
            "keratinised",
            f"keratinised tissue after {after:.1f} mm, below {minimum:g}: no excision",
            "DX-012, DX-014",
        )
    elif after < _KERATINISED_WANTED_MM - EPSILON and (plan.excised_collar_mm or 0.0) > EPSILON:
        yield _caution(
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
            yield _caution(
                entry,
                "much_bone",
                f"{words.short(bone)} mm of bone: check root length, neighbours and proportion again",
                "CP-009, common practice",
                site=site,
            )
        known = entry.anatomy.site(site)
        sounded |= bone > EPSILON and known.sounding is not None and known.sounding.by == "sounding"
        if here.crest is not None and known.cej is not None and here.crest < known.cej.value - EPSILON:
            yield _caution(
                entry,
                "crest_coronal_to_cej",
                f"crest {words.short(known.cej.value - here.crest)} mm coronal to the CEJ, as in altered passive "
                "eruption: probe again with the flap open",
                "DX-004, DX-006",
                site=site,
            )
    if sounded:
        bias = -published("ERR-004").value
        yield _caution(
            entry,
            "sounded_bone",
            f"bone from sounding reads about {bias:.2f} mm too much on average and 1 sounding in 8 is off by more than "
            "1 mm: measure again with the flap open before cutting bone",
            "ERR-003, ERR-004 (190 teeth)",
            severity="note",
        )


def _tissue(problem: Problem, entry: ToothProblem) -> Iterator[Caution]:
    middle = entry.sites.get(Site.MIDFACIAL)
    if middle is not None and middle.sounding is not None and middle.need is not None:
        if middle.sounding > middle.need + problem.policy["low_crest_mm"] - EPSILON:
            yield _caution(
                entry,
                "low_crest",
                f"low crest: {middle.sounding:.1f} mm from margin to crest: gingiva may recede further by itself after excision",
                "STA-033 (memory)",
            )
        elif middle.sounding < middle.need - EPSILON:
            yield _caution(
                entry,
                "high_crest",
                f"high crest: {middle.sounding:.1f} mm from margin to crest: bone goes wherever the margin moves; little "
                "room for a restoration margin in the sulcus",
                "STA-032 (memory)",
                severity="note",
            )
    if entry.anatomy.phenotype is Phenotype.THIN:
        yield _caution(
            entry,
            "thin_phenotype",
            "thin phenotype: dehiscence and further recession; smaller moves, less bone, consider a graft",
            _COMMON,
        )
    thickness = entry.anatomy.site(Site.MIDFACIAL).bone_thickness
    if thickness is not None and thickness.value < 1.0:
        yield _caution(
            entry,
            "thin_bone",
            f"facial bone read as {thickness.value:.1f} mm: under 1 mm no reading is exact; a dehiscence may hide",
            "ERR-015, ERR-022 to 028",
            severity="note",
        )
    if not entry.tooth.is_upper and entry.tooth.position <= 3:
        yield _caution(
            entry,
            "lower_front",
            "lower front tooth: thin bone, roots close together, shallow vestibule: small moves only",
            _COMMON,
        )
    if entry.anatomy.chart.restoration is None:
        yield _caution(
            entry, "restoration_unknown", "whether it will be restored was not said", _COMMON, severity="note"
        )
    elif entry.anatomy.chart.restoration is Restoration.PLANNED:
        yield _caution(
            entry,
            "restore_later",
            "final restoration not before the margin stands still on two visits; provisional line supragingival",
            "HEAL-042, HEAL-043",
            severity="note",
        )


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
                yield _caution(
                    entry,
                    limit_name.value,
                    f"{RULES[limit_name].words} is held as a caution and passed by {words.short(by)} mm",
                    policy.printed.get(f"limits.{limit_name}", "restorative tooth"),
                    site=site,
                )


def arch_cautions(problem: Problem, arch: Arch, papillae: tuple[PapillaPlan, ...]) -> Iterator[Caution]:
    """Cautions that belong to more than one tooth."""
    tolerance, warn = problem.policy["pair_tolerance_mm"], problem.policy["pair_warning_mm"]
    for pair, difference in arch.pair_differences_mm.items():
        before = arch.pair_differences_present_mm.get(pair)
        if difference is None:
            continue
        left_over = abs(difference) > tolerance + 1e-3
        made = before is not None and abs(difference) > abs(before) + 1e-3 and abs(difference) > 0.05
        if left_over or made:
            further = pair.split("-")[0 if difference > 0 else 1]
            before_text = f" ({abs(before):.1f} today)" if before is not None else ""
            yield Caution(
                code="left_right_difference",
                text=f"{pair}: a left-right difference of {abs(difference):.1f} mm is left{before_text}; {further} lies "
                "further apically",
                source="CP-008; AES-009 to AES-017",
                severity="warn" if abs(difference) > warn or left_over else "note",
            )
    for line in arch.gingival_line:
        under = line.lateral_coronal_planned_mm
        if under is not None and under < -1e-3:
            yield Caution(
                code="lateral_apical",
                text=f"patient's {line.side}: the lateral's margin lies {-under:.1f} mm apical to the central-canine line",
                source="GIN-010, GIN-017, GIN-020",
            )
    for papilla in papillae:
        near = papilla.root_distance_mm
        if near is not None and near < problem.policy["root_distance_minimum_mm"]:
            yield Caution(
                code="root_proximity",
                text=f"{papilla.between}: roots {near:.1f} mm apart: bone between them is not shaped; separate them orthodontically where it must be",
                source=_COMMON,
            )
        if papilla.fill_chance is not None and papilla.fill_chance < 0.6:
            yield Caution(
                code="black_triangle",
                text=f"{papilla.text}; a longer crown makes an open space larger: consider a longer contact",
                source="GIN-034, GIN-035",
            )
    face = problem.anatomy.case.face
    if face.occlusal_cant_deg:
        yield Caution(
            code="cant",
            text=f"occlusal plane canted {face.occlusal_cant_deg:+.1f}° (patient's left higher is +): heights count from "
            f"the declared horizontal ({face.horizontal or 'not declared'}); a limit led by the CEJ can create asymmetry",
            source=_COMMON,
        )
    if face.midline_shift_mm:
        yield Caution(
            code="midline",
            text=f"dental midline {face.midline_shift_mm:+.1f} mm (to the patient's left is +): pairs are compared about "
            "the dental midline, not the face's",
            source=_COMMON,
            severity="note",
        )
    if problem.anatomy.case.high_frenum:
        yield Caution(code="frenum", text="high frenum: combine or stage its release", source=_COMMON)
    for tie in arch.ties:
        yield Caution(code="tie", text=tie, source="rank 6 of the programme", severity="note")


def grouped(cautions: Iterable[Caution]) -> tuple[Caution, ...]:
    """What stops first; the same caution of several teeth said once, with all their names."""
    by_sentence: dict[tuple[str, str, str, str | None], list[Caution]] = {}
    for caution in cautions:
        by_sentence.setdefault((caution.severity, caution.code, caution.text, caution.source), []).append(caution)
    merged = [
        same[0]
        if len(same) == 1
        else same[0].model_copy(
            update={"tooth": None, "site": None, "text": f"{', '.join(map(where, same))}: {same[0].text}"}
        )
        for same in by_sentence.values()
    ]
    return tuple(sorted(merged, key=lambda caution: ("stop", "warn", "note").index(caution.severity)))


def where(caution: Caution) -> str:
    """The place a caution is about: tooth, and site where it has one."""
    return " ".join(filter(None, (caution.tooth or "all", caution.site and caution.site.replace("_", " "))))

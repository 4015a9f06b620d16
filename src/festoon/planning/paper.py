"""The plan on paper: half-millimetre steps that break no hard limit and add up.

Margins are rounded coronally, crests apically; everything is recomputed from the rounded margin and every hard limit
is checked again. Where the apical rounding of a crest would pass a limit, the margin gives one more step coronally.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil, floor

from festoon.model.dentition import Site, Tooth
from festoon.model.plan import Paper, PaperSite, PaperTooth, SitePlan, ToothPlan
from festoon.planning.contour import steps
from festoon.planning.gingival_line import pairs
from festoon.planning.limits import Limit
from festoon.planning.problem import EPSILON, Problem, SiteProblem, ToothProblem
from festoon.planning.solve import Solution

_GRID_EPSILON = 1e-4
"""A value this near to a grid line stands on it."""


@dataclass(frozen=True)
class _Grid:
    step: float

    def coronally(self, level: float) -> float:
        """The grid line at or coronal to a level."""
        return floor((level + _GRID_EPSILON) / self.step) * self.step

    def apically(self, level: float) -> float:
        """The grid line at or apical to a level."""
        return ceil((level - _GRID_EPSILON) / self.step) * self.step

    def nearest(self, level: float) -> float:
        """The nearest grid line; halfway goes apically."""
        return floor(level / self.step + 0.5 + _GRID_EPSILON) * self.step


@dataclass(frozen=True)
class _Row:
    """One site on paper, from the planned edge."""

    margin_present: float
    margin: float
    crest_present: float | None
    crest: float | None


def paper_of(
    problem: Problem, solution: Solution, teeth: Mapping[str, ToothPlan], sites: tuple[SitePlan, ...]
) -> Paper:
    """The rounded plan."""
    grid = _Grid(problem.policy["paper_step_mm"])
    rows = _rows(problem, solution, grid)
    notes = [
        "margins rounded coronally, crests apically; everything recomputed from the rounded margin",
        "amounts of gingiva and bone are rounded up: the level decides when enough is gone, not the amount",
        "the file keeps the exact values",
    ]
    off = [
        t
        for t, p in teeth.items()
        if p.incisal_extension_mm and grid.nearest(p.incisal_extension_mm) != p.incisal_extension_mm
    ]
    if off:
        notes.append(f"extension of {', '.join(off)} lies off the grid: levels from the visible edge keep its tenths")
    violated = violations(problem, rows, solution)
    return Paper(
        step_mm=grid.step,
        teeth={code: _tooth(problem, solution, grid, rows, code, plan) for code, plan in teeth.items()},
        sites=tuple(_site(problem, grid, rows, plan) for plan in sites),
        pair_differences_mm=_pairs(problem, rows),
        rechecked=not violated,
        notes=(*notes, *violated),
    )


def _rows(problem: Problem, solution: Solution, grid: _Grid) -> dict[tuple[Tooth, Site], _Row]:
    rows = {
        (tooth, site): row
        for tooth, entry in problem.teeth.items()
        for site, row in _tooth_rows(solution, entry, grid, 0).items()
    }
    for tooth, entry in problem.teeth.items():
        move = solution.moves.get(tooth, 0.0)
        back = 0
        while _broken(problem, entry, rows, solution) and move - back * grid.step >= grid.step:
            back += 1
            rows |= {(tooth, site): row for site, row in _tooth_rows(solution, entry, grid, back).items()}
    return rows


def _tooth_rows(solution: Solution, entry: ToothProblem, grid: _Grid, back: int) -> dict[Site, _Row]:
    """The rows of one tooth with its margins ``back`` steps further coronal than rounding alone would put them."""
    rows = {}
    for site, here in entry.sites.items():
        shift, bone = solution.shift(here, entry.tooth), solution.bone(entry.tooth, site)
        present = grid.coronally(here.margin)
        margin = max(present, grid.coronally(here.margin + shift) - back * grid.step) if shift > EPSILON else present
        crest_present = crest = None
        if here.crest is not None:
            wanted = _wanted_crest(here, margin, shift, bone)
            if bone > EPSILON and wanted is not None and wanted > here.crest + EPSILON:
                # The amount printed reaches the wanted crest even from the true, unrounded crest.
                crest_present, crest = grid.coronally(here.crest), grid.apically(wanted)
            else:
                crest_present = crest = grid.nearest(here.crest)
        rows[site] = _Row(present, margin, crest_present, crest)
    return rows


def _wanted_crest(here: SiteProblem, margin: float, shift: float, bone: float) -> float | None:
    """The crest asked for by the rounded margin; the exact plan's where contour asked for more."""
    if here.crest is None or here.need is None:
        return None
    exact = here.crest + bone
    levels = [margin + here.need] if shift > EPSILON else []
    if here.finish_line is not None:
        levels.append(here.finish_line + here.need)
    if not levels:
        return exact
    asked_by_contour = exact > max(here.margin + shift, here.finish_line or 0.0) + here.need + EPSILON
    return max(max(levels), exact) if asked_by_contour else max(levels)


def violations(problem: Problem, rows: Mapping[tuple[Tooth, Site], _Row], solution: Solution) -> list[str]:
    """Hard limits that the rounded numbers break, in words; empty when the sheet is sound."""
    found: list[str] = []
    for entry in problem.teeth.values():
        found += [f"on paper {text}" for text in _broken(problem, entry, rows, solution)]
    return found


def _broken(
    problem: Problem, entry: ToothProblem, rows: Mapping[tuple[Tooth, Site], _Row], solution: Solution
) -> list[str]:
    """What one tooth breaks, checked from the definitions of the limits and not from the programme that was solved."""
    policy, purpose = problem.policy, entry.anatomy.purpose
    found: list[str] = []
    if entry.tooth not in solution.operated:
        return found
    for (tooth, site), row in rows.items():
        if tooth != entry.tooth:
            continue
        here = entry.sites[site]
        moved, cut = row.margin > row.margin_present + EPSILON, _cut(row)
        if row.margin < row.margin_present - EPSILON:
            found.append(f"{tooth} {site}: the margin moves incisally")
        cej = entry.anatomy.site(site).cej
        if moved and cej is not None and policy.is_hard(Limit.ROOT_EXPOSURE, purpose):
            limit = cej.value + (entry.anatomy.chart.root_cover_mm or 0.0)
            if row.margin > limit + _GRID_EPSILON:
                found.append(f"{tooth} {site}: root is exposed")
        if here.crest is not None and row.crest is not None:
            after = max(row.crest, here.crest) if cut > EPSILON else here.crest
            space = Limit.RESTORATIVE_MARGIN if here.finish_line is not None else Limit.SUPRACRESTAL_SPACE
            asked = [row.margin] if moved else []
            asked += [here.finish_line] if here.finish_line is not None else []
            if (
                asked
                and here.need is not None
                and policy.is_hard(space, purpose)
                and after < max(asked) + here.need - _GRID_EPSILON
            ):
                found.append(f"{tooth} {site}: the crest lies nearer to the margin than {here.need:g} mm")
            found += [
                f"{tooth} {site}: {limit.value} is passed"
                for limit, cap in here.bone_caps.items()
                if cut > EPSILON and row.crest > here.crest + cap + _GRID_EPSILON
            ]
    if policy.is_hard(Limit.CREST_CONTOUR, purpose):
        for step in steps(problem, entry):
            sizes = [_bone_on_paper(problem, rows, solution, key) for key in (step.first, step.second)]
            if abs(step.size(*sizes)) > step.limit + _GRID_EPSILON:
                found.append(
                    f"{step.first[0]} {step.first[1]}: the crest steps too far to {step.second[0]} {step.second[1]}"
                )
    return found


def _bone_on_paper(
    problem: Problem, rows: Mapping[tuple[Tooth, Site], _Row], solution: Solution, key: tuple[Tooth, Site]
) -> float:
    """Bone that the printed crest level takes from the true crest at one site."""
    row, crest = rows.get(key), problem.teeth[key[0]].sites[key[1]].crest
    if row is None or row.crest is None or crest is None:
        return solution.bone(*key)
    return max(0.0, row.crest - crest) if _cut(row) > EPSILON else 0.0


def _cut(row: _Row) -> float:
    return 0.0 if row.crest is None or row.crest_present is None else row.crest - row.crest_present


def _site(problem: Problem, grid: _Grid, rows: Mapping[tuple[Tooth, Site], _Row], plan: SitePlan) -> PaperSite:
    tooth = Tooth(plan.tooth)
    row = rows.get((tooth, plan.site))
    if row is None or plan.margin_present_mm is None:
        return PaperSite(tooth=plan.tooth, site=plan.site)
    decided = plan.margin_planned_mm is not None
    extension = problem.teeth[tooth].anatomy.extension or 0.0
    suture = None
    if plan.suture_level_mm is not None:
        suture = (
            min(grid.nearest(plan.suture_level_mm), row.margin)
            if plan.suture_level_mm <= row.margin + EPSILON
            else grid.coronally(plan.suture_level_mm)
        )
    return PaperSite(
        tooth=plan.tooth,
        site=plan.site,
        margin_present_mm=_clean(row.margin_present),
        margin_planned_mm=_clean(row.margin) if decided else None,
        margin_planned_from_present_edge_mm=_clean(row.margin - extension) if decided else None,
        crest_present_mm=_clean(row.crest_present),
        sounding_present_mm=_clean(
            None if plan.sounding_present_mm is None else grid.nearest(plan.sounding_present_mm)
        ),
        need_mm=plan.need_mm,
        crest_planned_mm=_clean(row.crest) if decided else None,
        crest_planned_from_present_edge_mm=_clean(None if row.crest is None else row.crest - extension)
        if decided
        else None,
        left_if_soft_only_mm=_clean(None if row.crest_present is None else row.crest_present - row.margin)
        if decided
        else None,
        bone_removal_mm=_clean(_cut(row) if row.crest is not None else plan.bone_removal_mm) if decided else None,
        supracrestal_after_mm=_clean(None if row.crest is None else row.crest - row.margin) if decided else None,
        suture_level_mm=_clean(suture),
        suture_level_from_present_edge_mm=_clean(None if suture is None else suture - extension),
    )


def _tooth(
    problem: Problem,
    solution: Solution,
    grid: _Grid,
    rows: Mapping[tuple[Tooth, Site], _Row],
    code: str,
    plan: ToothPlan,
) -> PaperTooth:
    tooth = Tooth(code)
    row = rows.get((tooth, Site.MIDFACIAL))
    entry = problem.teeth[tooth]
    extension = entry.anatomy.extension
    if row is None or extension is None or plan.planned_length_mm is None:
        return PaperTooth(incisal_extension_mm=plan.incisal_extension_mm)
    move = row.margin - row.margin_present
    collar = min(move, grid.coronally(solution.collars.get(tooth, 0.0))) if plan.apical_shift_mm else move
    kept = None
    if entry.keratinised is not None and entry.margin is not None:
        # What the rounded margin really excises from the unrounded tissue.
        excised = max(0.0, row.margin - entry.margin)
        kept = grid.coronally(entry.keratinised - min(excised, solution.collars.get(tooth, 0.0)))
    return PaperTooth(
        planned_length_mm=_clean(row.margin),
        planned_length_from_present_edge_mm=_clean(row.margin - extension),
        incisal_extension_mm=extension,
        margin_present_mm=_clean(row.margin_present),
        margin_move_mm=_clean(move),
        excised_collar_mm=_clean(collar),
        apical_shift_mm=_clean(move - collar),
        keratinised_after_mm=_clean(kept),
    )


def _pairs(problem: Problem, rows: Mapping[tuple[Tooth, Site], _Row]) -> dict[str, float | None]:
    found: dict[str, float | None] = {}
    for right, left in pairs(problem):
        heights = [
            entry.height(row.margin) if (row := rows.get((entry.tooth, Site.MIDFACIAL))) is not None else None
            for entry in (right, left)
        ]
        known = heights[0] is not None and heights[1] is not None
        found[f"{right.tooth}-{left.tooth}"] = (
            round((heights[0] or 0.0) - (heights[1] or 0.0), 2) + 0.0 if known else None
        )
    return found


def _clean(value: float | None) -> float | None:
    return None if value is None else round(value, 4) + 0.0

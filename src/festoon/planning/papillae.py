"""Papillae: one papilla, up to two readings, compared in heights; and the chance that it fills its space."""

from __future__ import annotations

import itertools

from festoon.evidence.table import published
from festoon.kernels.combine import inverse_variance_mean
from festoon.model.case import Status
from festoon.model.dentition import Pair, Site
from festoon.model.plan import PapillaPlan
from festoon.planning.problem import Problem, ToothProblem
from festoon.planning.solve import Solution

_FILL_ROWS = ((5.0, "GIN-063"), (6.0, "GIN-034"), (7.0, "GIN-035"))
_FILL_ROWS_LOW = ((4.0, "GIN-036"), (5.0, "GIN-037"), (6.0, "GIN-038"), (7.0, "GIN-039"))
"""Contact-to-crest distance against share of papillae present: the 1992 series and the one that disagrees downwards."""


def fill_chance(contact_to_crest_mm: float) -> tuple[float, float]:
    """Chance, 0 to 1, that a papilla fills its space, by the 1992 series and by the lower series.

    Straight lines between the printed distances; the printed ends are kept beyond them. Rows GIN-034, 035, 063 and
    GIN-036 to 039.
    """
    return _between(_FILL_ROWS, contact_to_crest_mm), _between(_FILL_ROWS_LOW, contact_to_crest_mm)


def _between(rows: tuple[tuple[float, str], ...], distance: float) -> float:
    points = [(at, published(row).value / 100) for at, row in rows]
    if distance <= points[0][0]:
        return points[0][1]
    for (near, high), (far, low) in itertools.pairwise(points):
        if distance <= far:
            return high + (low - high) * (distance - near) / (far - near)
    return points[-1][1]


def papillae(problem: Problem, solution: Solution) -> tuple[PapillaPlan, ...]:
    """Every papilla of which something was charted, from the patient's right to left."""
    found = []
    for pair in problem.anatomy.case.neighbours:
        first, second = problem.teeth[pair.right], problem.teeth[pair.left]
        if Status.ABSENT in (first.anatomy.chart.status, second.anatomy.chart.status):
            continue  # there is no contact with an empty place
        plan = _papilla(problem, solution, pair, first, second)
        if plan is not None:
            found.append(plan)
    return tuple(found)


def _papilla(
    problem: Problem, solution: Solution, pair: Pair, first: ToothProblem, second: ToothProblem
) -> PapillaPlan | None:
    sides = [(entry, pair.site_of(entry.tooth)) for entry in (first, second)]
    if not any(entry.anatomy.site(site).margin for entry, site in sides) or first.anatomy.extension is None:
        return None
    own = problem.anatomy.papillae.get(pair)
    tips = [(entry, site, entry.sites[site].margin) for entry, site in sides if site in entry.sites]
    heights = [entry.height(tip) for entry, _, tip in tips]
    shift = max((solution.shift(entry.sites[site], entry.tooth) for entry, site, _ in tips), default=0.0)
    distances = [
        distance
        for entry, site in sides
        if (distance := _contact_to_crest(entry, site, solution, own.future_contact if own else None, first))
        is not None
    ]
    distance = max(distances, default=None)
    apart = [entry for entry in (first, second) if not (entry.anatomy.chart.status or Status.NATURAL).is_rooted]
    chances = fill_chance(distance) if distance is not None and not apart else (None, None)
    first_tip = first.sites[sides[0][1]].margin if sides[0][1] in first.sites else None
    return PapillaPlan(
        between=str(pair),
        tip_present_mm=_rounded(first_tip),
        tip_planned_mm=_rounded(None if first_tip is None else first_tip + shift),
        tip_height_mm=_rounded(_mean_height(tips, heights)),
        readings_differ_mm=_rounded(
            heights[1] - heights[0] if len(heights) == 2 and heights[0] is not None and heights[1] is not None else None
        ),
        contact_mm=_rounded(_contact(first, sides[0][1], own.future_contact if own else None)),
        contact_to_crest_mm=_rounded(distance),
        fill_chance=_rounded(chances[0]),
        fill_chance_low=_rounded(chances[1]),
        tip_share_present=_rounded(_share(tips, solution, planned=False)),
        tip_share_planned=_rounded(_share(tips, solution, planned=True)),
        root_distance_mm=own.root_distance.value if own and own.root_distance else None,
        text=_beside(pair, distance, apart[0]) if apart else _text(pair, distance, chances[0], chances[1]),
    )


def _mean_height(tips: list[tuple[ToothProblem, Site, float]], heights: list[float | None]) -> float | None:
    """One papilla, two readings: combined by inverse variance."""
    values, errors = [], []
    for (entry, site, _), height in zip(tips, heights, strict=True):
        known = entry.anatomy.site(site).margin
        if height is not None and known is not None:
            values.append(height)
            errors.append(known.se)
    return inverse_variance_mean(values, errors)[0] if values else None


def _contact(first: ToothProblem, site: Site, future: float | None) -> float | None:
    """The contact's apical end from the planned edge of the tooth named first, where it was read or set from there."""
    known = first.anatomy.site(site).contact
    return future if future is not None else known.value if known else None


def _contact_to_crest(
    entry: ToothProblem, site: Site, solution: Solution, future: float | None, first: ToothProblem
) -> float | None:
    """Contact to crest after surgery, along one tooth's axis."""
    here = entry.sites.get(site)
    known = entry.anatomy.site(site).contact
    contact = known.value if known else None
    if future is not None and entry is first:
        contact = future
    elif future is not None:
        height = first.height(future)
        edge = entry.anatomy.edge_height
        contact = None if height is None or edge is None else (height - edge) / entry.anatomy.cosine
    if here is None or here.crest is None or contact is None:
        return None
    return here.crest + solution.bone(entry.tooth, site) - contact


def _share(tips: list[tuple[ToothProblem, Site, float]], solution: Solution, *, planned: bool) -> float | None:
    """Tip level over crown length, mean of the teeth that say."""
    shares = []
    for entry, site, tip in tips:
        if entry.margin is None:
            continue
        moved = solution.moves.get(entry.tooth, 0.0) if planned else 0.0
        shift = solution.shift(entry.sites[site], entry.tooth) if planned else 0.0
        shares.append((tip + shift) / (entry.margin + moved))
    return sum(shares) / len(shares) if shares else None


def _beside(pair: Pair, distance: float | None, apart: ToothProblem) -> str:
    """Beside an implant or a pontic: the published series looked between teeth."""
    known = "contact to crest not known" if distance is None else f"contact to crest {distance:.1f} mm"
    status = apart.anatomy.chart.status
    return f"{pair}: {known}; {apart.tooth}: {status}: the published chances are of papillae between teeth and say nothing here"


def _text(pair: Pair, distance: float | None, chance: float | None, low: float | None) -> str:
    if distance is None or chance is None or low is None:
        return f"{pair}: contact to crest not known, so the papilla's chance cannot be said"
    usual = "usually fills" if distance <= 5 else "uncertain" if distance < 7 else "unlikely to fill"
    return (
        f"{pair}: contact to crest {distance:.1f} mm: {usual}; {chance:.0%} of papillae at this distance by the 1992 "
        f"series (GIN-033 to 035), {low:.0%} by the lower one (GIN-036 to 039, from memory)"
    )


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 4)

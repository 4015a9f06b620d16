"""Readings that contradict each other: told, never averaged in silence."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from math import hypot

from festoon.evidence.errors import reading_se
from festoon.model.case import Case, ToothChart
from festoon.model.dentition import Pair, Site, Tooth
from festoon.model.reading import Reading
from festoon.records.combination import ALLOWED_SE, Combination, combine
from festoon.records.concern import Concern, from_present_edge, in_words, listed, site_path
from festoon.records.papilla_tip import LINGUAL, tip_height

SWAPPED_MM = 3.0
"""Two teeth's readings of one papilla tip that lie this far apart in heights cannot be of one papilla (common
practice, no source; papilla heights differ by some 0.6 mm from mouth to mouth, GIN-025 to GIN-028)."""
_OTHER_SIDE = {
    Site.MESIAL: Site.DISTAL,
    Site.DISTAL: Site.MESIAL,
    Site.MESIAL_LINGUAL: Site.DISTAL_LINGUAL,
    Site.DISTAL_LINGUAL: Site.MESIAL_LINGUAL,
}


def disagreements(case: Case) -> Iterator[Concern]:
    """Readings of one quantity that contradict each other, and a crest that is not margin plus sounding."""
    yield from _repeated(case)
    yield from _crests(case)


def _repeated(case: Case) -> Iterator[Concern]:
    """The worst contradiction of each quantity that was read more than once."""
    for quantity in listed(case):
        read = [(i, quantity.readings[i], mm) for i, mm in enumerate(quantity.values) if mm is not None]
        if len(read) < 2:
            continue
        errors = [reading_se(quantity.key, reading) for _, reading, _ in read]
        together = combine([mm for _, _, mm in read], errors)
        found: list[tuple[float, Concern]] = []
        for i, j in together.disagreeing:
            (_, first, first_mm), (index, second, second_mm) = read[i], read[j]
            allowed = ALLOWED_SE * hypot(errors[i], errors[j])
            apart = abs(first_mm - second_mm)
            concern = Concern(
                (*quantity.path, index),
                f"{in_words(second, second_mm)} beside {in_words(first, first_mm)} for the same quantity: "
                f"{apart:.2g} mm apart",
                f"at most {allowed:.2g} mm apart, two combined standard errors of these readings",
                _settle(together, [in_words(reading, mm) for _, reading, mm in read]),
                is_refused=True,
            )
            found.append((apart - allowed, concern))
        if found:
            yield max(found, key=lambda entry: entry[0])[1]


def _settle(together: Combination, read: list[str]) -> str:
    if together.odd_one is None or together.others is None:
        return "Settle which is right, by a third reading if need be, and take the other out."
    mean, se = together.others
    return (
        f"Without {read[together.odd_one]} the others agree on {mean:.3g} ± {se:.2g} mm: settle whether it is the "
        "wrong one, and take out what is wrong."
    )


def _crests(case: Case) -> Iterator[Concern]:
    """``crest = margin + sounding`` must hold for readings of one visit."""
    for tooth in case.charted:
        chart = case.teeth[tooth.fdi]
        for site, entry in chart.sites.items():
            gaps = []
            for crest, margin, sounding in product(entry.crest_mm, entry.margin_mm, entry.sounding_mm):
                at_crest, at_margin = from_present_edge(crest, chart), from_present_edge(margin, chart)
                if at_crest is None or at_margin is None or not _one_visit(crest, margin, sounding):
                    continue
                allowed = ALLOWED_SE * hypot(
                    reading_se("crest_mm", crest), reading_se("margin_mm", margin), reading_se("sounding_mm", sounding)
                )
                sum_mm = at_margin + sounding.value
                gaps.append((abs(at_crest - sum_mm) - allowed, at_crest, sum_mm, allowed))
            if gaps and min(gaps)[0] > 0:
                _, at_crest, sum_mm, allowed = min(gaps)
                yield Concern(
                    site_path(tooth, site, "crest_mm"),
                    f"crest at {at_crest:g} mm, but margin + sounding = {sum_mm:g} mm",
                    f"the two within {allowed:.2g} mm, two combined standard errors of the three readings of one visit",
                    "Settle which is right; if they are of different visits, say so with at: in each reading.",
                    is_refused=True,
                )


def _one_visit(*readings: Reading) -> bool:
    return len({reading.at for reading in readings if reading.at is not None}) <= 1


def papilla_disagreements(case: Case) -> Iterator[Concern]:
    """One papilla has one tip: read from its two teeth it must lie at one height."""
    for pair in case.neighbours:
        for is_lingual in (False, True):
            sites = [pair.site_of(tooth) for tooth in (pair.right, pair.left)]
            if is_lingual:
                sites = [LINGUAL[site] for site in sites]
            yield from _papilla(case, pair, sites[0], sites[1])


def _papilla(case: Case, pair: Pair, right_site: Site, left_site: Site) -> Iterator[Concern]:
    right, left = case.teeth[pair.right.fdi], case.teeth[pair.left.fdi]
    tip, other = tip_height(right, right_site), tip_height(left, left_site)
    if tip is None or other is None:
        return
    apart = abs(tip.mean - other.mean)
    allowed = ALLOWED_SE * hypot(tip.se, other.se)
    path = site_path(pair.left, left_site, "margin_mm")
    said = (
        f"the papilla tip {pair} at height {other.mean:.3g} mm read from {pair.left}, and at {tip.mean:.3g} mm read from "
        f"{pair.right}: {apart:.2g} mm apart"
    )
    if apart > SWAPPED_MM:
        yield Concern(
            path,
            said,
            f"one height for one papilla, at most {SWAPPED_MM:g} mm apart whatever the errors",
            _swap(pair, right, left, right_site, left_site, apart)
            or "Check the levels, edge_height_mm, incisal_extension_mm and the axes of both teeth.",
            is_refused=True,
        )
    elif apart > allowed:
        yield Concern(
            path,
            said,
            f"within {allowed:.2g} mm, two combined standard errors",
            "Kept as it stands; read the tip again, or check the edge heights and the axes of both teeth.",
            is_refused=False,
        )


def _swap(pair: Pair, right: ToothChart, left: ToothChart, right_site: Site, left_site: Site, apart: float) -> str:
    """Would the tips agree if one tooth's mesial and distal were exchanged?"""
    tips = {
        pair.right: (tip_height(right, _OTHER_SIDE[right_site]), tip_height(left, left_site)),
        pair.left: (tip_height(right, right_site), tip_height(left, _OTHER_SIDE[left_site])),
    }
    gaps: list[tuple[float, Tooth]] = [
        (abs(one.mean - two.mean), tooth) for tooth, (one, two) in tips.items() if one is not None and two is not None
    ]
    if not gaps or min(gap for gap, _ in gaps) > apart / 2:
        return ""
    gap, tooth = min(gaps, key=lambda entry: entry[0])
    return f"Are mesial and distal of {tooth} swapped? Exchanged, the two would lie {gap:.2g} mm apart."

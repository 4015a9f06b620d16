"""Is this mouth like a mouth: its left like its right, its teeth erupted at its age. All of it is noted, none refused.

A large difference between the sides is real now and then; more often a tooth number or a digit was mistaken.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import hypot

from festoon.evidence.defaults import COMMON_PRACTICE
from festoon.evidence.errors import reading_se
from festoon.model.case import Case, SiteChart, Status, ToothChart
from festoon.model.dentition import Site, Tooth
from festoon.records.combination import ALLOWED_SE, Combination, combine
from festoon.records.concern import Concern, Path, from_present_edge, site_path


@dataclass(frozen=True)
class _Mirrored:
    """A quantity that the two sides of a jaw share, more or less."""

    key: str
    name: str
    usual_mm: float
    """Left and right differ by less than this in an ordinary mouth."""
    site: Site | None = None


_MIRRORED = (
    _Mirrored("width_mm", "width", 1.0),
    _Mirrored("cej_mm", "CEJ level", 2.5, Site.MIDFACIAL),
    _Mirrored("mucogingival_mm", "mucogingival level", 4.0, Site.MIDFACIAL),
    _Mirrored("root_apex_mm", "apex level", 5.0),
)
"""The four limits are common practice, no source. The margin is not among them: its difference is the complaint."""

_EARLIEST_ERUPTION = {
    True: {1: 7, 2: 8, 3: 11, 4: 10, 5: 10, 6: 6, 7: 12, 8: 17},
    False: {1: 6, 2: 7, 3: 9, 4: 10, 5: 11, 6: 6, 7: 11, 8: 17},
}
"""Years from which a permanent tooth of this position is in the mouth, upper and lower: lower ends of the ranges of
Logan and Kronfeld 1933 (from memory, not checked)."""
_EARLY_YEARS = 1.0
"""Children are ahead of the table by up to about this much: common practice, no source."""
_IN_PLACE = (None, Status.NATURAL, Status.CROWNED)


def likeness_concerns(case: Case) -> Iterator[Concern]:
    """Sides that differ more than sides do, and teeth charted before their age."""
    for tooth in case.charted:
        if tooth.is_right and tooth.contralateral.fdi in case.teeth:
            yield from _sides(case, tooth)
        yield from _age(case, tooth)


def _sides(case: Case, right: Tooth) -> Iterator[Concern]:
    left = right.contralateral
    charts = case.teeth[right.fdi], case.teeth[left.fdi]
    if any(chart.status not in _IN_PLACE or chart.role for chart in charts):
        return
    for quantity in _MIRRORED:
        one, two = (_combined(chart, quantity) for chart in charts)
        if one is None or two is None or one.is_conflict or two.is_conflict:
            continue
        apart = abs(one.mean - two.mean)
        if apart > max(quantity.usual_mm, ALLOWED_SE * hypot(one.se, two.se)):
            path: Path = (
                site_path(left, quantity.site, quantity.key) if quantity.site else ("teeth", left.fdi, quantity.key)
            )
            yield Concern(
                path,
                f"{quantity.name} {two.mean:g} mm on {left}, {one.mean:g} mm on {right}: {apart:.2g} mm apart",
                f"left and right within {quantity.usual_mm:g} mm ({COMMON_PRACTICE})",
                "Kept as it stands; check both readings and that the tooth numbers are right.",
                is_refused=False,
            )


def _combined(chart: ToothChart, quantity: _Mirrored) -> Combination | None:
    holder = chart if quantity.site is None else chart.sites.get(quantity.site, SiteChart())
    known = [
        (mm, reading_se(quantity.key, reading))
        for reading in getattr(holder, quantity.key)
        if (mm := from_present_edge(reading, chart)) is not None
    ]
    return combine([mm for mm, _ in known], [se for _, se in known]) if known else None


def _age(case: Case, tooth: Tooth) -> Iterator[Concern]:
    age = case.subject.age_years
    earliest = _EARLIEST_ERUPTION[tooth.is_upper][tooth.position]
    if age is None or case.teeth[tooth.fdi].status not in _IN_PLACE or age >= earliest - _EARLY_YEARS:
        return
    yield Concern(
        ("teeth", tooth.fdi),
        f"the {tooth.name} at the age of {age:g}",
        f"in the mouth from about {earliest} years (from memory)",
        "Kept as it stands; check the age, the tooth number, and that it is no deciduous tooth.",
        is_refused=False,
    )

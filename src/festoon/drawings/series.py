"""The lines of the profile: which field of the plan, and how it is told from the others without colour."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from festoon.drawings.columns import Column
from festoon.drawings.curves import Curve, runs
from festoon.drawings.palette import Theme
from festoon.model.dentition import Site, SiteKind
from festoon.model.plan import Mm, SitePlan


@dataclass(frozen=True)
class Series:
    """One line. Thin is present, heavy is planned; the dash says which tissue."""

    label: str
    level: Callable[[SitePlan], Mm]
    colour: Callable[[Theme], str]
    weight: float
    """Paper mm."""
    dash: str | None
    is_measured: bool
    """True when the plan took it from readings: its sites carry dots, and an unknown is a gap to be named."""
    cap: str = "butt"
    where_asked: bool = False
    """True for a line that exists only where somebody asked for it: elsewhere it is not missing and not named."""

    def known(self, column: Column, site: Site) -> Mm:
        """The level at a site, None where it is unknown or was not charted."""
        charted = column.charted.get(site)
        return None if charted is None else self.level(charted)


MARGIN_PRESENT = Series("present margin", lambda s: s.margin_present_mm, lambda t: t.margin, 0.3, None, True)
MARGIN_PLANNED = Series("planned margin", lambda s: s.margin_planned_mm, lambda t: t.margin, 0.65, None, False)
CEJ = Series("CEJ", lambda s: s.cej_mm, lambda t: t.cej, 0.35, "2.4 0.7 0.5 0.7", True)
CREST_PRESENT = Series("present crest", lambda s: s.crest_present_mm, lambda t: t.crest, 0.3, "2.2 0.8", True)
CREST_PLANNED = Series("planned crest", lambda s: s.crest_planned_mm, lambda t: t.crest, 0.6, "2.2 0.8", False)
MUCOGINGIVAL = Series(
    "mucogingival junction",
    lambda s: s.mucogingival_mm,
    lambda t: t.mucogingival,
    0.55,
    "0 1.1",
    True,
    cap="round",
)
FINISH_LINE = Series(
    "restoration's finish line",
    lambda s: s.finish_line_mm,
    lambda t: t.finish,
    0.4,
    "2.8 0.6 0.5 0.6 0.5 0.6",
    False,
    where_asked=True,
)
SERIES = (MUCOGINGIVAL, CREST_PRESENT, CREST_PLANNED, CEJ, MARGIN_PRESENT, MARGIN_PLANNED, FINISH_LINE)
"""From the apical side to the coronal, the order in which they are drawn and labelled."""


def curves_of(series: Series, column: Column, y: Callable[[float], float]) -> list[Curve]:
    """The unbroken runs of a line in one column, on paper.

    Only sites of a kind that the chart holds are joined; a site that is not known breaks the line.
    """
    points: list[tuple[float, float | None]] = []
    for site in column.sites:
        level = series.known(column, site)
        if level is None and site not in column.charted and site.kind is SiteKind.LINE_ANGLE:
            continue
        points.append((column.site_x(site), None if level is None else y(level)))
    return runs(points)


def not_measured(series: Series, columns: Sequence[Column]) -> dict[str, list[Site]]:
    """By tooth, the sites at which a line is unknown although this chart measures it at such sites.

    Empty where the line is known nowhere: that is said once, at its label.
    """
    rooted = [column for column in columns if column.is_rooted]
    kinds = {site.kind for column in rooted for site in column.sites if series.known(column, site) is not None}
    return {
        column.tooth.fdi: [site for site in column.sites if site.kind in kinds and series.known(column, site) is None]
        for column in rooted
    }

"""One reading held against one number: the parts that every moment needs."""

from __future__ import annotations

from collections.abc import Sequence

from festoon.model.verification import PlacedReading, SiteCheck, Verdict
from festoon.verify.session import Session, kept, mm


def site_check(
    session: Session,
    reading: PlacedReading,
    verdict: Verdict,
    text: str,
    *,
    wanted_mm: float | None = None,
    se_mm: float | None = None,
    sums: Sequence[str] = (),
) -> SiteCheck:
    """A reading against what is wanted there: from the planned edge, from the edge visible today, from its own datum.

    Parameters
    ----------
    wanted_mm : float, optional
        The charted value or the target, from the planned edge; a depth where the quantity is one.
    se_mm : float, optional
        Standard error of the difference; the reading's own where nothing else is given.
    """
    is_level = reading.planned_edge_mm is not None
    extension = session.extension(reading.tooth)
    return SiteCheck(
        tooth=reading.tooth,
        site=reading.site,
        quantity=reading.quantity,
        verdict=verdict,
        reading_mm=reading.value_mm,
        datum=reading.datum,
        reading_planned_edge_mm=kept(reading.mm),
        wanted_mm=wanted_mm,
        wanted_present_edge_mm=kept(wanted_mm - extension)
        if is_level and wanted_mm is not None and extension is not None
        else None,
        wanted_from_datum_mm=kept(wanted_mm - reading.to_planned_edge_mm)
        if is_level and wanted_mm is not None
        else None,
        difference_mm=None if wanted_mm is None else kept(reading.mm - wanted_mm),
        se_mm=reading.se_mm if se_mm is None else se_mm,
        text=text,
        sums=(*_datum_sum(reading), *sums),
    )


def _datum_sum(reading: PlacedReading) -> tuple[str, ...]:
    """The conversion of a level to the planned edge, as a line of arithmetic; nothing where there is none."""
    shift = kept(reading.to_planned_edge_mm)
    if shift == 0:
        return ()
    sign = "+" if shift > 0 else "-"
    return (
        f"{mm(reading.value_mm)} from {reading.datum} {sign} {mm(abs(shift))} = {mm(reading.mm)} from the planned edge",
    )

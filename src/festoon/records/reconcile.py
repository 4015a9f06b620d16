"""From readings to one value per quantity: combined, converted to the present edge, added where they may be added.

Several readings of one quantity are combined by inverse variance. Readings that contradict each other never reach
this place through the reader, which refuses the file until a person has settled them; here they are refused again.
"""

from __future__ import annotations

from collections.abc import Sequence

from festoon.errors import Fault, InputRefusedError
from festoon.evidence.errors import default_method, reading_error
from festoon.kernels.levels import axis_cosine
from festoon.model.anatomy import Anatomy, Known, PapillaAnatomy, SiteAnatomy, ToothAnatomy
from festoon.model.case import Case, Phenotype, SiteChart, ToothChart
from festoon.model.dentition import Pair, Site, Tooth
from festoon.model.reading import Datum, Reading
from festoon.records.combination import combine
from festoon.records.concern import from_present_edge

_DATUM_WORDS = {
    Datum.PRESENT_EDGE: "from the present edge",
    Datum.PLANNED_EDGE: "from the planned edge",
    Datum.RESTORED_EDGE: "from the restored edge",
    Datum.TEMPLATE: "from the template",
    Datum.BONDED_MARK: "from the bonded mark",
}


def resolve(case: Case) -> Anatomy:
    """The mouth as known from the readings of ``case``.

    Levels come out from the present edge, whatever datum each reading had.

    Raises
    ------
    InputRefusedError
        If a level was read from a datum whose place on that tooth is not given: every such reading is named.
    """
    faults: list[Fault] = []
    teeth = {tooth: _tooth(case, tooth, case.teeth[tooth.fdi], faults) for tooth in case.charted}
    papillae = {}
    for name, chart in case.papillae.items():
        right, left = (Tooth(code) for code in name.split("-"))
        pair = Pair(right, left)
        papillae[pair] = PapillaAnatomy(
            pair=pair,
            root_distance=_known(f"papillae.{name}.root_distance_mm", chart.root_distance_mm, faults),
            future_contact=chart.future_contact_mm,
        )
    if faults:
        raise InputRefusedError(faults)
    return Anatomy(
        case=case,
        teeth=teeth,
        papillae=papillae,
        lip_length=_known("smile.lip_length_mm", case.smile.lip_length_mm, faults),
        lip_travel=_known("smile.lip_travel_mm", case.smile.lip_travel_mm, faults),
    )


def _tooth(case: Case, tooth: Tooth, chart: ToothChart, faults: list[Fault]) -> ToothAnatomy:
    place = f"teeth.{tooth}"

    def level(where: str, readings: Sequence[Reading]) -> Known | None:
        return _known(f"{place}.{where}", readings, faults, chart=chart)

    axis_charted = chart.axis_tip_deg is not None and chart.axis_torque_deg is not None
    return ToothAnatomy(
        tooth=tooth,
        role=Tooth(chart.role) if chart.role else tooth,
        chart=chart,
        purpose=chart.purpose or case.purpose,
        phenotype=case.phenotype if chart.phenotype in (None, Phenotype.UNKNOWN) else chart.phenotype,
        width=_known(f"{place}.width_mm", chart.width_mm, faults),
        apex=level("root_apex_mm", chart.root_apex_mm),
        lip=level("lip_height_smile_mm", chart.lip_height_smile_mm),
        furcation={
            surface: known
            for surface, readings in chart.furcation_mm.items()
            if (known := level(f"furcation_mm.{surface}", readings)) is not None
        },
        sites={site: _site(site, entry, place, chart, faults) for site, entry in chart.sites.items()},
        edge_height=chart.edge_height_mm,
        cosine=axis_cosine(chart.axis_tip_deg or 0.0, chart.axis_torque_deg or 0.0),
        axis_charted=axis_charted,
        extension=chart.incisal_extension_mm,
    )


def _site(site: Site, entry: SiteChart, place: str, chart: ToothChart, faults: list[Fault]) -> SiteAnatomy:
    here = f"{place}.sites.{site}"

    def level(key: str) -> Known | None:
        return _known(f"{here}.{key}", getattr(entry, key), faults, chart=chart)

    def depth(key: str) -> Known | None:
        return _known(f"{here}.{key}", getattr(entry, key), faults)

    margin, sounding = level("margin_mm"), depth("sounding_mm")
    crest, sounding, conflict = _crest(here, margin, sounding, level("crest_mm"))
    return SiteAnatomy(
        site=site,
        margin=margin,
        crest=crest,
        sounding=sounding,
        probing=depth("probing_mm"),
        cej=level("cej_mm"),
        mucogingival=level("mucogingival_mm"),
        contact=level("contact_mm"),
        bone_thickness=depth("bone_thickness_mm"),
        gingiva_thickness=depth("gingiva_thickness_mm"),
        attached=depth("attached_mm"),
        sound_tooth=level("sound_tooth_mm"),
        existing_finish_line=level("existing_finish_line_mm"),
        ferrule=entry.ferrule_mm,
        healthy_reference=entry.healthy_reference,
        crest_conflict=conflict,
    )


def _crest(
    here: str, margin: Known | None, sounding: Known | None, direct: Known | None
) -> tuple[Known | None, Known | None, str | None]:
    """Crest level, margin-to-crest distance, and why they could not be had.

    ``crest level = margin level + sounding`` holds only for readings of one visit. A crest read directly (open flap,
    volume) is combined with a sounded one by inverse variance.
    """
    sounded = None
    conflict = None
    if margin is not None and sounding is not None:
        if margin.days and sounding.days and not margin.days & sounding.days:
            conflict = (
                f"{here}: margin read on {_days(margin)}, sounding on {_days(sounding)}; "
                "they may be added only when read at one visit"
            )
        else:
            sounded = Known(
                value=margin.value + sounding.value,
                se=(margin.se**2 + sounding.se**2) ** 0.5,
                readings=(*margin.readings, *sounding.readings),
                days=margin.days | sounding.days,
                by=sounding.by,
            )
    if sounded is not None and direct is not None:
        together = combine([sounded.value, direct.value], [sounded.se, direct.se])
        if together.is_conflict:
            return None, sounding, _contradiction(here, sounded, direct)
        readings = (*sounded.readings, *direct.readings)
        crest: Known | None = Known(together.mean, together.se, readings, sounded.days | direct.days, direct.by)
    else:
        crest = direct or sounded
    if crest is not None and margin is not None and direct is not None:
        sounding = Known(
            crest.value - margin.value,
            (crest.se**2 + margin.se**2) ** 0.5,
            (*margin.readings, *crest.readings),
            crest.days,
            crest.by,
        )
    return crest, sounding, conflict if direct is None else None


def _contradiction(here: str, sounded: Known, direct: Known) -> str:
    return (
        f"{here}: the crest at {sounded.value:.3g} ± {sounded.se:.2g} mm by sounding and at {direct.value:.3g} ± "
        f"{direct.se:.2g} mm read directly contradict each other; settle which is right"
    )


def _known(
    where: str,
    readings: Sequence[Reading],
    faults: list[Fault],
    *,
    chart: ToothChart | None = None,
) -> Known | None:
    """The readings of one quantity as one value, from the present edge where the quantity is a level."""
    key = next(part for part in reversed(where.split(".")) if part.endswith("_mm"))
    values, errors, words = [], [], []
    for reading in readings:
        level = from_present_edge(reading, chart)
        if level is None:
            faults.append(_unplaced(where, reading))
            return None
        values.append(level)
        errors.append(reading_error(key, reading).se_mm)
        words.append(_in_words(where, key, reading))
    if not values:
        return None
    together = combine(values, errors)
    if together.is_conflict:
        faults.append(_unsettled(where, words))
        return None
    first = readings[0]
    return Known(
        value=together.mean,
        se=together.se,
        readings=tuple(words),
        days=frozenset(reading.at for reading in readings if reading.at is not None),
        by=str(first.method or default_method(key)),
    )


def _unsettled(where: str, words: Sequence[str]) -> Fault:
    """The last door: a case that came another way than through the reader is not averaged either."""
    return Fault(
        file="case",
        where=where,
        found="readings that contradict each other: " + " | ".join(words),
        expected="readings within two combined standard errors",
        do="Settle which is right, and set the other aside.",
    )


def _unplaced(where: str, reading: Reading) -> Fault:
    """A level from a datum whose place on this tooth is not given."""
    is_planned = reading.datum is Datum.PLANNED_EDGE
    missing = "incisal_extension_mm" if is_planned else f"datum_offset_mm.{reading.datum}"
    return Fault(
        file="case",
        where=where,
        found=f"a level {_DATUM_WORDS[reading.datum]}" if reading.datum else "a level",
        expected=f"{missing} of this tooth, which says where that datum lies",
        do=f"Give {missing}, or read the level from the present edge.",
    )


def _days(known: Known) -> str:
    return ", ".join(day.isoformat() for day in sorted(known.days))


def _in_words(where: str, key: str, reading: Reading) -> str:
    """One reading for the trace: place, value, error, method, datum, day, hand."""
    error = reading_error(key, reading)
    parts = [
        f"{where} = {reading.value:g} mm",
        f"se {error.se_mm:.2f} ({error.source})",
        str(reading.method or f"{default_method(key)} taken as the usual method"),
    ]
    if reading.datum is not None:
        parts.append(_DATUM_WORDS[reading.datum])
    if reading.at is not None:
        parts.append(reading.at.isoformat())
    if reading.by:
        parts.append(f"by {reading.by}")
    return "; ".join(parts)

"""Before cutting: today's readings against the charted ones the plan was made from."""

from __future__ import annotations

from math import hypot

from festoon.model.dentition import Site, SiteKind, Tooth
from festoon.model.plan import SitePlan
from festoon.model.quantities import Quantity
from festoon.model.reading import Method
from festoon.model.verification import PlacedReading, SiteCheck, Verdict
from festoon.verify.session import Session, error_words, kept, mm, read_words
from festoon.verify.site_check import site_check

WORDS = {
    Quantity.MARGIN_LEVEL: "margin",
    Quantity.SOUNDING: "sounding",
    Quantity.CREST_LEVEL: "crest",
    Quantity.CEJ_LEVEL: "CEJ",
    Quantity.MUCOGINGIVAL_LEVEL: "mucogingival junction",
}
"""The quantities that are compared, in words."""
_FIELDS = {
    Quantity.MARGIN_LEVEL: "margin_present_mm",
    Quantity.SOUNDING: "sounding_present_mm",
    Quantity.CREST_LEVEL: "crest_present_mm",
    Quantity.CEJ_LEVEL: "cej_mm",
    Quantity.MUCOGINGIVAL_LEVEL: "mucogingival_mm",
}


def before_checks(session: Session) -> tuple[SiteCheck, ...]:
    """Every reading against the charted value, exact, in the order of the file."""
    return tuple(_check(session, reading) for reading in session.readings)


def _charted_error(session: Session, planned: SitePlan, quantity: Quantity) -> float:
    """Standard error of the charted value; 0 where the plan does not know it, so that no error is invented."""
    if quantity is Quantity.SOUNDING:
        tooth = session.anatomy.tooth(Tooth(planned.tooth))
        known = tooth.site(planned.site).sounding if tooth else None
        return 0.0 if known is None else known.se
    return planned.se_mm.get(_FIELDS[quantity]) or 0.0


def _check(session: Session, reading: PlacedReading) -> SiteCheck:
    planned = session.site(reading.tooth, reading.site)
    charted: float | None = None if planned is None else getattr(planned, _FIELDS[reading.quantity])
    said = f"{WORDS[reading.quantity]} {read_words(reading)}"
    if planned is None or charted is None:
        text = f"{said}; NOT MEASURED when the plan was made: solve it anew with this reading"
        return site_check(session, reading, Verdict.UNKNOWN, text)
    difference = kept(reading.mm - charted)
    se = hypot(reading.se_mm, _charted_error(session, planned, reading.quantity))
    off = abs(difference)
    limits = session.limits
    verdict = limit_verdict(session, off)
    if verdict is Verdict.WITHIN:
        advice = f"within {mm(limits.recheck_mm)} mm"
    elif verdict is Verdict.RECOMPUTE:
        advice = f"more than {mm(limits.recheck_mm)} mm: recompute the plan"
    else:
        advice = f"more than {mm(limits.stop_mm)} mm: STOP and rethink"
    if verdict is not Verdict.WITHIN and off <= se:
        advice += "; the errors of the two readings could explain it: read it again first"
    way = way_words(reading.quantity, difference)
    text = f"{said}, charted {mm(charted)} mm: {way}, {error_words(se)}; {advice}"
    dehiscence = _dehiscence(session, reading, planned)
    return site_check(
        session,
        reading,
        verdict,
        text + (f". {dehiscence}" if dehiscence else ""),
        wanted_mm=charted,
        se_mm=se,
        sums=(f"today {mm(reading.mm)} - charted {mm(charted)} = {mm(difference)} mm",),
    )


def limit_verdict(session: Session, off_mm: float) -> Verdict:
    """Within, recompute or stop, for a distance from the charted value."""
    off = kept(off_mm)
    if off > session.limits.stop_mm:
        return Verdict.STOP
    return Verdict.RECOMPUTE if off > session.limits.recheck_mm else Verdict.WITHIN


def way_words(quantity: Quantity, difference_mm: float) -> str:
    """A difference in words, with its direction; a depth is deeper or shallower."""
    if difference_mm == 0:
        return "the same"
    apart = mm(abs(difference_mm))
    if not quantity.is_level:
        return f"{apart} mm {'deeper' if difference_mm > 0 else 'shallower'}"
    return f"{apart} mm further {'apical' if difference_mm > 0 else 'coronal'}"


def _dehiscence(session: Session, reading: PlacedReading, planned: SitePlan) -> str:
    """Bone that begins far apical of the charted crest although none was cut, in words; nothing elsewhere."""
    if reading.quantity is Quantity.CREST_LEVEL:
        lower = None if planned.crest_present_mm is None else kept(reading.mm - planned.crest_present_mm)
    elif reading.quantity is Quantity.SOUNDING and planned.sounding_present_mm is not None:
        lower = kept(reading.mm - planned.sounding_present_mm)
    else:
        return ""
    if lower is None or lower <= session.limits.stop_mm:
        return ""
    crest = session.targets(planned).crest_mm
    leave = ""
    if reading.planned_edge_mm is not None and crest is not None and reading.mm >= crest:
        leave = " It already lies at or beyond the planned crest: remove no bone here."
    if is_interproximal(reading.site):
        return f"Bone between the teeth begins {mm(lower)} mm lower than charted, before any was cut.{leave}"
    if reading.quantity is Quantity.CREST_LEVEL and reading.method == Method.DIRECT:
        return f"DEHISCENCE: bone begins {mm(lower)} mm further apical than charted, before any was cut.{leave}"
    return (
        f"Perhaps a dehiscence: bone was met {mm(lower)} mm further apical than charted. Look with the flap open "
        f"before any bone is cut.{leave}"
    )


def is_interproximal(site: Site) -> bool:
    """True between two teeth."""
    return site.kind is SiteKind.INTERPROXIMAL

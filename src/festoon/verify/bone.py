"""During surgery: what is still to be removed, what is reached, what went too far. Readings are of the state now."""

from __future__ import annotations

from collections.abc import Iterator

from festoon.model.dentition import Site
from festoon.model.plan import SitePlan
from festoon.model.quantities import Quantity
from festoon.model.verification import PlacedReading, SiteCheck, SpaceCheck, Verdict
from festoon.verify.before import before_checks, is_interproximal, limit_verdict, way_words
from festoon.verify.session import Session, Targets, error_words, kept, mm, read_words
from festoon.verify.site_check import site_check

NOTHING_MM = 1e-3
"""Less than this is no removal."""


def bone_checks(session: Session) -> tuple[SiteCheck, ...]:
    """The last reading of every site against its target, then the sites that the plan cuts and nobody has read."""
    checks: list[SiteCheck] = []
    for tooth, site in session.places(Quantity.MARGIN_LEVEL, Quantity.CREST_LEVEL, Quantity.SOUNDING):
        margin = session.last(tooth, site, Quantity.MARGIN_LEVEL)
        if margin is not None:
            earlier = session.all(tooth, site, Quantity.MARGIN_LEVEL)[:-1]
            checks.append(_margin(session, margin, earlier))
        crest = crest_now(session, tooth, site)
        if crest is not None:
            checks.append(_crest(session, crest, session.all(tooth, site, Quantity.CREST_LEVEL)[:-1]))
    checks += _landmarks(session)
    checks += _unread(session)
    return tuple(checks)


def crest_now(session: Session, tooth: str, site: Site) -> PlacedReading | None:
    """The crest as last read; where it was only sounded, the margin of this file plus the sounding."""
    crest = session.last(tooth, site, Quantity.CREST_LEVEL)
    if crest is not None:
        return crest
    margin = session.last(tooth, site, Quantity.MARGIN_LEVEL)
    sounding = session.last(tooth, site, Quantity.SOUNDING)
    if margin is None or sounding is None:
        return None
    return margin.model_copy(
        update={
            "quantity": Quantity.CREST_LEVEL,
            "value_mm": kept(margin.value_mm + sounding.value_mm),
            "planned_edge_mm": kept(margin.mm + sounding.value_mm),
            "present_edge_mm": None if margin.present_edge_mm is None else margin.present_edge_mm + sounding.value_mm,
            "se_mm": (margin.se_mm**2 + sounding.se_mm**2) ** 0.5,
            "method": sounding.method,
            "source": f"margin plus sounding: {margin.source} | {sounding.source}",
        }
    )


def remaining(
    session: Session, remaining_mm: float, se_mm: float, tissue: str, beyond: str = "beyond plan"
) -> tuple[Verdict, str]:
    """What remains to the target, as a verdict and in words, with the error of the reading.

    Parameters
    ----------
    remaining_mm : float
        Target minus reading, both apical positive: positive while tissue is still to be removed.
    se_mm : float
        Standard error of the reading. It can turn "still to remove" or "too far" into "reached", or into "cannot be
        told" where it is larger than the first limit; it never turns one of the two into the other.
    """
    left = kept(remaining_mm)
    if abs(left) <= se_mm:
        if se_mm > session.limits.recheck_mm:
            way = f"{mm(abs(left))} mm {'short of' if left > 0 else 'beyond'} the target" if left else "at the target"
            return Verdict.CANNOT_TELL, f"cannot be told: {way} by this reading, {error_words(se_mm)}; read it directly"
        return Verdict.REACHED, f"reached, as far as {error_words(se_mm)} can tell"
    if left > 0:
        return Verdict.TO_REMOVE, f"{mm(left)} mm of {tissue} still to remove ({error_words(se_mm)})"
    return Verdict.TOO_FAR, f"too far: {mm(-left)} mm {beyond} ({error_words(se_mm)})"


def _margin(session: Session, reading: PlacedReading, earlier: tuple[PlacedReading, ...]) -> SiteCheck:
    planned = session.site(reading.tooth, reading.site)
    target = None if planned is None else session.targets(planned).incision_mm
    said = f"margin {read_words(reading, earlier)}"
    if planned is None or target is None:
        return _leave(session, reading, None if planned is None else planned.margin_present_mm, said, "collar")
    verdict, words = remaining(session, target - reading.mm, reading.se_mm, "collar")
    return _against(session, reading, target, verdict, f"{said}, target {_both(session, reading, target)}: {words}")


def _crest(session: Session, reading: PlacedReading, earlier: tuple[PlacedReading, ...]) -> SiteCheck:
    planned = session.site(reading.tooth, reading.site)
    target = None if planned is None else _crest_target(session.targets(planned))
    said = f"crest {read_words(reading, earlier)}"
    if planned is None or target is None:
        return _leave(session, reading, None if planned is None else planned.crest_present_mm, said, "bone")
    verdict, words = remaining(session, target - reading.mm, reading.se_mm, "bone")
    text = f"{said}, target {_both(session, reading, target)}: {words}"
    was_short = any(one.mm < target for one in earlier)
    found, warning = _unlike_chart(session, reading, planned, verdict, kept(target - reading.mm), was_short=was_short)
    return _against(session, reading, target, found or verdict, text + warning)


def _crest_target(targets: Targets) -> float | None:
    """The planned crest where bone is lowered; None where the plan leaves it alone."""
    return targets.crest_mm if targets.bone_mm is not None and targets.bone_mm > NOTHING_MM else None


def _unlike_chart(
    session: Session, reading: PlacedReading, planned: SitePlan, verdict: Verdict, left_mm: float, *, was_short: bool
) -> tuple[Verdict | None, str]:
    """Bone more coronal than charted, or gone so far that it was perhaps never there.

    ``was_short``: an earlier reading found bone coronal of the target, so what is missing now was cut.
    """
    charted = planned.crest_present_mm
    if charted is not None:
        off = limit_verdict(session, charted - reading.mm) if reading.mm < charted else Verdict.WITHIN
        if off is not Verdict.WITHIN:
            higher = mm(charted - reading.mm)
            act = "STOP and rethink" if off is Verdict.STOP else "recompute the plan"
            return off, f". The crest lies {higher} mm coronal of the charted one: {act} before cutting on"
    is_far = verdict is Verdict.TOO_FAR and -left_mm > session.limits.recheck_mm
    if is_far and not was_short and not is_interproximal(reading.site):
        return None, ". If no bone was cut here yet this is a DEHISCENCE: remove none, and say so"
    return None, ""


def _leave(session: Session, reading: PlacedReading, charted: float | None, said: str, tissue: str) -> SiteCheck:
    """A site where the plan removes nothing: never "still to remove", only how far it lies off the charted level."""
    if charted is None:
        text = f"{said}: the plan removes no {tissue} here and knows no level to compare with"
        return site_check(session, reading, Verdict.UNKNOWN, text)
    difference = kept(reading.mm - charted)
    verdict = limit_verdict(session, abs(difference))
    act = {
        Verdict.WITHIN: "as charted",
        Verdict.RECOMPUTE: "recompute the plan",
        Verdict.STOP: "STOP and rethink",
    }[verdict]
    text = (
        f"{said}: NO {tissue} is to be removed here; charted {mm(charted)} mm, {way_words(reading.quantity, difference)} "
        f"({error_words(reading.se_mm)}): {act}"
    )
    line = f"today {mm(reading.mm)} - charted {mm(charted)} = {mm(difference)} mm"
    return site_check(session, reading, verdict, text, wanted_mm=charted, sums=(line,))


def _against(session: Session, reading: PlacedReading, target: float, verdict: Verdict, text: str) -> SiteCheck:
    line = f"target {mm(target)} - read {mm(reading.mm)} = {mm(kept(target - reading.mm))} mm"
    return site_check(session, reading, verdict, text, wanted_mm=target, sums=(line,))


def _both(session: Session, reading: PlacedReading, target: float) -> str:
    """A target from the planned edge, and from the edge visible today and the reading's datum where they differ."""
    said = f"{mm(target)} mm from the planned edge"
    extension = session.extension(reading.tooth)
    if extension:
        said += f", {mm(target - extension)} mm from the edge visible today"
    if reading.datum not in ("planned_edge", "present_edge"):
        said += f", {mm(target - reading.to_planned_edge_mm)} mm from where this was read"
    return said


def _landmarks(session: Session) -> Iterator[SiteCheck]:
    """CEJ and mucogingival junction seen at the open flap: against the charted ones."""
    for check in before_checks(session):
        if check.quantity in (Quantity.CEJ_LEVEL, Quantity.MUCOGINGIVAL_LEVEL):
            yield check


def _unread(session: Session) -> Iterator[SiteCheck]:
    """Sites at which the plan lowers bone and no crest was read."""
    read = {(t, s) for t, s in session.places(*Quantity) if crest_now(session, t, s) is not None}
    for planned in session.plan.sites:
        targets = session.targets(planned)
        crest, bone = _crest_target(targets), targets.bone_mm
        if (planned.tooth, planned.site) in read or crest is None or bone is None:
            continue
        extension = session.extension(planned.tooth)
        visible = "" if not extension else f", {mm(crest - extension)} mm from the edge visible today"
        yield SiteCheck(
            tooth=planned.tooth,
            site=planned.site,
            quantity=Quantity.CREST_LEVEL,
            verdict=Verdict.NOT_READ,
            wanted_mm=crest,
            wanted_present_edge_mm=None if extension is None else kept(crest - extension),
            wanted_from_datum_mm=session.from_datum(planned.tooth, crest),
            text=(
                f"crest NOT READ yet: {mm(bone)} mm of bone in the plan, target {mm(crest)} mm from the planned edge"
                f"{visible}"
            ),
        )


def space_checks(session: Session) -> tuple[SpaceCheck, ...]:
    """Supracrestal space actually reached: from the planned margin to the crest as read, or as sounded."""
    checks = []
    for tooth, site in session.places(Quantity.CREST_LEVEL, Quantity.SOUNDING):
        planned = session.site(tooth, site)
        targets = None if planned is None else session.targets(planned)
        if targets is None or targets.need_mm is None:
            continue
        crest = session.last(tooth, site, Quantity.CREST_LEVEL)
        if crest is not None and targets.margin_mm is not None:
            reached = kept(crest.mm - targets.margin_mm)
            line = f"crest {mm(crest.mm)} - planned margin {mm(targets.margin_mm)} = {mm(reached)} mm"
            checks.append(space(tooth, site, reached, targets.need_mm, crest.se_mm, "planned margin to crest", line))
        sounding = session.last(tooth, site, Quantity.SOUNDING)
        if sounding is not None:
            line = f"sounded {mm(sounding.value_mm)} mm"
            checks.append(
                space(tooth, site, sounding.value_mm, targets.need_mm, sounding.se_mm, "sounded margin to crest", line)
            )
    return tuple(checks)


def space(tooth: str, site: Site, reached: float, need: float, se: float, what: str, line: str) -> SpaceCheck:
    """A margin-to-crest distance against the need, with the error of the reading."""
    short = kept(need - reached)
    if short > se:
        verdict, words = Verdict.SHORT, f"{mm(short)} mm short of the {mm(need)} mm needed ({error_words(se)})"
    elif short > 0:
        verdict = Verdict.CANNOT_TELL
        words = f"{mm(short)} mm short of the {mm(need)} mm needed, less than {error_words(se)} can tell"
    else:
        verdict, words = Verdict.ENOUGH, f"{mm(need)} mm needed: enough by this reading ({error_words(se)})"
    return SpaceCheck(
        tooth=tooth,
        site=site,
        reached_mm=reached,
        need_mm=need,
        se_mm=se,
        verdict=verdict,
        text=f"{what} {mm(reached)} mm, {words}",
        sums=(line, f"need {mm(need)} - reached {mm(reached)} = {mm(short)} mm"),
    )

"""The chairside view: which reading is wanted next, what remains at each site in a few words, what was not done."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from festoon.model.dentition import Site, Tooth, as_seen
from festoon.model.plan import SitePlan
from festoon.model.quantities import Quantity
from festoon.model.surgery import NotDone, Shape, SiteState, Step, Wanted, shape_of
from festoon.model.verification import PlacedReading, SiteCheck, Verdict
from festoon.verify.before import WORDS
from festoon.verify.bone import NOTHING_MM, bone_checks
from festoon.verify.session import TWO, Limits, Notations, Session, mm, place_words

_WORST = (Verdict.STOP, Verdict.RECOMPUTE, Verdict.WITHIN)
_ALONG = (Site.DISTAL, Site.DISTOFACIAL, Site.MIDFACIAL, Site.MESIOFACIAL, Site.MESIAL,
          Site.MESIAL_LINGUAL, Site.MESIOLINGUAL, Site.MIDLINGUAL, Site.DISTOLINGUAL, Site.DISTAL_LINGUAL)  # fmt: skip
_OPEN = (Quantity.CREST_LEVEL, Quantity.CEJ_LEVEL, Quantity.MUCOGINGIVAL_LEVEL)


@dataclass(frozen=True)
class Taken:
    """A placed reading and the step at which it was taken."""

    step: Step
    reading: PlacedReading


def before_readings(taken: Sequence[Taken]) -> tuple[PlacedReading, ...]:
    """The state before bone is cut: the latest reading of each place, what was seen open overriding what was not."""
    latest: dict[tuple[str, Site, Quantity], PlacedReading] = {}
    for one in taken:
        if one.step is Step.DATUM or (one.step is Step.PROBE_CUT and one.reading.quantity in _OPEN):
            latest[one.reading.tooth, one.reading.site, one.reading.quantity] = one.reading
    return tuple(latest.values())


def cut_readings(taken: Sequence[Taken]) -> tuple[PlacedReading, ...]:
    """Readings since the collar was cut and until the flap was sutured, in their order."""
    return tuple(one.reading for one in taken if one.step in (Step.PROBE_CUT, Step.PROBE_BONE))


def suture_readings(taken: Sequence[Taken]) -> tuple[PlacedReading, ...]:
    """Readings after suturing, in their order."""
    return tuple(one.reading for one in taken if one.step is Step.PROBE_SUTURE)


def disagreements(taken: Sequence[Taken], notations: Notations = TWO) -> tuple[str, ...]:
    """Readings taken again that differ from the first by more than two combined errors: said, never averaged."""
    found = []
    first: dict[tuple[Step, str, Site, Quantity], PlacedReading] = {}
    for one in taken:
        now = one.reading
        place = (one.step, now.tooth, now.site, now.quantity)
        was = first.get(place)
        first[place] = now
        # While bone is lowered a crest is meant to move.
        if was is None or one.step is Step.PROBE_BONE:
            continue
        if abs(now.mm - was.mm) > 2 * (now.se_mm**2 + was.se_mm**2) ** 0.5:
            found.append(
                f"{place_words(now.tooth, now.site, notations)} {WORDS[now.quantity]}: read as {mm(was.mm)} and then as "
                f"{mm(now.mm)} mm at the same step, further apart than the two errors explain; the later one is used"
            )
    return tuple(found)


def worst(checks: Sequence[SiteCheck]) -> Verdict:
    """The worst of the comparisons with the chart; unknown where nothing could be compared."""
    found = {check.verdict for check in checks}
    return next((verdict for verdict in _WORST if verdict in found), Verdict.UNKNOWN)


def worst_words(limits: Limits, checks: Sequence[SiteCheck], verdict: Verdict, notations: Notations = TWO) -> str:
    """The before-cut answer in one sentence, with both limits."""
    said = f"more than {mm(limits.recheck_mm)} mm: recompute; more than {mm(limits.stop_mm)} mm: stop"
    where = ", ".join(
        dict.fromkeys(place_words(check.tooth, check.site, notations) for check in checks if check.verdict is verdict)
    )
    words = {
        Verdict.STOP: f"STOP and rethink: {where}",
        Verdict.RECOMPUTE: f"recompute the plan: {where}",
        Verdict.WITHIN: "all readings of today lie within the limits",
        Verdict.UNKNOWN: "nothing has been read yet that could be compared",
    }[verdict]
    return f"{words} ({said})"


def wanted(session: Session, step: Step, notations: Notations = TWO) -> Iterator[Wanted]:
    """The readings a step asks for, along the arch as one faces the patient."""
    for planned in _along(session):
        targets = session.targets(planned)
        cuts_bone = targets.bone_mm is not None and targets.bone_mm > NOTHING_MM
        mid = planned.site in (Site.MIDFACIAL, Site.MIDLINGUAL)
        asked: list[Quantity] = []
        if step is Step.DATUM:
            asked += [Quantity.MARGIN_LEVEL] if planned.margin_present_mm is not None else []
            asked += [Quantity.SOUNDING] if planned.sounding_present_mm is not None else []
        elif step is Step.PROBE_CUT:
            asked += [Quantity.MARGIN_LEVEL] if targets.incision_mm is not None else []
            asked += [Quantity.CREST_LEVEL] if cuts_bone else []
        elif step is Step.PROBE_BONE:
            asked += [Quantity.CREST_LEVEL] if cuts_bone else []
        elif step is Step.PROBE_SUTURE and targets.suture_mm is not None:
            asked += [Quantity.MARGIN_LEVEL] + ([Quantity.SOUNDING] if mid else [])
        for quantity in asked:
            text = f"{place_words(planned.tooth, planned.site, notations)}: {WORDS[quantity]}"
            yield Wanted(step=step, tooth=planned.tooth, site=planned.site, quantity=quantity, text=text)


def _along(session: Session) -> Iterator[SitePlan]:
    by_tooth: dict[str, dict[Site, SitePlan]] = {}
    for planned in session.plan.sites:
        if session.plan.teeth[planned.tooth].procedure.cuts:
            by_tooth.setdefault(planned.tooth, {})[planned.site] = planned
    for tooth in as_seen(Tooth(code) for code in by_tooth):
        for site in _ALONG if tooth.is_right else reversed(_ALONG):
            if site in by_tooth[tooth.fdi]:
                yield by_tooth[tooth.fdi][site]


def next_wanted(session: Session, step: Step, taken: Sequence[Taken], notations: Notations = TWO) -> Wanted | None:
    """The first reading of the step that was not taken; None when the step has them all."""
    read = {(one.step, one.reading.tooth, one.reading.site, one.reading.quantity) for one in taken}
    return next(
        (w for w in wanted(session, step, notations) if (w.step, w.tooth, w.site, w.quantity) not in read), None
    )


def site_states(session: Session, notations: Notations = TWO) -> tuple[SiteState, ...]:
    """What remains at each site while tissue is cut. ``session`` holds :func:`cut_readings`."""
    return tuple(
        SiteState(
            tooth=check.tooth,
            tooth_names=(Tooth(check.tooth).shown(notations[0]), Tooth(check.tooth).shown(notations[1])),
            site=check.site,
            step=Step.PROBE_BONE if check.quantity is Quantity.CREST_LEVEL else Step.PROBE_CUT,
            quantity=check.quantity,
            target_mm=check.wanted_mm,
            target_present_edge_mm=check.wanted_present_edge_mm,
            check=check,
            shape=Shape.OCTAGON if "DEHISCENCE" in check.text else shape_of(check.verdict),
            short=short_words(check),
        )
        for check in bone_checks(session)
    )


def short_words(check: SiteCheck) -> str:
    """What remains, for two metres."""
    tissue = "bone" if check.quantity is Quantity.CREST_LEVEL else "collar"
    off = "" if check.difference_mm is None else mm(abs(check.difference_mm))
    if "DEHISCENCE" in check.text:
        return f"{off} mm beyond plan: DEHISCENCE if no bone was cut here yet"
    return {
        Verdict.TO_REMOVE: f"{off} mm of {tissue} still to remove",
        Verdict.REACHED: "reached",
        Verdict.TOO_FAR: f"too far: {off} mm beyond plan",
        Verdict.CANNOT_TELL: "cannot be told: read it directly",
        Verdict.NOT_READ: "not read yet",
        Verdict.RECOMPUTE: f"{off} mm off the chart: recompute the plan",
        Verdict.STOP: f"{off} mm off the chart: STOP and rethink",
        Verdict.WITHIN: "as charted: nothing to remove",
    }.get(check.verdict, check.verdict.value.replace("_", " "))


def not_done(
    session: Session, taken: Sequence[Taken], states: Sequence[SiteState], notations: Notations = TWO
) -> tuple[NotDone, ...]:
    """What the plan asks for and no reading shows to be done: unread places, and tissue still to remove."""
    found = {}
    read = {(one.step, one.reading.tooth, one.reading.site, one.reading.quantity) for one in taken}
    # A crest seen at its target with the flap open needs no second reading.
    reached = {(s.tooth, s.site, s.quantity) for s in states if s.check.verdict is Verdict.REACHED}
    for step in (Step.DATUM, Step.PROBE_CUT, Step.PROBE_BONE, Step.PROBE_SUTURE):
        for want in wanted(session, step, notations):
            place = (want.tooth, want.site, want.quantity)
            if (step, *place) in read or (step is Step.PROBE_BONE and place in reached):
                continue
            name = f"{want.tooth}.{want.site}.{want.quantity}.{step}"
            found[name] = f"{want.text} NOT READ ({_WHEN[step]})"
    for state in states:
        if state.check.verdict is Verdict.TO_REMOVE:
            name = f"{state.tooth}.{state.site}.{state.quantity}.remaining"
            found[name] = f"{place_words(state.tooth, state.site, notations)}: {state.short}"
    return tuple(NotDone(name=name, text=text) for name, text in found.items())


_WHEN = {
    Step.DATUM: "before cutting",
    Step.PROBE_CUT: "after the collar was cut",
    Step.PROBE_BONE: "after bone was lowered",
    Step.PROBE_SUTURE: "after suturing",
}

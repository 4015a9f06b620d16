"""The verification as a whole: which comparisons belong to which moment."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from festoon.evidence.defaults import default_mm
from festoon.model.verification import Moment, Replan, Verification
from festoon.verify.before import before_checks
from festoon.verify.bone import bone_checks, space_checks
from festoon.verify.recall import course_checks, readiness, recall_pairs, visit_checks
from festoon.verify.session import TWO, Forecast, Notations, Session
from festoon.verify.suture import crown_checks, pair_checks, suture_checks, suture_spaces


def verify(
    session: Session,
    moment: Moment,
    forecast: Forecast,
    *,
    surgery_at: dt.date | None = None,
    readings_sha256: str = "",
    replan: Replan | None = None,
    notes: Sequence[str] = (),
    notations: Notations = TWO,
) -> Verification:
    """Readings of one moment against the plan.

    Parameters
    ----------
    session : Session
        Plan, mouth, readings and limits.
    forecast : callable
        Expected shift of a margin by tooth, sutured distance and weeks.
    surgery_at : date, optional
        The day of surgery; a recall needs it.
    notations : pair of Notation
        How teeth are named in sentences that name several.

    Raises
    ------
    ValueError
        If a recall has no day of surgery.
    """
    tolerance = session.anatomy.case.policy.pair_tolerance_mm
    tolerance = default_mm("pair_tolerance_mm") if tolerance is None else tolerance
    parts: dict[str, object] = {}
    if moment is Moment.BEFORE:
        parts = {"checks": before_checks(session)}
    elif moment is Moment.BONE:
        parts = {"checks": bone_checks(session), "spaces": space_checks(session)}
    elif moment is Moment.SUTURE:
        parts = {
            "sutures": suture_checks(session, forecast),
            "spaces": suture_spaces(session),
            "crowns": crown_checks(session),
            "pairs": pair_checks(session, tolerance),
        }
    else:
        if surgery_at is None:
            raise ValueError("a recall needs the day of surgery")
        courses = course_checks(session, surgery_at)
        parts = {
            "visits": visit_checks(session, surgery_at, forecast),
            "courses": courses,
            "pairs": recall_pairs(session, surgery_at, tolerance),
            "readiness": readiness(session, surgery_at, courses, notations),
        }
    return Verification.model_validate(
        {
            "case": session.plan.case,
            "moment": moment,
            "surgery_at": surgery_at,
            "against": session.against,
            "recheck_mm": session.limits.recheck_mm,
            "stop_mm": session.limits.stop_mm,
            "for_surgery": session.plan.for_surgery,
            "not_for_surgery_because": session.plan.not_for_surgery_because,
            "plan_sha256": session.plan.fingerprint,
            "readings_sha256": readings_sha256,
            "replan": replan,
            "notes": tuple(notes),
            **parts,
        }
    )

"""The finished record of a day of surgery: one page, upright, as it is filed."""

from __future__ import annotations

from typing import Any

from festoon.model.dentition import Notation, Site
from festoon.model.plan import Plan
from festoon.model.quantities import Quantity
from festoon.model.surgery import RemarkEntry, Step, SurgeryState, UndoEntry
from festoon.model.verification import Verdict
from festoon.reports.results import SHAPE_SIGNS, Notations, result_rows
from festoon.reports.typeset import Paper, paper_size, typeset
from festoon.reports.words import NOTATION_WORDS, SITE_WORDS, both_codes

_TISSUE = {Quantity.CREST_LEVEL: "crest", Quantity.MARGIN_LEVEL: "margin"}


def write_surgery_record(
    plan: Plan,
    surgery: SurgeryState,
    *,
    paper: Paper = "a4",
    notations: Notations = (Notation.FDI, Notation.UNIVERSAL),
) -> bytes:
    """The record of a surgery as PDF, one page.

    A surgery that was not signed off is printed as such, in large letters.

    Raises
    ------
    ValueError
        If the paper is not known, or the plan is not the one the surgery was held against.
    """
    if plan.fingerprint != surgery.plan_sha256:
        raise ValueError("this is not the plan that the surgery was held against")
    width, height = paper_size(paper)[::-1]
    return typeset(
        "record.typ",
        {"paper": {"width": width, "height": height}, "record": _content(plan, surgery, notations)},
    )


def _content(plan: Plan, surgery: SurgeryState, notations: Notations) -> dict[str, Any]:
    reasons = surgery.sign_off.reasons if surgery.sign_off else {}
    standing = [e for e in surgery.entries if not e.is_taken_back]

    def name(code: str, site: Site | None = None) -> str:
        return both_codes(code, notations) + ("" if site is None else f" {SITE_WORDS[site]}")

    return {
        "case": surgery.case,
        "day": surgery.begun.surgery_at.isoformat(),
        "plan": f"{surgery.plan}, {surgery.plan_sha256[:12]}",
        "plan_signed": ", ".join(surgery.signed_by),
        "begun_by": surgery.begun_by,
        "operator": surgery.begun.operator or "not said",
        "template": (surgery.begun.template_kind or "not said").replace("-", " "),
        "limits": f"{surgery.begun.recheck_mm:g} mm recompute, {surgery.begun.stop_mm:g} mm stop",
        "datum": surgery.begun.datum.replace("_", " "),
        "notations": " / ".join(NOTATION_WORDS[n] for n in notations),
        "stale": list(surgery.stale),
        "before": f"{SHAPE_SIGNS[surgery.limits_shape]} {surgery.limits_text}",
        "stops": [f"{name(c.tooth, c.site)}: {c.text}" for c in surgery.before if c.verdict is Verdict.STOP],
        "rows": result_rows(plan, surgery, None, notations),
        "sites": [
            f"{SHAPE_SIGNS[s.shape]} {name(s.tooth, s.site)}, {_TISSUE.get(s.quantity, s.quantity.value)}: {s.short}"
            for s in surgery.sites
            if s.check.reading_mm is not None and s.shape != "ticked_box"
        ],
        "pairs": [f"{name(pair.pair)}: {pair.text}" for pair in surgery.pairs],
        "crowns": [f"{name(crown.tooth)}: {crown.text}" for crown in surgery.crowns],
        "papillae": list(surgery.papillae),
        "soundings": [f"{name(s.tooth, s.site)}: {s.text}" for s in surgery.final_spaces],
        "not_done": [
            {"what": item.text, "why": reasons.get(item.name, "NO REASON GIVEN YET")} for item in surgery.not_done
        ],
        "replan": [] if surgery.replan is None else [f"{name(t.tooth)}: {t.text}" for t in surgery.replan.teeth],
        "remarks": [e.text for e in standing if isinstance(e.entry, RemarkEntry)],
        "counts": (
            f"{len(surgery.entries)} entries, {sum(e.is_taken_back for e in surgery.entries)} taken back, "
            f"{sum(isinstance(e.entry, UndoEntry) for e in surgery.entries)} undo; last step "
            f"{Step(surgery.step).value.replace('_', ' ')}"
        ),
        "signed": None
        if surgery.sign_off is None
        else f"signed off by {surgery.signed_off_by} as {surgery.sign_off.role}, {(surgery.signed_off_at or '')[:16].replace('T', ' ')} UTC",
        "remark": "" if surgery.sign_off is None else surgery.sign_off.remark or "",
        "notes": list(surgery.notes),
    }

"""Letters after surgery: to the referring colleague, to the laboratory, and a page for the patient in plain words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal

from festoon.model.dentition import Notation, Tooth, as_seen
from festoon.model.plan import Plan
from festoon.model.recall import EdgeEntry, RecallState
from festoon.model.surgery import SurgeryState
from festoon.reports.results import Notations, result_rows
from festoon.reports.typeset import Paper, paper_size, typeset
from festoon.reports.words import NOTATION_WORDS, SITE_WORDS, both_codes, both_names

Reader = Literal["colleague", "laboratory", "patient"]
READERS: tuple[Reader, ...] = ("colleague", "laboratory", "patient")
_TITLES: dict[Reader, str] = {
    "colleague": "Report to the referring colleague",
    "laboratory": "Report to the laboratory",
    "patient": "About your gum treatment",
}
_ASKED: dict[Reader, tuple[str, ...]] = {
    "colleague": (
        "Please keep every later reading from the planned edge or a mark; if an edge is changed, tell us by how much and "
        "on which day.",
        "Please send the day and the kind of each restoration, and how deep its margin lies in the sulcus.",
        "Please tell us of sensitivity, open spaces between the teeth, or a margin that moves.",
    ),
    "laboratory": (
        "Please make no final work from a scan older than the day from which it may be made.",
        "Please say by how much each finished edge differs from the planned one, in mm, tooth by tooth.",
        "Please confirm the version of the design you work from.",
    ),
    "patient": (
        "Call us at once for bleeding that does not stop, fever, growing swelling or pain that gets worse.",
        "Come to the visits even if all seems well: only several visits can show that the gum has settled.",
        "Ask us anything. You may bring this page and write your questions on it.",
    ),
}
CONSENT_POINTS = (
    "what was found, and how sure we are of it",
    "what the treatment can change and by about how much; a picture or a model is no promise",
    "the other ways, and doing nothing",
    "which teeth are treated; that gum and bone that are taken away do not come back",
    "the gum may grow back a little or draw back further; a second treatment can become needed",
    "differences between left and right, open spaces between teeth, longer-looking teeth, visible root, sensitivity",
    "pain, swelling, bruising, bleeding, infection, scars, numbness; rarely damage to a tooth or nerve",
    "the plan can change once the bone is seen",
    "smoking and cleaning change the result; no final crowns before the day that is named",
    "costs, and who pays if it must be done again; use of pictures and data; whom to call",
)
"""Common practice, no source; the form of consent is for local law."""


def write_letter(
    reader: Reader,
    plan: Plan,
    surgery: SurgeryState,
    recall: RecallState,
    *,
    picture: str | None = None,
    paper: Paper = "a4",
    notations: Notations = (Notation.FDI, Notation.UNIVERSAL),
) -> bytes:
    """A letter as PDF.

    Parameters
    ----------
    picture : str, optional
        SVG of the margins over time.

    Raises
    ------
    ValueError
        If the reader or the paper is not known, or the plan is not the one the surgery was held against.
    """
    if reader not in READERS:
        raise ValueError(f"reader {reader!r} is not known; use {', '.join(READERS)}")
    if plan.fingerprint != surgery.plan_sha256:
        raise ValueError("this is not the plan that the surgery was held against")
    width, height = paper_size(paper)[::-1]
    is_plain = reader == "patient"
    teeth = as_seen(Tooth(code) for code, whole in plan.teeth.items() if whole.procedure.cuts)
    letter: dict[str, Any] = {
        "title": _TITLES[reader],
        "case": plan.case,
        "day": surgery.begun.surgery_at.isoformat(),
        "plan": f"{surgery.plan}, {surgery.plan_sha256[:12]}",
        "design": plan.design_version or "not stated",
        "teeth": [f"{both_names(tooth, notations)} {plan.teeth[tooth.fdi].name}" for tooth in teeth],
        "notations": " / ".join(NOTATION_WORDS[n] for n in notations),
        "is_finished": surgery.sign_off is not None,
        "rows": [] if is_plain else result_rows(plan, surgery, recall, notations),
        "paragraphs": _patient_words(plan, recall) if is_plain else [],
        "readiness": _readiness(recall, is_plain=is_plain),
        "courses": []
        if is_plain
        else [f"{both_codes(c.tooth, notations)} {SITE_WORDS[c.site]}: {c.text}" for c in recall.verification.courses],
        "pairs": [] if is_plain else [f"{both_codes(p.pair, notations)}: {p.text}" for p in recall.verification.pairs],
        "edges": [] if is_plain else _edges(recall, notations),
        "complications": [] if is_plain else list(recall.complications),
        "papillae": []
        if is_plain
        else [f"{both_codes(p.between, notations)}, {p.at}: {p.text}" for p in recall.papillae],
        "told": [] if is_plain else list(recall.told),
        "keratinised": []
        if is_plain
        else [f"{both_codes(k.tooth, notations)}, {k.at}: {k.text}" for k in recall.keratinised],
        "not_done": [] if is_plain else _not_done(surgery),
        "asked": list(_ASKED[reader]),
        "consent": list(CONSENT_POINTS) if is_plain else [],
    }
    return typeset("letter.typ", {"paper": {"width": width, "height": height}, "letter": letter, "picture": picture})


def _edges(recall: RecallState, notations: Notations) -> list[str]:
    """Where edges lie since the surgery, so that the reader knows from what later levels are counted."""
    return [
        f"{both_codes(e.tooth, notations)}, from {e.at} on: {e.edge.replace('_', ' ')}, {e.from_planned_mm:+.2f} mm from the "
        f"planned edge, + where the tooth is shorter ({e.source})"
        for one in recall.entries
        if not one.is_taken_back and isinstance(e := one.entry, EdgeEntry)
    ]


def _not_done(surgery: SurgeryState) -> list[str]:
    reasons = surgery.sign_off.reasons if surgery.sign_off else {}
    return [f"{item.text}: {reasons.get(item.name, 'no reason given yet')}" for item in surgery.not_done]


_MAY = {
    "provisional": "may be made, by time alone; the clinician decides",
    "final": "may be made, by time and by the margins read; the clinician decides",
}
_NOT_SETTLED = "NOT YET: two visits must first show that the gum has settled at every treated tooth"


def _readiness(recall: RecallState, *, is_plain: bool) -> list[dict[str, Any]]:
    names = {"provisional": "Provisional restorations", "final": "Final restorations"}
    if is_plain:
        names = {"provisional": "Temporary crowns or veneers, if any are planned", "final": "Final ones"}
    return [
        {
            "what": names[item.what],
            "answer": _MAY[item.what] if item.may
            else _NOT_SETTLED if is_plain and not any("not before" in why for why in item.why_not)
            else f"NOT YET; by time alone not before {item.earliest}",
            "why": [] if is_plain else _short(item.why_not),
            "source": "" if is_plain else item.source,
        }
        for item in recall.verification.readiness
    ]  # fmt: skip


def _short(reasons: Sequence[str], most: int = 4) -> list[str]:
    left = len(reasons) - most
    return [
        *reasons[:most],
        *([f"and {left} more sites that two visits have not shown to be stable"] if left > 0 else []),
    ]


def _patient_words(plan: Plan, recall: RecallState) -> list[str]:
    moves = [t.margin_move_mm for t in plan.teeth.values() if t.procedure.cuts and t.margin_move_mm]
    said = []
    if moves:
        low, high = min(moves), max(moves)
        amount = f"about {high:.1f} mm" if high - low < 0.25 else f"between about {low:.1f} and {high:.1f} mm"
        said.append(
            f"It was planned to move the edge of your gum at {len(moves)} teeth by {amount}, so that they look longer."
        )
    said.append(
        "While it heals the gum moves again, mostly a little back towards the tooth's edge. Nobody can say beforehand "
        "exactly by how much: it is a range, not a promise."
    )
    days = sorted({visit.at for visit in recall.verification.visits})
    if days:
        said.append(f"We measured your gum on {', '.join(day.isoformat() for day in days)}.")
    said.append("Whether it has settled can only be said when two visits some weeks apart show the same.")
    return said

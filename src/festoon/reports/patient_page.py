"""The page for the patient before surgery: plain words, a drawing, no promise, and the points to talk over before consent."""

from __future__ import annotations

from typing import Any

from festoon.model.dentition import Tooth, as_seen
from festoon.model.plan import Answer, Plan
from festoon.reports.letter import CONSENT_POINTS
from festoon.reports.typeset import Paper, paper_size, typeset

CAPTIONS = ("Today, drawn from our measurements", "What is aimed at on the day of the operation")
SIDES = ("your RIGHT", "your LEFT")
_PLAIN_ANSWERS = {
    Answer.NOT_SURGERY: "From what we measured, moving the gum is not the answer to what bothers you. Please talk with us about what is.",
    Answer.NOTHING_TO_DO: "From what we measured, nothing needs to be moved.",
    Answer.UNDETERMINED: "We have not measured enough yet to say what can be done.",
}
_ASK = (
    "Tell us of every illness and every medicine, also blood thinners, bone medicines and pregnancy. Stop no medicine on your own.",
    "Tell us if you smoke: it makes healing slower and the result less sure.",
    "Say what you hope for, in your own words. You may bring this page and write your questions on it.",
)
_BEFORE = "You may change your mind at any time before the operation."


def write_patient_page(plan: Plan, picture: str | None = None, *, paper: Paper = "a4") -> bytes:
    """The page as PDF, upright.

    Parameters
    ----------
    plan : Plan
        Any plan. Where it is not for surgery the page says so, and neither draws nor counts what is not to be done.
    picture : str, optional
        The teeth today and as planned, as SVG: see :func:`festoon.drawings.plain_teeth.draw_plain_teeth`.

    Raises
    ------
    ValueError
        If the paper is not known.
    """
    width, height = paper_size(paper)[::-1]
    is_drawn = plan.for_surgery and any(place.procedure.cuts for place in plan.teeth.values())
    data = {
        "paper": {"width": width, "height": height},
        "page": _content(plan),
        "picture": picture if is_drawn else None,
    }
    return typeset("patient.typ", data)


def _content(plan: Plan) -> dict[str, Any]:
    return {
        "case": plan.case,
        "plan": plan.fingerprint[:12],
        "design": plan.design_version or "not approved yet",
        "paragraphs": _paragraphs(plan),
        "ask": [*_ASK, _BEFORE] if plan.for_surgery else list(_ASK),
        "consent": list(CONSENT_POINTS) if plan.for_surgery else [],
    }


def _paragraphs(plan: Plan) -> list[str]:
    if not plan.for_surgery:
        return [
            _PLAIN_ANSWERS.get(
                plan.answer, "This plan is not ready for an operation yet. Please talk with us about it."
            )
        ]
    treated = as_seen(Tooth(code) for code, place in plan.teeth.items() if place.procedure.cuts)
    if not treated:
        return [_PLAIN_ANSWERS[Answer.NOTHING_TO_DO]]
    said = [_what_is_done(plan, treated)]
    if any(site.bone_removal_mm for site in plan.sites):
        said.append(
            "In some places a little of the bone under the gum has to be taken away as well, because gum that is too near to "
            "bone grows back. Gum and bone that are taken away do not come back by themselves."
        )
    if any((plan.teeth[tooth.fdi].incisal_extension_mm or 0) != 0 for tooth in treated):
        said.append(
            "Some teeth also get a new edge from your dentist. The drawing shows them with the edge that is planned."
        )
    said.append(
        "The drawing is made from numbers. It is no picture of your mouth and no promise. While it heals the gum moves again, mostly "
        "a little back towards the edge of the tooth; nobody can say beforehand exactly by how much."
    )
    if plan.healing:
        said.append(
            "The line of the gum is not judged before six weeks. Final crowns or veneers, if any are planned, wait at least three months, "
            "at front teeth often six or longer, until two visits have shown that the gum stands still."
        )
    return said


def _what_is_done(plan: Plan, treated: list[Tooth]) -> str:
    moves = [move for tooth in treated if (move := plan.teeth[tooth.fdi].margin_move_mm)]
    amount = ""
    if moves:
        low, high = min(moves), max(moves)
        amount = f" by about {high:.1f} mm" if high - low < 0.25 else f" by about {low:.1f} to {high:.1f} mm"
    names = [plan.teeth[tooth.fdi].name for tooth in treated]
    count = "one tooth" if len(names) == 1 else f"{len(names)} teeth"
    return f"We plan to move the edge of your gum at {count}{amount}, so that more of each tooth is seen: {', '.join(names)}."

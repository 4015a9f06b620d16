"""What stands about a tooth whether or not it is cut: what must be cleared, what is hidden, locked or kept."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from festoon.model.case import Restoration, Status
from festoon.model.dentition import Site
from festoon.model.plan import Caution, ToothPlan
from festoon.planning import words
from festoon.planning.pose import to_be_cleared
from festoon.planning.problem import EPSILON, Problem, ToothProblem

COMMON = "common practice, no source"


def caution(
    entry: ToothProblem,
    code: str,
    text: str,
    source: str | None,
    *,
    severity: Literal["stop", "warn", "note"] = "warn",
    site: Site | None = None,
) -> Caution:
    """A caution about one tooth."""
    return Caution(code=code, text=text, tooth=entry.tooth.fdi, site=site, source=source, severity=severity)


def standing_cautions(problem: Problem, entry: ToothProblem, plan: ToothPlan) -> Iterator[Caution]:
    """The cautions of one tooth that do not come from a cut."""
    chart = entry.anatomy.chart
    for reason in to_be_cleared(chart):
        yield caution(entry, "cleared_first", reason, COMMON, severity="stop")
    if chart.mobility == 1:
        yield caution(entry, "mobility", "mobility 1: find the cause before bone is removed", COMMON)
    yield from _locked(entry)
    yield from _hidden(entry, plan)
    if chart.edge_worn:
        yield caution(
            entry, "worn_edge", "worn edge: lengths count from the planned edge, never from the worn one", COMMON
        )
    if (chart.incisal_extension_mm or 0.0) > EPSILON and chart.restoration is Restoration.NONE:
        yield caution(
            entry,
            "edge_without_restoration",
            f"the planned edge lies {words.short(chart.incisal_extension_mm or 0.0)} mm further incisally, but no "
            "restoration is planned that would make it: settle which is meant before anything is cut",
            "CP-004, common practice",
        )
    if chart.crowded or abs(chart.rotation_deg or 0.0) >= 15:
        yield caution(
            entry,
            "crowded",
            "rotated or crowded: zenith along the tooth's own axis; thin bone over a prominent root; a template may not "
            "seat; consider alignment first",
            COMMON,
        )
    if plan.finish_line_gap_mm is not None and plan.finish_line_gap_mm > EPSILON:
        yield caution(
            entry,
            "kept_restoration",
            f"the kept restoration ends {words.short(plan.finish_line_gap_mm)} mm coronal to the new margin: the gap shows",
            COMMON,
        )
    minimum = problem.policy["keratinised_minimum_mm"]
    if entry.keratinised is not None and entry.keratinised < minimum - EPSILON:
        yield caution(
            entry,
            "little_keratinised",
            f"only {words.short(entry.keratinised)} mm of keratinised tissue today, {minimum:g} wanted: nothing of it is "
            "excised; consider a graft",
            "DX-012, DX-014",
        )


def _locked(entry: ToothProblem) -> Iterator[Caution]:
    status = entry.anatomy.chart.status
    if status is Status.IMPLANT:
        text = (
            "implant: its margin follows its position and the tissue over it, so the teeth are matched to it; the bone "
            "beside it is locked on both neighbours; plan anew if its crown or tissue is to change"
        )
        yield caution(entry, "implant", text, COMMON, severity="note")
    elif status is Status.PONTIC:
        text = "pontic: no sulcus and no crest; its tissue may be sculpted, nothing else"
        yield caution(entry, "pontic", text, COMMON, severity="note")


def _hidden(entry: ToothProblem, plan: ToothPlan) -> Iterator[Caution]:
    """A CEJ under a crown: unknown until it is read, whatever the crown's margin."""
    middle = entry.anatomy.site(Site.MIDFACIAL)
    chart = entry.anatomy.chart
    if chart.status is not Status.CROWNED or middle.cej is not None:
        return
    text = "crowned: the CEJ is hidden; the crown's margin is not taken for it"
    line, target = middle.existing_finish_line, plan.target_length_mm
    if line is not None:
        text += f" (it lies at {words.short(line.value)} mm)"
        if target is not None and target > line.value + EPSILON and chart.restoration is Restoration.PRESENT:
            text += f"; at the target it would stand {words.short(target - line.value)} mm clear of the gingiva"
    yield caution(entry, "hidden_cej", text, COMMON)

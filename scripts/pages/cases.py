"""Worked pages: a hard case, its trap, its plan and the arithmetic, from the case file and the planner."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import takewhile
from pathlib import Path

from festoon.drawings.profile import draw_profile
from festoon.model.plan import Missing, Plan, SitePlan
from festoon.workflow.planning import plan_case
from pages.markdown import NOTICE, cell, code, table
from pages.reference import linked


@dataclass(frozen=True)
class Trap:
    """What the comment at the top of a hard case says."""

    title: str
    trap: str
    must: str


def case_pages(folder: Path) -> dict[str, str]:
    """The index and one page per case file of a folder, by path under ``docs``."""
    pages, rows = {}, []
    for file in sorted(folder.glob("*.yaml")):
        plan, trap = plan_case(file).plan, trap_of(file)
        pages[f"cases/{file.stem}.md"] = case_page(file, trap, plan)
        rows.append((f"[{cell(trap.title)}]({file.stem}.md)", cell(trap.trap), cell(_words(plan.answer))))
    index = (
        f"{NOTICE}# Hard cases\n\nMouths in which the obvious plan is wrong, each with its trap, what festoon answers and the "
        "arithmetic. All are invented. They are tests as well: a change that alters an answer shows here.\n\n"
    )
    index += table(("case", "trap", "answer"), rows) if rows else "None yet.\n"
    return {"cases/index.md": index.rstrip() + "\n"} | pages


def case_drawings(folder: Path) -> dict[str, str]:
    """The level profile of every case file of a folder, by path under ``docs``: made when the pages are built."""
    return {
        f"cases/{file.stem}.svg": draw_profile(plan_case(file).plan, scale=1.5)
        for file in sorted(folder.glob("*.yaml"))
    }


def trap_of(file: Path) -> Trap:
    """The comment at the top of a case file: ``Trap: …`` and ``Must come out: …``.

    Raises
    ------
    ValueError
        If the file has no such comment.
    """
    lines = takewhile(lambda line: line.startswith("#"), file.read_text(encoding="utf-8").splitlines())
    comment = " ".join(" ".join(line.lstrip("#") for line in lines).split()).removesuffix(" Invented mouth.")
    match = re.fullmatch(r"Trap: (.+?) Must come out: (.+)", comment)
    if match is None:
        raise ValueError(f"{file.name}: a hard case opens with the comment '# Trap: … # Must come out: …'")
    return Trap(
        file.stem.replace("-", " ").capitalize().replace("cej", "CEJ"), _sentence(match[1]), _sentence(match[2])
    )


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}"


def case_page(file: Path, trap: Trap, plan: Plan) -> str:
    """One case as a page."""
    parts = [
        f"{NOTICE}# {trap.title}\n\nCase file: `tests/cases/hard/{file.name}`, invented; this is what `festoon plan` makes of it.\n\n",
        f"**The trap.** {trap.trap}\n\n**What must come out.** {trap.must}\n\n",
        f"## The answer\n\n**{_sentence(_words(plan.answer))}.** {plan.answer_text}\n\n",
    ]
    if plan.not_for_surgery_because:
        parts.append("The sheet is stamped **NOT FOR SURGERY**:\n\n" + _bullets(plan.not_for_surgery_because))
    parts.append(f"![Level profile of {plan.case}]({file.stem}.svg)\n\n## Teeth\n\n{_teeth(plan)}")
    parts += _section("Cautions", [_caution_text(c.severity, c.text, c.tooth, c.source) for c in plan.cautions])
    parts += _section("What stops the wish", [_with_price(c.text, c.buys) for c in plan.conflicts])
    parts += _section("Not known", [f"**{cell(m.text)}**" if m.hard else _soft(m) for m in plan.missing])
    parts += list(_findings(plan))
    parts += list(_arithmetic(plan))
    if plan.alternatives:
        parts.append("## Alternatives\n\n")
        rows = [
            (cell(a.name), str(a.teeth_operated), _mm(a.bone_mm), _mm(a.distance_to_target_mm), cell(a.price))
            for a in plan.alternatives
        ]
        parts.append(table(("alternative", "teeth", "bone, sum", "distance to targets, sum", "price"), rows))
    return "".join(parts).rstrip() + "\n"


def _teeth(plan: Plan) -> str:
    rows = []
    for tooth, entry in plan.teeth.items():
        bone = [site.bone_removal_mm for site in plan.sites if site.tooth == tooth]
        known = [one for one in bone if one is not None]
        rows.append(
            (
                tooth,
                _mm(entry.present_length_mm),
                _mm(entry.target_length_mm),
                _mm(entry.planned_length_mm),
                _mm(entry.margin_move_mm),
                _mm(max(known)) if known and len(known) == len(bone) else "–",
                _mm(entry.keratinised_after_mm),
                cell(_words(entry.procedure)),
                cell(entry.why),
            )
        )
    head = (
        "tooth", "length today", "target", "planned", "move", "deepest bone", "keratinised after", "procedure", "why",
    )  # fmt: skip
    return (
        "Millimetres. Today's length is from the present edge, target and planned length from the planned edge; – is unknown, "
        f"never zero.\n\n{table(head, rows)}"
    )


def _findings(plan: Plan) -> Iterator[str]:
    shown = [finding for finding in plan.findings if finding.support in ("strong", "moderate", "weak")]
    if not shown:
        return
    yield "## Findings\n\n"
    for finding in shown:
        teeth = ", ".join(finding.teeth)
        where = f": {teeth}" if teeth and teeth not in finding.title else ""
        yield f"**{cell(finding.title)}**{where} ({finding.support})\n\n"
        evidence = [("for", one) for one in finding.evidence_for] + [
            ("against", one) for one in finding.evidence_against
        ]
        yield _bullets([f"{side}: {linked(one.text, '../reference/')}" for side, one in evidence])
        yield f"{linked(finding.surgery_can, '../reference/')} {linked(finding.surgery_cannot, '../reference/')}\n\n"
        instead = " ".join(linked(one, "../reference/") for one in finding.alternatives)
        yield f"Instead, or first: {instead} Ask: {', '.join(finding.ask)}.\n\n"


def _soft(missing: Missing) -> str:
    """A reading whose lack stops nothing: what it leaves unsaid, without all that is known of the tooth."""
    return cell(missing.text.split(". Still known:")[0])


def _arithmetic(plan: Plan) -> Iterator[str]:
    """The sums of every cut site; teeth whose sums are the same, as on both sides of an even mouth, once."""
    alike: dict[tuple[object, ...], list[SitePlan]] = {}
    for site in plan.sites:
        if _is_shown(site):
            alike.setdefault((site.site, site.binding, site.arithmetic), []).append(site)
    if not alike:
        return
    yield (
        "## The arithmetic\n\nEvery site that is cut, or that a finish line asks it of, line by line, from the planned edge.\n\n"
    )
    for sites in alike.values():
        first, teeth = sites[0], ", ".join(site.tooth for site in sites)
        binding = ", ".join(code(rule) for rule in first.binding)
        decides = f"binding: {binding}" if binding else "asked for, not cut: a limit stops it"
        yield f"**{teeth} {first.site.replace('_', ' ')}** ({decides})\n\n"
        yield _bullets(first.arithmetic)


def _is_shown(site: SitePlan) -> bool:
    return bool(site.binding) or (site.finish_line_mm is not None and bool(site.arithmetic))


def _caution_text(severity: str, text: str, tooth: str | None, source: str | None) -> str:
    where = f"{tooth}: " if tooth and not text.startswith(tooth) else ""
    return f"**{severity}** {where}{cell(text)}" + (f" ({linked(source, '../reference/')})" if source else "")


def _with_price(text: str, buys: str) -> str:
    return f"{cell(text)}. {cell(_sentence(buys))}" if buys else cell(text)


def _section(title: str, lines: list[str]) -> list[str]:
    return [f"## {title}\n\n", _bullets(lines)] if lines else []


def _bullets(lines: Iterable[str]) -> str:
    text = "".join(f"- {line}\n" for line in lines)
    return f"{text}\n" if text else ""


def _words(word: str) -> str:
    return str(word).replace("_", " ")


def _mm(value: float | None) -> str:
    return "–" if value is None else f"{value + 0.0:.2f}".replace("-0.00", "0.00")

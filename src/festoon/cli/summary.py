"""A plan in the terminal: cautions first, then what is done, tooth by tooth."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from festoon.model.dentition import Notation, Tooth
from festoon.model.plan import Caution, Finding, Missing, Plan, SitePlan, ToothPlan

_PLAIN_WIDTH = 140
"""Width where the output is no terminal, so that tables stay whole in a file."""
_TELLING = ("strong", "moderate", "weak")
_CHANCES_SHOWN = 8
_CHANCE_SHOWN_FROM = 0.005
"""Rarer outcomes stand in the file."""


def print_summary(plan: Plan, notes: Iterable[str] = ()) -> None:
    """Print the plan as text and tables to standard output; ``notes`` are remarks on its file."""
    console = Console(width=None if sys.stdout.isatty() else _PLAIN_WIDTH, highlight=False)
    console.print(Text(f"{plan.case}: {plan.answer_text}", style="bold"))
    if not plan.for_surgery:
        console.print(Text("NOT FOR SURGERY: " + "; ".join(plan.not_for_surgery_because), style="bold reverse"))
    _lines(console, "Cautions", (f"{c.severity.upper():<5}{_where(c)}{c.text}" for c in plan.cautions))
    _lines(console, "Why the teeth are short, or so much gingiva shows", _findings(plan.findings))
    _lines(console, "Not measured", _missing(plan.missing))
    console.print()
    console.print(_teeth(plan))
    cuts = [site for site in plan.sites if site.binding]
    if cuts:
        console.print(_sites(cuts))
    pairs = "   ".join(f"{pair} {_mm(value)}" for pair, value in plan.arch.pair_differences_mm.items())
    _lines(console, "Left-right differences after the plan, mm (patient's right minus left)", [pairs] if pairs else [])
    _lines(console, "Flap fields", (" ".join(field) for field in plan.arch.flap_fields))
    _lines(console, "Papillae", (papilla.text for papilla in plan.papillae))
    _lines(console, "Wishes that a limit stops", (f"{c.text}. {c.buys}" for c in plan.conflicts))
    _lines(console, "Alternatives", (f"{a.name}: {a.differs}. {a.price}" for a in plan.alternatives))
    if plan.risk is not None:
        likely = [chance for chance in plan.risk.chances if chance.chance >= _CHANCE_SHOWN_FROM][:_CHANCES_SHOWN]
        chances = (f"{c.what}: {c.chance:.0%} (± {c.mc_se:.1%})" for c in likely)
        _lines(console, "Chances, given the errors of the readings", chances)
        if plan.risk.any_bad is not None:
            _lines(console, f"Chance of {plan.risk.any_bad.what}", [f"{plan.risk.any_bad.chance:.1%}"])
        again = [item.text for item in plan.risk.measure_again] or list(plan.risk.notes[-1:])
        _lines(console, "Measure these again first", again)
        _lines(
            console, "A plan that keeps its limits with a chosen probability", filter(None, [plan.risk.robust_price])
        )
    apart = [f"{c.basis}: {c.note}" for c in plan.policy_comparison if "Differs" in c.note]
    _lines(console, "Other ways to set the distance from margin to crest", apart)
    if plan.healing is not None:
        _lines(console, "Healing", plan.healing.milestones)
    _lines(console, "Notes on the file", notes)
    signing = "can be signed" if plan.signable else "cannot be signed yet: " + "; ".join(plan.signable_reasons)
    console.print(Text(f"\nThis plan {signing}."))
    console.print(
        Text(
            f"Levels in mm from the planned edge, apical positive. festoon {plan.provenance.festoon}, plan "
            f"{plan.fingerprint[:12]}. It informs a licensed clinician; it does not decide.",
            style="dim",
        )
    )


def _where(caution: Caution) -> str:
    place = " ".join(filter(None, (caution.tooth, caution.site and caution.site.replace("_", " "))))
    return f"{place}: " if place else ""


def _lines(console: Console, title: str, lines: Iterable[str]) -> None:
    present = list(lines)
    if present:
        console.print(Text(f"\n{title}", style="bold"))
        for line in present:
            console.print(Padding(Text(line), (0, 0, 0, 2)))


def _findings(findings: tuple[Finding, ...]) -> Iterable[str]:
    """What speaks for something; the rest in one line."""
    for finding in findings:
        if finding.support in _TELLING:
            named = all(tooth in finding.title for tooth in finding.teeth)
            teeth = "" if named else f" ({', '.join(finding.teeth)})"
            evidence = "; ".join(item.text for item in finding.evidence_for)
            yield f"{finding.title}{teeth}: {finding.support}. {evidence}. {finding.surgery_cannot}"
    unknown = [finding.title for finding in findings if finding.support == "unknown"]
    if unknown:
        yield f"Cannot be said from what was charted: {', '.join(unknown)}."


def _missing(missing: tuple[Missing, ...]) -> Iterable[str]:
    """Hard gaps one by one; the others gathered by what is missing."""
    yield from (f"NEEDED  {item.text}" for item in missing if item.hard)
    gathered: dict[tuple[str, str], list[str]] = {}
    for item in missing:
        if not item.hard:
            place = " ".join(filter(None, (item.tooth, item.site)))
            gathered.setdefault((item.what, item.prevents), []).append(place)
    for (what, prevents), places in gathered.items():
        at = f" at {', '.join(places)}" if any(places) else ""
        yield f"{what}{at}: {prevents}"


def _mm(value: float | None) -> str:
    return "not measured" if value is None else f"{value:.2f}"


def _or_dash(value: float | None) -> str:
    return "-" if value is None else f"{value:.2f}"


_TOOTH_COLUMNS: tuple[tuple[str, Callable[[ToothPlan], str]], ...] = (
    ("procedure", lambda t: t.procedure.value.replace("_", " ")),
    ("edge +", lambda t: _mm(t.incisal_extension_mm)),
    ("length now", lambda t: _mm(t.present_length_mm)),
    ("target", lambda t: _or_dash(t.target_length_mm)),
    ("planned", lambda t: _or_dash(t.planned_length_mm)),
    ("move", lambda t: _or_dash(t.margin_move_mm)),
    ("collar", lambda t: _or_dash(t.excised_collar_mm)),
    ("keratinised after", lambda t: _mm(t.keratinised_after_mm)),
    ("width/length", lambda t: f"{_or_dash(t.ratio_present)} to {_or_dash(t.ratio_planned)}"),
)


def _teeth(plan: Plan) -> Table:
    table = _table("Teeth, facing the patient: the patient's right comes first; mm")
    table.add_column("tooth", no_wrap=True)
    for title, _ in _TOOTH_COLUMNS:
        table.add_column(title, justify="left" if title == "procedure" else "right", no_wrap=title == "procedure")
    for code, tooth in plan.teeth.items():
        label = f"{code} ({Tooth(code).shown(Notation.UNIVERSAL)})"
        standing = tooth.status if tooth.status not in ("natural", "crowned") else None
        cells = [cell(tooth) for _, cell in _TOOTH_COLUMNS]
        table.add_row(label, standing or cells[0], *(["-"] * len(cells[1:]) if standing else cells[1:]))
    return table


_SITE_COLUMNS: tuple[tuple[str, Callable[[SitePlan], float | None]], ...] = (
    ("margin", lambda s: s.margin_present_mm),
    ("planned", lambda s: s.margin_planned_mm),
    ("crest", lambda s: s.crest_present_mm),
    ("left", lambda s: s.left_if_soft_only_mm),
    ("need", lambda s: s.need_mm),
    ("bone", lambda s: s.bone_removal_mm),
    ("crest planned", lambda s: s.crest_planned_mm),
    ("suture at", lambda s: s.suture_level_mm),
    ("in 6 months", lambda s: s.margin_expected_6m_mm),
)


def _sites(sites: list[SitePlan]) -> Table:
    table = _table("Sites that are cut, mm from the planned edge")
    table.add_column("site", no_wrap=True)
    for title, _ in _SITE_COLUMNS:
        table.add_column(title, justify="right")
    table.add_column("because of")
    for site in sites:
        name = f"{site.tooth} {site.site.value.replace('_', ' ')}"
        rules = ", ".join(rule.replace("_", " ") for rule in site.binding)
        table.add_row(name, *(_or_dash(cell(site)) for _, cell in _SITE_COLUMNS), rules)
    return table


def _table(title: str) -> Table:
    return Table(title=title, title_justify="left", title_style="bold", box=SIMPLE_HEAD, pad_edge=False)

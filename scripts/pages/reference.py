"""Settings, limits, the command line and the bibliography, from the code that holds them."""

from __future__ import annotations

import re
from collections.abc import Iterator

import click

from festoon.cli.exits import Exit
from festoon.cli.main import cli
from festoon.evidence.defaults import SETTINGS
from festoon.evidence.presets import LATERAL, PHENOTYPE, ZENITH
from festoon.evidence.table import Published, all_published
from festoon.model.case import PolicyChoice, Purpose
from festoon.planning.limits import RULES, Limit, default_force
from pages.formats import member_words
from pages.markdown import NOTICE, cell, code, prose, table

_HOW = {
    "seen": "seen",
    "memory": "**from memory, not checked**",
    "common-practice": "**common practice, no source**",
}
_GROUPS = {
    "AES": "Aesthetic perception",
    "CP": "Common practice",
    "CRN": "Crown widths, lengths and ratios",
    "DX": "Findings: what tells the causes apart",
    "ERR": "Errors of readings",
    "GIN": "Gingival line, zenith, papilla",
    "HEAL": "Healing",
    "ROOT": "Roots and bone",
    "STA": "Supracrestal tissue",
}
_EVIDENCE_ID = re.compile(r"\b([A-Z]{2,4}-\d{3})\b")


def linked(text: str, folder: str = "") -> str:
    """A text in which each evidence id leads to its row in the bibliography."""
    return _EVIDENCE_ID.sub(lambda match: f"[{match[1]}]({folder}bibliography.md#{match[1].lower()})", cell(text))


def settings_page() -> str:
    """Every setting with its default and source."""
    rows = [
        (
            code(setting.name),
            code(str(setting.value).lower() if isinstance(setting.value, bool) else setting.value),
            setting.unit or "–",
            cell(setting.meaning),
            "yes" if setting.name in PolicyChoice.model_fields else "no",
            linked(setting.source),
        )
        for setting in SETTINGS.values()
    ]
    return (
        f"{NOTICE}# Settings\n\nEvery number that somebody chose, in one place. A clinician may change those marked *in the case* under "
        "`policy`; the plan prints each with its value and its source. None of them is a rule of nature: authors disagree, and "
        "tissue differs from site to site in one mouth.\n\n"
        + table(("setting", "default", "unit", "meaning", "in the case", "source"), rows)
        + "## Presets\n\nWhere papers disagree, each published answer stands beside the others; a case chooses by name under "
        "`policy.presets`. The first of each is the default. Every plan prints them all.\n\n"
        + table(("quantity", "preset", "says", "source"), _presets())
    ).rstrip() + "\n"


def _presets() -> Iterator[tuple[str, ...]]:
    for quantity, presets in (("zenith", ZENITH), ("lateral", LATERAL), ("phenotype", PHENOTYPE)):
        for preset in presets:
            yield code(quantity), code(preset.name), cell(preset.words), linked(preset.source)


def limits_page() -> str:
    """Every limit, how it is held, and whether that may be changed."""
    rows = [
        (
            code(limit.value),
            _first_sentence(limit),
            default_force(limit, Purpose.AESTHETIC),
            default_force(limit, Purpose.RESTORATIVE),
            "yes" if RULES[limit].changeable else "never",
            cell(f"{RULES[limit].words} stops a further … mm"),
        )
        for limit in Limit
    ]
    return (
        f"{NOTICE}# Limits\n\nWhat a plan obeys. A *hard* limit stops the plan; a *caution* is passed and said. The clinician may change "
        "which, in the case, with a reason that is kept:\n\n"
        "```yaml\npolicy:\n  limits:\n    root_to_crown: {force: hard, reason: short roots on the films}\n```\n\n"
        "The formula of each stands in [the method](../method/plan.md#limits), its number in the [settings](settings.md).\n\n"
        + table(("limit", "says", "aesthetic", "restorative", "may be changed", "in a conflict"), rows)
    ).rstrip() + "\n"


def _first_sentence(limit: Limit) -> str:
    return cell(member_words(Limit)[limit.name])


def commands_page() -> str:
    """The command line, as its own help tells it."""
    words = member_words(Exit)
    parts = [
        f"{NOTICE}# Commands\n\nWhat `--help` prints. Every command writes only into the folder it was given.\n\n",
        "## Exit codes\n\n",
        table(("code", "means"), ((str(int(exit_code)), cell(words[exit_code.name])) for exit_code in Exit)),
    ]
    for name, command, context in _commands(cli, click.Context(cli, info_name="festoon", **cli.context_settings)):
        parts.append(f"## {code(name)}\n\n```text\n{_help(command, context)}\n```\n\n")
    return "".join(parts).rstrip() + "\n"


def _commands(command: click.Command, context: click.Context) -> Iterator[tuple[str, click.Command, click.Context]]:
    yield context.command_path, command, context
    if isinstance(command, click.Group):
        for name in command.list_commands(context):
            inner = command.get_command(context, name)
            if inner is not None and not inner.hidden:
                yield from _commands(
                    inner, click.Context(inner, info_name=name, parent=context, **inner.context_settings)
                )


def _help(command: click.Command, context: click.Context) -> str:
    context.terminal_width = 96
    formatter = click.HelpFormatter(width=96, max_width=96)
    command.format_help(context, formatter)
    return "\n".join(line.rstrip() for line in formatter.getvalue().splitlines()).strip()


def bibliography_page() -> str:
    """Every published value, grouped, with how it is known."""
    parts = [
        f"{NOTICE}# Bibliography\n\nEvery published value that festoon holds (`src/festoon/evidence/values.csv`), with its source and how it is "
        "known. *Seen* means that the figure was seen in the source's own page or abstract, or quoted where the note says so; "
        "*from memory* and *common practice* mean what they say, and travel with the number wherever it goes. Most rows are not used by the "
        "plan: they stand here so that disagreement can be seen.\n\n"
    ]
    for prefix, title in _GROUPS.items():
        rows = [row for row in all_published() if row.id.split("-")[0] == prefix]
        parts.append(f"## {title}\n\n")
        parts.append(
            table(
                ("id", "quantity", "value", "population", "source", "how known", "note"), (_published(r) for r in rows)
            )
        )
    return "".join(parts).rstrip() + "\n"


def evidence_prefixes() -> set[str]:
    """The groups that the bibliography prints: a test holds that no row is left out."""
    return set(_GROUPS)


def _published(row: Published) -> tuple[str, ...]:
    reference = row.reference
    if reference.startswith("10."):
        reference = f"doi {reference}"
    who = f"{row.source} {row.year}".strip() or "–"
    people = f"{row.population}, n = {row.n}" if row.n else row.population
    return (
        f'<a id="{row.id.lower()}"></a>{code(row.id)}',
        cell(f"{row.quantity}, {row.site}" if row.site else row.quantity),
        cell(_value(row)),
        cell(people),
        cell(f"{who}; {reference}" if reference else who),
        _HOW[row.how_known],
        cell(prose(row.note)),
    )


def _value(row: Published) -> str:
    text = "" if row.mean is None else f"{row.mean:g}"
    if row.sd is not None:
        text += f" ± {row.sd:g}"
    if row.low is not None or row.high is not None:
        low, high = ("" if end is None else f"{end:g}" for end in (row.low, row.high))
        text += f" ({low} to {high})" if text else f"{low} to {high}"
    return f"{text} {row.unit}".strip()

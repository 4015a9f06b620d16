"""One tooth opened: every number with its sum, readings, limit and source. All words come from the plan."""

from __future__ import annotations

from collections.abc import Iterable

import click

from festoon.model.plan import Plan, SitePlan


def print_explanation(plan: Plan, tooth: str, site: str | None) -> None:
    """Print one tooth, or one site of it."""
    whole = plan.teeth[tooth]
    click.echo(f"{tooth}, {whole.name}: {whole.procedure.value.replace('_', ' ')}: {whole.why}")
    if whole.target_length_mm is not None:
        click.echo(f"  target {whole.target_length_mm:.2f} mm: {whole.target_from}")
    for entry in plan.sites:
        if entry.tooth == tooth and site in (None, entry.site.value):
            click.echo(f"\n{tooth} {entry.site.value}")
            _section("sums, from the planned edge", entry.arithmetic)
            _section("because of", (rule.replace("_", " ") for rule in entry.binding))
            _section("standard errors", _errors(entry))
            _section("readings", entry.from_)
            if entry.thinning is not None:
                _section("thickness", (entry.thinning.text,))
    _section("\ncautions", (f"{c.severity}: {c.text} [{c.source}]" for c in whole.cautions))
    _section("\nlimits in the way", (f"{c.text}. {c.buys}" for c in plan.conflicts if c.tooth == tooth))
    _section("\nnot measured", (item.text for item in plan.missing if item.tooth == tooth))


def _section(title: str, lines: Iterable[str]) -> None:
    present = list(lines)
    if present:
        click.echo(f"  {title}" if not title.startswith("\n") else title)
        for line in present:
            click.echo(f"    {line}")


def _errors(entry: SitePlan) -> Iterable[str]:
    for name, error in entry.se_mm.items():
        value = getattr(entry, name)
        if value is not None and error is not None:
            yield f"{name.removesuffix('_mm').replace('_', ' ')} {value:.2f} ± {error:.2f} mm"

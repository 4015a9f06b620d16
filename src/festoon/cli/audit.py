"""``festoon audit``: how good are we, over many cases."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from festoon.audit.estimates import Estimate
    from festoon.audit.make import Audit


@click.command()
@click.argument("paths", nargs=-1, required=True, type=click.Path(exists=True, path_type=Path))
@click.option(
    "-o", "--output", type=click.Path(file_okay=False, path_type=Path), help="Folder for tables, plots and the report."
)
@click.option(
    "--seed", type=click.IntRange(min=0), default=1, show_default=True, help="Draws the patients of the mixed model."
)
@click.option("--json", "as_json", is_flag=True, help="Print the audit as JSON (festoon-audit-report/1).")
def audit(paths: tuple[Path, ...], output: Path | None, seed: int, as_json: bool) -> None:
    """Hold planned against cut, sutured and healed over many cases.

    PATHS are folders of records (FESTOON_HOME of one practice or of several), folders of cases (each with case.yaml,
    plan.json and surgery.json) or exported tables (.parquet, .csv). They are read together, where they lie.

    \b
    Example:
      festoon audit "$FESTOON_HOME" -o audit-2026
      festoon audit north/records south/records cases
      festoon audit north.parquet south.parquet --json
    """
    from festoon.workflow.auditing import AuditOptions, audit_paths

    found = audit_paths(paths, output, AuditOptions(seed=seed))
    if as_json:
        click.echo(json.dumps(found.as_dict(), indent=1, ensure_ascii=False))
    else:
        _show(found)


def _show(found: Audit) -> None:
    about = found.counts
    click.echo(
        f"{about['cases']} cases, {about['practices']} practices, {about['operators']} operators, {about['rows']} rows; mm, apical positive"
    )
    for dimension, by in found.estimates.items():
        click.echo(f"\nBy {dimension.replace('_', ' ')}" if dimension != "all" else "\nAll")
        for (measure, value), estimate in by.items():
            click.echo(f"  {measure:<11}{value:<28}{_line(estimate)}")
    if found.sides is not None:
        click.echo(f"\nLeft-right (right less left, each less its plan)  {_line(found.sides)}")
    if found.redo is not None:
        share, (low, high) = found.redo
        click.echo(f"Operated again: {share:.1%} ({low:.1%} to {high:.1%})")
    click.echo("\nLearning curve")
    for course in found.courses:
        click.echo(f"  {course.operator}: {course.words}")
    click.echo("\nMixed model")
    if isinstance(found.mixed, str):
        click.echo(f"  {found.mixed}")
    else:
        click.echo(f"  {found.mixed.formula}; {found.mixed.words}{'' if found.mixed.converged else '; NOT CONVERGED'}")
        for name, (fixed, lower, upper) in found.mixed.fixed.items():
            click.echo(f"  {name:<28}{fixed:+.2f} ({lower:+.2f} to {upper:+.2f})")
        click.echo("  SD " + ", ".join(f"{name} {sd:.2f}" for name, sd in found.mixed.sd_mm.items()))
    click.echo("\nOffered as settings, not applied")
    for offer in found.offers:
        between = f" ({offer.interval[0]:.2f} to {offer.interval[1]:.2f})" if offer.interval else ""
        whose = f"{offer.practice}: " if offer.practice else ""
        click.echo(f"  {whose}{offer.what}: {offer.value:.2f} {offer.unit}{between}; {offer.evidence}")
        click.echo(f"    key {offer.key or 'none'}; today {offer.present}")
    if not found.offers:
        click.echo("  nothing: too few patients")
    click.echo("\n" + "\n".join(found.notes))


def _line(e: Estimate) -> str:
    between = (
        f"({e.bias_ci_mm[0]:+.2f} to {e.bias_ci_mm[1]:+.2f})"
        if e.bias_ci_mm
        else f"(no interval: {'one patient' if e.patients == 1 else 'one patient of each operator'})"
    )
    limits = (
        f"  limits {e.lower_loa_mm:+.2f} to {e.upper_loa_mm:+.2f}"
        if e.lower_loa_mm is not None and e.upper_loa_mm is not None
        else ""
    )
    share = f"  within 0.5: {e.within_half_mm:.0%} ({e.within_half_ci[0]:.0%} to {e.within_half_ci[1]:.0%})"
    return f"{e.bias_mm:+.2f} {between}{limits}{share}  {e.patients} patients{', FEW' if e.few else ''}"

"""``festoon measure scan``: from a surface scan to readings with their errors."""

from __future__ import annotations

from pathlib import Path

import click

_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.command()
@click.argument("file", type=_FILE)
@click.option(
    "--unit",
    type=click.Choice(["mm", "cm", "m", "inch"]),
    help="Unit of the file's coordinates. Only 3MF says its own; any other is taken in mm if that is plausible, else refused.",
)
def scan(file: Path, unit: str | None) -> None:
    """Measure a surface scan.

    \b
    Example:
      festoon measure scan upper.ply
    """
    from festoon.workflow.measuring_scan import look_at_scan

    click.echo(look_at_scan(file, unit))

"""``festoon measure scan``: from a surface scan to readings with their errors."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import click

if TYPE_CHECKING:
    from festoon.model.dentition import Tooth
    from festoon.workflow.measuring_scan import MeasuredScan

_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.command()
@click.argument("file", type=_FILE)
@click.option(
    "--unit",
    type=click.Choice(["mm", "cm", "m", "inch"]),
    help="Unit of the file's coordinates. 3MF says its own; any other is taken in mm if that is plausible, else refused.",
)
@click.option("--jaw", type=click.Choice(["upper", "lower"]), help="[default: found from the sizes of the teeth]")
@click.option("--teeth", metavar="FIRST-LAST", help="Only these teeth, ISO 3950, as seen: 13-23. [default: all]")
@click.option("--case", "case_id", metavar="ID", help="Pseudonymous id of the case. [default: the file's name]")
@click.option(
    "-o",
    "--output",
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder for readings.json, scan.png and frames.json.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the readings as JSON (festoon-readings/1).")
def scan(
    file: Path,
    unit: Literal["mm", "cm", "m", "inch"] | None,
    jaw: Literal["upper", "lower"] | None,
    teeth: str | None,
    case_id: str | None,
    output: Path | None,
    as_json: bool,
) -> None:
    """Measure a surface scan.

    FILE is an intraoral or model scan (STL, PLY, OBJ or 3MF). Teeth are found and numbered, margins traced, and every number
    comes with its standard error and, where it is doubtful, a flag. Confirm numbers, sides and margins in the picture.

    \b
    Example:
      festoon measure scan upper.ply -o measured/
      festoon measure scan upper.stl --unit mm --jaw upper --teeth 13-23 --json
    """
    from festoon.workflow.measuring_scan import measure_scan, write_measured

    measured = measure_scan(file, unit=unit, jaw=jaw, teeth=_teeth(teeth), case=case_id, tell=_teller())
    written = write_measured(measured, output) if output else ()
    if as_json:
        click.echo(measured.as_json(), nl=False)
        for note in measured.notes:
            click.echo(note, err=True)
        return
    _show(measured)
    for path in written:
        click.echo(f"written: {path}")


def _teeth(text: str | None) -> frozenset[Tooth] | None:
    from festoon.model.dentition import Tooth

    if text is None:
        return None
    try:
        first, last = (Tooth(code.strip()) for code in text.split("-"))
        if first.is_upper != last.is_upper or first.column > last.column:
            raise ValueError("the first tooth stands right of the last, in one jaw, as one faces the patient")
    except ValueError as wrong:
        raise click.BadParameter(f"{text!r}: {wrong}; write it as 13-23", param_hint="--teeth") from None
    every = (Tooth(f"{q}{p}") for q in range(1, 5) for p in range(1, 9))
    return frozenset(t for t in every if t.is_upper == first.is_upper and first.column <= t.column <= last.column)


def _teller() -> Callable[[str], None]:
    """Says what is being done, where somebody watches."""
    return (lambda what: click.echo(f"measuring: {what}", err=True)) if sys.stderr.isatty() else (lambda _: None)


_COLUMNS = (
    ("width", "crown_width", None), ("length", "crown_length", None), ("zenith", "zenith_offset", None),
    ("mesial", "margin_level", "mesial"), ("midfacial", "margin_level", "midfacial"), ("distal", "margin_level", "distal"),
    ("edge", "edge_height", None),
)  # fmt: skip


def _show(measured: MeasuredScan) -> None:
    for note in measured.notes:
        click.echo(note)
    found = {(r.tooth, r.quantity.value, r.site.value if r.site else None): r for r in measured.readings.readings}
    teeth = list(dict.fromkeys(r.tooth for r in measured.readings.readings if r.tooth))
    click.echo("\nmm, +/- one standard error; levels from the present edge, apical positive; ? flagged below")
    click.echo(f"{'tooth':<6}" + "".join(f"{title:>14}" for title, _, _ in _COLUMNS))
    for tooth in teeth:
        cells = []
        for _, quantity, site in _COLUMNS:
            r = found.get((tooth, quantity, site))
            cells.append("" if r is None else f"{r.value:.2f}+/-{r.se:.2f}{'?' if r.flag else ' '}")
        click.echo(f"{tooth:<6}" + "".join(f"{cell:>14}" for cell in cells))
    for tooth in teeth:
        flags = dict.fromkeys(r.flag for r in measured.readings.readings if r.tooth == tooth and r.flag)
        for flag in flags:
            click.echo(f"? {tooth}: {flag}")
    click.echo("\nIt informs a licensed clinician; it does not decide.")

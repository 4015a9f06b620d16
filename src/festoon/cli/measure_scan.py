"""``festoon measure scan``: from a surface scan to readings with their errors."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Literal

import click

from festoon.cli.readings_shown import print_readings
from festoon.cli.telling import teller

if TYPE_CHECKING:
    from festoon.model.dentition import Tooth

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
    "--corrections",
    type=_FILE,
    help="JSON file of what a person set: numbers, points of margins, zeniths, papilla tips, edges, ends of crowns.",
)
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
    corrections: Path | None,
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
      festoon measure scan upper.ply --corrections set-by-hand.json -o measured/
    """
    from festoon.workflow.measuring_scan import corrected, measure_scan, write_measured
    from festoon.workflow.scan_corrections import Corrections, read_corrections

    by_hand = read_corrections(corrections) if corrections else Corrections({}, (), None)
    measured = measure_scan(
        file,
        unit=unit,
        jaw=jaw,
        teeth=_teeth(teeth),
        case=case_id,
        numbers=by_hand.numbers,
        tell=teller("measuring"),
    )
    if by_hand.points:
        measured = corrected(measured, by_hand.points, by=by_hand.by)
    written = write_measured(measured, output) if output else ()
    if as_json:
        click.echo(measured.as_json(), nl=False)
        for note in measured.notes:
            click.echo(note, err=True)
        return
    print_readings(measured.notes, measured.readings.readings)
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

"""``festoon measure photo``: from a photograph to readings with their errors."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Literal

import click

from festoon.cli.readings_shown import print_readings
from festoon.cli.telling import teller
from festoon.errors import Fault, InputRefusedError

if TYPE_CHECKING:
    from festoon.photo.arch import KnownWidth
    from festoon.workflow.marking_photo import KnownSquare
    from festoon.workflow.measuring_photo import MeasuredPhoto

_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.command()
@click.argument("file", type=_FILE)
@click.option(
    "--marks",
    type=_FILE,
    help="Mark file (festoon-marks/1): outlines or points by tooth, lines. [default: outlines of the upper front teeth are found; "
    "correct them in marks.json and give it here]",
)
@click.option(
    "--known-width",
    "widths",
    multiple=True,
    metavar="TOOTH=MM[:SE]",
    help="Width of a tooth by calliper or scan, with its standard error [default: 0.1]. Repeat for more teeth: three and more "
    "tell how the teeth turn. Without any, and no ruler marked, there are ratios and no millimetres.",
)
@click.option(
    "--marker-size",
    "side",
    metavar="MM[:SE]",
    help="Side of the black square of a printed marker (festoon marker) beside the teeth, measured on the print, with its standard error "
    "[default: 0.1]. The marker is found in the picture.",
)
@click.option(
    "--marker-behind",
    type=click.FloatRange(-30, 30),
    metavar="MM",
    help="How far behind the facial surface of the centrals the marker was held, before it negative. [default: 0, against them]",
)
@click.option(
    "--scan", type=_FILE, help="Surface scan of the same person with the same edges: the pose of the camera is solved."
)
@click.option("--unit", type=click.Choice(["mm", "cm", "m", "inch"]), help="Unit of the scan's coordinates.")
@click.option(
    "--same-tissue", is_flag=True, help="Margins on scan and photograph are in one state: they help to find the pose."
)
@click.option(
    "--mirrored",
    type=click.Choice(["as-tagged", "ignored"]),
    help="What to do where the file says that the picture is mirrored; it is refused otherwise.",
)
@click.option(
    "--plan",
    type=_FILE,
    help="plan.json: also draw its margins on the photograph (planned.png). A simulation, not a promise.",
)
@click.option(
    "--beside",
    nargs=2,
    type=_FILE,
    metavar="PHOTO MARKS",
    help="An earlier photograph and its marks: also put both beside each other in one pose (beside.png). Needs --scan.",
)
@click.option("--case", "case_id", metavar="ID", help="Pseudonymous id of the case. [default: the file's name]")
@click.option(
    "-o",
    "--output",
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder for readings.json, photo.png and marks.json.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the readings as JSON (festoon-readings/1).")
def photo(
    file: Path,
    marks: Path | None,
    widths: tuple[str, ...],
    side: str | None,
    marker_behind: float | None,
    scan: Path | None,
    unit: Literal["mm", "cm", "m", "inch"] | None,
    same_tissue: bool,
    mirrored: str | None,
    plan: Path | None,
    beside: tuple[Path, Path] | None,
    case_id: str | None,
    output: Path | None,
    as_json: bool,
) -> None:
    """Measure a photograph.

    FILE is a frontal photograph (JPEG, PNG, TIFF, HEIC or WebP). Millimetres come from known widths, a marker, a ruler or a scan, never from
    the dpi of the file; each has a standard error that holds marks, scale, turn of the teeth and pitch of the head. With nothing known:
    ratios alone.

    \b
    Example:
      festoon measure photo front.jpg --known-width 11=8.43:0.05 -o measured/
      festoon measure photo front.jpg --marker-size 9.97:0.05 -o measured/
      festoon measure photo front.jpg --marks measured/marks.json --known-width 11=8.43:0.05 --json
      festoon measure photo front.jpg --marks measured/marks.json --scan upper.ply
    """
    from festoon.workflow.measuring_photo import measure_photo, write_measured_photo

    if (plan or beside) and output is None:
        raise click.UsageError("--plan and --beside draw pictures: say with -o into which folder")
    if marker_behind is not None and side is None:
        raise click.UsageError("--marker-behind goes with --marker-size")
    if beside and scan is None:
        raise click.UsageError("--beside needs --scan: two photographs are compared only once their poses agree")

    how: Literal["as_tagged", "ignored"] | None = (
        None if mirrored is None else "ignored" if mirrored == "ignored" else "as_tagged"
    )
    measured = measure_photo(
        file,
        marks=marks,
        known=_known(widths),
        marker=_square(side, marker_behind),
        scan=scan,
        unit=unit,
        same_tissue=same_tissue,
        mirrored=how,
        case=case_id,
        tell=teller("measuring"),
    )
    pictures = {}
    if plan:
        pictures["planned.png"] = _planned(measured, plan)
    if beside and scan:
        pictures["beside.png"] = _beside(measured, *beside, scan, unit)
    written = write_measured_photo(measured, output, pictures) if output else ()
    if as_json:
        click.echo(measured.as_json(), nl=False)
        for note in measured.notes:
            click.echo(note, err=True)
        return
    print_readings(measured.notes, measured.readings.readings)
    for path in written:
        click.echo(f"written: {path}")


def _planned(measured: MeasuredPhoto, file: Path) -> bytes:
    from pydantic import ValidationError

    from festoon.model.plan import Plan
    from festoon.workflow.measuring_photo import draw_plan_on

    try:
        plan = Plan.model_validate_json(file.read_text("utf-8"))
    except (ValidationError, UnicodeDecodeError) as wrong:
        fault = Fault(
            file.name, "", "no plan", "plan.json as festoon plan writes it", "Make the plan again: festoon plan."
        )
        raise InputRefusedError([fault]) from wrong
    return draw_plan_on(measured, plan)


def _beside(
    after: MeasuredPhoto, file: Path, marks: Path, scan: Path, unit: Literal["mm", "cm", "m", "inch"] | None
) -> bytes:
    from festoon.workflow.measuring_photo import draw_beside, measure_photo

    return draw_beside(measure_photo(file, marks=marks, scan=scan, unit=unit, tell=teller("measuring")), after)


def _known(widths: tuple[str, ...]) -> list[KnownWidth]:
    from festoon.workflow.measuring_photo import known_width

    try:
        return [known_width(text) for text in widths]
    except ValueError as wrong:
        raise click.BadParameter(str(wrong), param_hint="--known-width") from None


def _square(side: str | None, behind: float | None) -> KnownSquare | None:
    from festoon.workflow.measuring_photo import known_square

    try:
        return None if side is None else known_square(side, behind or 0.0)
    except ValueError as wrong:
        raise click.BadParameter(str(wrong), param_hint="--marker-size") from None

"""``festoon template``: from a plan and a scan to printable parts that carry the plan to the mouth."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import click

from festoon.cli.exits import Exit
from festoon.cli.telling import teller

if TYPE_CHECKING:
    from festoon.workflow.templating import TemplateResult

_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)
_SIGNS = {True: "[x]", False: "[!!]", None: "[ ]"}


@click.command()
@click.argument("case", type=_FILE)
@click.option("--scan", "scan_file", type=_FILE, required=True, help="Surface scan: STL, PLY, OBJ or 3MF.")
@click.option(
    "-o",
    "--output",
    type=click.Path(file_okay=False, path_type=Path),
    required=True,
    help="Folder for parts, checks and sheet.",
)
@click.option(
    "--kind",
    type=click.Choice(["gingival-line", "gingival-and-crest", "two-piece"]),
    help="[default: chosen from the plan, with the reason]",
)
@click.option(
    "--unit",
    type=click.Choice(["mm", "cm", "m", "inch"]),
    help="Unit of the scan's coordinates, where it does not say.",
)
@click.option("--jaw", type=click.Choice(["upper", "lower"]), help="[default: that of the teeth in the plan]")
@click.option(
    "--frames", type=_FILE, help="frames.json of `festoon measure scan`, perhaps corrected by hand, instead of tracing."
)
@click.option(
    "--scanned-at", metavar="DAY", help="Day of the scan, e.g. 2026-02-11: an older scan than the chart is refused."
)
@click.option(
    "--clearance", type=click.FloatRange(0.03, 0.3), default=0.08, show_default=True, help="Inner face to tooth, mm."
)
@click.option("--wall", type=click.FloatRange(1.0, 4.0), default=2.0, show_default=True, help="Least wall, mm.")
@click.option(
    "--grid", type=click.FloatRange(0.08, 0.4), default=0.15, show_default=True, help="Spacing of the distances, mm."
)
@click.option("--build-volume", metavar="X,Y,Z", help="Room of the printer, mm. [default: not checked]")
@click.option(
    "--axis",
    metavar="FACIALLY,LEFT",
    help="Lean of the insertion axis from the teeth's mean axis, degrees. [default: found]",
)
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True)
@click.option("--json", "as_json", is_flag=True, help="Print what checks.json holds.")
def template(
    case: Path,
    scan_file: Path,
    output: Path,
    kind: Literal["gingival-line", "gingival-and-crest", "two-piece"] | None,
    unit: Literal["mm", "cm", "m", "inch"] | None,
    jaw: Literal["upper", "lower"] | None,
    frames: Path | None,
    scanned_at: str | None,
    clearance: float,
    wall: float,
    grid: float,
    build_volume: str | None,
    axis: str | None,
    paper: Literal["a4", "letter"],
    as_json: bool,
) -> int:
    """Make the printable template of a case.

    Writes the part or parts as STL and 3MF (mm, in the pose of the scan), checks.json, sheet.pdf and pictures. A part that
    fails a check is not written as printable: the reason and the place are said, and the exit code is 3.

    \b
    Example:
      festoon template case.yaml --scan upper.ply -o template/
      festoon template case.yaml --scan upper.stl --unit mm --kind gingival-line --build-volume 140,78,160 -o template/
    """
    from festoon.workflow.templating import TemplateOrder, template_of_case, write_template

    order = TemplateOrder(
        kind=kind,
        unit=unit,
        jaw=jaw,
        frames=frames,
        scanned_at=_day(scanned_at),
        clearance=clearance,
        wall=wall,
        grid=grid,
        build_volume=_numbers(build_volume, 3, "--build-volume"),  # type: ignore[arg-type]  # three, as asked
        axis=_numbers(axis, 2, "--axis"),  # type: ignore[arg-type]  # two, as asked
        paper=paper,
    )
    tell = teller("making")
    result = template_of_case(case, scan_file, order, tell)
    written = write_template(result, output, tell)
    if as_json:
        click.echo(result.as_json(), nl=False)
    else:
        _show(result)
        for path in written:
            click.echo(f"written: {path}")
    return Exit.DONE if result.printable else Exit.INPUT_REFUSED


def _show(result: TemplateResult) -> None:
    made = result.template
    click.echo(f"{result.plan.case}: {made.kind} over {' '.join(made.covered)}, borne by {' and '.join(made.supports)}")
    click.echo(f"  {result.why_kind}")
    for part in made.parts:
        click.echo(f"\n{part.part.name}: {'every check passed' if part.printable else 'NOT PRINTABLE, not written'}")
        for c in part.checks:
            where = f", at {c.where}" if c.passed is False and c.where else ""
            click.echo(f"  {_SIGNS[c.passed]:<5}{c.title}: {c.measured} (wanted: {c.wanted}){where}")
    click.echo("\nSaid about scan and plan")
    for note in result.notes:
        click.echo(f"  {note}")
    click.echo("\nCautions")
    for caution in result.about()["cautions"]:
        click.echo(f"  {caution}")


def _day(text: str | None) -> dt.date | None:
    try:
        return None if text is None else dt.date.fromisoformat(text)
    except ValueError:
        raise click.BadParameter(f"{text!r} is no day like 2026-02-11", param_hint="--scanned-at") from None


def _numbers(text: str | None, count: int, option: str) -> tuple[float, ...] | None:
    if text is None:
        return None
    try:
        out = tuple(float(part) for part in text.split(","))
    except ValueError:
        out = ()
    if len(out) != count:
        raise click.BadParameter(f"{text!r} is not {count} numbers with commas between", param_hint=option)
    return out

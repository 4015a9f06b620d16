"""``festoon marker``: a printed square by which photographs get their scale."""

from __future__ import annotations

from pathlib import Path

import click


@click.command()
@click.option("--side", type=float, default=10.0, show_default=True, help="Side of the black square, mm; 4 to 16.")
@click.option(
    "--number",
    type=click.IntRange(0, 586),
    default=0,
    show_default=True,
    help="Which pattern of the family (AprilTag 36h11); it says nothing of the size.",
)
@click.option(
    "-o",
    "--output",
    type=click.Path(file_okay=False, path_type=Path),
    required=True,
    help="Folder for marker.pdf, marker.svg and marker.png.",
)
def marker(side: float, number: int, output: Path) -> None:
    """Print a square marker that photographs are scaled by.

    Print marker.pdf at 100 %, check its ruler, measure the black square with a calliper. Hold it beside the teeth, as far from the camera as
    they are, and give the measured side to `festoon measure photo FILE --marker-size 9.97:0.05`.

    \b
    Example:
      festoon marker --side 10 -o marker/
    """
    from festoon.workflow.printing_marker import write_marker

    try:
        written = write_marker(side, number, output)
    except ValueError as wrong:
        raise click.BadParameter(str(wrong), param_hint="--side") from None
    for path in written:
        click.echo(f"written: {path}")

"""``festoon phantom``: a synthetic patient whose truth is known."""

from __future__ import annotations

from pathlib import Path

import click
from click.core import ParameterSource

from festoon.cli.telling import teller


@click.command()
@click.option(
    "--seed", type=click.IntRange(min=0), required=True, help="Same seed and wishes, same patient, byte for byte."
)
@click.option(
    "-o", "--output", type=click.Path(file_okay=False, path_type=Path), required=True, help="Folder for the files."
)
@click.option(
    "--practice", type=click.IntRange(1, 1_000_000), metavar="N", help="A practice of N cases instead: readings only."
)
@click.option("--table-only", is_flag=True, help="With --practice: the table of the audit instead of a folder a case.")
@click.option("--jaw", type=click.Choice(["upper", "lower"]), default="upper", show_default=True)
@click.option(
    "--per-side", type=click.IntRange(3, 7), default=7, show_default=True, help="Teeth on each side of the midline."
)
@click.option("--solids", is_flag=True, help="Also write every watertight solid, in the arch frame.")
@click.option("--no-scan", is_flag=True, help="No surface scan.")
@click.option("--no-photos", is_flag=True, help="No photographs.")
@click.option("--no-volume", is_flag=True, help="No labelled volume.")
@click.option(
    "--voxel",
    type=click.FloatRange(0.1, 2.0),
    default=0.3,
    show_default=True,
    help="Spacing of the labelled volume, mm.",
)
@click.option(
    "--spacing", type=click.FloatRange(0.08, 1.0), default=0.15, show_default=True, help="Grid of the solids, mm."
)
@click.option(
    "--unit",
    type=click.Choice(["mm", "cm", "m", "inch"]),
    default="mm",
    show_default=True,
    help="Unit of the scan files.",
)
@click.option(
    "--noise",
    type=click.FloatRange(0, 0.5),
    default=0.03,
    show_default=True,
    help="Scanner noise, mm (one standard deviation).",
)
@click.option(
    "--distortion",
    type=click.FloatRange(0, 1),
    default=0.06,
    show_default=True,
    help="Long-wave distortion of the scan, mm.",
)
@click.option("--holes", type=click.IntRange(0, 50), default=4, show_default=True, help="Holes in the scan.")
@click.option("--in-arch-frame", is_flag=True, help="Leave the scan in the arch frame instead of turning it at random.")
@click.option("--worn", type=click.FloatRange(0, 4), default=0.0, help="Wear of the six front teeth, mm.")
@click.option("--covered", type=click.FloatRange(0, 4), default=0.0, help="Gingiva left over the six front crowns, mm.")
@click.option(
    "--asymmetry", type=click.FloatRange(0, 3), default=0.0, help="Margin of the left central more apical by, mm."
)
@click.option("--diastema", type=click.FloatRange(0, 4), default=0.0, help="Space between the centrals, mm.")
@click.option("--crowding", type=click.FloatRange(0, 2), default=0.0, help="Laterals set back and turned, mm.")
@click.option("--rotated", multiple=True, metavar="TOOTH=DEG", help="Turn a tooth, mesial edge facially positive.")
@click.option("--missing", multiple=True, metavar="TOOTH")
@click.option("--crowned", multiple=True, metavar="TOOTH")
@click.option("--dehiscence", multiple=True, metavar="TOOTH=MM", help="Cleft in the facial plate, by its depth.")
@click.option("--fenestration", multiple=True, metavar="TOOTH", help="Window in the facial plate.")
def phantom(
    seed: int,
    output: Path,
    practice: int | None,
    table_only: bool,
    jaw: str,
    per_side: int,
    solids: bool,
    no_scan: bool,
    no_photos: bool,
    no_volume: bool,
    voxel: float,
    spacing: float,
    unit: str,
    noise: float,
    distortion: float,
    holes: int,
    in_arch_frame: bool,
    worn: float,
    covered: float,
    asymmetry: float,
    diastema: float,
    crowding: float,
    rotated: tuple[str, ...],
    missing: tuple[str, ...],
    crowned: tuple[str, ...],
    dehiscence: tuple[str, ...],
    fenestration: tuple[str, ...],
) -> None:
    """Make a synthetic patient whose truth is known.

    Writes case.yaml (a chart with an examiner's errors), truth.json (every quantity's true value), truth-about-files.json
    (frames, true curves, how each file departs from the truth), a surface scan, photographs and a labelled volume. For tests, teaching and demonstration:
    nobody's mouth.

    \b
    Example
      festoon phantom --seed 7 -o phantom-7
      festoon phantom --seed 7 -o short --covered 2 --diastema 0.8
      festoon phantom --practice 40 --seed 7 -o practice-7
    """
    if table_only and practice is None:
        raise click.UsageError("--table-only goes with --practice")
    if practice is not None:
        context = click.get_current_context()
        ours = {"seed", "output", "practice", "table_only"}
        for name in context.params.keys() - ours:
            if context.get_parameter_source(name) is not ParameterSource.DEFAULT:
                raise click.UsageError(
                    f"--{name.replace('_', '-')} is about one patient and does not go with --practice"
                )
        from festoon.workflow.practising import make_practice_files

        files = make_practice_files(practice, seed, output, table_only=table_only, tell=teller("making"))
        click.echo(f"written: {len(files)} files into {output.name}")
        return
    from festoon.phantom.mouth import Wishes, check_wishes
    from festoon.phantom.scan import ScanSettings
    from festoon.workflow.phantom import Part, PhantomOrder, make_phantom

    wishes = Wishes(
        worn_mm=worn,
        covered_mm=covered,
        asymmetry_mm=asymmetry,
        diastema_mm=diastema,
        crowding_mm=crowding,
        rotated=_numbers(rotated, "--rotated"),
        missing=_teeth(missing, "--missing"),
        crowned=_teeth(crowned, "--crowned"),
        dehisced=_numbers(dehiscence, "--dehiscence"),
        fenestrated=_teeth(fenestration, "--fenestration"),
    )
    asked: dict[Part, bool] = {"scan": not no_scan, "photos": not no_photos, "volume": not no_volume, "solids": solids}
    order = PhantomOrder(
        seed=seed,
        upper=jaw == "upper",
        per_side=per_side,
        spacing=spacing,
        wishes=wishes,
        scan=ScanSettings(
            noise=noise,
            distortion=distortion,
            holes=holes,
            unit=unit,  # type: ignore[arg-type]  # click has checked the choice
            posed=not in_arch_frame,
        ),
        voxel=voxel,
        parts=tuple(part for part, wanted in asked.items() if wanted),
    )
    try:
        check_wishes(wishes, upper=order.upper, per_side=per_side)
    except ValueError as wrong:
        raise click.UsageError(str(wrong)) from wrong
    for path in make_phantom(order, output, teller("making"), processes=2):
        click.echo(f"written: {path}")


def _teeth(codes: tuple[str, ...], option: str) -> tuple[str, ...]:
    from festoon.model.dentition import Tooth

    for code in codes:
        try:
            Tooth(code)
        except ValueError as wrong:
            raise click.BadParameter(str(wrong), param_hint=option) from wrong
    return codes


def _numbers(texts: tuple[str, ...], option: str) -> tuple[tuple[str, float], ...]:
    out = []
    for text in texts:
        code, _, number = text.partition("=")
        try:
            out.append((_teeth((code,), option)[0], float(number)))
        except ValueError as wrong:
            raise click.BadParameter(f"{text!r} is no TOOTH=NUMBER", param_hint=option) from wrong
    return tuple(out)

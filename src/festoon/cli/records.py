"""``festoon records``: tables and cases in and out of the store, backups, proof."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from festoon.cli import records_case, records_upkeep
from festoon.cli.records_common import by_option, existing_file, json_option, plainly, the_store, who_acts

if TYPE_CHECKING:
    from festoon.workflow.records import TableRead


@click.group(name="records")
def records() -> None:
    """Keep cases and readings: import, export, back up, prove.

    The store is the folder that FESTOON_HOME names; by default it is in your user data folder.
    """


@records.command(name="import")
@click.argument("file", type=existing_file)
@click.option("--case", help="Pseudonymous id of the case; not for a table with a column of case ids.")
@click.option("--notation", type=click.Choice(["fdi", "universal", "palmer"]), help="How the table names its teeth.")
@click.option(
    "--datum",
    type=click.Choice(["present_edge", "planned_edge", "restored_edge", "template", "bonded_mark"]),
    help="From what every level of the table was read.",
)
@click.option(
    "--decimal", type=click.Choice(["point", "comma"]), help="Decimal mark, where the numbers do not prove it."
)
@click.option("--unit", type=click.Choice(["mm", "cm"]), help="Unit of bare numbers; cm is converted and said.")
@click.option(
    "--sites",
    type=click.Choice(["six", "ten"]),
    help="Whether corners are the sites between the teeth (six) or line angles (ten).",
)
@click.option(
    "--days", type=click.Choice(["dmy", "mdy"]), help="Order of day and month in dates not written year first."
)
@click.option("--intervals", type=click.Choice(["refuse", "middle"]), help="What to do with 2-3 and <1.")
@click.option("--map", "map_name", help="Column map: a YAML file, or a name it was kept under.")
@click.option("--save-map", help="Keep the column map under this name, for the next table.")
@click.option("--sheet", help="Which sheet of a workbook.")
@click.option("--base", type=int, help="For a case file: the version it was made from [default: the present one].")
@click.option("--preview", is_flag=True, help="Show how each value is understood, and keep nothing.")
@click.option("--strict", is_flag=True, help="Refuse a table with rows that do not add up.")
@click.option("--why", default="imported", show_default=True, help="Reason, for the trail.")
@by_option
@json_option
@plainly
def import_(
    file: Path, case: str | None, map_name: str | None, save_map: str | None, sheet: str | None, base: int | None,
    preview: bool, strict: bool, why: str, by: str | None, as_json: bool, **declared: str | None,
) -> int | None:  # fmt: skip
    """Import a table, a case file or an archive.

    Tables: .csv, .tsv (also .gz), .xlsx, .json, .yaml, and .txt as typed lines. Nothing is kept unless every cell was
    understood.

    \b
    Example:
      festoon records import chart.xlsx --case demo-a --notation fdi --preview
      festoon records import chart.xlsx --case demo-a --notation fdi --save-map our-chart
    """
    from festoon.cli.records_shown import print_table, table_json
    from festoon.errors import InputRefusedError
    from festoon.records.intake.files import is_case_file
    from festoon.workflow import records as work

    me = who_acts(by)
    if file.suffix.lower() == ".zip":
        _import_archive(file, me, why, as_json)
        return None
    if is_case_file(file.read_bytes(), file.name):
        _import_case(file, case, base, preview, me, why, as_json)
        return None
    needs_store = not preview or (map_name is not None and not map_name.lower().endswith((".yaml", ".yml")))
    store = the_store() if needs_store else None
    table = work.read_table(file, work.column_map(store, map_name, declared), sheet=sheet)
    if strict and table.broken and not table.faults:
        raise InputRefusedError([_as_fault(table, broken) for broken in table.broken])
    kept: dict[str, int] = {}
    if not preview and not table.faults and store is not None:
        kept = work.keep_table(store, table, case, by=me, why=why)
        if save_map:
            work.keep_column_map(store, save_map, table.intake.chosen, by=me)
    if as_json:
        click.echo(json.dumps(table_json(table, kept), ensure_ascii=False, indent=1))
    else:
        print_table(table, kept)
    if table.faults:
        raise InputRefusedError(table.faults)
    return None


def _as_fault(table: TableRead, broken: object) -> Any:
    from festoon.errors import Fault

    return Fault(table.intake.file, "", str(broken), "attachment = probing + recession", "Settle which is wrong.")


def _import_archive(file: Path, by: str, why: str, as_json: bool) -> None:
    from festoon.store.archive import import_archive

    brought = import_archive(the_store(), file, by=by, why=why)
    if as_json:
        click.echo(json.dumps(vars(brought)))
    else:
        click.echo(f"case {brought.case}: {brought.n_rows} records and {brought.n_files} files brought in")


def _import_case(
    file: Path, case: str | None, base: int | None, preview: bool, by: str, why: str, as_json: bool
) -> None:
    from festoon.workflow import records as work

    if preview:
        from festoon.records.casefile import read_case

        read, number = read_case(file), None
    else:
        read, number = work.keep_case_file(the_store(), file, case, base=base, by=by, why=why)
    if as_json:
        click.echo(json.dumps({"case": read.case.case, "version": number, "notes": read.notes}, ensure_ascii=False))
        return
    for note in read.notes:
        click.echo(f"note: {note}")
    click.echo(
        f"case {read.case.case}: {len(read.case.teeth)} teeth read"
        + (", nothing kept (preview)" if number is None else f", kept as version {number}")
    )


@records.command()
@click.argument("case")
@click.option(
    "-o",
    "--output",
    type=click.Path(dir_okay=False, path_type=Path),
    required=True,
    help="The file: .zip for the whole case as an archive, .csv, .tsv, .xlsx or .json for its readings, .yaml for a case file.",
)
@json_option
@plainly
def export(case: str, output: Path, as_json: bool) -> int | None:
    """Export a case: an archive, a table of its readings, or a case file.

    \b
    Example:
      festoon records export demo-a -o demo-a.zip
      festoon records export demo-a -o demo-a.csv
    """
    from festoon.workflow import records as work

    kind = output.suffix.lower().lstrip(".")
    store = the_store()
    answer: dict[str, Any] = {"case": case, "file": output.name}
    if kind == "zip":
        answer["sha256"] = work.export_archive(store, case, output)
    elif kind in ("yaml", "yml"):
        work.export_case_file(store, case, output)
    elif kind in ("csv", "tsv", "xlsx", "json"):
        answer["n_readings"] = work.export_readings(store, case, kind, output)  # type: ignore[arg-type]  # checked here
    else:
        raise click.BadParameter("must end in .zip, .csv, .tsv, .xlsx, .json or .yaml", param_hint="--output")
    click.echo(json.dumps(answer) if as_json else f"written: {output}")
    return None


@records.command(name="list")
@click.option("--search", default="", help="Part of the id.")
@click.option("--limit", type=click.IntRange(1), help="At most so many, the latest changed first.")
@json_option
@plainly
def list_(search: str, limit: int | None, as_json: bool) -> int | None:
    """List the cases, the latest changed first.

    \b
    Example:
      festoon records list --search demo
    """
    from festoon.store.looking import list_cases

    lines = list_cases(the_store(), search=search, limit=limit)
    if as_json:
        click.echo(json.dumps([line._asdict() for line in lines]))
        return None
    for line in lines:
        state = "signed" if line.is_signed else "planned" if line.has_plan else "no plan"
        keep = f", to be kept until {line.keep_until}" if line.keep_until else ""
        click.echo(f"{line.case:<24} version {line.versions:>3}  {line.changed_at[:16]}  {state}{keep}")
    if not lines:
        click.echo("no cases" + (f" with {search!r} in their id" if search else ""))
    return None


for command in (
    records_case.show,
    records_case.settle,
    records_case.plan,
    records_case.sign,
    records_case.attach,
    records_upkeep.backup,
    records_upkeep.restore,
    records_upkeep.verify,
    records_upkeep.retain,
    records_upkeep.delete,
    records_upkeep.collect,
):
    records.add_command(command)

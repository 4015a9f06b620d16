"""``festoon records``: tables and cases in and out of the store, backups, proof."""

from __future__ import annotations

import functools
import json
import os
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, ParamSpec, TypeVar

import click

from festoon.cli.exits import Exit

if TYPE_CHECKING:
    from festoon.store.store import Store
    from festoon.workflow_records import TableRead

P = ParamSpec("P")
R = TypeVar("R")
_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)
_by = click.option("--by", help="Who does this, as a pseudonymous code [default: $FESTOON_BY, else operator].")
_json = click.option("--json", "as_json", is_flag=True, help="Print the answer as JSON.")


def _plainly(command: Callable[P, R]) -> Callable[P, R | int]:
    """What the store cannot do, in one line; it was not done, so nothing has to be undone."""

    @functools.wraps(command)
    def run(*args: P.args, **kwargs: P.kwargs) -> R | int:
        from festoon.store.errors import StoreError

        try:
            return command(*args, **kwargs)
        except StoreError as wrong:
            click.echo(f"festoon: {wrong}", err=True)
            return Exit.FAILED

    return run


@click.group(name="records")
def records() -> None:
    """Keep cases and readings: import, export, back up, prove.

    The store is the folder that FESTOON_HOME names; by default it is in your user data folder.
    """


def _store() -> Store:
    from festoon.store.opening import open_store

    return open_store()


def _who(by: str | None) -> str:
    from festoon.workflow_records import who

    try:
        return who(by)
    except ValueError as wrong:
        raise click.BadParameter(str(wrong), param_hint="--by") from None


@records.command(name="import")
@click.argument("file", type=_FILE)
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
@_by
@_json
@_plainly
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
    from festoon import workflow_records as work
    from festoon.cli.records_shown import print_table, table_json
    from festoon.errors import InputRefusedError
    from festoon.records.intake.files import is_case_file

    me = _who(by)
    if file.suffix.lower() == ".zip":
        _import_archive(file, me, why, as_json)
        return None
    if is_case_file(file.read_bytes(), file.name):
        _import_case(file, case, base, preview, me, why, as_json)
        return None
    needs_store = not preview or (map_name is not None and not map_name.lower().endswith((".yaml", ".yml")))
    store = _store() if needs_store else None
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

    brought = import_archive(_store(), file, by=by, why=why)
    if as_json:
        click.echo(json.dumps(vars(brought)))
    else:
        click.echo(f"case {brought.case}: {brought.n_rows} records and {brought.n_files} files brought in")


def _import_case(
    file: Path, case: str | None, base: int | None, preview: bool, by: str, why: str, as_json: bool
) -> None:
    from festoon import workflow_records as work

    if preview:
        from festoon.records.casefile import read_case

        read, number = read_case(file), None
    else:
        read, number = work.keep_case_file(_store(), file, case, base=base, by=by, why=why)
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
@_json
@_plainly
def export(case: str, output: Path, as_json: bool) -> int | None:
    """Export a case: an archive, a table of its readings, or a case file.

    \b
    Example:
      festoon records export demo-a -o demo-a.zip
      festoon records export demo-a -o demo-a.csv
    """
    from festoon import workflow_records as work

    kind = output.suffix.lower().lstrip(".")
    store = _store()
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
@_json
@_plainly
def list_(search: str, limit: int | None, as_json: bool) -> int | None:
    """List the cases, the latest changed first.

    \b
    Example:
      festoon records list --search demo
    """
    from festoon.store.looking import list_cases

    lines = list_cases(_store(), search=search, limit=limit)
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


@records.command()
@click.argument("case")
@_json
@_plainly
def show(case: str, as_json: bool) -> int | None:
    """Show what is kept of a case, and what a person has to settle.

    \b
    Example:
      festoon records show demo-a
    """
    from festoon import workflow_records as work
    from festoon.cli.records_shown import case_json, print_case

    store = _store()
    known = work.case_known(store, case)
    if as_json:
        click.echo(json.dumps(case_json(store, known), ensure_ascii=False, indent=1))
    else:
        print_case(store, known)
    return None


@records.command()
@click.argument("case")
@click.option("--supersedes", type=int, help="Number of the plan whose place this one takes.")
@click.option("--why", default="planned", show_default=True, help="Reason, for the trail.")
@_by
@_json
@_plainly
def plan(case: str, supersedes: int | None, why: str, by: str | None, as_json: bool) -> int | None:
    """Plan a case with everything kept of it, and keep the plan with the readings it used.

    \b
    Example:
      festoon records plan demo-a
    """
    from festoon import workflow_records as work

    made = work.plan_and_keep(_store(), case, supersedes=supersedes, by=_who(by), why=why)
    if as_json:
        click.echo(made.plan.as_json(), nl=False)
        return None
    from festoon.cli.summary import print_summary

    print_summary(made.plan)
    click.echo(f"kept as plan {made.kept.number} of case {case}")
    return None


@records.command()
@click.argument("case")
@click.argument("number", type=int)
@click.option("--role", required=True, help="As what you sign, e.g. surgeon.")
@click.option("--reason", required=True, help="Why you sign; it stands beside your code.")
@_by
@_plainly
def sign(case: str, number: int, role: str, reason: str, by: str | None) -> int | None:
    """Sign a kept plan. A signed plan can be superseded, never changed.

    \b
    Example:
      festoon records sign demo-a 1 --by op-2 --role surgeon --reason "agreed with the patient"
    """
    from festoon import workflow_records as work

    if not by and not os.environ.get(work.WHO_VARIABLE):
        raise click.BadParameter("a signature needs your code: give it, or set FESTOON_BY", param_hint="--by")
    stale = work.sign_kept_plan(_store(), case, number, by=_who(by), role=role, reason=reason)
    click.echo(f"plan {number} of case {case} was signed by {_who(by)} as {role}")
    for text in stale:
        click.echo(f"caution: {text}", err=True)
    return None


@records.command()
@click.argument("case")
@click.argument("file", type=_FILE)
@click.option(
    "--kind", type=click.Choice(["photo", "scan", "volume", "film", "other"]), required=True, help="What it is."
)
@click.option("--why", default="attached", show_default=True, help="Reason, for the trail.")
@_by
@_json
@_plainly
def attach(case: str, file: Path, kind: str, why: str, by: str | None, as_json: bool) -> int | None:
    """Keep a photograph, scan or volume for a case, without identity; what was taken out is listed.

    \b
    Example:
      festoon records attach demo-a front.jpg --kind photo
    """
    from festoon import workflow_records as work

    sha256, removed = work.attach(_store(), case, file, kind=kind, by=_who(by), why=why)
    if as_json:
        click.echo(json.dumps({"sha256": sha256, "removed": removed}, ensure_ascii=False))
        return None
    click.echo(f"kept as {sha256[:12]}; taken out of it: {', '.join(removed) or 'nothing, it held no identity'}")
    return None


@records.command()
@click.argument("case")
@click.argument("reading", type=int)
@click.option("--set-aside/--take-back", "is_aside", default=True, help="Set the reading aside, or take it back.")
@click.option("--why", required=True, help="Reason, for the trail.")
@_by
@_plainly
def settle(case: str, reading: int, is_aside: bool, why: str, by: str | None) -> int | None:
    """Settle a conflict: set one reading aside, with a reason. It stays on record.

    \b
    Example:
      festoon records settle demo-a 14 --set-aside --why "probe was tilted, read again as 15"
    """
    from festoon.store.keeping import judge_reading

    judge_reading(_store(), case, reading, is_kept=not is_aside, by=_who(by), why=why)
    click.echo(f"reading {reading} of case {case} was {'set aside' if is_aside else 'taken back'}")
    return None


@records.command()
@click.argument("case")
@click.option("--until", type=click.DateTime(["%Y-%m-%d"]), required=True, help="The day, year first.")
@click.option("--why", required=True, help="Reason, for the trail.")
@_by
@_plainly
def retain(case: str, until: datetime, why: str, by: str | None) -> int | None:
    """Say until which day a case must be kept. Deleting it before then has to be asked for expressly.

    \b
    Example:
      festoon records retain demo-a --until 2036-03-02 --why "ten years after the last visit"
    """
    from festoon.store.keeping import keep_until

    keep_until(_store(), case, until.date().isoformat(), by=_who(by), why=why)
    click.echo(f"case {case} is to be kept until {until.date().isoformat()}")
    return None


@records.command()
@click.argument("case")
@click.option("--why", required=True, help="Reason, for the tombstone in the trail.")
@click.option("--despite-retention", is_flag=True, help="Also before the day until which it was to be kept.")
@click.confirmation_option(prompt="Everything kept of this case will be gone. Delete it?")
@_by
@_plainly
def delete(case: str, why: str, despite_retention: bool, by: str | None) -> int | None:
    """Delete a case on request. A tombstone stays in the trail; the id is never used again.

    \b
    Example:
      festoon records delete demo-a --why "asked for by the patient"
    """
    from festoon.store.erasing import delete_case

    gone = delete_case(_store(), case, by=_who(by), why=why, despite_retention=despite_retention)
    click.echo(
        f"case {case}: {gone.n_rows} records and {gone.n_files} files deleted; tombstone in entry {gone.tombstone}"
    )
    if gone.older_backups:
        click.echo(f"these backups still hold it until you delete them: {', '.join(gone.older_backups)}")
    return None


@records.command()
@click.option(
    "-o", "--output", type=click.Path(path_type=Path), help="Folder to be made [default: backups/ of the store]."
)
@_json
@_plainly
def backup(output: Path | None, as_json: bool) -> int | None:
    """Back up the store while others work in it.

    \b
    Example:
      festoon records backup -o /media/disk/festoon-2026-03-02
    """
    from festoon.store.backup import back_up

    made = back_up(_store(), output)
    answer = {"folder": made.folder.name, "n_files": made.n_files, "n_bytes": made.n_bytes}
    click.echo(
        json.dumps(answer) if as_json else f"backed up: {made.folder} ({made.n_files} files beside the database)"
    )
    return None


@records.command()
@click.argument("folder", type=click.Path(exists=True, path_type=Path))
@click.option("--why", default="restored", show_default=True, help="Reason, for the trail.")
@_by
@_plainly
def restore(folder: Path, why: str, by: str | None) -> int | None:
    """Bring a backup back. The present database is set aside, never overwritten. Close the app first.

    \b
    Example:
      festoon records restore /media/disk/festoon-2026-03-02 --why "disk failed"
    """
    from festoon.store.backup import restore as bring_back
    from festoon.store.looking import list_cases

    store = bring_back(folder, by=_who(by), why=why)
    click.echo(f"restored: {len(list_cases(store))} cases; what was there before lies in set-aside/")
    return None


@records.command()
@_plainly
def collect() -> int | None:
    """Remove files that no case refers to any more, an hour after they were last needed.

    \b
    Example:
      festoon records collect
    """
    from festoon.store.erasing import collect_files

    n_files, n_bytes = collect_files(_store())
    click.echo(f"{n_files} files removed, {n_bytes} bytes")
    return None


@records.command()
@_json
@_plainly
def verify(as_json: bool) -> int | None:
    """Prove that nothing kept was changed, cut out or slipped in.

    \b
    Example:
      festoon records verify
    """
    from festoon.store.verifying import verify as prove

    verdict = prove(_store())
    if as_json:
        click.echo(json.dumps(vars(verdict) | {"whole": verdict.is_whole}))
    else:
        for note in verdict.notes:
            click.echo(f"note: {note}")
        for broken in verdict.broken:
            click.echo(f"BROKEN: {broken}")
        said = "whole" if verdict.is_whole else "NOT WHOLE"
        click.echo(f"{said}: {verdict.n_entries} trail entries, the latest with hash {verdict.head}")
    return None if verdict.is_whole else Exit.FAILED

"""Looking after the records: backup and restore, proof, retention and deletion on request."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path

import click

from festoon.cli.exits import Exit
from festoon.cli.records_common import by_option, json_option, plainly, the_store, who_acts


@click.command()
@click.option(
    "-o", "--output", type=click.Path(path_type=Path), help="Folder to be made [default: backups/ of the store]."
)
@json_option
@plainly
def backup(output: Path | None, as_json: bool) -> int | None:
    """Back up the store while others work in it.

    \b
    Example:
      festoon records backup -o /media/disk/festoon-2026-03-02
    """
    from festoon.store.backup import back_up

    made = back_up(the_store(), output)
    answer = {"folder": made.folder.name, "n_files": made.n_files, "n_bytes": made.n_bytes}
    click.echo(
        json.dumps(answer) if as_json else f"backed up: {made.folder} ({made.n_files} files beside the database)"
    )
    return None


@click.command()
@click.argument("folder", type=click.Path(exists=True, path_type=Path))
@click.option("--why", default="restored", show_default=True, help="Reason, for the trail.")
@by_option
@plainly
def restore(folder: Path, why: str, by: str | None) -> int | None:
    """Bring a backup back. The present database is set aside, never overwritten. Close the app first.

    \b
    Example:
      festoon records restore /media/disk/festoon-2026-03-02 --why "disk failed"
    """
    from festoon.store.backup import restore as bring_back
    from festoon.store.looking import list_cases

    store = bring_back(folder, by=who_acts(by), why=why)
    click.echo(f"restored: {len(list_cases(store))} cases; what was there before lies in set-aside/")
    return None


@click.command()
@json_option
@plainly
def verify(as_json: bool) -> int | None:
    """Prove that nothing kept was changed, cut out or slipped in.

    \b
    Example:
      festoon records verify
    """
    from festoon.store.verifying import verify as prove

    verdict = prove(the_store())
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


@click.command()
@click.argument("case")
@click.option("--why", required=True, help="Reason, for the tombstone in the trail.")
@click.option("--despite-retention", is_flag=True, help="Also before the day until which it was to be kept.")
@click.confirmation_option(prompt="Everything kept of this case will be gone. Delete it?")
@by_option
@plainly
def delete(case: str, why: str, despite_retention: bool, by: str | None) -> int | None:
    """Delete a case on request. A tombstone stays in the trail; the id is never used again.

    \b
    Example:
      festoon records delete demo-a --why "asked for by the patient"
    """
    from festoon.store.erasing import delete_case

    gone = delete_case(the_store(), case, by=who_acts(by), why=why, despite_retention=despite_retention)
    click.echo(
        f"case {case}: {gone.n_rows} records and {gone.n_files} files deleted; tombstone in entry {gone.tombstone}"
    )
    if gone.older_backups:
        click.echo(f"these backups still hold it until you delete them: {', '.join(gone.older_backups)}")
    return None


@click.command()
@click.argument("case")
@click.option("--until", type=click.DateTime(["%Y-%m-%d"]), required=True, help="The day, year first.")
@click.option("--why", required=True, help="Reason, for the trail.")
@by_option
@plainly
def retain(case: str, until: datetime, why: str, by: str | None) -> int | None:
    """Say until which day a case must be kept. Deleting it before then has to be asked for expressly.

    \b
    Example:
      festoon records retain demo-a --until 2036-03-02 --why "ten years after the last visit"
    """
    from festoon.store.keeping import keep_until

    keep_until(the_store(), case, until.date().isoformat(), by=who_acts(by), why=why)
    click.echo(f"case {case} is to be kept until {until.date().isoformat()}")
    return None


@click.command()
@plainly
def collect() -> int | None:
    """Remove files that no case refers to any more, an hour after they were last needed.

    \b
    Example:
      festoon records collect
    """
    from festoon.store.erasing import collect_files

    n_files, n_bytes = collect_files(the_store())
    click.echo(f"{n_files} files removed, {n_bytes} bytes")
    return None

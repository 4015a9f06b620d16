"""Tables and cases of the records in the terminal and as JSON."""

from __future__ import annotations

import json
from typing import Any

import click

from festoon.store.looking import staleness, trail_of
from festoon.store.store import Store
from festoon.workflow.records import CaseKnown, TableRead

_SHOWN = 20
"""Lines of one kind printed before the rest is counted; --json prints all."""


def table_json(table: TableRead, kept: dict[str, int]) -> dict[str, Any]:
    """A table as understood, as data."""
    intake = table.intake
    return {
        "file": intake.file,
        "kept": kept,
        "n_readings": len(intake.readings),
        "notes": intake.notes,
        "left_out": intake.left_out,
        "columns": [
            {"heading": c.heading, "column": c.letters, "means": c.means, "n_read": c.n_read, "n_blank": c.n_blank}
            | {"said": [vars(said) for said in c.said]}
            for c in intake.columns
        ],
        "broken_sums": [
            {"row": b.line, "case": b.case, "tooth": b.tooth, "site": b.site, "attachment": b.attachment}
            | {"probing": b.probing, "recession": b.recession, "apart_mm": round(b.apart, 6), "gross": b.is_gross}
            for b in table.broken
        ],
        "sign_doubtful": table.is_sign_doubtful,
        "conflicts": [{"case": c.case, "text": str(c), "rows": [r.line for r in c.readings]} for c in table.conflicts],
        "faults": [vars(fault) for fault in table.faults],
        "map": json.loads(intake.chosen.model_dump_json(exclude_defaults=True)),
    }


def print_table(table: TableRead, kept: dict[str, int]) -> None:
    """Print how a table was understood, what does not add up, and what was kept."""
    intake = table.intake
    click.echo(f"{intake.file}: {len(intake.readings)} readings understood")
    for note in intake.notes:
        click.echo(f"  {note}")
    for column in intake.columns:
        click.echo(f"\n{column.letters}  {column.heading or '(no heading)'}: {column.means}")
        click.echo(f"    {column.n_read} read, {column.n_blank} not measured or not given")
        for said in column.said[:_SHOWN]:
            times = (
                f" ({said.count} times, first in row {said.first_line})"
                if said.count > 1
                else f" (row {said.first_line})"
            )
            click.echo(f"    {said.cell!r} -> {said.read_as}{times}")
        _rest(len(column.said))
    if intake.left_out:
        click.echo(f"\nleft out, not understood or not asked for: {', '.join(intake.left_out)}")
    if table.broken:
        gross = sum(broken.is_gross for broken in table.broken)
        click.echo(
            f"\n{len(table.broken)} places where attachment is not probing + recession ({gross} beyond any error of "
            "reading), the largest first. One of the three is wrong; they are kept as charted, for you to settle:"
        )
        for broken in table.broken[:_SHOWN]:
            click.echo(f"    {broken}")
        _rest(len(table.broken))
    if table.is_sign_doubtful:
        click.echo(
            f"    CAUTION: {table.n_mended_by_turning} of these add up if recession is charted the other way round. Does this "
            "practice write a margin coronal to the CEJ as positive? Then declare positive: coronal in the column map."
        )
    if table.conflicts:
        click.echo(f"\n{len(table.conflicts)} quantities whose readings contradict each other; for you to settle:")
        for conflict in table.conflicts[:_SHOWN]:
            rows = ", ".join(str(reading.line) for reading in conflict.readings)
            click.echo(f"    rows {rows}: {conflict.case or ''} {conflict}".replace(":  ", ": "))
        _rest(len(table.conflicts))
    if kept:
        cases = next(iter(kept)) if len(kept) == 1 else f"{len(kept)} cases"
        click.echo(f"\nkept: {sum(kept.values())} readings of {cases}")
    elif not table.faults:
        click.echo("\nnothing was kept (preview)")


def _rest(count: int) -> None:
    if count > _SHOWN:
        click.echo(f"    and {count - _SHOWN} more; --json lists all")


def _to_settle(known: CaseKnown) -> list[str]:
    """What a person has to settle, with the numbers of the readings that ``settle`` takes."""
    lines = []
    for conflict in known.conflicts:
        lines.append(f"readings {', '.join(str(reading.line) for reading in conflict.readings)}: {conflict}")
    lines += [f"reading {broken.line}: {broken.text}" for broken in known.broken]
    return [*lines, *known.impossible]


def case_json(store: Store, known: CaseKnown) -> dict[str, Any]:
    """What is kept of a case, as data."""
    record = known.record
    return {
        "case": record.case, "version": record.version, "beside": record.beside, "n_readings": len(record.readings),
        "n_set_aside": sum(reading.is_set_aside for reading in record.readings), "to_settle": _to_settle(known),
        "left_out": known.left_out, "keep_until": record.keep_until,
        "plans": [{"number": p.number, "version": p.case_version, "signed_by": [s.by for s in p.signatures],
                   "superseded_by": p.superseded_by, "stale": staleness(record, p)} for p in record.plans],
        "files": [vars(f) for f in record.files], "trail": [vars(e) for e in trail_of(store, record.case)],
    }  # fmt: skip


def print_case(store: Store, known: CaseKnown) -> None:
    """Print what is kept of a case, and what a person has to settle first of all."""
    record = known.record
    aside = sum(reading.is_set_aside for reading in record.readings)
    click.echo(f"case {record.case}: version {record.version}, {len(record.readings)} readings ({aside} set aside)")
    for number in record.beside:
        click.echo(f"  version {number} was kept beside the head: compare, and save what is right")
    for text in _to_settle(known):
        click.echo(f"  to settle: {text}")
    for text in known.left_out:
        click.echo(f"  not in the chart: {text}")
    for plan in record.plans:
        signed = ", ".join(f"signed by {s.by} as {s.role}" for s in plan.signatures) or "not signed"
        late = f", superseded by plan {plan.superseded_by}" if plan.superseded_by else ""
        stale = "; ".join(staleness(record, plan))
        click.echo(f"  plan {plan.number}: {signed}{late}{', stale: ' + stale if stale else ''}")
    for file in record.files:
        removed = f", removed from it: {', '.join(file.removed)}" if file.removed else ""
        click.echo(f"  {file.kind} {file.sha256[:12]}, {file.size} bytes{removed}")
    for entry in trail_of(store, record.case):
        click.echo(f"  {entry.seq:>6}  {entry.at[:19]}  {entry.by}: {entry.what}, {entry.subject} ({entry.why})")

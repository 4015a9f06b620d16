"""``festoon recall``: visits after surgery on the records, the drawing of the margins, the letters."""

from __future__ import annotations

import datetime as dt
import uuid
from pathlib import Path
from typing import Any, Literal

import click

from festoon.cli.records_common import by_option, existing_file, json_option, plainly, the_store, who_acts

_number = click.option("--surgery", "number", type=int, help="Which surgery of the case. [default: the latest]")
_key = click.option("--key", help="Name of this entry, so that sending it again adds nothing. [default: a new one]")
_out = click.option("-o", "--out", type=click.Path(file_okay=False, path_type=Path), default=Path(), help="Folder.")


@click.group()
def recall() -> None:
    """Visits after surgery: margins from the same planned edge, whatever edge is in the mouth.

    \b
    Example:
      festoon recall visit demo-a --at 2026-09-14 --readings visit.yaml --satisfaction 8
      festoon recall show demo-a
      festoon recall letters demo-a -o out
    """


@recall.command()
@click.argument("case")
@click.option("--at", required=True, metavar="DAY", help="Day of the visit, e.g. 2026-09-14.")
@click.option("--readings", type=existing_file, help="What was read (festoon-readings/1).")
@click.option("--papilla", "papillae", multiple=True, metavar="PAIR=FILL",
              help="none, under_half, half_or_more, complete or overfilled; e.g. 11-21=complete; repeatable.")  # fmt: skip
@click.option("--sensitivity", multiple=True, metavar="TOOTH=0..10", help="As the patient says it; repeatable.")
@click.option("--satisfaction", type=int, help="0 not at all to 10 wholly.")
@click.option("--complication", multiple=True, metavar="KIND[=TEXT]", help="What went wrong; repeatable.")
@click.option("--no-complications", is_flag=True, help="It was asked, and there is none.")
@click.option("--remark", help="In words; no names.")
@_key
@_number
@by_option
@plainly
def visit(
    case: str,
    at: str,
    readings: Path | None,
    papillae: tuple[str, ...],
    sensitivity: tuple[str, ...],
    satisfaction: int | None,
    complication: tuple[str, ...],
    no_complications: bool,
    remark: str | None,
    key: str | None,
    number: int | None,
    by: str | None,
) -> int | None:
    """Keep a visit. What was not asked stays unknown.

    \b
    Example:
      festoon recall visit demo-a --at 2026-09-14 --readings visit.yaml --papilla 11-21=complete --no-complications
    """
    from festoon.model.recall import VisitEntry
    from festoon.records.readings import read_readings
    from festoon.workflow import recall as work
    from festoon.workflow.surgery import latest

    file = None if readings is None else read_readings(readings)
    if file is not None and file.readings.case != case:
        raise click.BadParameter(f"these are readings of the case {file.readings.case}", param_hint="--readings")
    entry: VisitEntry = _valid(
        VisitEntry,
        {
            "at": at,
            "readings": () if file is None else file.readings.readings,
            "papillae": _pairs(papillae, "--papilla"),
            "sensitivity": _pairs(sensitivity, "--sensitivity"),
            "satisfaction": satisfaction,
            "complications": [
                {"kind": kind, "text": text or None} for kind, _, text in (one.partition("=") for one in complication)
            ],
            "is_without_complications": True if no_complications else None,
            "remark": remark,
        },
    )
    store = the_store()
    kept = work.add(store, latest(store, case, number), entry, key=key or uuid.uuid4().hex, by=who_acts(by))
    click.echo(f"entry {kept}: visit of {entry.at}, {len(entry.readings)} readings")
    return None


@recall.command()
@click.argument("case")
@click.argument("tooth")
@click.option("--at", required=True, metavar="DAY", help="From which day on.")
@click.option("--edge", required=True, type=click.Choice(["as_charted", "provisional", "final", "adjusted"]))
@click.option("--from-planned", required=True, type=float,
              help="Level of this edge from the planned one, mm: 0 where it is that, + where the tooth is shorter.")  # fmt: skip
@click.option("--se", type=float, help="Standard error of that, mm.")
@click.option("--source", required=True, help="How it is known.")
@_key
@_number
@by_option
@plainly
def edge(
    case: str,
    tooth: str,
    at: str,
    edge: str,
    from_planned: float,
    se: float | None,
    source: str,
    key: str | None,
    number: int | None,
    by: str | None,
) -> int | None:
    """Say where the edge of a tooth (ISO 3950) lies from a day on, so that later levels stay comparable.

    \b
    Example:
      festoon recall edge demo-a 11 --at 2026-12-01 --edge final --from-planned 0.3 --source "measured on the cast"
    """
    from festoon.model.recall import EdgeEntry
    from festoon.workflow import recall as work
    from festoon.workflow.surgery import latest

    said = {"tooth": tooth, "at": at, "edge": edge, "from_planned_mm": from_planned, "se_mm": se, "source": source}
    store = the_store()
    entry: EdgeEntry = _valid(EdgeEntry, said)
    kept = work.add(store, latest(store, case, number), entry, key=key or uuid.uuid4().hex, by=who_acts(by))
    click.echo(f"entry {kept}: {edge} edge of {tooth} from {at} on")
    return None


@recall.command()
@click.argument("case")
@click.option("--entry", type=int, help="Which entry. [default: the latest visit or edge]")
@_key
@_number
@by_option
@plainly
def undo(case: str, entry: int | None, key: str | None, number: int | None, by: str | None) -> int | None:
    """Take back a visit or an edge. It stays on record and counts no more.

    \b
    Example:
      festoon recall undo demo-a
      festoon recall undo demo-a --entry 2
    """
    from festoon.workflow import recall as work
    from festoon.workflow.surgery import latest

    store = the_store()
    mine = latest(store, case, number)
    kept = work.take_back(store, mine, entry, key=key or uuid.uuid4().hex, by=who_acts(by))
    for one in work.recall_state(store, mine).entries:
        if one.number == kept and one.entry.kind == "undo":
            click.echo(f"entry {kept}: entry {one.entry.entry} taken back")
    return None


@recall.command()
@click.argument("case")
@_number
@json_option
@plainly
def show(case: str, number: int | None, as_json: bool) -> int | None:
    """Show every visit against the expected band, the course, and whether restorations may be made.

    \b
    Example:
      festoon recall show demo-a --json
    """
    from festoon.cli.verify import show_verification
    from festoon.workflow.recall import recall_state
    from festoon.workflow.surgery import latest

    store = the_store()
    now = recall_state(store, latest(store, case, number))
    if as_json:
        click.echo(now.model_dump_json(by_alias=True, indent=2))
        return None
    for why in now.stale:
        click.echo(f"STALE PLAN: {why}")
    show_verification(now.verification)
    for check in now.keratinised:
        click.echo(f"{check.tooth}, {check.at}: {check.text}")
    for papilla in now.papillae:
        click.echo(f"{papilla.between}, {papilla.at}: {papilla.text}")
    for line in now.told:
        click.echo(f"as told (not judged) {line}")
    for line in now.complications:
        click.echo(f"complication {line}")
    for kept in now.entries:
        gone = ", taken back" if kept.is_taken_back else ""
        what = f"of {kept.entry.at}" if kept.entry.kind != "undo" else f"of entry {kept.entry.entry}"
        click.echo(f"entry {kept.number}: {kept.entry.kind} {what}{gone}")
    return None


@recall.command()
@click.argument("case")
@_out
@_number
@plainly
def picture(case: str, out: Path, number: int | None) -> int | None:
    """Write the margins over time, margins-over-time.svg.

    \b
    Example:
      festoon recall picture demo-a -o out
    """
    from festoon.workflow.surgery import latest
    from festoon.workflow.surgery_papers import write_picture

    store = the_store()
    try:
        click.echo(str(write_picture(store, latest(store, case, number), out)))
    except ValueError as wrong:
        raise click.ClickException(str(wrong)) from None
    return None


@recall.command()
@click.argument("case")
@click.option("--to", "reader", type=click.Choice(["colleague", "laboratory", "patient"]), help="[default: all three]")
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True)
@_out
@_number
@plainly
def letters(
    case: str, reader: Literal["colleague", "laboratory", "patient"] | None, paper: Literal["a4", "letter"], out: Path,
    number: int | None,
) -> int | None:  # fmt: skip
    """Write the letters: to the referring colleague, to the laboratory, and a page for the patient.

    \b
    Example:
      festoon recall letters demo-a --to laboratory -o out
    """
    from festoon.reports.letter import READERS
    from festoon.workflow.surgery import latest
    from festoon.workflow.surgery_papers import write_letters

    store = the_store()
    readers = READERS if reader is None else (reader,)
    for path in write_letters(store, latest(store, case, number), out, readers, paper=paper):
        click.echo(str(path))
    return None


def _pairs(texts: tuple[str, ...], option: str) -> dict[str, str]:
    found = {}
    for text in texts:
        name, equals, value = text.partition("=")
        if not equals:
            raise click.BadParameter(f"{text!r} is not NAME=VALUE", param_hint=option)
        found[name] = value
    return found


def _fault(error: Any) -> str:
    """One fault: where, what was found, what was expected."""
    where = ".".join(map(str, error["loc"]))
    if not where:
        return str(error["msg"]).removeprefix("Value error, ")
    return f"{where}: found {error['input']}; expected: {error['msg']}"


def _valid(kind: Any, said: dict[str, Any]) -> Any:
    """The entry, or what is wrong with it in words."""
    from pydantic import ValidationError

    try:
        said["at"] = dt.date.fromisoformat(said["at"])
        return kind.model_validate(said)
    except ValidationError as wrong:
        words = "; ".join(_fault(e) for e in wrong.errors())
        raise click.UsageError(words) from None
    except ValueError:
        raise click.BadParameter(f"{said['at']!r} is no day; write it as 2026-03-10", param_hint="--at") from None

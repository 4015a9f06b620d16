"""``festoon surgery``: the day of surgery on the records, entry by entry, and its record on one page."""

from __future__ import annotations

import datetime as dt
import uuid
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import click

from festoon.cli.records_common import by_option, json_option, plainly, the_store, who_acts

if TYPE_CHECKING:
    from festoon.model.surgery import SurgeryState

_SIGNS = {"empty_box": "[ ]", "ticked_box": "[x]", "triangle": "[!]", "octagon": "[!!]", "question": "[?]"}
_STEPS = ("datum", "mark", "cut", "probe_cut", "bone", "probe_bone", "suture", "probe_suture")
number_option = click.option("--surgery", "number", type=int, help="Which surgery of the case. [default: the latest]")
key_option = click.option(
    "--key", help="Name of this entry, so that sending it again adds nothing. [default: a new one]"
)


@click.group()
def surgery() -> None:
    """The day of surgery, held against a signed plan. Every entry is on disk before it is acknowledged.

    \b
    Example:
      festoon surgery start demo-a --plan 1 --why "surgery of today"
      festoon surgery enter demo-a "11 f b 12.5"
      festoon surgery show demo-a
    """


@surgery.command()
@click.argument("case")
@click.option("--plan", type=int, required=True, help="Number of the signed plan.")
@click.option("--datum", default="present_edge", show_default=True, type=click.Choice(
    ["present_edge", "planned_edge", "restored_edge", "template", "bonded_mark"]), help="From what levels are read.")  # fmt: skip
@click.option("--recheck", "recheck_mm", type=float, help="Off by more than this, mm: recompute. [default: 0.5]")
@click.option("--stop", "stop_mm", type=float, help="Off by more than this, mm: stop and rethink. [default: 1.0]")
@click.option("--operator", help="Whose hands operate, as a code, for the audit. [default: not said]")
@click.option("--template", "template_kind", help="Kind of the template in use, none where there is none, for the "
              "audit. [default: not said]")  # fmt: skip
@click.option("--at", type=click.DateTime(["%Y-%m-%d"]), metavar="DAY", help="Day of surgery. [default: today]")
@click.option("--why", required=True, help="Reason, for the trail.")
@by_option
@plainly
def start(
    case: str, plan: int, datum: str, recheck_mm: float | None, stop_mm: float | None, operator: str | None,
    template_kind: str | None, at: dt.datetime | None, why: str, by: str | None,
) -> int | None:  # fmt: skip
    """Begin a surgery against a signed plan.

    \b
    Example:
      festoon surgery start demo-a --plan 1 --datum bonded_mark --why "surgery of today"
    """
    from festoon.model.reading import Datum
    from festoon.verify.session import Limits
    from festoon.workflow.surgery import start_surgery

    given = {name: value for name, value in (("recheck_mm", recheck_mm), ("stop_mm", stop_mm)) if value is not None}
    try:
        limits = Limits(**given)
    except ValueError as wrong:
        raise click.UsageError(str(wrong)) from None
    begun = start_surgery(
        the_store(), case, plan, by=who_acts(by), why=why, surgery_at=None if at is None else at.date(),
        datum=Datum(datum), limits=limits, operator=operator, template_kind=template_kind,
    )  # fmt: skip
    click.echo(f"surgery {begun.number} of case {case}, held against plan {plan}")
    return None


@surgery.command()
@click.argument("case")
@click.argument("text")
@click.option("--notation", type=click.Choice(["fdi", "universal", "palmer"]), default="fdi", show_default=True)
@key_option
@number_option
@by_option
@plainly
def enter(case: str, text: str, notation: str, key: str | None, number: int | None, by: str | None) -> int | None:
    """Enter one reading by a few keys: tooth, site, what is read, millimetres. A bare number is what is asked for.

    Sites d df f mf m, lingually dl dil l mil ml; g margin, b bone crest, s sounding, c CEJ, j mucogingival junction.

    \b
    Example:
      festoon surgery enter demo-a "11 f b 12.5"
      festoon surgery enter demo-a 12.5
    """
    from festoon.model.dentition import Notation
    from festoon.workflow import surgery as work

    store = the_store()
    mine = work.latest(store, case, number)
    kept, entry = work.enter_keys(store, mine, text, key=key or uuid.uuid4().hex, by=who_acts(by),
                                  notation=Notation(notation))  # fmt: skip
    now = work.state(store, mine, resolve=False)
    said = next(one.text for one in now.entries if one.number == kept)
    click.echo(f"entry {kept}: {said}, at {entry.step}")
    for site in now.sites:
        is_read = site.check.reading_mm is not None
        if is_read and (site.tooth, site.site, site.quantity) == (entry.tooth, entry.site, entry.quantity):
            click.echo(f"{_SIGNS[site.shape]} {site.short}")
    if entry.step.value == "datum":
        click.echo(f"{_SIGNS[now.limits_shape]} {now.limits_text}")
    click.echo(f"next: {now.next.text if now.next else 'nothing more at this step'}")
    return None


@surgery.command()
@click.argument("case")
@click.argument("name", type=click.Choice(_STEPS))
@key_option
@number_option
@by_option
@plainly
def step(case: str, name: str, key: str | None, number: int | None, by: str | None) -> int | None:
    """Say which step the hands have reached.

    \b
    Example:
      festoon surgery step demo-a probe_bone
    """
    from festoon.model.surgery import Step, StepEntry
    from festoon.workflow import surgery as work

    store = the_store()
    entry = StepEntry(step=Step(name))
    work.enter(store, work.latest(store, case, number), entry, key=key or uuid.uuid4().hex, by=who_acts(by))
    click.echo(f"now at {name}")
    return None


@surgery.command()
@click.argument("case")
@click.option("--entry", type=int, help="Which entry. [default: the latest]")
@key_option
@number_option
@by_option
@plainly
def undo(case: str, entry: int | None, key: str | None, number: int | None, by: str | None) -> int | None:
    """Take back an entry. It stays on record.

    \b
    Example:
      festoon surgery undo demo-a
    """
    from festoon.workflow import surgery as work

    store = the_store()
    mine = work.latest(store, case, number)
    kept = work.undo(store, mine, key=key or uuid.uuid4().hex, by=who_acts(by), entry=entry)
    said = {one.number: one for one in work.state(store, mine, resolve=False).entries}
    undone = said[kept].entry
    if undone.kind == "undo":
        click.echo(f"entry {kept}: entry {undone.entry} taken back ({said[undone.entry].text})")
    return None


@surgery.command()
@click.argument("case")
@number_option
@json_option
@plainly
def show(case: str, number: int | None, as_json: bool) -> int | None:
    """Show what remains, site by site, and what is asked next.

    \b
    Example:
      festoon surgery show demo-a --json
    """
    from festoon.workflow import surgery as work

    store = the_store()
    now = work.state(store, work.latest(store, case, number))
    if as_json:
        click.echo(now.model_dump_json(by_alias=True, indent=2))
    else:
        _show(now)
    return None


@surgery.command()
@click.argument("case")
@click.option("--role", required=True, help="As what you sign, e.g. surgeon.")
@click.option("--reason", "reasons", multiple=True, metavar="NAME=WHY", help="Why something was not done; repeatable.")
@click.option("--all-because", help="One reason for everything not done that no --reason names.")
@key_option
@number_option
@by_option
@plainly
def sign(
    case: str,
    role: str,
    reasons: tuple[str, ...],
    all_because: str | None,
    key: str | None,
    number: int | None,
    by: str | None,
) -> int | None:
    """Sign the surgery off, with the reason for everything that was not done.

    \b
    Example:
      festoon surgery sign demo-a --role surgeon --all-because "not dictated"
    """
    from festoon.workflow import surgery as work

    given = {}
    for text in reasons:
        name, equals, why = text.partition("=")
        if not equals:
            raise click.BadParameter(f"{text!r} is not NAME=WHY", param_hint="--reason")
        given[name] = why
    store = the_store()
    mine = work.latest(store, case, number)
    if all_because:
        left = work.state(store, mine, resolve=False).not_done
        given = {item.name: all_because for item in left} | given
    work.sign_off(store, mine, key=key or uuid.uuid4().hex, by=who_acts(by), role=role, reasons=given)
    click.echo("signed off")
    return None


@surgery.command()
@click.argument("case")
@click.option("-o", "--out", type=click.Path(file_okay=False, path_type=Path), default=Path(), help="Folder.")
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True)
@number_option
@plainly
def record(case: str, out: Path, paper: Literal["a4", "letter"], number: int | None) -> int | None:
    """Write the record of a surgery on one page, surgery-record.pdf.

    \b
    Example:
      festoon surgery record demo-a -o out
    """
    from festoon.workflow import surgery as work
    from festoon.workflow.surgery_papers import write_record

    store = the_store()
    click.echo(str(write_record(store, work.latest(store, case, number), out, paper=paper)))
    return None


def _show(now: SurgeryState) -> None:
    from festoon.model.surgery import shape_of

    click.echo(f"{now.case}: surgery {now.surgery} of {now.begun.surgery_at}, plan {now.plan} ({now.plan_sha256[:12]})")
    for why in now.stale:
        click.echo(f"STALE PLAN: {why}")
    click.echo(f"Before cutting: {_SIGNS[now.limits_shape]} {now.limits_text}")
    is_marked = now.begun.datum not in ("present_edge", "planned_edge")
    for site in now.sites:
        today = "" if site.target_present_edge_mm is None else f", {site.target_present_edge_mm:g} from today's edge"
        mark = site.check.wanted_from_datum_mm if is_marked else None
        marked = "" if mark is None else f", {mark:g} from the {now.begun.datum.replace('_', ' ')}"
        target = "" if site.target_mm is None else f" (target {site.target_mm:g} from the planned edge{today}{marked})"
        place = f"{site.tooth} {site.site.value.replace('_', ' ')}, {site.quantity.value.removesuffix('_level')}"
        click.echo(f"{_SIGNS[site.shape]:<5}{place:<24} {site.short}{target}")
    if now.replan is not None:
        click.echo("Solved anew with today's readings" if now.replan.teeth else f"Solved anew: {now.replan.text}")
        for change in now.replan.teeth:
            click.echo(f"  {change.tooth}: {change.text}")
    for check in now.sutures:
        click.echo(f"sutured {check.tooth} {check.site.value.replace('_', ' ')}: {check.text}")
    for space in now.final_spaces:
        click.echo(
            f"{_SIGNS[shape_of(space.verdict)]:<5}{space.tooth} {space.site.value.replace('_', ' '):<14} {space.text}"
        )
    for crown in now.crowns:
        click.echo(f"crown {crown.tooth}: {crown.text}")
    for pair in now.pairs:
        click.echo(f"{_SIGNS[shape_of(pair.verdict)]:<5}{pair.pair:<17} {pair.text}")
    for line in now.papillae:
        click.echo(f"papilla {line}")
    for line in now.notes:
        click.echo(f"note: {line}")
    click.echo(f"Step {now.step}; next: {now.next.text if now.next else 'nothing more at this step'}")
    click.echo(f"Not done: {len(now.not_done)}" + (f"; signed off by {now.signed_off_by}" if now.sign_off else ""))
    for item in now.not_done:
        click.echo(f"  {item.name}  {item.text}")
    click.echo("It informs a licensed clinician; it does not decide.")

"""One case of the records: shown, settled, planned, signed, with its pictures."""

from __future__ import annotations

import json
import os
from pathlib import Path

import click

from festoon.cli.records_common import by_option, existing_file, json_option, plainly, the_store, who_acts


@click.command()
@click.argument("case")
@json_option
@plainly
def show(case: str, as_json: bool) -> int | None:
    """Show what is kept of a case, and what a person has to settle.

    \b
    Example:
      festoon records show demo-a
    """
    from festoon.cli.records_shown import case_json, print_case
    from festoon.workflow import records as work

    store = the_store()
    known = work.case_known(store, case)
    if as_json:
        click.echo(json.dumps(case_json(store, known), ensure_ascii=False, indent=1))
    else:
        print_case(store, known)
    return None


@click.command()
@click.argument("case")
@click.argument("reading", type=int)
@click.option("--set-aside/--take-back", "is_aside", default=True, help="Set the reading aside, or take it back.")
@click.option("--why", required=True, help="Reason, for the trail.")
@by_option
@plainly
def settle(case: str, reading: int, is_aside: bool, why: str, by: str | None) -> int | None:
    """Settle a conflict: set one reading aside, with a reason. It stays on record.

    \b
    Example:
      festoon records settle demo-a 14 --set-aside --why "probe was tilted, read again as 15"
    """
    from festoon.store.keeping import judge_reading

    judge_reading(the_store(), case, reading, is_kept=not is_aside, by=who_acts(by), why=why)
    click.echo(f"reading {reading} of case {case} was {'set aside' if is_aside else 'taken back'}")
    return None


@click.command()
@click.argument("case")
@click.option("--supersedes", type=int, help="Number of the plan whose place this one takes.")
@click.option("--why", default="planned", show_default=True, help="Reason, for the trail.")
@by_option
@json_option
@plainly
def plan(case: str, supersedes: int | None, why: str, by: str | None, as_json: bool) -> int | None:
    """Plan a case with everything kept of it, and keep the plan with the readings it used.

    \b
    Example:
      festoon records plan demo-a
    """
    from festoon.workflow import records as work

    made = work.plan_and_keep(the_store(), case, supersedes=supersedes, by=who_acts(by), why=why)
    if as_json:
        click.echo(made.plan.as_json(), nl=False)
        return None
    from festoon.cli.summary import print_summary

    print_summary(made.plan)
    click.echo(f"kept as plan {made.kept.number} of case {case}")
    return None


@click.command()
@click.argument("case")
@click.argument("number", type=int)
@click.option("--role", required=True, help="As what you sign, e.g. surgeon.")
@click.option("--reason", required=True, help="Why you sign; it stands beside your code.")
@by_option
@plainly
def sign(case: str, number: int, role: str, reason: str, by: str | None) -> int | None:
    """Sign a kept plan. A signed plan can be superseded, never changed.

    \b
    Example:
      festoon records sign demo-a 1 --by op-2 --role surgeon --reason "agreed with the patient"
    """
    from festoon.workflow import records as work

    if not by and not os.environ.get(work.WHO_VARIABLE):
        raise click.BadParameter("a signature needs your code: give it, or set FESTOON_BY", param_hint="--by")
    stale = work.sign_kept_plan(the_store(), case, number, by=who_acts(by), role=role, reason=reason)
    click.echo(f"plan {number} of case {case} was signed by {who_acts(by)} as {role}")
    for text in stale:
        click.echo(f"caution: {text}", err=True)
    return None


@click.command()
@click.argument("case")
@click.argument("file", type=existing_file)
@click.option(
    "--kind", type=click.Choice(["photo", "scan", "volume", "film", "other"]), required=True, help="What it is."
)
@click.option("--why", default="attached", show_default=True, help="Reason, for the trail.")
@by_option
@json_option
@plainly
def attach(case: str, file: Path, kind: str, why: str, by: str | None, as_json: bool) -> int | None:
    """Keep a photograph, scan or volume for a case, without identity; what was taken out is listed.

    \b
    Example:
      festoon records attach demo-a front.jpg --kind photo
    """
    from festoon.workflow import records as work

    sha256, removed = work.attach(the_store(), case, file, kind=kind, by=who_acts(by), why=why)
    if as_json:
        click.echo(json.dumps({"sha256": sha256, "removed": removed}, ensure_ascii=False))
        return None
    click.echo(f"kept as {sha256[:12]}; taken out of it: {', '.join(removed) or 'nothing, it held no identity'}")
    return None

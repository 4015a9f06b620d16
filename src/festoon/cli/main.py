"""The ``festoon`` command.

Rooms are imported inside the commands, so that ``festoon --version`` and ``--help`` answer at once.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import click

from festoon.cli.audit import audit
from festoon.cli.exits import Exit
from festoon.cli.marker import marker
from festoon.cli.measure import measure
from festoon.cli.phantom import phantom
from festoon.cli.recall import recall
from festoon.cli.records import records
from festoon.cli.serve import serve
from festoon.cli.surgery import surgery
from festoon.cli.template import template
from festoon.cli.verify import verify
from festoon.errors import InputRefusedError, SolverError

if TYPE_CHECKING:
    from festoon.workflow.planning import PlannedCase

Paper = Literal["a4", "letter"]
SeenFrom = Literal["front", "behind"]
_EXISTING_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)
_FOLDER = click.Path(file_okay=False, path_type=Path)
_paper = click.option(
    "--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Size of the printed sheet."
)


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(version("festoon"), "--version", prog_name="festoon")
def cli() -> None:
    """Plan, guide and verify aesthetic crown lengthening.

    festoon informs a licensed clinician; it never decides. It is not a medical device.
    """


@cli.command()
@click.argument("case", type=_EXISTING_FILE)
@click.option("-o", "--output", type=_FOLDER, help="Folder for plan.json, profile.svg and sheet.pdf.")
@click.option("--json", "as_json", is_flag=True, help="Print the plan as JSON instead of the summary.")
@click.option("--seed", type=int, default=None, help="Seed of the risk simulation; it stands in the provenance.")
@_paper
@click.option(
    "--seen-from",
    type=click.Choice(["front", "behind"]),
    default="front",
    show_default=True,
    help="Where the operator sits: behind turns the chairside page for the view from behind the head, at 12 o'clock.",
)
def plan(case: Path, output: Path | None, as_json: bool, seed: int | None, paper: Paper, seen_from: SeenFrom) -> None:
    """Solve the plan of a case.

    Reads a case file (format festoon-case/1, YAML or JSON), says what would be cut site by site, why, and what stands
    against it. Wishes that cannot be met are part of the plan, with their price.

    \b
    Example:
      festoon plan case.yaml -o plan/
      festoon plan case.yaml -o plan/ --seen-from behind
      festoon plan case.yaml --json
    """
    from festoon.workflow import planning as workflow

    planned = workflow.plan_case(case) if seed is None else workflow.plan_case(case, seed=seed)
    written = workflow.write_plan(planned.plan, output, paper=paper, seen_from=seen_from) if output else ()
    if as_json:
        click.echo(planned.plan.as_json(), nl=False)
    else:
        _show(planned, written)


def _show(planned: PlannedCase, written: tuple[Path, ...]) -> None:
    from festoon.cli.summary import print_summary

    print_summary(planned.plan, planned.notes)
    for path in written:
        click.echo(f"written: {path}")


@cli.command()
@click.argument("case", type=_EXISTING_FILE)
@click.argument("tooth")
@click.argument("site", required=False)
def explain(case: Path, tooth: str, site: str | None) -> None:
    """Open every number of a tooth: its sum, its readings, its limit and its source.

    TOOTH in ISO 3950; SITE as the case file names it, all charted sites where none is named.

    \b
    Example:
      festoon explain case.yaml 11
      festoon explain case.yaml 11 midfacial
    """
    from festoon.cli.explain import print_explanation
    from festoon.workflow import planning as workflow

    planned = workflow.plan_case(case).plan
    if tooth not in planned.teeth:
        raise click.BadParameter(f"{tooth} is not charted; charted: {', '.join(planned.teeth)}", param_hint="TOOTH")
    charted = [entry.site.value for entry in planned.sites if entry.tooth == tooth]
    if site is not None and site not in charted:
        raise click.BadParameter(f"{site} is not charted; charted: {', '.join(charted)}", param_hint="SITE")
    print_explanation(planned, tooth, site)


@cli.command(name="what-if")
@click.argument("case", type=_EXISTING_FILE)
@click.argument("changes", nargs=-1, required=True, metavar="KEY=VALUE...")
def what_if(case: Path, changes: tuple[str, ...]) -> None:
    """Say what another reading, limit or setting would change in the plan, and why. Nothing is written.

    \b
    Example:
      festoon what-if case.yaml teeth.11.sites.midfacial.cej_mm=9.8
      festoon what-if case.yaml policy.keratinised_minimum_mm=3
    """
    from festoon.workflow import planning as workflow

    asked = {}
    for change in changes:
        key, equals, value = change.partition("=")
        if not equals:
            raise click.BadParameter(f"{change!r} is no KEY=VALUE", param_hint="CHANGES")
        asked[key.strip()] = value.strip()
    answer = workflow.ask_what_if(case, asked)
    if not answer.teeth:
        click.echo(answer.text)
        return
    click.echo("If " + "; ".join(changes) + ":")
    for changed in answer.teeth:
        click.echo(f"  {changed.tooth}: {changed.text}")


@cli.command()
@click.argument("folder", type=_FOLDER, default=Path("festoon-demo"), required=False)
@click.option("--no-app", is_flag=True, help="Only write the cases and run the job on them.")
@_paper
def demo(folder: Path, no_app: bool, paper: Paper) -> None:
    """Write the demo cases and run the whole job on them.

    The mouths are invented and very different; in one of them surgery on the gingiva is not the answer.

    \b
    Example:
      festoon demo
      festoon demo my-demo --no-app
    """
    from festoon.cli.summary import print_summary
    from festoon.workflow.demo import make_demo

    for made in make_demo(folder, paper=paper):
        click.echo(f"\n{made.title}")
        print_summary(made.plan)
        click.echo(f"written: {made.folder}")
    if not no_app:
        from festoon.cli.serve import run_demo

        run_demo(folder)


_SCHEMAS = ("case", "plan", "readings", "verification", "surgery", "surgery-state", "recall", "planned-levels")


@cli.command()
@click.argument("name", type=click.Choice(_SCHEMAS))
def schema(name: str) -> None:
    """Print a JSON Schema (2020-12) of a file format.

    \b
    Example:
      festoon schema case > festoon-case-1.schema.json
    """
    import json

    from festoon.records import schema as schemas

    made = getattr(schemas, f"{name.replace('-', '_')}_schema")()
    click.echo(json.dumps(made, indent=2, ensure_ascii=False))


@cli.command()
@click.option("-o", "--output", type=_FOLDER, required=True, help="Folder for blank-form.pdf.")
@click.option("--teeth", default="13-23", show_default=True, help="Teeth in ISO 3950, first to last as seen.")
@_paper
def form(output: Path, teeth: str, paper: Paper) -> None:
    """Write a blank chart form, to be printed and filled in by hand.

    \b
    Example:
      festoon form -o forms/ --teeth 14-24
    """
    from festoon.workflow import planning as workflow

    try:
        path = workflow.write_form(output, teeth=teeth, paper=paper)
    except ValueError as wrong:
        raise click.BadParameter(str(wrong), param_hint="--teeth") from wrong
    click.echo(f"written: {path}")


@cli.command()
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
def completion(shell: str) -> None:
    """Print the completion script of a shell.

    \b
    Example:
      festoon completion bash > ~/.local/share/bash-completion/completions/festoon
    """
    from click.shell_completion import get_completion_class

    made = get_completion_class(shell)
    if made is None:
        raise click.UsageError(f"no completion for {shell}")
    click.echo(made(cli, {}, "festoon", "_FESTOON_COMPLETE").source())


cli.add_command(records)
cli.add_command(verify)
cli.add_command(serve)
cli.add_command(phantom)
cli.add_command(marker)
cli.add_command(measure)
cli.add_command(template)
cli.add_command(audit)
cli.add_command(surgery)
cli.add_command(recall)


def main() -> None:
    """Run the command and end with its exit code."""
    sys.exit(run(sys.argv[1:]))


def run(arguments: Sequence[str]) -> int:
    """Run a command line and return an exit code of :class:`festoon.cli.exits.Exit`."""
    try:
        result = cli.main(list(arguments), prog_name="festoon", standalone_mode=False)
    except InputRefusedError as refused:
        _complain("refused, and nothing was written:", *(str(fault) for fault in refused.faults))
        return Exit.INPUT_REFUSED
    except SolverError as failed:
        _complain(f"no plan: {failed}")
        return Exit.FAILED
    except click.ClickException as wrong:
        wrong.show()
        return Exit.COMMAND_WRONG
    except click.Abort:
        _complain("stopped")
        return Exit.FAILED
    except OSError as wrong:
        # Only the file's own name: a path can hold a person's name.
        name = Path(wrong.filename).name if isinstance(wrong.filename, str) else "the output"
        _complain(f"{name} could not be read or written: {wrong.strerror}; nothing was put in place")
        return Exit.COMMAND_WRONG
    return result if isinstance(result, int) else Exit.DONE


def _complain(*lines: str) -> None:
    for line in lines:
        click.echo(line if line.startswith("  ") else f"festoon: {line}" if line is lines[0] else f"  {line}", err=True)

"""``festoon verify``: readings of the chair or of a recall against the plan, in words and signs."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import click

if TYPE_CHECKING:
    from festoon.model.verification import Verification
    from festoon.workflow.verifying import VerifyOptions

_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)
_MOMENTS = ("before", "bone", "suture", "recall")
_SIGNS = {
    "within": "[x]",
    "reached": "[x]",
    "enough": "[x]",
    "inside": "[x]",
    "stable": "[x]",
    "symmetric": "[x]",
    "to_remove": "[ ]",
    "not_read": "[ ]",
    "recompute": "[!]",
    "short": "[!]",
    "coronal": "[!]",
    "apical": "[!]",
    "creeping": "[!]",
    "receding": "[!]",
    "asymmetric": "[!]",
    "stop": "[!!]",
    "too_far": "[!!]",
    "cannot_tell": "[?]",
    "unknown": "[?]",
    "too_early": "[?]",
}
"""By verdict. The words beside a sign say what it stands for; no colour does."""
_LEGEND = "[x] as wanted   [ ] still to do   [!] look again   [!!] stop   [?] cannot be told"


@click.command()
@click.argument("case", type=_FILE)
@click.argument("readings", type=_FILE)
@click.option(
    "--moment",
    type=click.Choice(_MOMENTS),
    help="When the readings were taken: before anything (or any bone) is cut; while bone is lowered; after suturing; at "
    "recalls. [default: recall with --surgery-at, else bone, where everything uncut is still to remove]",
)
@click.option("--surgery-at", metavar="DAY", help="Day of surgery, e.g. 2026-03-10; recalls need it.")
@click.option(
    "--edges-as-charted",
    is_flag=True,
    help="At recalls: no edge was changed since the chart, so a level from the present edge is what it says.",
)
@click.option("--recheck", "recheck_mm", type=float, help="Off by more than this, mm: recompute. [default: 0.5]")
@click.option("--stop", "stop_mm", type=float, help="Off by more than this, mm: stop and rethink. [default: 1.0]")
@click.option(
    "--against",
    type=click.Choice(["sheet", "exact"]),
    default="sheet",
    show_default=True,
    help="Targets as printed on the sheet in the surgeon's hands, or the exact ones of plan.json.",
)
@click.option(
    "--plan", "plan_number", type=int, help="Hold against this signed plan of the records instead of a plan made anew."
)
@click.option("--resolve", is_flag=True, help="Also solve the plan anew with these readings, and say what changes.")
@click.option("--json", "as_json", is_flag=True, help="Print the verification as JSON (festoon-verification/1).")
def verify(
    case: Path,
    readings: Path,
    moment: str | None,
    surgery_at: str | None,
    edges_as_charted: bool,
    recheck_mm: float | None,
    stop_mm: float | None,
    against: Literal["sheet", "exact"],
    plan_number: int | None,
    resolve: bool,
    as_json: bool,
) -> None:
    """Hold readings of the chair or of a recall against the plan: what remains, site by site.

    READINGS is a file of one moment (format festoon-readings/1). While tissue is cut its last reading of a site counts.
    Nothing is written.

    \b
    Example:
      festoon verify case.yaml today.yaml --moment before --resolve
      festoon verify case.yaml bone.yaml --moment bone
      festoon verify case.yaml sutured.yaml --moment suture --json
      festoon verify case.yaml visits.yaml --surgery-at 2026-03-10
    """
    from festoon.model.verification import Moment
    from festoon.verify.session import Limits
    from festoon.workflow import verifying

    day = _day(surgery_at)
    given = {name: value for name, value in (("recheck_mm", recheck_mm), ("stop_mm", stop_mm)) if value is not None}
    try:
        options = verifying.VerifyOptions(
            moment=Moment(moment) if moment else Moment.RECALL if day else Moment.BONE,
            surgery_at=day,
            limits=Limits(**given),
            against=against,
            edges_as_charted=edges_as_charted,
            resolve=resolve,
        )
    except ValueError as wrong:
        raise click.UsageError(str(wrong)) from None
    if plan_number is None:
        verification = verifying.verify_case(case, readings, options)
    else:
        verification = _against_signed(case, readings, plan_number, options)
    if as_json:
        click.echo(verification.as_json(), nl=False)
    else:
        show_verification(verification)


def _against_signed(case: Path, readings: Path, plan: int, options: VerifyOptions) -> Verification:
    """Against a plan of the records; of the case file only its id is used."""
    from festoon.cli.records_common import the_store
    from festoon.records.casefile import read_case
    from festoon.records.readings import read_readings
    from festoon.store.errors import StoreError
    from festoon.workflow.stored_plan import verify_stored

    try:
        return verify_stored(the_store(), read_case(case).case.case, plan, read_readings(readings), options)
    except StoreError as wrong:
        raise click.ClickException(str(wrong)) from None


def _day(text: str | None) -> dt.date | None:
    try:
        return None if text is None else dt.date.fromisoformat(text)
    except ValueError:
        raise click.BadParameter(f"{text!r} is no day; write it as 2026-03-10", param_hint="--surgery-at") from None


def show_verification(found: Verification) -> None:
    """Print a verification: what remains, site by site."""
    day = f", surgery {found.surgery_at}" if found.surgery_at else ""
    click.echo(f"{found.case}: {found.moment}{day}; targets {_TARGETS[found.against]}")
    if not found.for_surgery:
        click.echo("NOT FOR SURGERY: " + "; ".join(found.not_for_surgery_because))
    if found.moment == "before":
        _before_answer(found)
    _lines("Site by site", (_line(c.verdict, c.tooth, c.site, c.text) for c in found.checks))
    _lines("Margin to bone", (_line(c.verdict, c.tooth, c.site, c.text) for c in found.spaces))
    _lines("Sutured", (_line(c.verdict, c.tooth, c.site, c.text) for c in found.sutures))
    _lines("New crowns", (f"     {c.tooth:<16} {c.text}" for c in found.crowns))
    _lines(
        "Left and right", (_line(c.verdict, c.pair, "", f"{c.at}: {c.text}" if c.at else c.text) for c in found.pairs)
    )
    _lines("Visits", (_line(c.verdict, c.tooth, c.site, f"{c.at}: {c.text}") for c in found.visits))
    _lines("Course", (_line(c.verdict, c.tooth, c.site, c.text) for c in found.courses))
    for item in found.readiness:
        said = _MAY[item.what] if item.may else "NOT YET"
        _lines(f"{item.what.capitalize()} restorations: {said} ({item.source})", (f"  {why}" for why in item.why_not))
    if found.replan is not None:
        click.echo("\nThe plan solved anew with these readings")
        _lines("Taken over", (f"  {line}" for line in found.replan.replaced))
        teeth = [f"  {change.tooth}: {change.text}" for change in found.replan.teeth]
        _lines("What changes", teeth or [f"  {found.replan.text}"])
    _lines("Notes", (f"  {note}" for note in found.notes))
    click.echo(f"\n{_LEGEND}")
    click.echo(
        f"Limits: more than {found.recheck_mm:g} mm off, recompute; more than {found.stop_mm:g} mm, stop. Levels in mm, "
        f"apical positive; teeth by ISO 3950. Plan {found.plan_sha256[:12]}. It informs a licensed clinician; it does not decide."
    )


_MAY = {
    "provisional": "may be made, by time alone",
    "final": "may be made, by time and by the margins read",
}
_TARGETS = {"sheet": "as printed on the sheet", "exact": "exact, as in plan.json"}


def _before_answer(found: Verification) -> None:
    """The worst of all sites, in one sentence above them."""
    from festoon.verify.chair import worst, worst_words
    from festoon.verify.session import Limits

    verdict = worst(found.checks)
    click.echo(f"\n{_SIGNS[verdict]} {worst_words(Limits(found.recheck_mm, found.stop_mm), found.checks, verdict)}")


def _line(verdict: str, tooth: str, site: str, text: str) -> str:
    place = f"{tooth} {site.replace('_', ' ')}".strip()
    return f"{_SIGNS[verdict]:<5}{place:<16} {text}"


def _lines(title: str, lines: Iterable[str]) -> None:
    present = list(lines)
    if present or title.startswith(("Provisional", "Final")):
        click.echo(f"\n{title}")
        for line in present:
            click.echo(line)

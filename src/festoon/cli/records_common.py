"""What the commands of ``festoon records`` share: who acts, which store, and failures in one line."""

from __future__ import annotations

import functools
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, ParamSpec, TypeVar

import click

from festoon.cli.exits import Exit

if TYPE_CHECKING:
    from festoon.store.store import Store

P = ParamSpec("P")
R = TypeVar("R")
existing_file = click.Path(exists=True, dir_okay=False, path_type=Path)
by_option = click.option("--by", help="Who does this, as a pseudonymous code [default: $FESTOON_BY, else operator].")
json_option = click.option("--json", "as_json", is_flag=True, help="Print the answer as JSON.")


def plainly(command: Callable[P, R]) -> Callable[P, R | int]:
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


def the_store() -> Store:
    """The store of this user, opened and checked."""
    from festoon.store.opening import open_store

    return open_store()


def who_acts(by: str | None) -> str:
    """The code for the trail.

    Raises
    ------
    click.BadParameter
        If it is no code.
    """
    from festoon.workflow.records import who

    try:
        return who(by)
    except ValueError as wrong:
        raise click.BadParameter(str(wrong), param_hint="--by") from None

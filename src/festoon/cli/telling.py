"""Progress, told where somebody watches."""

from __future__ import annotations

import sys
from collections.abc import Callable

import click


def teller(doing: str) -> Callable[[str], None]:
    """Says ``doing: what`` on the error stream of a terminal, and nothing elsewhere."""
    return (lambda what: click.echo(f"{doing}: {what}", err=True)) if sys.stderr.isatty() else (lambda _: None)

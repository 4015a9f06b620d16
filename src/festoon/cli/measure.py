"""``festoon measure``: from a surface scan or a photograph to readings with their errors."""

from __future__ import annotations

import click

from festoon.cli.measure_photo import photo
from festoon.cli.measure_scan import scan


@click.group()
def measure() -> None:
    """Measure teeth and margins on a surface scan or a photograph.

    Answers with readings (format festoon-readings/1), each with its standard error, and flags what is doubtful.
    """


measure.add_command(scan)
measure.add_command(photo)

"""Readings of a scan or a photograph as a table on the terminal, a row per tooth, remarks below."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from festoon.model.quantities import QuantityReading

_COLUMNS = (
    ("width", "crown_width", None), ("length", "crown_length", None), ("ratio", "crown_ratio", None),
    ("zenith", "zenith_offset", None), ("mesial", "margin_level", "mesial"), ("midfacial", "margin_level", "midfacial"),
    ("distal", "margin_level", "distal"), ("edge", "edge_height", None), ("lip", "lip_level", None),
    ("display", "gingival_display", None), ("rest", "rest_display", None),
)  # fmt: skip
"""Title, quantity, site; shown where one was read."""


def print_readings(notes: Sequence[str], readings: Sequence[QuantityReading]) -> None:
    """Print what was noticed, the table, and every remark with the teeth it is on."""
    for note in notes:
        click.echo(note)
    found = {(r.tooth, r.quantity.value, r.site.value if r.site else None): r for r in readings}
    teeth = list(dict.fromkeys(r.tooth for r in readings if r.tooth))
    columns = [c for c in _COLUMNS if any((tooth, *c[1:]) in found for tooth in teeth)]
    if teeth:
        click.echo(
            "\nmm (ratio: none), +/- one standard error; levels from the present edge, apical positive; ? flagged below"
        )
        click.echo(f"{'tooth':<6}" + "".join(f"{title:>14}" for title, _, _ in columns))
    for tooth in teeth:
        cells = []
        for _, quantity, site in columns:
            r = found.get((tooth, quantity, site))
            cells.append("" if r is None else f"{r.value:.2f}+/-{r.se:.2f}{'?' if r.flag else ' '}")
        click.echo(f"{tooth:<6}" + "".join(f"{cell:>14}" for cell in cells))
    for r in readings:
        if r.tooth is None:
            unit = "degrees" if r.unit == "deg" else r.unit
            click.echo(f"{r.quantity.value.replace('_', ' ')}: {r.value:+.2f} +/- {r.se:.2f} {unit} ({r.flag})")
    flags: dict[str, list[str]] = {}
    for r in readings:
        if r.flag and r.tooth and r.tooth not in flags.setdefault(r.flag, []):
            flags[r.flag].append(r.tooth)
    for flag, of in flags.items():
        click.echo(f"? {', '.join(of)}: {flag}")
    click.echo("\nIt informs a licensed clinician; it does not decide.")

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
    for tooth in teeth:
        if remark := _remark([r for r in readings if r.tooth == tooth]):
            click.echo(f"? {tooth}: {remark}")
    click.echo("\nIt informs a licensed clinician; it does not decide.")


def _remark(readings: Sequence[QuantityReading]) -> str:
    """Every doubt about one tooth, with the readings it is about where they are not all of them."""
    about: dict[str, list[str]] = {}
    for r in readings:
        for doubt in (r.flag or "").split("; "):
            if doubt:
                about.setdefault(doubt, []).append(_named(r))
    return "; ".join(
        doubt if len(names) == len(readings) else f"{doubt} ({', '.join(names)})" for doubt, names in about.items()
    )


def _named(r: QuantityReading) -> str:
    site = r.site.value.replace("_", " ") if r.site else None
    for title, quantity, at in _COLUMNS:
        if (quantity, at) == (r.quantity.value, site):
            return title
    return " ".join(filter(None, (site, r.quantity.value.replace("_", " ").removesuffix(" level"))))

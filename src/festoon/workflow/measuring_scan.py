"""Measuring a surface scan: from a file to readings."""

from __future__ import annotations

from pathlib import Path

from festoon.scan.surface import read_surface


def look_at_scan(file: Path, unit: str | None = None) -> str:
    """What a scan file holds, in words."""
    surface = read_surface(file, unit)
    return "\n".join(surface.report)

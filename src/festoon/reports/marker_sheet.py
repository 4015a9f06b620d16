"""A drawing printed in true size: one page as large as the drawing."""

from __future__ import annotations

from festoon.reports.typeset import typeset


def write_true_size(picture: str, size_mm: tuple[float, float], title: str) -> bytes:
    """PDF of an SVG whose size is ``size_mm`` (width, height)."""
    return typeset("marker.typ", {"picture": picture, "width": size_mm[0], "height": size_mm[1], "title": title})

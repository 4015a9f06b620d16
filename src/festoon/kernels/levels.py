"""Levels, edges and heights: the signs of every number in one place.

A level is a distance in mm along the tooth's facial long axis from an incisal edge, positive apically. A height is a
position in the arch frame, apical positive, so that neighbours can be compared.
"""

from __future__ import annotations

from math import cos, radians


def planned_edge_level(present_edge_level_mm: float, incisal_extension_mm: float) -> float:
    """Level from the planned edge: ``present-edge level + incisal extension``.

    The extension is positive when a restoration lengthens the tooth incisally, negative when the edge is shortened.
    Worked: margin 8.1 and CEJ 10.3 with +0.5 give 8.6 and 10.8.
    """
    return present_edge_level_mm + incisal_extension_mm


def present_edge_level(planned_edge_level_mm: float, incisal_extension_mm: float) -> float:
    """Level from the edge visible today: the inverse of :func:`planned_edge_level`."""
    return planned_edge_level_mm - incisal_extension_mm


def axis_cosine(tip_deg: float, torque_deg: float) -> float:
    """How much of a length along the tooth is height: the cosine of tip times the cosine of torque.

    20 degrees over 10 mm take 0.6 mm off the height.
    """
    return cos(radians(tip_deg)) * cos(radians(torque_deg))


def height(edge_height_mm: float, level_mm: float, cosine: float) -> float:
    """Height in the arch frame of a point at ``level_mm`` from the planned edge."""
    return edge_height_mm + level_mm * cosine

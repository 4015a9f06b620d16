"""How long a crown should be: a given length, a given ratio, or the published proportion by role and sex."""

from __future__ import annotations

from dataclasses import dataclass

from festoon.evidence.table import published
from festoon.model.anatomy import ToothAnatomy
from festoon.planning.policy import Policy

_RATIO_ROWS: dict[str, dict[int, tuple[str, ...]]] = {
    "male": {1: ("CRN-001", "CRN-003"), 2: ("CRN-005", "CRN-007"), 3: ("CRN-009", "CRN-011")},
    "female": {1: ("CRN-002", "CRN-004"), 2: ("CRN-006", "CRN-008"), 3: ("CRN-010", "CRN-012")},
    "unknown": {1: ("CRN-021",), 2: ("CRN-024",), 3: ("CRN-027",)},
}
"""Clinical crowns of upper front teeth, by position of the role: width and length means (Sterrett 1999), or the
printed ratio where the sex is unknown (Orozco-Varo 2015). Anatomic crowns, and so lower and premolar textbook
tables, are not mixed in: they count to the CEJ, not to the margin."""

_PREMOLAR_ROWS = {4: "GIN-011", 5: "GIN-012"}


@dataclass(frozen=True)
class Target:
    """A wanted clinical crown length from the planned edge, in mm."""

    length_mm: float
    tolerance_mm: float
    source: str


def published_ratio(position: int, sex: str) -> tuple[float, str] | None:
    """Width-to-length ratio of an upper clinical crown and its source; None where no clinical series is at hand."""
    rows = _RATIO_ROWS[sex].get(position)
    if rows is None:
        return None
    values = [published(row).value for row in rows]
    ratio = values[0] / values[1] if len(values) == 2 else values[0]
    return ratio, " / ".join(published(row).citation for row in rows)


def target_of(tooth: ToothAnatomy, sex: str, policy: Policy) -> Target | None:
    """The target length of one tooth; None where neither a design nor a width with a proportion gives one."""
    chart = tooth.chart
    if chart.target_length_mm is not None:
        return Target(chart.target_length_mm, policy["design_tolerance_mm"], "length given by the design")
    stands_in = tooth.role.position != tooth.tooth.position
    if stands_in and chart.future_width_mm is None and chart.target_ratio is None:
        # A canine's width with a lateral's proportion says nothing: the place in the gingival line leads instead.
        return None
    width = chart.future_width_mm or (tooth.width.value if tooth.width else None)
    if width is None:
        return None
    which = "future width" if chart.future_width_mm else "width"
    if chart.target_ratio is not None:
        ratio, source = chart.target_ratio, "ratio given by the design"
    else:
        found = published_ratio(tooth.role.position, sex) if tooth.role.is_upper else None
        if found is None:
            return None
        ratio, source = found
    return Target(
        width / ratio,
        policy["length_tolerance_mm"],
        f"{which} {width:.2f} / ratio {ratio:.3f} ({source})",
    )


def premolar_below_canine(position: int) -> tuple[float, str] | None:
    """How far coronal to the canine's a premolar's margin lies, in mm of height, and the source."""
    row = _PREMOLAR_ROWS.get(position)
    return (published(row).value, published(row).citation) if row else None

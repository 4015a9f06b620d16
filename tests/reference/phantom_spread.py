"""True values of many phantoms beside the published means and spreads."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from festoon.evidence.table import published

Values = dict[tuple[str, str, str | None], float]


@dataclass(frozen=True)
class Compared:
    """One quantity and the row it is held against."""

    quantity: str
    site: str | None
    teeth: tuple[str, ...]
    row: str
    sex: str | None = None
    sd: float | None = None
    """Spread where the row prints none (from memory or derived; see festoon.phantom.population)."""


COMPARED = (
    *(
        Compared("crown_width", None, teeth, row, sex, 0.373)
        for teeth, men, women in ((("11", "21"), 1, 2), (("12", "22"), 5, 6), (("13", "23"), 9, 10))
        for sex, row in (("male", f"CRN-{men:03}"), ("female", f"CRN-{women:03}"))
    ),
    *(
        Compared("crown_length", None, teeth, row, sex, 0.85)
        for teeth, men, women in ((("11", "21"), 3, 4), (("12", "22"), 7, 8), (("13", "23"), 11, 12))
        for sex, row in (("male", f"CRN-{men:03}"), ("female", f"CRN-{women:03}"))
    ),
    Compared("sounding", "midfacial", ("11", "21"), "STA-020"),
    Compared("sounding", "midfacial", ("12", "22"), "STA-021"),
    Compared("sounding", "midfacial", ("13", "23"), "STA-022"),
    Compared("gingiva_thickness", "midfacial", ("11", "21"), "STA-023"),
    Compared("gingiva_thickness", "midfacial", ("12", "22"), "STA-024"),
    Compared("gingiva_thickness", "midfacial", ("13", "23"), "STA-025"),
    Compared("zenith_offset", None, ("11", "21"), "GIN-005"),
    Compared("zenith_offset", None, ("12", "22"), "GIN-006"),
    Compared("zenith_offset", None, ("13", "23"), "GIN-007"),
    Compared("papilla_height", "mesial", ("11", "21"), "GIN-025"),
    Compared("papilla_height", "mesial", ("12", "22"), "GIN-026"),
    Compared("papilla_height", "mesial", ("13", "23"), "GIN-027"),
    Compared("keratinised_width", "midfacial", ("11", "21"), "HEAL-003"),
    Compared("probing_depth", "midfacial", ("11", "21"), "STA-005"),
    Compared("bone_thickness", "midfacial", ("11", "21"), "ERR-028"),
    Compared("sounding", "mesial", ("11", "21"), "GIN-043", None, 0.375),
)
"""What is compared; people are the sample, both sides of one person being averaged."""


@dataclass(frozen=True)
class Line:
    """One comparison."""

    what: str
    mean: float
    sd: float
    wanted: float
    wanted_sd: float
    z: float
    """Difference of the means in standard errors of both samples."""

    def __str__(self) -> str:
        return (
            f"{self.what:48} mean {self.mean:6.2f} (published {self.wanted:6.2f}), spread {self.sd:.2f} "
            f"({self.wanted_sd:.2f}), z {self.z:+.1f}"
        )


def compare(people: list[tuple[str, Values]]) -> list[Line]:
    """Every quantity of :data:`COMPARED` over people (sex, true values)."""
    lines = []
    for item in COMPARED:
        row = published(item.row)
        sd = item.sd if item.sd is not None else row.sd
        assert sd is not None, item.row
        sides = [
            [v[tooth, item.quantity, item.site] for tooth in item.teeth if (tooth, item.quantity, item.site) in v]
            for sex, v in people
            if item.sex in (None, sex)
        ]
        means = np.array([np.mean(values) for values in sides if values])
        if len(means) < 8:
            continue
        error = np.hypot(sd / np.sqrt(len(means)), sd / np.sqrt(row.n) if row.n else 0.0)
        name = f"{item.row} {item.quantity} {item.site or ''} {item.teeth[0]} {item.sex or ''}".strip()
        lines.append(
            Line(
                name,
                float(means.mean()),
                float(means.std(ddof=1)),
                row.value,
                sd,
                float((means.mean() - row.value) / error),
            )
        )
    return lines

"""One reader for the table of published values, ``values.csv``.

A row is named by its id (``CRN-001``). ``how_known`` says whether the figure was *seen* in a retrieved page, is from
*memory*, or is *common practice* without a source; it travels with the number wherever the number goes.
"""

from __future__ import annotations

import csv
import hashlib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal

HowKnown = Literal["seen", "memory", "common-practice"]
_HOW_WORDS: dict[str, str] = {
    "seen": "seen in the source's abstract or page",
    "memory": "from memory, not checked",
    "common-practice": "common practice, no source",
}


@dataclass(frozen=True)
class Published:
    """One published value.

    ``low`` and ``high`` hold a range, a 95 % interval or limits of agreement: the note says which.
    """

    id: str
    quantity: str
    site: str
    mean: float | None
    sd: float | None
    low: float | None
    high: float | None
    n: int | None
    unit: str
    population: str
    source: str
    year: str
    reference: str
    how_known: HowKnown
    note: str

    @property
    def value(self) -> float:
        """The mean.

        Raises
        ------
        LookupError
            If the row prints a range and no mean.
        """
        if self.mean is None:
            raise LookupError(f"evidence row {self.id} prints no mean")
        return self.mean

    @property
    def citation(self) -> str:
        """The source in one line, with how it is known."""
        who = f"{self.source} {self.year}".strip() or "no source"
        return f"{self.id}: {who}; {_HOW_WORDS[self.how_known]}"


def _number(text: str) -> float | None:
    return float(text) if text else None


def _raw() -> bytes:
    return files("festoon.evidence").joinpath("values.csv").read_bytes()


@cache
def _table() -> dict[str, Published]:
    rows = csv.DictReader(_raw().decode("utf-8").splitlines())
    return {
        row["id"]: Published(
            id=row["id"],
            quantity=row["quantity"],
            site=row["tooth_or_site"],
            mean=_number(row["mean"]),
            sd=_number(row["sd"]),
            low=_number(row["min"]),
            high=_number(row["max"]),
            n=int(float(row["n"])) if row["n"] else None,
            unit=row["unit"],
            population=row["population"],
            source=row["source"],
            year=row["year"],
            reference=row["doi_or_url"],
            how_known=row["how_known"],  # type: ignore[arg-type]  # three words, held by a test
            note=row["note"],
        )
        for row in rows
    }


def published(row_id: str) -> Published:
    """The row named ``row_id``.

    Raises
    ------
    LookupError
        If there is no such row: a number without a source must not be used.
    """
    try:
        return _table()[row_id]
    except KeyError:
        raise LookupError(f"no evidence row {row_id!r}") from None


def all_published() -> tuple[Published, ...]:
    """Every row, in the order of the table."""
    return tuple(_table().values())


@cache
def table_sha256() -> str:
    """SHA-256 of the table, so that a plan can say which evidence it used."""
    return hashlib.sha256(_raw()).hexdigest()

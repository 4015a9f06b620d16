"""What a mouth allows: the impossible is refused, the unusual is noted, nothing is changed."""

from __future__ import annotations

from dataclasses import dataclass

from festoon.model.case import Case


@dataclass(frozen=True)
class Concern:
    """Something impossible or unusual in a case."""

    path: tuple[str | int, ...]
    """In the model's keys: ``("teeth", "11", "sites", "midfacial", "sounding_mm")``."""
    found: str
    expected: str
    do: str
    is_refused: bool
    """True for the impossible; False for a note."""


def concerns(_case: Case) -> tuple[Concern, ...]:
    """Everything impossible or unusual in ``case``, in the order of the teeth."""
    return ()

"""The exceptions festoon raises on purpose. An infeasible plan is an answer, not an exception."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Fault:
    """One fault of an input, with its parts kept for terminal, page and paper."""

    file: str
    """File name, without its folder."""
    where: str
    """Key path inside the file, e.g. ``teeth.11.sites.midfacial.sounding_mm``."""
    found: str
    expected: str
    do: str
    """What to do now."""
    line: int | None = None
    """1-based; None where the container has no lines."""

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}" if self.line else self.file
        at = f": {self.where}" if self.where else ""
        return f"{place}{at}: found {self.found}; expected {self.expected}. {self.do}"


class InputRefusedError(ValueError):
    """An input that cannot be used: every fault found is reported together and nothing was written."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))


class SolverError(RuntimeError):
    """The solver returned a status that is neither optimal nor infeasible; no number is given then."""

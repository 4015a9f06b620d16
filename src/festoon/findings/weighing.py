"""The weighing: stated weights, added up; missing evidence in the order in which it would change the answer."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from festoon.findings.mouth import ToothFacts, key
from festoon.findings.thresholds import Support, support_word
from festoon.model.plan import Evidence, Finding


@dataclass(frozen=True)
class Advice:
    """What follows from a cause, in the trade's words."""

    surgery_can: str
    surgery_cannot: str
    alternatives: tuple[str, ...] = ()
    ask: tuple[str, ...] = ()


@dataclass(frozen=True)
class Weighed:
    """A finding without its rank, and the sum by which it is ranked."""

    finding: Finding
    score: float


@dataclass
class Weighing:
    """Evidence for and against one cause, as it is gathered."""

    cause: str
    title: str
    lines: list[Evidence] = field(default_factory=list)
    _missing: list[tuple[float, str]] = field(default_factory=list)

    def note(self, weight: float, text: str, source: str) -> None:
        """Add one observation: positive weight speaks for the cause, negative against."""
        self.lines.append(Evidence(text=text, weight=weight, source=source))

    def lacks(self, name: str, at_stake: float) -> None:
        """Say that a case-file entry is unknown, and by how much it could move the sum."""
        if (at_stake, name) not in self._missing:
            self._missing.append((at_stake, name))

    def lacks_of(self, teeth: Iterable[ToothFacts], name: str, at_stake: float) -> None:
        """The same for an entry of several teeth; nothing when there are none."""
        listed = tuple(teeth)
        if listed:
            self.lacks(key(listed, name), at_stake)

    @property
    def score(self) -> float:
        """Sum of the weights."""
        return sum(line.weight for line in self.lines)

    @property
    def support(self) -> Support:
        """The word for the sum; ``unknown`` without any evidence."""
        return support_word(self.score) if self.lines else "unknown"

    @property
    def is_unopposed(self) -> bool:
        """True when nothing speaks against it."""
        return all(line.weight > 0 for line in self.lines)

    def weighed(self, advice: Advice, teeth: Iterable[ToothFacts] = (), *, withholds: bool = False) -> Weighed:
        """The finding with its score, not yet ranked. Without ``teeth`` it concerns the whole mouth."""
        finding = Finding(
            cause=self.cause,
            title=self.title,
            rank=0,
            support=self.support,
            evidence_for=tuple(line for line in self.lines if line.weight > 0),
            evidence_against=tuple(line for line in self.lines if line.weight < 0),
            teeth=tuple(f.tooth.fdi for f in teeth),
            surgery_can=advice.surgery_can,
            surgery_cannot=advice.surgery_cannot,
            alternatives=advice.alternatives,
            ask=advice.ask,
            missing=tuple(name for _, name in sorted(self._missing, key=lambda item: (-item[0], item[1]))),
            withholds_surgery=withholds,
        )
        return Weighed(finding, self.score)

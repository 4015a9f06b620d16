"""What the practice's own figures offer to its settings. Offered with the evidence, never applied."""

from __future__ import annotations

from dataclasses import asdict, dataclass

from festoon.audit.estimates import Estimate, own_error
from festoon.evidence.errors import reading_error
from festoon.model.reading import DepthReading


@dataclass(frozen=True)
class Offer:
    """One figure of the practice beside the one festoon uses."""

    what: str
    key: str | None
    """Key of the case file that takes it; None where none does."""
    value: float
    unit: str
    interval: tuple[float, float] | None
    present: str
    evidence: str
    applied: bool = False

    def as_dict(self) -> dict[str, object]:
        """For JSON."""
        return asdict(self)


def offers(sounding: Estimate | None, rebound: dict[str, Estimate]) -> tuple[Offer, ...]:
    """Offers from the error of sounding and from the rebound by sutured distance; few patients offer nothing."""
    found: list[Offer] = []
    if sounding is not None and not sounding.few and (own := own_error(sounding)) is not None:
        error = reading_error("sounding_mm", DepthReading(value=3.0))
        found.append(
            Offer(
                "standard error of a sounding, the error of the direct reading taken off",
                "teeth.<tooth>.sites.<site>.sounding_mm.se",
                round(own[0], 2),
                "mm",
                own[1],
                f"{error.se_mm:.2f} mm: {error.source}",
                f"{sounding.sites} sites of {sounding.patients} patients; bias {sounding.bias_mm:+.2f} mm, which se does not correct",
            )
        )
    for band, here in rebound.items():
        if not here.few:
            found.append(
                Offer(
                    f"rebound at about 6 months, sutured {band} mm from the crest",
                    None,
                    round(here.bias_mm, 2),
                    "mm",
                    here.bias_ci_mm,
                    "published cohorts; no key of the case takes a practice's own rebound: read it beside the expected band",
                    f"{here.sites} sites of {here.patients} patients, SD {here.sd_mm or 0:.2f} mm",
                )
            )
    return tuple(found)

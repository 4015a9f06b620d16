"""What the practice's own figures offer to its settings. Offered with the evidence, never applied."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace

from festoon.audit.estimates import Estimate, Z, own_error
from festoon.evidence.errors import reading_error
from festoon.kernels.combine import inverse_variance_mean
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
    practice: str | None = None
    """Whose figures these are, where several practices are read together."""
    applied: bool = False

    def as_dict(self) -> dict[str, object]:
        """For JSON."""
        return asdict(self)


def offers(
    sounding: Estimate | None, rebound: dict[str, Estimate], expected: Mapping[str, float], practice: str | None = None
) -> tuple[Offer, ...]:
    """Offers from the error of sounding and from the rebound by sutured distance; few patients offer nothing.

    Parameters
    ----------
    expected : mapping of distance band to float [mm]
        What festoon expects of a margin sutured in that band.
    practice : str, optional
        Whose figures these are, where several practices are read together.
    """
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
                    f"{expected[band]:.2f} mm expected from the published cohorts"
                    if band in expected
                    else "published cohorts",
                    f"{here.sites} sites of {here.patients} patients, SD {here.sd_mm or 0:.2f} mm",
                )
            )
    found += _own_offset(rebound, expected)
    return tuple(replace(offer, practice=practice) for offer in found)


def _own_offset(rebound: dict[str, Estimate], expected: Mapping[str, float]) -> list[Offer]:
    """One number over all distances, weighted by inverse variance; bands with too few patients say nothing."""
    known = [
        (here.bias_mm - expected[band], (here.bias_ci_mm[1] - here.bias_ci_mm[0]) / (2 * Z), here, band)
        for band, here in rebound.items()
        if not here.few and band in expected and here.bias_ci_mm is not None and here.bias_ci_mm[1] > here.bias_ci_mm[0]
    ]
    if not known:
        return []
    errors = [se for _, se, _, _ in known]
    mean, _ = inverse_variance_mean([apart for apart, _, _, _ in known], errors)
    # One patient stands in several bands, so their errors may go together: added as if they always did, never too small.
    se = sum(1 / error for error in errors) / sum(1 / error**2 for error in errors)
    return [
        Offer(
            "own rebound less the expected one, over all sutured distances",
            "policy.rebound_offset_mm",
            round(mean, 2),
            "mm",
            (round(mean - Z * se, 2), round(mean + Z * se, 2)),
            "0: the published cohorts alone",
            "; ".join(f"{band} mm: {apart:+.2f} mm in {here.patients} patients" for apart, _, here, band in known),
        )
    ]

"""The pages behind the chairside page: every caution, the arithmetic of each number, the readings it rests on."""

from __future__ import annotations

import re
from typing import Any

from festoon.model.dentition import Tooth
from festoon.model.plan import Plan, SitePlan
from festoon.reports.content import about, all_cautions
from festoon.reports.words import METHOD_WORDS, SITE_WORDS, exact, procedure_words

_ASSUMED = re.compile(r"(?P<quantity>\w+) = .*; (?P<method>\w+) taken as the usual method")
"""A reading in the words of the plan, where the chart did not state its method."""
_QUANTITY_WORDS = {"cej": "CEJ", "mucogingival": "mucogingival junction"}


def detail_content(plan: Plan) -> dict[str, Any]:
    """Cautions with their sources, findings that are supported, conflicts, what is missing, and the sums of every site, in the plan's order."""
    return {
        "cautions": [
            {"severity": c.severity, "text": about(c) + c.text, "source": c.source or ""} for c in all_cautions(plan)
        ],
        "not_for_surgery": list(plan.not_for_surgery_because) if not plan.for_surgery else [],
        "assumed": assumed_methods(plan),
        "findings": [
            {
                "title": f"{finding.title} ({finding.support})",
                "lines": [
                    finding.surgery_can,
                    finding.surgery_cannot,
                    *([f"instead or as well: {' '.join(finding.alternatives)}"] if finding.alternatives else []),
                    *([f"ask: {'; '.join(finding.ask)}"] if finding.ask else []),
                ],
            }
            for finding in sorted(plan.findings, key=lambda finding: finding.rank)
            if finding.support in ("strong", "moderate")
        ],
        "conflicts": [c.text for c in plan.conflicts],
        "missing": [m.text for m in plan.missing],
        "teeth": [
            {
                "name": f"{code}, {place.name}",
                "procedure": procedure_words(place.procedure),
                "why": place.why,
                "target": ""
                if place.target_length_mm is None
                else f"aesthetic target {exact(place.target_length_mm)} from the planned edge"
                + (f", from {place.target_from}" if place.target_from else ""),
                "sites": [
                    {
                        "site": SITE_WORDS[site.site],
                        "lines": list(site.arithmetic),
                        "rules": ", ".join(rule.replace("_", " ") for rule in site.binding),
                        "readings": list(dict.fromkeys(site.from_)),
                    }
                    for site in plan.sites
                    if site.tooth == code and _is_cut(site)
                ],
                "uncut": ", ".join(
                    SITE_WORDS[site.site] for site in plan.sites if site.tooth == code and not _is_cut(site)
                ),
            }
            for code, place in sorted(plan.teeth.items(), key=lambda item: (item[0][0] > "2", Tooth(item[0]).column))
        ],
        "healing": [
            *(plan.healing.milestones if plan.healing else ()),
            *([plan.healing.disagreement] if plan.healing and plan.healing.disagreement else []),
        ],
        "paper_notes": list(plan.paper.notes),
        "signing": list(plan.signable_reasons),
    }


def assumed_methods(plan: Plan) -> list[str]:
    """What the chart did not say how it was read, with the method that was taken; quantities of the same teeth together."""
    found: dict[tuple[str, str], dict[str, None]] = {}
    for site in plan.sites:
        for reading in site.from_:
            if match := _ASSUMED.search(reading):
                found.setdefault((match["quantity"].removesuffix("_mm"), match["method"]), {})[site.tooth] = None
    by_teeth: dict[tuple[str, ...], list[str]] = {}
    for (quantity, method), teeth in found.items():
        named = _QUANTITY_WORDS.get(quantity, quantity.replace("_", " "))
        by_teeth.setdefault(tuple(teeth), []).append(f"{named} {METHOD_WORDS.get(method, method)}")
    return [f"{', '.join(teeth)}: {', '.join(read)}" for teeth, read in by_teeth.items()]


def _is_cut(site: SitePlan) -> bool:
    """True where the plan takes gingiva or bone, or names a rule that made it."""
    return bool(site.bone_removal_mm or site.binding or site.incision_level_mm is not None)

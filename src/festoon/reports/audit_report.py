"""The audit as PDF: counts, plots, tables, offers. It decides nothing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from festoon.reports.typeset import Paper, paper_size, typeset

_TITLES = {
    "margin_cut": "margin cut", "crest_cut": "crest cut", "sutured": "sutured", "healed": "healed, 6 months",
    "rebound": "rebound, 6 months", "sounding": "sounding less opened",
}  # fmt: skip


def audit_report(audit: Mapping[str, Any], plots: Mapping[str, str], paper: Paper = "a4") -> bytes:
    """The report from what ``audit.json`` holds and its plots (SVG by name)."""
    long, short = paper_size(paper)
    mixed = audit["mixed_model"]
    data = {
        "paper": {"width": short, "height": long},
        "head": " · ".join(
            f"{audit['counts'][key]} {key}" for key in ("cases", "practices", "operators", "rows")
        ),
        "rows": [_row(found) for found in audit["estimates"]],
        "sides": _row({"dimension": "pair", "value": "right less left", "measure": "", **audit["left_right"]})
        if audit["left_right"] else None,
        "redo": "not said in any case" if audit["redo"] is None else
        f"{audit['redo']['share']:.1%} of cases ({audit['redo']['ci'][0]:.1%} to {audit['redo']['ci'][1]:.1%})",
        "learning": [f"{course['operator']}: {course['words']}" for course in audit["learning"][:24]],
        "mixed": [mixed] if isinstance(mixed, str) else [
            f"{mixed['formula']}; {mixed['words']}" + ("" if mixed["converged"] else "; NOT CONVERGED"),
            *(f"{name}: {value:+.2f} mm ({low:+.2f} to {high:+.2f})" for name, (value, low, high) in mixed["fixed"].items()),
            "SD, mm: " + ", ".join(f"{name} {sd:.2f}" for name, sd in mixed["sd_mm"].items()),
        ],
        "offers": [_offer(offer) for offer in audit["offers"]],
        "notes": list(audit["notes"]),
        "plots": list(plots.values()),
    }  # fmt: skip
    return typeset("audit.typ", data)


def _between(ends: Any, digits: int = 2) -> str:
    return "–" if ends is None else f"{ends[0]:+.{digits}f} to {ends[1]:+.{digits}f}"


def _row(found: Mapping[str, Any]) -> list[str]:
    loa = "–" if found["lower_loa_mm"] is None else f"{found['lower_loa_mm']:+.2f} to {found['upper_loa_mm']:+.2f}"
    loa_ci = (
        "–"
        if found["lower_loa_ci_mm"] is None
        else f"{_between(found['lower_loa_ci_mm'])}; {_between(found['upper_loa_ci_mm'])}"
    )
    low, high = found["within_half_ci"]
    group = found["value"].replace("_", " ") if found["dimension"] != "all" else "all"
    return [
        _TITLES.get(found["measure"], found["measure"]),
        f"{found['dimension'].replace('_', ' ')}: {group}" if group != "all" else group,
        f"{found['patients']} / {found['sites']}" + (" FEW" if found["few"] else ""),
        f"{found['bias_mm']:+.2f}",
        _between(found["bias_ci_mm"]),
        loa,
        loa_ci,
        f"{found['within_half_mm']:.0%} ({low:.0%}–{high:.0%})",
    ]


def _offer(offer: Mapping[str, Any]) -> list[str]:
    return [
        (f"{offer['practice']}: " if offer["practice"] else "") + offer["what"],
        f"{offer['value']:.2f} {offer['unit']} ({_between(offer['interval'])})",
        offer["key"] or "no key takes it",
        offer["evidence"],
        offer["present"],
    ]

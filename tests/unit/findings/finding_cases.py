"""Invented mouths for the tests of the findings: an ordinary one, changed in one thing at a time."""

from __future__ import annotations

from typing import Any

from festoon.findings import assess
from festoon.model.case import Case
from festoon.model.plan import Finding
from festoon.records.reconcile import resolve

_MARGIN = {1: 9.6, 2: 8.0, 3: 9.2}
_WIDTH = {1: 8.1, 2: 6.2, 3: 7.2}
HEALTHY = {
    "smoker": False,
    "anticoagulant": False,
    "antiplatelet": False,
    "bleeding_disorder": False,
    "antiresorptive": False,
    "jaw_radiotherapy": False,
    "diabetes": "none",
    "overgrowth_drug": False,
    "immunosuppression": False,
    "endocarditis_risk": False,
    "pregnancy": False,
    "active_periodontitis": False,
    "allergy": "none",
    "previous_surgery": False,
    "expectation_concern": False,
}


def tooth(code: str, **changes: Any) -> dict[str, Any]:
    """An ordinary upper front tooth of a woman: CEJ 1.2 mm under the margin, crest 1.8 mm under the CEJ."""
    position = int(code[1])
    margin = changes.pop("margin", _MARGIN[position])
    cej = changes.pop("cej", margin + 1.2)
    site = {
        "margin_mm": margin,
        "probing_mm": changes.pop("probing", 1.5),
        "cej_mm": cej,
        "crest_mm": changes.pop("crest", None if cej is None else cej + 1.8),
        "mucogingival_mm": changes.pop("mucogingival", margin + 5.0),
        "existing_finish_line_mm": changes.pop("finish_line", None),
    }
    plain: dict[str, Any] = {
        "status": "natural",
        "restoration": "none",
        "width_mm": _WIDTH[position],
        "edge_height_mm": {1: 0.0, 2: 0.6, 3: 0.4}[position],
        "incisal_extension_mm": 0.0,
        "edge_worn": False,
        "ankylosed": False,
        "inflamed": False,
        "crowded": False,
        "sites": {"midfacial": {name: value for name, value in site.items() if value is not None}},
    }
    return plain | changes


def mouth(
    teeth: dict[str, dict[str, Any]] | None = None,
    *,
    smile: dict[str, Any] | None = None,
    face: dict[str, Any] | None = None,
    subject: dict[str, Any] | None = None,
    health: dict[str, Any] | None = None,
    **case: Any,
) -> Case:
    """The ordinary mouth with changes; ``teeth`` gives the changes of single teeth."""
    changes = teeth or {}
    return Case.model_validate(
        {
            "case": "invented",
            "notation": "fdi",
            "phenotype": "thin",
            "subject": {"age_years": 34, "sex": "female", "growth_complete": True, "health": HEALTHY | (health or {})}
            | (subject or {}),
            "smile": {
                "lip_length_mm": 21.5,
                "lip_travel_mm": 7.0,
                "rest_display_mm": 3.2,
                "gingival_display_mm": 1.0,
                "posed": True,
            }
            | (smile or {}),
            "face": {"horizontal": "pupils", "occlusal_cant_deg": 0.0, "middle_third_mm": 66, "lower_third_mm": 66}
            | (face or {}),
            "teeth": {code: tooth(code, **changes.get(code, {})) for code in ("13", "12", "11", "21", "22", "23")},
        }
        | case
    )


def findings(case: Case) -> dict[str, Finding]:
    """The findings by cause."""
    return {finding.cause: finding for finding in assess(resolve(case))}


def every(**changes: Any) -> dict[str, dict[str, Any]]:
    """The same change of every tooth."""
    return {code: dict(changes) for code in ("13", "12", "11", "21", "22", "23")}


COVERED = {
    "13": {"margin": 7.6, "cej": 10.2, "crest": 10.6},
    "12": {"margin": 6.4, "cej": 9.0, "crest": 9.4},
    "11": {"margin": 7.8, "cej": 10.6, "crest": 11.0},
    "21": {"margin": 7.9, "cej": 10.6, "crest": 11.0},
    "22": {"margin": 6.5, "cej": 9.0, "crest": 9.4},
    "23": {"margin": 7.7, "cej": 10.2, "crest": 10.6},
}
"""Six short crowns with 2.5 mm and more of enamel hidden, crest 0.4 mm from the CEJ, mucogingival junction far apical."""

"""The sheet of a surgical template: what it is, how to check it, what to do when it does not seat."""

from __future__ import annotations

import base64
import io
from collections.abc import Mapping
from typing import Any

from PIL import Image

from festoon.reports.typeset import Paper, paper_size, typeset

_KINDS = {
    "gingival-line": "one part, its edge is the planned gingival line",
    "gingival-and-crest": "one part, openings from the planned gingival line to the planned crest",
    "two-piece": "two parts: the gingival line first, the crest line after the flap is raised (borne by teeth, not by bone)",
}


def template_sheet(about: Mapping[str, Any], pictures: Mapping[str, bytes], paper: Paper = "a4") -> bytes:
    """The sheet as PDF.

    Parameters
    ----------
    about : mapping
        What ``checks.json`` holds.
    pictures : mapping of name to PNG
        ``<part>-front.png``, ``<part>-left.png`` and ``<part>-section.png``.
    paper : {"a4", "letter"}
    """
    width, height = paper_size(paper)
    axis = about["insertion_axis"]
    data = {
        "paper": {"width": width, "height": height},
        "case": about["case"],
        "plan": about["plan_sha256"][:12],
        "short": about["plan_sha256"][:6].upper(),
        "kind": _KINDS[about["kind"]],
        "why": about["why"],
        "printable": about["printable"],
        "covered": " ".join(about["covered"]),
        "supports": " and ".join(about["supports"]),
        "scan": about["scan"],
        "made": f"clearance {about['clearance_mm']:g} mm, wall {about['wall_mm']:g} mm, grid {about['grid_mm']:g} mm",
        "axis": f"{axis['lean_facially_deg']:g} degrees facially, {axis['lean_to_patients_left_deg']:g} to the patient's left of the teeth's "
        f"mean axis; {axis['undercut_share'] * 100:.0f} % of the crowns' surface undercut and blocked out",
        "parts": [
            {
                "name": part["name"],
                "printable": part["printable"],
                "checks": [
                    {"sign": {True: "[x]", False: "[!!]", None: "[ ]"}[c["passed"]], "title": _title(c["name"]),
                     "measured": c["measured"], "wanted": c["wanted"], "where": "" if c["passed"] else c["where"]}
                    for c in part["checks"]
                ],
                "pictures": {look: _jpeg(pictures[f"{part['name']}-{look}.png"]) for look in ("front", "section")},
            }
            for part in about["parts"]
        ],
        "notes": list(about["notes"]),
        "cautions": list(about["cautions"]),
    }  # fmt: skip
    return typeset("template.typ", data)


def _title(name: str) -> str:
    return name.replace("_", " ")


def _jpeg(png: bytes) -> str:
    """A picture small enough to travel as text."""
    out = io.BytesIO()
    Image.open(io.BytesIO(png)).convert("RGB").save(out, "JPEG", quality=88)
    return base64.b16encode(out.getvalue()).decode()

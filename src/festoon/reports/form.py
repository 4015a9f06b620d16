"""The blank chart form: paper to be filled in by hand, in the order in which a clinician dictates.

Identity and datum first, then the edge, then tooth by tooth from the patient's right to the left. Its boxes carry the
names of the case file, so that typing it in needs no translation.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

from festoon.model.case import Health, Status
from festoon.model.dentition import Notation, Site, Tooth
from festoon.reports.typeset import Paper, paper_size, typeset
from festoon.reports.words import SITE_LETTERS

_MOST_A_PAGE = 8
"""More columns leave boxes too narrow to write ``10.5`` into."""

_SITE_ROWS: tuple[tuple[str, str, str], ...] = (
    ("margin, mm", "level from the datum; at D and M the papilla tip", "DFM"),
    ("probing, mm", "depth from the margin", "DFM"),
    ("sounding, mm", "margin to bone, under anaesthesia", "DFM"),
    ("CEJ, mm", "level from the datum", "DFM"),
    ("mucogingival junction, mm", "level from the datum", "F"),
    ("contact, mm", "level of its apical end", "DM"),
    ("bone thickness, mm", "at the crest", "DFM"),
    ("gingiva thickness, mm", "", "DFM"),
)
"""Name, what is read, and the sites at which it exists."""
_EDGE_ROWS: tuple[tuple[str, str], ...] = (
    ("status", ", ".join(f"{status.value[0].upper()} {status.value}" for status in Status)),
    ("edge worn", "yes or no"),
    ("incisal extension, mm", "+ longer, − shorter, 0.0 where the edge stays"),
    ("restoration", "N none, P present and kept, L planned"),
)
_TOOTH_ROWS: tuple[tuple[str, str], ...] = (("width, mm", "greatest mesiodistal, contact to contact"),)
_ROOT_ROWS: tuple[tuple[str, str], ...] = (
    ("edge height, mm", "planned edge in the arch frame, apical +"),
    ("tip, torque, °", "of the axis, in the arch frame"),
    ("zenith offset, mm", "from mid-width, distal +"),
    ("root apex, mm", "level from the datum"),
    ("mobility 0-3, lesion", "grade; L where one is to be treated"),
    ("target length, mm", "given by the design, from the planned edge"),
)
_HEALTH_WORDS = {
    "anticoagulant": "anticoagulant",
    "antiplatelet": "antiplatelet drug",
    "bleeding_disorder": "bleeding disorder",
    "antiresorptive": "antiresorptive or antiangiogenic drug",
    "jaw_radiotherapy": "radiotherapy of the jaws",
    "diabetes": "diabetes: none, controlled, uncontrolled",
    "smoker": "smoker",
    "overgrowth_drug": "drug that enlarges gingiva",
    "immunosuppression": "immunosuppression",
    "endocarditis_risk": "endocarditis risk",
    "pregnancy": "pregnancy",
    "active_periodontitis": "active periodontitis",
    "previous_surgery": "earlier surgery on these teeth",
    "expectation_concern": "distress far beyond the finding",
    "allergy": "allergies: none, or which",
}
_SMILE_ROWS = (
    ("upper lip length at rest", "mm"),
    ("lip travel, rest to full smile", "mm"),
    ("central incisor shown at rest (− when covered)", "mm"),
    ("gingiva shown at full smile (− when covered)", "mm"),
    ("the same in a spontaneous laugh, from video", "mm"),
    ("was the smile posed? yes or no", ""),
    ("horizontal used: pupils, horizon, commissures, occlusal plane", ""),
    ("cant of the occlusal plane, + when the patient's left is higher", "°"),
    ("dental midline against the face, + to the patient's left", "mm"),
    ("middle third, lower third of the face", "mm"),
)
_PERSON_ROWS = (
    ("age", "years"),
    ("sex: female, male, unknown", ""),
    ("growth complete? yes or no", ""),
    ("phenotype: thin, thick, unknown", ""),
    ("high frenum? yes or no", ""),
)
_APPROVAL_ROWS = (
    ("design version", ""),
    ("mock-up accepted in the mouth on", ""),
    ("purpose: aesthetic or restorative", ""),
)


def teeth_between(span: str) -> list[Tooth]:
    """The teeth of a range such as ``13-23``, ISO 3950, patient's right to left; one tooth is a range as well.

    Raises
    ------
    ValueError
        If it is no range of one jaw.
    """
    ends = [part.strip() for part in span.split("-")]
    if len(ends) > 2:
        raise ValueError(f"{span!r} is no range of teeth: write the first and the last as seen, such as 13-23")
    first, last = Tooth(ends[0]), Tooth(ends[-1])
    if first.is_upper != last.is_upper:
        raise ValueError(f"{span!r} goes through two jaws: print one form a jaw")
    if first.column > last.column:
        raise ValueError(f"{span!r} runs from the patient's left to the right: write {last}-{first}")
    right, left = (1, 2) if first.is_upper else (4, 3)
    row = [Tooth(f"{right}{8 - k}") if k < 8 else Tooth(f"{left}{k - 7}") for k in range(16)]
    return row[first.column : last.column + 1]


def write_blank_form(teeth: str = "13-23", *, paper: Paper = "a4") -> bytes:
    """The blank chart form as PDF.

    Parameters
    ----------
    teeth : str
        First and last tooth as seen, ISO 3950, of one jaw.
    paper : "a4" or "letter"
        Landscape.

    Returns
    -------
    bytes
        A PDF; the same arguments give the same bytes.

    Raises
    ------
    ValueError
        If ``teeth`` is no range of one jaw, or the paper is not known.
    """
    places = teeth_between(teeth)
    width, height = paper_size(paper)
    data: dict[str, Any] = {
        "paper": {"width": width, "height": height},
        "teeth": teeth,
        "jaw": "upper jaw" if places[0].is_upper else "lower jaw",
        "charts": [_chart(part) for part in _pages(places)],
        "edge_rows": [list(row) for row in _EDGE_ROWS],
        "tooth_rows": [list(row) for row in _TOOTH_ROWS],
        "site_rows": [list(row) for row in _SITE_ROWS],
        "root_rows": [list(row) for row in _ROOT_ROWS],
        "smile": [list(row) for row in _SMILE_ROWS],
        "person": [list(row) for row in _PERSON_ROWS],
        "approval": [list(row) for row in _APPROVAL_ROWS],
        "health": [_HEALTH_WORDS[name] for name in Health.model_fields],
        "papillae": [f"{a}-{b}" for a, b in pairwise(places)],
    }
    return typeset("form.typ", data)


def _pages(places: Sequence[Tooth]) -> list[list[Tooth]]:
    """The teeth of each page: all on one where the boxes stay wide enough, else cut at the midline or in halves."""
    if len(places) <= _MOST_A_PAGE:
        return [list(places)]
    right = [tooth for tooth in places if tooth.is_right]
    cut = (
        len(right) if 0 < len(right) <= _MOST_A_PAGE and len(places) - len(right) <= _MOST_A_PAGE else len(places) // 2
    )
    return [list(places[:cut]), list(places[cut:])]


def _chart(places: Sequence[Tooth]) -> dict[str, Any]:
    right = [tooth for tooth in places if tooth.is_right]
    letters = [SITE_LETTERS[site] for site in (Site.DISTAL, Site.MIDFACIAL, Site.MESIAL)]
    return {
        "midline_after": len(right) if 0 < len(right) < len(places) else None,
        "teeth": [
            {
                "first": tooth.shown(Notation.FDI),
                "second": tooth.shown(Notation.UNIVERSAL),
                "words": tooth.name,
                "letters": letters if tooth.is_right else letters[::-1],
            }
            for tooth in places
        ],
    }

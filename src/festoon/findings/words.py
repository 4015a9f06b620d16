"""Words several causes share: alternatives with their published results, and whom to ask."""

from __future__ import annotations

from festoon.evidence.table import published

PERIODONTIST = "periodontist"
RESTORATIVE = "restorative dentist"
ORTHODONTIST = "orthodontist"
JAW_SURGEON = "oral and maxillofacial surgeon"
PRESCRIBER = "the prescribing physician"

NO_TREATMENT = "No treatment."
RESTORE_INCISALLY = "Restorative lengthening of the edge, after a trial of the new edge in speech and bite."
ALIGN_FIRST = "Orthodontic alignment first; measure again when it is done."


def _mm(row_id: str) -> str:
    return f"{published(row_id).value:.1f}"


INTRUSION = (
    f"Orthodontic intrusion, then restoration; about {published('DX-032').value:g} mm of incisor intrusion is called "
    "predictable (DX-032, weak source)."
)
EXTRUSION = "Orthodontic extrusion of the single tooth instead of lowering its neighbours' bone."
LIP_SURGERY = (
    f"Lip repositioning: display {_mm('DX-025')} mm less at 6 and {_mm('DX-027')} at 36 months in one meta-analysis "
    f"(DX-025, DX-027), {_mm('DX-029')} at 6 and {_mm('DX-030')} at 12 months, relapsing, in another (DX-029, DX-030)."
)
TOXIN = (
    f"Botulinum toxin: wears off in {published('DX-031').low:g} to {published('DX-031').high:g} months and must be "
    "repeated (DX-031)."
)
JAW_SURGERY = "Orthodontics with jaw surgery; gingival surgery alone only as a disclosed compromise."

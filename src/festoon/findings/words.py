"""Words several causes share: alternatives with their published results, whom to ask, the display to expect."""

from __future__ import annotations

from festoon.evidence.table import published
from festoon.findings.mouth import Mouth

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


def display_words(mouth: Mouth) -> str:
    """How much gingiva would still show if the central margins went to the CEJ, as far as it can be computed.

    Display now minus the apical move; the smaller move of the two centrals counts, since it leaves more showing.
    """
    now = mouth.display
    if now is None:
        return "Display was not recorded, so what remains of it cannot be said."
    smile = mouth.case.smile
    centrals = [f for f in mouth.front if f.tooth.position == 1]
    moves = [f.covered for f in centrals if f.covered is not None]
    if not centrals or len(moves) < len(centrals):
        text = (
            f"Display now {now:.1f} mm; what lengthening would take off it cannot be said before the CEJ of both "
            "centrals is known."
        )
    else:
        most = max(min(moves), 0.0)
        text = (
            f"Display now {now:.1f} mm; with the central margins at the CEJ at most {most:.1f} mm goes, "
            f"{max(now - most, 0.0):.1f} mm stays."
        )
    if smile.display_spontaneous_mm is None and smile.posed is not False:
        text += " A posed smile under-shows: expect more in laughter (practice notes [S37])."
    return text

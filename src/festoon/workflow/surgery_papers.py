"""What is printed of a surgery and its recalls: the record, the letters, the drawing of the margins over time."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from festoon.drawings.margins_over_time import draw_margins_over_time
from festoon.model.dentition import Site
from festoon.records.writing import write_whole
from festoon.reports.letter import READERS, Reader, write_letter
from festoon.reports.surgery_record import write_surgery_record
from festoon.store.store import Store
from festoon.verify.session import TWO, Notations
from festoon.workflow.recall import recall_state
from festoon.workflow.stored_plan import signed_plan
from festoon.workflow.surgery import Surgery, state

PaperSize = Literal["a4", "letter"]
RECORD_FILE = "surgery-record.pdf"
PICTURE_FILE = "margins-over-time.svg"


def write_record(
    store: Store, surgery: Surgery, folder: Path, *, paper: PaperSize = "a4", notations: Notations = TWO
) -> Path:
    """Write the record of a surgery as a PDF of one page, every tooth under both notations."""
    now = state(store, surgery, notations=notations)
    plan = signed_plan(store, surgery.case, now.plan).plan
    return write_whole(folder, {RECORD_FILE: write_surgery_record(plan, now, paper=paper, notations=notations)})[0]


def picture_of(store: Store, surgery: Surgery, notations: Notations = TWO) -> str:
    """The margins over time as SVG.

    Raises
    ------
    ValueError
        If no midfacial margin was read after suturing or at a visit.
    """
    healed = recall_state(store, surgery, notations=notations)
    sutures = state(store, surgery, resolve=False).sutures
    return draw_margins_over_time(healed, sutures, notations=notations)


def write_picture(store: Store, surgery: Surgery, folder: Path) -> Path:
    """Write the margins over time as SVG. See :func:`picture_of`."""
    return write_whole(folder, {PICTURE_FILE: picture_of(store, surgery).encode()})[0]


def write_letters(
    store: Store,
    surgery: Surgery,
    folder: Path,
    readers: Sequence[Reader] = READERS,
    *,
    paper: PaperSize = "a4",
    notations: Notations = TWO,
) -> tuple[Path, ...]:
    """Write the letters to these readers, all or none; the drawing is in them where there is something to draw."""
    now = state(store, surgery, resolve=False, notations=notations)
    healed = recall_state(store, surgery, notations=notations)
    plan = signed_plan(store, surgery.case, now.plan).plan
    sites = {*(check.site for check in now.sutures), *(visit.site for visit in healed.verification.visits)}
    is_drawn = Site.MIDFACIAL in sites
    picture = picture_of(store, surgery, notations) if is_drawn else None
    return write_whole(
        folder,
        {
            f"letter-{reader}.pdf": write_letter(
                reader, plan, now, healed, picture=picture, paper=paper, notations=notations
            )
            for reader in readers
        },
    )

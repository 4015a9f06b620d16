"""What is printed of a surgery and its recalls: the record, the letters, the drawing of the margins over time."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from festoon.records.writing import write_whole
from festoon.reports.surgery_record import write_surgery_record
from festoon.store.store import Store
from festoon.workflow.stored_plan import signed_plan
from festoon.workflow.surgery import Surgery, state

PaperSize = Literal["a4", "letter"]
RECORD_FILE = "surgery-record.pdf"


def write_record(store: Store, surgery: Surgery, folder: Path, *, paper: PaperSize = "a4") -> Path:
    """Write the record of a surgery as a PDF of one page."""
    now = state(store, surgery)
    plan = signed_plan(store, surgery.case, now.plan).plan
    return write_whole(folder, {RECORD_FILE: write_surgery_record(plan, now, paper=paper)})[0]

"""Routes of the import: a table or a case file looked at, reading by reading, and then kept in a case."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path
from typing import Annotated, Literal

from fastapi import APIRouter, Depends, File, Form, Request, UploadFile
from pydantic import BaseModel

from festoon.errors import Fault, InputRefusedError
from festoon.model.dentition import Notation
from festoon.model.reading import Datum
from festoon.web.api.cases import Kept
from festoon.web.desk import DeskHere, PrefersHere
from festoon.web.faults import FaultShown, shown
from festoon.web.words import N_, catalogue
from festoon.workflow.importing import Becomes, Looked, bring_in, look_at

router = APIRouter(tags=["imports"])
Left = Annotated[str, Form(pattern=r"^([0-9]{1,6}(,[0-9]{1,6}){0,4999})?$")]
"""Numbers of the readings that are left out, parted by commas."""
_FIELDS = {
    "notation": N_("Teeth are named in"),
    "datum": N_("Levels were read from"),
    "decimal": N_("Decimal mark"),
    "unit": N_("Unit of bare numbers"),
    "sites": N_("Sites of a tooth"),
    "days": N_("Order of day and month"),
    "intervals": N_("2-3 and <1 are"),
    "case": N_("Id of the case"),
}
"""The fields of the form, by the option of the command line that a fault may name."""


class LineShown(BaseModel):
    """One reading of a table, and what becomes of it."""

    number: int
    line: int
    tooth: str
    site: str | None
    quantity: str
    value_mm: float
    datum: str | None
    method: str | None
    at: dt.date | None
    becomes: Becomes
    why: str


class Preview(BaseModel):
    """What would be brought in. Nothing was kept."""

    sha256: str
    """Of what was looked at; the import takes nothing else."""
    case: str | None
    base: int
    """The version it was laid beside; 0 for a new case."""
    can_be_kept: bool
    lines: list[LineShown]
    changed: list[str]
    """Of a case file: the entries in which it differs from the case as it stands."""
    understood: list[str]
    """How the table was read, in words."""
    notes: list[str]
    faults: list[FaultShown]
    said: str
    """The same as a part of a page."""


class Brought(Kept):
    """What was kept."""

    case: str


class _Wanted:
    """What a form brings: a file or pasted cells, the case, and what is declared of a table."""

    def __init__(
        self,
        file: Annotated[UploadFile | None, File()] = None,
        text: Annotated[str, Form(max_length=2_000_000)] = "",
        case: Annotated[str, Form(max_length=64)] = "",
        notation: Annotated[Notation | Literal[""], Form()] = "",
        datum: Annotated[Datum | Literal[""], Form()] = "",
        decimal: Annotated[Literal["", "point", "comma"], Form()] = "",
        unit: Annotated[Literal["", "mm", "cm"], Form()] = "",
        sites: Annotated[Literal["", "six", "ten"], Form()] = "",
        days: Annotated[Literal["", "dmy", "mdy"], Form()] = "",
        intervals: Annotated[Literal["", "refuse", "middle"], Form()] = "",
        sheet: Annotated[str, Form(max_length=100)] = "",
        left: Left = "",
    ) -> None:
        self.file, self.text, self.case, self.sheet = file, text, case, sheet
        declared = {
            "notation": notation, "datum": datum, "decimal": decimal, "unit": unit, "sites": sites, "days": days,
            "intervals": intervals,
        }  # fmt: skip
        self.declared = {key: str(value) for key, value in declared.items() if value}
        self.left = frozenset(int(number) for number in left.split(",") if number)

    def looked_at(self, desk: DeskHere) -> Looked:
        """What it would bring in."""
        data, name = self._source()
        return look_at(
            desk.store, data, name,
            case=self.case or None, declared=self.declared, sheet=self.sheet or None, left_out=self.left,
        )  # fmt: skip

    def _source(self) -> tuple[bytes, str]:
        if self.file is not None and self.file.filename:
            # The ending only: a file's name is often a person's.
            endings = "".join(Path(self.file.filename).suffixes[-2:]).lower()
            known = re.search(r"\.(csv\.gz|tsv\.gz|[a-z0-9]{1,5})$", endings)
            return self.file.file.read(), f"import{known[0] if known else ''}"
        if self.text.strip():
            is_table = any(mark in self.text for mark in "\t;,")
            return self.text.encode(), "pasted.tsv" if is_table else "pasted.txt"
        do = "Choose a file, or paste the cells."
        raise InputRefusedError([Fault("import", "file", "no file and nothing pasted", "a table or a case file", do)])


WantedHere = Annotated[_Wanted, Depends(_Wanted)]


@router.post("/imports/preview")
def preview(desk: DeskHere, prefers: PrefersHere, request: Request, wanted: WantedHere) -> Preview:
    """Look at a table or a case file, reading by reading. Nothing is kept."""
    looked = wanted.looked_at(desk)
    translate = catalogue(prefers.language).gettext
    names = {option: translate(label) for option, label in _FIELDS.items()}
    faults = [in_form_words(shown(fault), names) for fault in looked.faults]
    can_be_kept = looked.document is not None and not faults
    return Preview(
        sha256=looked.sha256,
        case=looked.case,
        base=looked.base,
        can_be_kept=can_be_kept,
        lines=[
            LineShown(
                number=line.number,
                line=line.reading.line,
                tooth=line.reading.tooth,
                site=line.reading.site,
                quantity=line.reading.quantity,
                value_mm=line.reading.value,
                datum=line.reading.datum,
                method=line.reading.method,
                at=line.reading.at,
                becomes=line.becomes,
                why=line.why,
            )
            for line in looked.lines
        ],
        changed=list(looked.changed),
        understood=_understood(looked),
        notes=list(looked.notes),
        faults=faults,
        said=request.app.state.pages.text(
            request, "parts/import_preview.html",
            looked=looked, faults=faults, understood=_understood(looked), can_be_kept=can_be_kept,
        ),
    )  # fmt: skip


def in_form_words(fault: FaultShown, names: dict[str, str]) -> FaultShown:
    """A fault whose advice names the fields of the form in place of options of the command line."""
    do = re.sub(r"--([a-z]+)", lambda found: f"“{names[found[1]]}”" if found[1] in names else found[0], fault.do)
    return fault.model_copy(update={"do": do})


def _understood(looked: Looked) -> list[str]:
    """How a table was read, in words: its columns, what was left out, and what is doubtful."""
    if looked.table is None:
        return []
    intake = looked.table.intake
    said = list(intake.notes)
    said += [f"{column.letters} {column.heading or '–'}: {column.means}, {column.n_read}" for column in intake.columns]
    said += [f"not read: {heading}" for heading in intake.left_out]
    said += [str(broken) for broken in looked.table.broken[:20]]
    said += [str(conflict) for conflict in looked.table.conflicts[:20]]
    if looked.table.is_sign_doubtful:
        said.append("recession seems to be charted with the other sign: a margin coronal to the CEJ as positive")
    return said


@router.post("/imports", status_code=201)
def keep(
    desk: DeskHere,
    wanted: WantedHere,
    base: Annotated[int, Form(ge=0)],
    sha256: Annotated[str, Form(pattern="^[0-9a-f]{64}$")],
    why: Annotated[str, Form(min_length=3, max_length=500)] = "imported in the app",
) -> Brought:
    """Keep what was looked at: as a new case, or as a new version of the case it goes into."""
    looked = wanted.looked_at(desk)
    if looked.sha256 != sha256:
        do = "Preview it again."
        raise InputRefusedError([Fault("import", "file", "another file than the one previewed", "the same bytes", do)])
    saved = bring_in(desk.store, looked, base=base, by=desk.by, why=why)
    return Brought(version=saved.version, notes=list(saved.notes), case=looked.case or "")

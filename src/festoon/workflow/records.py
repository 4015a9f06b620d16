"""Use cases of the records: tables and cases in and out of the store, backups, proof. Joins ``records`` and ``store``."""

from __future__ import annotations

import datetime as dt
import io
import json
import os
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from PIL import Image
from pydantic import ValidationError

from festoon.errors import Fault, InputRefusedError
from festoon.model.case import Case
from festoon.model.dentition import Notation, Site
from festoon.model.plan import Plan
from festoon.model.reading import Datum, Method
from festoon.photo.reading import is_other_photograph, read_photo
from festoon.records import schema
from festoon.records.casefile import CaseFile, parse_case
from festoon.records.casewriter import write_case
from festoon.records.conflicts import Conflict, conflicts
from festoon.records.document import Faults, Listing, Node, Scalar, decoded, path_text
from festoon.records.identities import BrokenSum, broken_sums, mended_by_turning
from festoon.records.intake.column_map import ColumnMap
from festoon.records.intake.files import table_intake
from festoon.records.intake.outgoing import write_readings
from festoon.records.intake.understood import ChartReading, Intake
from festoon.records.merging import begun_case, with_readings
from festoon.records.plausible import concerns
from festoon.records.privacy.dicom import clean_dicom
from festoon.records.privacy.photograph import JPEG, PNG, Cleaned, clean_photograph
from festoon.records.yaml_syntax import compose_yaml
from festoon.store import archive, keeping, looking
from festoon.store.errors import StoreError, UnknownRecordError
from festoon.store.store import Store
from festoon.store.writing import write_file
from festoon.workflow.planning import plan_of

TableKind = Literal["csv", "tsv", "xlsx", "json", "yaml"]
_CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
WHO_VARIABLE = "FESTOON_BY"
"""Environment variable that names who works here, as a pseudonymous code."""


def who(given: str | None) -> str:
    """Who acts, as a code for the trail: the one given, else that of ``FESTOON_BY``, else ``operator``.

    The account name of the computer is never taken: it is often a person's name.

    Raises
    ------
    ValueError
        If it is no code.
    """
    code = given or os.environ.get(WHO_VARIABLE) or "operator"
    if not _CODE.fullmatch(code):
        raise ValueError("a code of letters, digits, dot, dash and underscore, no name")
    return code


@dataclass(frozen=True)
class TableRead:
    """A table as understood, before or after it was kept."""

    intake: Intake
    broken: tuple[BrokenSum, ...]
    """Rows whose attachment is not probing plus recession."""
    conflicts: tuple[Conflict, ...]
    """Readings of one quantity in this table that contradict each other."""
    n_mended_by_turning: int
    """How many of the broken rows would add up if recession were charted with the other sign."""
    faults: tuple[Fault, ...]
    """With any of these nothing can be kept."""

    @property
    def is_sign_doubtful(self) -> bool:
        """True where the other sign of recession would mend most of what does not add up."""
        return self.n_mended_by_turning > len(self.broken) / 2


def read_table(path: Path, chosen: ColumnMap, *, sheet: str | None = None) -> TableRead:
    """What a table says, with all that does not add up. Nothing is kept.

    Raises
    ------
    InputRefusedError
        If the file is no table at all.
    """
    return read_table_bytes(path.read_bytes(), path.name, chosen, sheet=sheet)


def read_table_bytes(data: bytes, name: str, chosen: ColumnMap, *, sheet: str | None = None) -> TableRead:
    """The same for the bytes of a file. See :func:`read_table`."""
    intake, faults = table_intake(data, name, chosen, sheet=sheet)
    within = chosen.attachment_within_mm
    broken = tuple(broken_sums(intake.readings, within))
    return TableRead(
        intake,
        broken,
        tuple(conflicts(intake.readings)),
        mended_by_turning(broken, within),
        () if not faults.found else faults.error().faults,
    )


def keep_table(store: Store, table: TableRead, case: str | None, *, by: str, why: str) -> dict[str, int]:
    """Keep the readings of a table. Returns how many of each case.

    Raises
    ------
    InputRefusedError
        If the table has a fault, or says neither which case it is of nor was told; nothing is kept then.
    """
    if table.faults:
        raise InputRefusedError(table.faults)
    by_case: dict[str, list[dict[str, Any]]] = {}
    for reading in table.intake.readings:
        mine = _case_of(reading, table.intake, case)
        by_case.setdefault(mine, []).append(_row(reading, table.intake.file))
    keeping.keep_readings(store, by_case, by=by, why=why)
    return {name: len(rows) for name, rows in by_case.items()}


def _case_of(reading: ChartReading, intake: Intake, case: str | None) -> str:
    said = reading.case or intake.declared_case
    if said is not None and case is not None and said != case:
        found, expected = f"readings of case {said}", f"those of case {case}"
    elif said is None and case is None:
        found, expected = "readings of no case", "--case, or a column of case ids"
    else:
        mine = said or case or ""
        if _CODE.fullmatch(mine):
            return mine
        found, expected = "an id of a case that is no code", "letters, digits, dot, dash and underscore; no names"
    raise InputRefusedError(
        [Fault(intake.file, "case", found, expected, "Say which case the table is of.", reading.line)]
    )


def _row(reading: ChartReading, file: str) -> dict[str, Any]:
    row = {field: getattr(reading, field) for field in keeping.READING_FIELDS if field != "source"}
    row["at"] = None if reading.at is None else reading.at.isoformat()
    # The ending only: a file's name is often a person's.
    row["source"] = f"{Path(file).suffix.lstrip('.') or 'table'} row {reading.line}"
    return {key: str(value) if isinstance(value, str) else value for key, value in row.items()}


def chart_readings(readings: Iterable[looking.KeptReading], case: str) -> list[ChartReading]:
    """Kept readings as readings of a chart; ``line`` is the number each is kept under."""
    return [
        ChartReading(
            case=case,
            tooth=kept.fields["tooth"] or "",
            site=Site(kept.fields["site"]) if kept.fields["site"] else None,
            quantity=kept.fields["quantity"],
            value=kept.fields["value"],
            se=kept.fields["se"],
            method=Method(kept.fields["method"]) if kept.fields["method"] else None,
            datum=Datum(kept.fields["datum"]) if kept.fields["datum"] else None,
            at=dt.date.fromisoformat(kept.fields["at"]) if kept.fields["at"] else None,
            by=kept.fields["by"],
            flag=kept.fields["flag"],
            line=kept.number,
        )
        for kept in readings
    ]


def keep_case_file(
    store: Store, path: Path, case: str | None, *, base: int | None, by: str, why: str
) -> tuple[CaseFile, int]:
    """Save a case file as a new version. Returns the file as read, and the number of the version.

    Raises
    ------
    InputRefusedError
        If the file has faults, or is of another case.
    StaleVersionError
        If ``base`` is no longer the head; both versions are kept.
    """
    return keep_case_bytes(store, path.read_bytes(), path.name, case, base=base, by=by, why=why)


def keep_case_bytes(
    store: Store, data: bytes, name: str, case: str | None = None, *, base: int | None = None, by: str, why: str
) -> tuple[CaseFile, int]:
    """The same for the bytes of a file. See :func:`keep_case_file`."""
    file = parse_case(data, name)
    if case is not None and file.case.case != case:
        raise InputRefusedError(
            [Fault(name, "case", f"case {file.case.case}", f"case {case}", "Name the case that the file is of.")]
        )
    if base is None:
        known = {line.case: line.versions for line in looking.list_cases(store, search=file.case.case)}
        base = known.get(file.case.case, 0)
    number = keeping.save_case(store, file.case.case, file.case.model_dump_json(), base=base, by=by, why=why)
    return file, number


@dataclass(frozen=True)
class CaseKnown:
    """A case with everything kept of it, and what stands in the way of planning it."""

    record: looking.CaseOnRecord
    case: Case | None
    """With the kept readings in it; None where nothing was kept of it."""
    used: tuple[int, ...]
    """Numbers of the kept readings in it."""
    left_out: tuple[str, ...]
    conflicts: tuple[Conflict, ...]
    """To be settled by a person: set the wrong reading aside, with a reason."""
    broken: tuple[BrokenSum, ...]
    impossible: tuple[str, ...] = ()
    """What no mouth allows in the case with the kept readings in it, contradictions with its file among them."""


def case_known(store: Store, case: str) -> CaseKnown:
    """The case as the store knows it.

    Raises
    ------
    UnknownRecordError
        If there is no such case.
    """
    record = looking.open_case(store, case)
    kept = chart_readings((reading for reading in record.readings if not reading.is_set_aside), case)
    found = tuple(conflicts(kept))
    broken = tuple(broken_sums(kept, ColumnMap().attachment_within_mm))
    if record.document is None and not kept:
        return CaseKnown(record, None, (), (), found, broken)
    base = Case.model_validate_json(record.document) if record.document else begun_case(case, kept)
    merged = with_readings(base, kept)
    used = tuple(kept[index].line for index in merged.placed)
    impossible = tuple(
        f"{path_text(concern.path)}: {concern.found}; expected {concern.expected}. {concern.do}"
        for concern in concerns(merged.case)
        if concern.is_refused
    )
    return CaseKnown(record, merged.case, used, merged.left_out, found, broken, impossible)


def plan_and_keep(store: Store, case: str, *, supersedes: int | None = None, by: str, why: str) -> PlanKept:
    """Plan a case with everything kept of it, and keep the plan with the version and the readings it used.

    Raises
    ------
    StoreError
        If no case file was kept of it.
    InputRefusedError
        If kept readings contradict each other: settle them first.
    SolverError
        If the solver fails; nothing is kept then.
    """
    known = case_known(store, case)
    if known.case is None or known.record.version == 0:
        raise StoreError(f"of case {case} only readings were kept: import its case file first")
    text = write_case(known.case, Notation.FDI).encode()
    plan = plan_of(parse_case(text, f"{case}.yaml"))
    kept = keeping.keep_plan(
        store,
        case,
        plan.as_json(),
        case_version=known.record.version,
        used=known.used,
        supersedes=supersedes,
        by=by,
        why=why,
    )
    return PlanKept(plan, kept)


@dataclass(frozen=True)
class PlanKept:
    """A plan and the number it was kept under."""

    plan: Plan
    kept: keeping.KeptPlan


def sign_kept_plan(store: Store, case: str, number: int, *, by: str, role: str, reason: str) -> tuple[str, ...]:
    """Sign a kept plan. Returns what has changed in the records since it was made, for the person who signs.

    Raises
    ------
    StoreError
        If the plan cannot be signed: the reasons are those it states itself.
    UnknownRecordError, SignedPlanError
        If there is no such plan, or it was superseded or signed by this person already.
    """
    record = looking.open_case(store, case)
    found = next((plan for plan in record.plans if plan.number == number), None)
    if found is None:
        raise UnknownRecordError(f"case {case} has no plan {number}")
    said = json.loads(found.document)
    if not said.get("signable"):
        reasons = "; ".join(said.get("signable_reasons", ())) or "it does not say that it can be signed"
        raise StoreError(f"plan {number} of case {case} cannot be signed: {reasons}")
    keeping.sign_plan(store, case, number, found.sha256, by=by, role=role, reason=reason)
    return looking.staleness(record, found)


def attach(store: Store, case: str, path: Path, *, kind: str, by: str, why: str) -> tuple[str, tuple[str, ...]]:
    """Keep a photograph, volume or scan for a case, without identity. Returns its SHA-256 and what was taken out.

    Raises
    ------
    InputRefusedError
        If a photograph or DICOM file cannot be read: what cannot be cleaned is not kept.
    """
    data = path.read_bytes()
    try:
        if data.startswith((JPEG, PNG)):
            cleaned = clean_photograph(data)
        elif data[128:132] == b"DICM":
            cleaned = clean_dicom(data)
        elif is_other_photograph(data):
            cleaned = _as_png(path)
        else:
            cleaned = Cleaned(data, ("nothing: a file of this kind is kept as it is",))
    except ValueError as error:
        raise _not_cleaned(path, str(error), "Copy the file again, or save it anew as JPEG or PNG.") from None
    sha256 = keeping.attach_file(store, case, cleaned.data, kind=kind, removed=cleaned.removed, by=by, why=why)
    return sha256, cleaned.removed


def _as_png(path: Path) -> Cleaned:
    """A TIFF, HEIC or WebP photograph as an upright PNG: pixels alone go on."""
    photo = read_photo(path)
    kept = io.BytesIO()
    Image.fromarray(photo.pixels).save(kept, "PNG")
    return Cleaned(kept.getvalue(), (*photo.removed, *photo.notes, "kept as an upright PNG: pixels alone"))


def _not_cleaned(path: Path, found: str, do: str) -> InputRefusedError:
    name = f"file{path.suffix.lower()}"  # the name itself is often a person's
    return InputRefusedError([Fault(name, "", found, "a file that identity can be taken out of", do)])


def export_readings(store: Store, case: str, kind: TableKind, target: Path) -> int:
    """Write the readings of a case that are not set aside as a table that imports unchanged. Returns how many."""
    record = looking.open_case(store, case)
    readings = chart_readings((reading for reading in record.readings if not reading.is_set_aside), case)
    write_file(target, write_readings(readings, case, kind))
    return len(readings)


def export_case_file(store: Store, case: str, target: Path, notation: Notation = Notation.FDI) -> None:
    """Write the case with all its kept readings as a case file.

    Raises
    ------
    StoreError
        If nothing was kept of it.
    """
    known = case_known(store, case)
    if known.case is None:
        raise StoreError(f"nothing was kept of case {case} that a case file could hold")
    write_file(target, write_case(known.case, notation).encode())


def export_archive(store: Store, case: str, target: Path) -> str:
    """Write a case as a single archive that opens on another machine. Returns its SHA-256."""
    schemas = {"case": schema.case_schema(), "plan": schema.plan_schema(), "readings": schema.readings_schema()}
    packed = {name: json.dumps(made, indent=1, sort_keys=True).encode() for name, made in schemas.items()}
    return archive.export_case(store, case, target, schemas=packed)


def column_map(store: Store | None, named: str | None, changes: Mapping[str, Any]) -> ColumnMap:
    """A column map: from a YAML file, or by the name it was kept under, with what was declared beside it.

    Raises
    ------
    InputRefusedError
        If the file is no column map.
    UnknownRecordError
        If no map of that name was kept.
    """
    if named is None:
        said: dict[str, Any] = {}
    elif named.lower().endswith((".yaml", ".yml")):
        said = _map_file(Path(named))
    elif store is not None:
        said = json.loads(looking.map_named(store, named))
    else:
        said = {}
    said |= {key: value for key, value in changes.items() if value is not None}
    try:
        return ColumnMap.model_validate(said)
    except ValidationError as error:
        name = Path(named).name if named else "options"
        raise InputRefusedError(
            [
                Fault(
                    name,
                    ".".join(map(str, problem["loc"])),
                    f"{problem['input']!r}"[:60],
                    problem["msg"].lower(),
                    "Mend it.",
                )
                for problem in error.errors()
            ]
        ) from None


def _map_file(path: Path) -> dict[str, Any]:
    faults = Faults(path.name, kind="column map")
    root = compose_yaml(decoded(path.read_bytes(), faults), faults)
    if faults.found:
        raise faults.error()

    def plain(node: Node | None) -> Any:
        if node is None or isinstance(node, Scalar):
            return None if node is None else node.value
        if isinstance(node, Listing):
            return [plain(item) for item in node.items]
        return {entry.key: plain(entry.value) for entry in node.entries}

    said = plain(root)
    if not isinstance(said, dict):
        faults.refuse(line=1, found="no keys", expected="a column map", do="Name the right file.")
    return said


def keep_column_map(store: Store, name: str, chosen: ColumnMap, *, by: str) -> None:
    """Keep a column map under a name, for the practice's next table."""
    named = chosen.model_copy(update={"name": name})
    keeping.keep_map(store, name, named.model_dump_json(exclude_defaults=True), by=by, why="for the next table")

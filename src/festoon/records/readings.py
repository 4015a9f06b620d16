"""Files of readings, format ``festoon-readings/1``, read strictly: every fault is told together, with its line.

Teeth are in ISO 3950 unless ``notation`` declares another notation.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

from pydantic import ValidationError

from festoon.model.case import SiteChart
from festoon.model.dentition import Notation, SiteKind
from festoon.model.quantities import Quantity, Readings
from festoon.records.casefile import bytes_of, check_format, tree_of
from festoon.records.document import Entry, Faults, Listing, Scalar, Table, described
from festoon.records.kinds import Draft, drafted
from festoon.records.plain_words import add_refusals
from festoon.records.tooth_keys import named_tooth

_OF_A_SITE = frozenset(SiteChart.model_fields)


@dataclass(frozen=True)
class ReadingsFile:
    """Readings and the file they came from."""

    readings: Readings
    lines: tuple[int, ...]
    """Line of the file on which each reading begins."""
    sha256: str
    """Of the file's bytes."""
    name: str
    """File name, without its folder."""
    notes: tuple[str, ...]


def read_readings(path: Path) -> ReadingsFile:
    """The readings in a YAML or JSON file.

    Raises
    ------
    InputRefusedError
        If the file cannot be read or has faults: all of them together.
    """
    faults = Faults(path.name or str(path), kind="readings")
    return parse_readings(bytes_of(path, faults), faults.file)


def parse_readings(data: bytes, name: str) -> ReadingsFile:
    """The readings in the bytes of a file; ``name`` says by its ending whether they are YAML or JSON.

    Raises
    ------
    InputRefusedError
        If the bytes are no readings: every fault together.
    """
    faults = Faults(name, kind="readings")
    notes: list[str] = []
    root = tree_of(data, faults)
    check_format(root, faults, notes)
    draft = drafted(Readings, _in_iso(root, faults), {}, faults)
    readings = None
    try:
        readings = Readings.model_validate(draft.data)
    except ValidationError as error:
        add_refusals(error, draft, faults)
    if readings is not None:
        _check_sites(readings, draft, faults)
        if not readings.readings and ("readings",) not in draft.dropped:
            faults.add(
                where=("readings",),
                line=root.line,
                found="no readings",
                expected="a list of readings, at least one",
                do="Check that the right file was named and that it was saved.",
            )
    if faults.found or readings is None:
        raise faults.error()
    lines = tuple(draft.place(("readings", index)).line for index in range(len(readings.readings)))
    return ReadingsFile(readings, lines, hashlib.sha256(data).hexdigest(), name, tuple(notes))


def _in_iso(root: Table, faults: Faults) -> Table:
    """The same tree without its notation, every tooth brought to ISO 3950 where it names one."""
    notation = Notation.FDI
    said = root.entry("notation")
    if said is not None:
        word = said.value.value if isinstance(said.value, Scalar) else None
        if word in list(Notation):
            notation = Notation(str(word))
        else:
            faults.add(
                where=("notation",),
                line=said.line,
                found=described(said.value),
                expected="fdi, universal or palmer",
                do="Say how this file names its teeth, or leave it out for ISO 3950 (fdi).",
            )
    entries = []
    for entry in root.entries:
        if entry.key == "readings" and isinstance(entry.value, Listing):
            items = tuple(
                _tooth_in_iso(item, index, notation, faults) if isinstance(item, Table) else item
                for index, item in enumerate(entry.value.items)
            )
            entries.append(Entry(entry.key, entry.line, Listing(entry.value.line, items)))
        elif entry.key != "notation":
            entries.append(entry)
    return Table(root.line, tuple(entries))


def _tooth_in_iso(item: Table, index: int, notation: Notation, faults: Faults) -> Table:
    """One reading with its tooth in ISO 3950; one that names no tooth has its fault and loses the key."""
    kept = []
    for entry in item.entries:
        # A number written without quotes is the same label: it is not computed with.
        is_label = isinstance(entry.value, Scalar) and (entry.value.is_quoted or entry.value.value is not None)
        if entry.key == "tooth" and isinstance(entry.value, Scalar) and is_label:
            path = ("readings", index, "tooth")
            tooth = named_tooth(entry.value.text, notation, path, entry.line, faults)
            if tooth is not None:
                kept.append(Entry("tooth", entry.line, Scalar(entry.value.line, tooth.fdi, tooth.fdi, is_quoted=True)))
        else:
            kept.append(entry)
    return Table(item.line, tuple(kept))


def _check_sites(readings: Readings, draft: Draft, faults: Faults) -> None:
    """What belongs to a site names it; a contact stands between two teeth."""
    for index, reading in enumerate(readings.readings):
        place = draft.place(("readings", index))
        of_a_site = reading.quantity.case_key in _OF_A_SITE or reading.quantity is Quantity.KERATINISED_WIDTH
        if of_a_site and reading.site is None:
            faults.add(
                where=(*place.path, "site"),
                line=place.line,
                found=f"{reading.quantity} without a site",
                expected="the site it was read at",
                do="Add its site, e.g. site: midfacial.",
            )
        is_contact = reading.quantity is Quantity.CONTACT_LEVEL
        if is_contact and reading.site is not None and reading.site.kind is not SiteKind.INTERPROXIMAL:
            faults.add(
                where=(*place.path, "site"),
                line=place.line,
                found=f"a contact at the site {reading.site}",
                expected="contacts at mesial, distal, mesial_lingual and distal_lingual only",
                do="Name the site between the teeth.",
            )

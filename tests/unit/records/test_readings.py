"""Files of readings: read strictly, every fault with its line, every level placed on its tooth or refused."""

from __future__ import annotations

import datetime as dt
import json

import pytest
import yaml
from jsonschema import Draft202012Validator

from festoon.errors import Fault, InputRefusedError
from festoon.evidence.errors import reading_error
from festoon.model.case import Case
from festoon.model.reading import LevelReading, Method
from festoon.model.verification import Moment, PlacedReading
from festoon.records.casefile import read_case
from festoon.records.placing import place_readings
from festoon.records.readings import parse_readings
from festoon.records.schema import readings_schema
from verify_worked import FILES, SURGERY

SCHEMA = Draft202012Validator(readings_schema())
HEAD = "format: festoon-readings/1\ncase: abacus-07\n"
CREST = "site: midfacial, quantity: crest_level, value: 12.0, datum: present_edge"


@pytest.fixture(scope="module")
def case() -> Case:
    """The worked mouth."""
    return read_case(FILES / "case.yaml").case


def text(*entries: str, head: str = HEAD) -> bytes:
    """A file with these readings, the first of them on line 4."""
    return (head + "readings:\n" + "".join(f"  - {{{entry}}}\n" for entry in entries)).encode()


def faults_of(data: bytes, name: str = "r.yaml") -> tuple[Fault, ...]:
    """Why a file is refused."""
    with pytest.raises(InputRefusedError) as refused:
        parse_readings(data, name)
    return refused.value.faults


def placed(case: Case, *entries: str, moment: Moment = Moment.BONE, **options: object) -> tuple[PlacedReading, ...]:
    """These readings on the teeth of the worked mouth."""
    return place_readings(parse_readings(text(*entries), "r.yaml"), case, moment, **options).readings  # type: ignore[arg-type]  # options by name


def unplaced(case: Case, *entries: str, moment: Moment = Moment.BONE, **options: object) -> tuple[Fault, ...]:
    """Why these readings are refused."""
    with pytest.raises(InputRefusedError) as refused:
        placed(case, *entries, moment=moment, **options)
    return refused.value.faults


@pytest.mark.parametrize(
    ("entry", "key", "found", "expected"),
    [
        (f'tooth: "91", {CREST}', "tooth", '"91"', "permanent tooth in fdi"),
        ("tooth: 11, site: buccal, quantity: sounding, value: 2.5", "site", "buccal", "midfacial"),
        ("tooth: 11, site: midfacial, quantity: bone_level, value: 2.5", "quantity", "bone_level", "crest_level"),
        ("tooth: 11, site: midfacial, quantity: crest_level, value: 12", "datum", "no datum", "a level with its datum"),
        ("tooth: 11, site: midfacial, quantity: sounding, value: 2, datum: planned_edge", "datum", "a datum", "no datum"),
        ('tooth: 11, site: midfacial, quantity: sounding, value: "2,5"', "value", "2,5", "a number"),
        ("tooth: 11, site: midfacial, quantity: sounding, value: .nan", "value", "nan", "a number"),
        ("tooth: 11, site: midfacial, quantity: sounding, value: 2.5, unit: cm", "unit", "cm", "mm"),
        ("tooth: 11, site: midfacial, quantity: sounding, value: 2.5, se: 0", "se", "0", "above 0"),
        ("tooth: 11, site: midfacial, quantity: sounding, value: 2.5, at: 2026-02-30", "at", "2026-02-30", "a day"),
        ("tooth: 11, site: midfacial, quantity: sounding, value: 2.5, wert: 3", "wert", "wert", "one of the keys"),
        ("tooth: 11, quantity: sounding, value: 2.5", "site", "without a site", "the site"),
        ("tooth: 11, site: midfacial, value: 2.5", "quantity", "nothing", "which must be there"),
        ("tooth: 11, site: midfacial, quantity: contact_level, value: 4, datum: present_edge", "site", "contact", "mesial"),
    ],
)  # fmt: skip
def test_a_fault_names_file_line_key_found_and_expected(entry: str, key: str, found: str, expected: str) -> None:
    """One fault, on the line of the reading, with what to do."""
    (fault,) = faults_of(text(f'tooth: "11", {CREST}', entry))
    assert (fault.file, fault.line, fault.where) == ("r.yaml", 5, f"readings[1].{key}")
    assert found in fault.found
    assert expected in fault.expected + fault.do
    assert fault.do


def test_all_faults_are_told_together() -> None:
    """Of the file and of each of its readings."""
    data = text(
        f'tooth: "91", {CREST}',
        "5",
        "tooth: 11, site: midfacial, quantity: crest_level, value: x",
        head=HEAD + "by: me\n",
    )
    # The second entry is a set in YAML, not a table with a quantity.
    assert [fault.line for fault in faults_of(data)][:2] == [3, 5]
    assert len(faults_of(data)) >= 4


@pytest.mark.parametrize(
    ("data", "name", "found"),
    [
        (b"", "r.yaml", "an empty file"),
        (b"format: festoon-case/1\ncase: a\n", "r.yaml", "festoon-case/1"),
        (HEAD.encode() + b"readings: []\n", "r.yaml", "no readings"),
        (HEAD.encode() + b"readings: 5\n", "r.yaml", "5"),
        (HEAD.encode(), "r.txt", ".txt"),
        (b"\x00\x01", "r.yaml", "control character"),
        (text("tooth: 11", head=HEAD + "notation: zsigmondy\n"), "r.yaml", "zsigmondy"),
    ],
)
def test_what_is_no_file_of_readings_is_refused(data: bytes, name: str, found: str) -> None:
    """Told what it is, and never that it should have been a case."""
    faults = faults_of(data, name)
    assert found in faults[0].found
    assert "case" not in faults[0].expected + faults[0].do


def test_json_and_yaml_say_the_same() -> None:
    """One model, two syntaxes."""
    entry = {"tooth": "11", "site": "midfacial", "quantity": "sounding", "value": 2.5}
    data = json.dumps({"format": "festoon-readings/1", "case": "abacus-07", "readings": [entry]}).encode()
    written = text("tooth: 11, site: midfacial, quantity: sounding, value: 2.5")
    assert parse_readings(data, "r.json").readings == parse_readings(written, "r.yaml").readings


@pytest.mark.parametrize(("notation", "name"), [("universal", "8"), ("palmer", "UR1"), ("fdi", "11")])
def test_teeth_are_fdi_unless_declared(notation: str, name: str) -> None:
    """The upper right central by three names."""
    data = text(f'tooth: "{name}", {CREST}', head=f"{HEAD}notation: {notation}\n")
    assert parse_readings(data, "r.yaml").readings.readings[0].tooth == "11"
    assert list(SCHEMA.iter_errors(yaml.safe_load(data))) == []
    wrong = data.replace(name.encode() + b'"', b'99"')
    assert faults_of(wrong)
    assert list(SCHEMA.iter_errors(yaml.safe_load(wrong)))


def test_readings_of_another_case_are_refused(case: Case) -> None:
    """The id must match."""
    file = parse_readings(text(f"tooth: 11, {CREST}", head=HEAD.replace("abacus-07", "abacus-08")), "r.yaml")
    with pytest.raises(InputRefusedError, match="abacus-08"):
        place_readings(file, case, Moment.BONE)


@pytest.mark.parametrize(
    ("entry", "key", "expected"),
    [
        ("tooth: 11, site: midfacial, quantity: crest_level, value: 9, datum: bonded_mark", "datum", "datum_offset_mm.bonded_mark"),
        ("tooth: 31, site: midfacial, quantity: sounding, value: 2.5", "tooth", "charted teeth"),
        ("tooth: 11, site: midfacial, quantity: sounding, value: 25", "value", "0.3 to 10 mm"),
        ("tooth: 11, site: midfacial, quantity: sounding, value: 2.5, se: 9", "value", "at most 5 mm"),
        ("tooth: 11, site: midfacial, quantity: sounding, value: 2.5, at: 2026-01-01", "at", "after the chart"),
        ("tooth: 11, site: midfacial, quantity: sounding, value: 2.5, method: design", "method", "measuring"),
    ],
)  # fmt: skip
def test_what_cannot_be_placed_is_refused_with_its_line(case: Case, entry: str, key: str, expected: str) -> None:
    """Never placed by a guess."""
    (fault,) = unplaced(case, entry)
    assert (fault.line, fault.where) == (4, f"readings[0].{key}")
    assert expected in fault.expected


def test_a_tooth_whose_edge_is_not_settled_has_no_planned_level(case: Case) -> None:
    """Extension unknown is not zero."""
    chart = case.teeth["11"].model_copy(update={"incisal_extension_mm": None})
    unsettled = case.model_copy(update={"teeth": {**case.teeth, "11": chart}})
    (fault,) = unplaced(unsettled, f"tooth: 11, {CREST}")
    assert "incisal_extension_mm" in fault.expected


def recall(value: float, datum: str, day: str) -> str:
    """A margin of 11 at a visit."""
    return f"tooth: 11, site: midfacial, quantity: margin_level, value: {value}, datum: {datum}, at: {day}"


def test_the_present_edge_is_refused_once_it_may_have_been_restored(case: Case) -> None:
    """A later reading from a lengthened edge is half a millimetre wrong; said otherwise, it is taken."""
    entry = recall(9.5, "present_edge", "2026-06-09")
    (fault,) = unplaced(case, entry, moment=Moment.RECALL, surgery_at=SURGERY)
    assert "--edges-as-charted" in fault.do
    (one,) = placed(case, entry, moment=Moment.RECALL, surgery_at=SURGERY, edges_as_charted=True)
    assert one.planned_edge_mm == 10.0
    # On the day of surgery, and on a tooth whose edge nobody touches, it is what it says.
    placed(case, recall(9.5, "present_edge", "2026-03-10"), moment=Moment.RECALL, surgery_at=SURGERY)
    placed(case, entry.replace("tooth: 11", "tooth: 13"), moment=Moment.RECALL, surgery_at=SURGERY)


@pytest.mark.parametrize("day", ["2026-03-09", "null"])
def test_a_recall_has_its_day_and_comes_after_surgery(case: Case, day: str) -> None:
    """Without a day, or before surgery, it is refused."""
    (fault,) = unplaced(case, recall(9.5, "planned_edge", day), moment=Moment.RECALL, surgery_at=SURGERY)
    assert fault.where == "readings[0].at"


def test_one_file_holds_one_moment(case: Case) -> None:
    """Two days at the chair are two files."""
    one = "tooth: 11, site: midfacial, quantity: sounding, value: 2.5, at: 2026-03-1"
    (fault,) = unplaced(case, f"{one}0", f"{one}1")
    assert fault.line == 5


def test_before_cutting_readings_of_one_place_are_combined(case: Case) -> None:
    """Two of equal error: their mean, and the error smaller by the root of two; a contradiction is refused."""
    entry = f"tooth: 11, {CREST}, se: 0.2, method: direct"
    (one,) = placed(case, entry, entry.replace("12.0", "12.2"), moment=Moment.BEFORE)
    assert one.present_edge_mm == pytest.approx(12.1)
    assert one.planned_edge_mm == pytest.approx(12.6)
    assert one.se_mm == pytest.approx(0.2 / 2**0.5)
    (fault,) = unplaced(case, entry, entry.replace("12.0", "13.0"), moment=Moment.BEFORE)
    assert "contradict" in fault.found


def test_while_bone_is_cut_readings_are_never_averaged(case: Case) -> None:
    """11.0 before the cut and 12.0 after it are two states."""
    entry = f"tooth: 11, {CREST}"
    assert [r.present_edge_mm for r in placed(case, entry.replace("12.0", "11.0"), entry)] == [11.0, 12.0]


def test_errors_come_from_the_tables_and_own_errors_win(case: Case) -> None:
    """At the open flap a crest is read directly unless it says otherwise; before it, as in a case file."""
    entry = f"tooth: 11, {CREST}"
    level = LevelReading(value=12.0, datum="present_edge", method=Method.DIRECT)
    assert placed(case, entry)[0].se_mm == reading_error("crest_mm", level).se_mm
    cbct = level.model_copy(update={"method": Method.CBCT})
    assert placed(case, entry, moment=Moment.BEFORE)[0].se_mm == reading_error("crest_mm", cbct).se_mm
    assert placed(case, f"{entry}, se: 0.07")[0].se_mm == 0.07


def test_what_no_plan_holds_is_said_to_be_left_aside(case: Case) -> None:
    """A crown width is no site of a plan."""
    data = text(f"tooth: 11, {CREST}", "tooth: 11, quantity: crown_width, value: 8.5")
    placement = place_readings(parse_readings(data, "r.yaml"), case, Moment.BONE)
    assert len(placement.readings) == 1
    assert placement.notes == ("1 of crown_width not held against the plan",)


def test_days_are_kept(case: Case) -> None:
    """The day of a reading is its own."""
    (one,) = placed(case, f"tooth: 11, {CREST}, at: 2026-03-10")
    assert one.at == dt.date(2026, 3, 10)

"""Tables of practices: understood aloud, refused where a number could mean two things."""

from __future__ import annotations

import datetime as dt
import gzip
import io
import json

import openpyxl
import pytest

from festoon.errors import InputRefusedError
from festoon.model.dentition import Site
from festoon.records.document import Faults
from festoon.records.intake.column_map import ColumnMap
from festoon.records.intake.files import table_intake
from festoon.records.intake.teeth import fitting
from festoon.records.intake.understood import Intake


def _read(data: str | bytes, name: str = "chart.csv", **chosen: object) -> tuple[Intake, list[str]]:
    raw = data.encode() if isinstance(data, str) else data
    intake, faults = table_intake(raw, name, ColumnMap.model_validate({"notation": "fdi"} | chosen))
    return intake, [str(fault) for fault in faults.found]


def _values(intake: Intake) -> list[tuple[str, str | None, str, float]]:
    return [(r.tooth, r.site, r.quantity, r.value) for r in intake.readings]


GERMAN = "Zahn;Stelle;Sondierungstiefe;Rezession\n11;mesiobukkal;2,5;0\n11;bukkal;;1\n"


def test_a_german_chart_with_semicolons_and_decimal_commas() -> None:
    """Semicolons, commas, German words and an empty cell: the blank is no reading, and never zero."""
    intake, faults = _read(GERMAN)
    assert not faults
    assert _values(intake) == [
        ("11", "mesial", "probing_depth", 2.5),
        ("11", "mesial", "recession", 0.0),
        ("11", "midfacial", "recession", 1.0),
    ]
    assert any("decimal comma" in note for note in intake.notes)
    assert any("six to a tooth" in note for note in intake.notes)
    probing = next(column for column in intake.columns if column.heading == "Sondierungstiefe")
    assert (probing.n_read, probing.n_blank) == (1, 1)


@pytest.mark.parametrize(
    ("language", "tooth", "probing", "site", "kept"),
    [
        ("en", "Tooth", "Probing depth", "Mid-buccal", "midfacial"),
        ("de", "Zahn", "Taschentiefe", "disto-palatinal", "distal_lingual"),
        ("fr", "Dent", "Profondeur de sondage", "Mésio-vestibulaire", "mesial"),
        ("es", "Diente", "Profundidad de sondaje", "mesiopalatino", "mesial_lingual"),
        ("pt", "Dente", "Profundidade de sondagem", "disto-vestibular", "distal"),
        ("it", "Dente", "Profondità di sondaggio", "linguale", "midlingual"),
    ],
)
def test_sites_and_headings_in_six_languages(language: str, tooth: str, probing: str, site: str, kept: str) -> None:
    """The usual words of each language, with its accents and hyphens."""
    intake, faults = _read(f"{tooth},site,{probing}\n11,{site},3\n")
    assert not faults, language
    assert _values(intake) == [("11", kept, "probing_depth", 3.0)]


def test_merged_headings_of_a_workbook() -> None:
    """A group that spans three columns stands over each of them; a title above is no group."""
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    for row in (
        ["Chart of March", None, None, None, None, None, None],
        ["Tooth", "Probing depth (mm)", None, None, "Recession (mm)", None, None],
        [None, "MB", "B", "DB", "MB", "B", "DB"],
        [11, 3, 2, 3, 0, 0.5, None],
        [12, 3, 2, 3, 0, "n.m.", 0],
    ):
        sheet.append(row)
    sheet.merge_cells("A1:G1")
    sheet.merge_cells("B2:D2")
    sheet.merge_cells("E2:G2")
    packed = io.BytesIO()
    book.save(packed)
    intake, faults = _read(packed.getvalue(), "chart.xlsx")
    assert not faults
    assert len(intake.readings) == 10
    assert ("11", "midfacial", "recession", 0.5) in _values(intake)
    assert [column.heading for column in intake.columns][:2] == ["Tooth", "Probing depth (mm) / MB"]


def test_the_same_headings_in_a_text_file() -> None:
    """A text file shows a merged heading as empty cells to its right."""
    intake, faults = _read("tooth,probing depth,,,recession,,\n,MB,B,DB,MB,B,DB\n11,3,2,3,0,0,1\n")
    assert not faults
    assert len(intake.readings) == 6
    assert ("11", "distal", "recession", 1.0) in _values(intake)


def test_corners_beside_interproximal_sites_are_line_angles() -> None:
    """A chart that has both is no six-site chart."""
    intake, faults = _read("tooth,site,probing\n11,mesial,3\n11,mesiobuccal,2\n")
    assert not faults
    assert [r.site for r in intake.readings] == [Site.MESIAL, Site.MESIOFACIAL]


REFUSED = [
    ("a bound", "tooth,site,probing\n11,B,<1\n", {}, "a bound"),
    ("a range", "tooth,site,probing\n11,B,2-3\n", {}, "a range"),
    ("a date that was a number", "tooth,site,probing\n11,B,03.May\n", {}, "a date"),
    ("a day number", "tooth,site,probing\n11,B,46145\n", {}, "a date"),
    ("two decimal marks", "tooth,site,probing\n11,B,2.5\n12,B,\"2,5\"\n", {}, "one decimal mark"),
    ("a mark that proves nothing", 'tooth,site,probing\n11,B,"1,234"\n', {}, "decimal or thousands"),
    ("centimetres unasked", "tooth,site,probing\n11,B,0.3 cm\n", {}, "unit: cm"),
    ("centimetres in a heading of another", "tooth,site,probing,unit\n11,B,0.3,cm\n", {"columns": {}}, "Declare --unit"),
    ("a tooth of no mouth", "tooth,site,probing\n19,B,3\n", {}, "permanent tooth"),
    ("an unknown site", "tooth,site,probing\n11,south,3\n", {}, "south"),
    ("words for a number", "tooth,site,probing\n11,B,deep\n", {}, "no number"),
    ("a lost decimal mark", "tooth,site,probing\n11,B,35\n", {}, "Then it is 3.5"),
    ("a level without a datum", "tooth,site,margin level\n11,B,8.1\n", {}, "--datum"),
    ("a number without a tooth", "tooth,site,probing\n11,B,3\n,B,3\n", {}, "without its tooth"),
    ("a person's name for a case", "case,tooth,site,probing\nJane Doe,11,B,3\n", {}, "a code, no name"),
    ("no teeth", "site,probing\nB,3\n", {}, "no column of teeth"),
    ("no readings", "tooth,site\n11,B\n", {}, "no column of readings"),
    ("a column that is not there", GERMAN, {"columns": {"Zahn": {"holds": "tooth"}, "PD": {"holds": "reading", "quantity": "probing_depth"}}}, "no column \"PD\""),
    ("a day in an order nobody declared", "tooth,site,probing,date\n11,B,3,02/03/2026\n", {}, "days: dmy"),
]  # fmt: skip


@pytest.mark.parametrize(("data", "chosen", "told"), [row[1:] for row in REFUSED], ids=[row[0] for row in REFUSED])
def test_what_could_mean_two_things_is_refused_with_its_place(data: str, chosen: dict[str, object], told: str) -> None:
    """Every refusal says what was found and what to do."""
    intake, faults = _read(data, **chosen)
    assert any(told in fault for fault in faults), faults
    assert all("expected" in fault for fault in faults)
    assert not intake.readings


NUMBERS = [
    ("2.5", "point", 2.5), ("2,5", "comma", 2.5), ("+3", "point", 3.0), ("3 mm", "point", 3.0), ("0.0", "point", 0.0),
    ("−1", "point", -1.0), ("-1.5", "point", -1.5),
]  # fmt: skip


@pytest.mark.parametrize(("text", "decimal", "value"), NUMBERS)
def test_numbers_as_people_write_them(text: str, decimal: str, value: float) -> None:
    """A minus sign of typography, a unit, a plus: each is the number it says."""
    intake, faults = _read(f'tooth;recession\n11;"{text}"\n', decimal=decimal)
    assert not faults
    assert [r.value for r in intake.readings] == [value]


def test_centimetres_are_converted_aloud_where_declared() -> None:
    """0.83 cm is 8.3 mm to the last bit, and the preview says so."""
    intake, faults = _read("tooth,width (cm)\n11,0.83\n")
    assert not faults
    assert intake.readings[0].value == 8.3
    width = next(column for column in intake.columns if "width" in column.heading)
    assert "cm converted to mm" in width.means
    assert width.said[0].read_as == "0.83 cm converted to 8.3 mm"


def test_an_interval_is_read_as_its_middle_where_declared_with_its_width_in_the_error() -> None:
    """<1 becomes 0.5 with at least 1/sqrt(12) of standard error, and keeps what was charted."""
    intake, faults = _read("tooth,site,probing\n11,B,<1\n12,B,2-3\n13,B,3\n", intervals="middle")
    assert not faults
    below, between, plain = intake.readings
    assert (below.value, between.value, plain.se) == (0.5, 2.5, None)
    assert below.se is not None
    assert below.se > 1 / 12**0.5
    assert below.flag == "charted as <1"


def test_an_open_bound_has_no_middle() -> None:
    """>9 is refused even where intervals are read as their middle."""
    _, faults = _read("tooth,site,probing\n11,B,>9\n", intervals="middle")
    assert any("a bound" in fault for fault in faults)


def test_recession_charted_the_other_way_round_is_turned_where_declared() -> None:
    """A practice that charts the margin coronal to the CEJ as positive."""
    columns = {
        "tooth": {"holds": "tooth"},
        "GM": {"holds": "reading", "quantity": "recession", "positive": "coronal", "site": "midfacial"},
    }
    intake, faults = _read("tooth,GM\n11,2\n12,-1\n13,0\n", columns=columns)
    assert not faults
    assert [r.value for r in intake.readings] == [-2.0, 1.0, 0.0]
    column = next(column for column in intake.columns if column.heading == "GM")
    assert [said.read_as for said in column.said] == ["-2 mm, sign turned", "1 mm, sign turned", "0 mm"]
    _, faults = _read("tooth,GM\n11,9\n", columns=columns)  # 9 mm coronal of the CEJ is no recession of 9 mm
    assert any("-9 mm" in fault for fault in faults)


TEETH = [
    ("11", ["fdi", "universal"], "may be the upper right central incisor in fdi or the upper left canine in universal"),
    ("6,7,8,9,10,11".replace(",", "\n"), ["universal"], "only in universal"),
    ("UR1", ["palmer"], "only in palmer"),
    ("11\n21\n46", ["fdi"], "only in fdi"),
    ("99\nUR1", [], "No one notation"),
]


@pytest.mark.parametrize(("labels", "fits", "told"), TEETH)
def test_a_notation_is_asked_never_guessed(labels: str, fits: list[str], told: str) -> None:
    """Where only one fits it is said and asked all the same."""
    assert list(fitting(labels.splitlines())) == fits
    rows = "".join(f"{label},3\n" for label in labels.splitlines())
    _, faults = _read(f"tooth,crown width\n{rows}", notation=None)
    assert any(told in fault for fault in faults), faults


@pytest.mark.parametrize(
    ("label", "notation", "kept"),
    [("#8", "universal", "11"), ("8.0", "universal", "11"), ("1┘", "palmer", "11"), ("└3", "palmer", "23"),
     ("1.1", "fdi", "11"), ("ur1", "palmer", "11")],
)  # fmt: skip
def test_labels_in_declared_notations(label: str, notation: str, kept: str) -> None:
    """Decoration of a label is no part of it."""
    intake, faults = _read(f"tooth,crown width\n{label},8\n", notation=notation)
    assert not faults
    assert intake.readings[0].tooth == kept


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_encodings(encoding: str) -> None:
    """A byte-order mark is no part of the first heading."""
    intake, faults = _read("Zahn;Knochendicke;Stelle\n11;1,5;vestibulär\n".encode(encoding))
    assert not faults
    assert _values(intake) == [("11", "midfacial", "bone_thickness", 1.5)]


def test_a_workbook_keeps_numbers_and_refuses_dates() -> None:
    """A number cell needs no decimal mark; a date in a number column was once a number."""
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["tooth", "site", "probing", "date"])
    sheet.append([11, "B", 2.5, dt.datetime(2026, 3, 2)])
    sheet.append([12, "B", dt.datetime(2026, 5, 3), dt.datetime(2026, 3, 2)])
    packed = io.BytesIO()
    book.save(packed)
    _, faults = _read(packed.getvalue(), "chart.xlsx")
    assert len(faults) == 1
    assert "was it 3.5 or 5.3?" in faults[0]
    assert "C3" in faults[0]


def test_two_sheets_are_asked_for() -> None:
    """Which of several sheets is meant is not guessed."""
    book = openpyxl.Workbook()
    for title in ("before", "after"):
        book.create_sheet(title).append(["tooth", "crown width"])
    packed = io.BytesIO()
    book.save(packed)
    with pytest.raises(InputRefusedError, match="--sheet"):
        _read(packed.getvalue(), "chart.xlsx")


def test_rows_as_json_and_yaml() -> None:
    """The same rows in either syntax."""
    rows = [{"tooth": "11", "site": "mid-buccal", "quantity": "sounding", "value": 2.3}]
    for name, text in (
        ("a.json", json.dumps(rows)),
        ("a.yaml", "- {tooth: 11, site: mid-buccal, quantity: sounding, value: 2.3}\n"),
    ):
        intake, faults = _read(text, name)
        assert not faults
        assert _values(intake) == [("11", "midfacial", "sounding", 2.3)]


def test_typed_numbers() -> None:
    """Every number with its site; a bare row of numbers is refused, since its order differs between sides."""
    text = "notation: universal\n8 margin midfacial=8.1 mesial = 4.4 from present_edge\n8 sounding mesial=3.8 by sounding # under local\n8 width 8.6\n"
    intake, faults = _read(text, "typed.txt", notation=None)
    assert not faults
    assert _values(intake) == [
        ("11", "midfacial", "margin_level", 8.1),
        ("11", "mesial", "margin_level", 4.4),
        ("11", "mesial", "sounding", 3.8),
        ("11", None, "crown_width", 8.6),
    ]
    with pytest.raises(InputRefusedError, match="order of a bare row"):
        _read("11 sounding\n", "typed.txt")


def test_a_packed_bomb_is_not_unpacked() -> None:
    """A gzip file that grows a thousandfold is refused while it is being read."""
    bomb = gzip.compress(b"0" * 420_000_000, compresslevel=1)
    with pytest.raises(InputRefusedError, match="fill a disk"):
        _read(bomb, "chart.csv.gz")


def test_a_workbook_bomb_is_not_unpacked() -> None:
    """A workbook is judged by what its directory says before anything is unpacked."""
    import zipfile

    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as book:
        book.writestr("xl/worksheets/sheet1.xml", b"0" * 50_000_000)
    with pytest.raises(InputRefusedError, match="fill a disk"):
        _read(packed.getvalue(), "chart.xlsx")


@pytest.mark.parametrize("name", ["chart.xls", "chart.pdf", "chart"])
def test_other_files_are_refused(name: str) -> None:
    """The ending says what the bytes are."""
    with pytest.raises(InputRefusedError, match=r"\.csv"):
        _read(b"x", name)


@pytest.mark.parametrize("data", [b"", b"\x00\x01\x02\xff", b'"11', b"PK\x03\x04broken"])
@pytest.mark.parametrize("name", ["chart.csv", "chart.xlsx", "chart.json", "chart.yaml"])
def test_damaged_files_are_refused(data: bytes, name: str) -> None:
    """Nothing but a refusal comes of bytes that are no table."""
    try:
        _, faults = _read(data, name)
    except InputRefusedError as refused:
        faults = [str(fault) for fault in refused.faults]
    assert faults


def test_a_table_of_thousands_of_faults_stops() -> None:
    """What follows would explain nothing more."""
    rows = "".join(f"11,B,deep{i}\n" for i in range(3000))
    with pytest.raises(InputRefusedError, match="more faults"):
        table_intake(("tooth,site,probing\n" + rows).encode(), "a.csv", ColumnMap(notation="fdi"))  # type: ignore[arg-type]  # pydantic converts


def test_faults_name_file_and_line() -> None:
    """Line of the file, name of the file without its folder."""
    _, faults = _read("tooth,site,probing\n11,B,3\n12,B,deep\n")
    assert faults[0].startswith("chart.csv:3: probing: found")
    assert Faults("x").found == []


ACROSS = (
    "Parodontalstatus März,,,,,,\n"
    "Zahn,12,,,11,,\n"
    ",DB,B,MB,DB,B,MB\n"
    "Sondierungstiefe bukkal,3,2,3,3,2,4\n"
    "Sondierungstiefe palatinal,2,2,2,2,2,\n"
    "Rezession,0,0,1,0,0,0\n"
    "Lockerung,0,,,1,,\n"
)


def test_a_chart_with_its_teeth_across() -> None:
    """As on paper: teeth over their sites, a row for each quantity and surface; what is not understood is said."""
    intake, faults = _read(ACROSS)
    assert not faults
    values = _values(intake)
    assert ("12", "distal", "probing_depth", 3.0) in values
    assert ("11", "mesial", "probing_depth", 4.0) in values
    assert ("11", "midlingual", "probing_depth", 2.0) in values
    assert ("12", "mesial", "recession", 1.0) in values
    assert ("11", "mesial_lingual", "probing_depth", 2.0) not in values  # the empty cell is no reading
    assert len(values) == 6 + 5 + 6
    assert any('rows left out, not understood: "Lockerung"' in note for note in intake.notes)


def test_a_fault_in_a_chart_across_names_its_own_cell() -> None:
    """Not the cell of the rows that were made of it."""
    _, faults = _read(ACROSS.replace("3,2,4", "3,2,35"))
    assert len(faults) == 1
    assert "chart.csv:4" in faults[0]
    assert "in cell G4" in faults[0]


def test_a_chart_across_is_asked_for_its_notation_too() -> None:
    """12 and 11 are teeth in two notations."""
    _, faults = _read(ACROSS, notation=None)
    assert any("festoon does not guess" in fault for fault in faults)


def test_a_chart_across_from_a_merged_workbook() -> None:
    """The same from merged cells, one tooth over two sites."""
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    for row in (["Tooth", 11, None, 21, None], [None, "D", "M", "M", "D"], ["PD", 3, 2, 2, 3]):
        sheet.append(row)
    sheet.merge_cells("B1:C1")
    sheet.merge_cells("D1:E1")
    packed = io.BytesIO()
    book.save(packed)
    intake, faults = _read(packed.getvalue(), "chart.xlsx")
    assert not faults
    assert _values(intake) == [
        ("11", "distal", "probing_depth", 3.0), ("11", "mesial", "probing_depth", 2.0),
        ("21", "mesial", "probing_depth", 2.0), ("21", "distal", "probing_depth", 3.0),
    ]  # fmt: skip


def test_a_heading_that_stands_twice_is_a_second_reading() -> None:
    """Both are kept, so that they can be compared."""
    intake, faults = _read("tooth,PD MB,PD MB\n11,3,5\n")
    assert not faults
    assert [reading.value for reading in intake.readings] == [3.0, 5.0]

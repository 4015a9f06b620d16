"""Reading good files: what comes out, what is noted, and that nothing is written."""

from __future__ import annotations

import hashlib
import json
import os
from pathlib import Path

import pytest
import yaml

from festoon.errors import InputRefusedError
from festoon.model.case import Case, PapillaChart, PolicyChoice, SiteChart, ToothChart
from festoon.model.dentition import Notation, Site
from festoon.model.reading import Datum
from festoon.records.casefile import parse_case, read_case

CASES = Path(__file__).parents[2] / "cases"
HEAD = "format: festoon-case/1\ncase: demo\nnotation: fdi\n"


def test_the_full_example_reads_without_a_note() -> None:
    """Every number of the example is usual, so a note here means a range went wrong."""
    read = read_case(CASES / "full.yaml")
    assert read.notes == ()
    assert read.name == "full.yaml"
    assert read.sha256 == hashlib.sha256((CASES / "full.yaml").read_bytes()).hexdigest()
    assert list(read.case.teeth) == ["13", "12", "11", "21", "22", "23"]


def test_the_full_example_fills_every_field_of_the_format() -> None:
    """Each key of the model stands somewhere in the example."""
    written: set[str] = set()

    def collect(node: object) -> None:
        if isinstance(node, dict):
            written.update(str(key) for key in node)
            for value in node.values():
                collect(value)
        elif isinstance(node, list):
            for value in node:
                collect(value)

    collect(yaml.safe_load((CASES / "full.yaml").read_text(encoding="utf-8")))
    for model in (Case, PolicyChoice, ToothChart, SiteChart, PapillaChart):
        assert set(model.model_fields) <= written
    assert {site.value for site in Site} <= written


def test_what_is_not_given_is_unknown() -> None:
    """A minimal case holds no value that nobody wrote."""
    case = read_case(CASES / "minimal.yaml").case
    assert case.teeth["11"] == ToothChart()
    assert case.subject.growth_complete is None
    assert case.teeth["11"].incisal_extension_mm is None


def test_null_and_nothing_are_the_same_as_a_key_left_out() -> None:
    """Unknown can be said by null, by nothing after the colon, or by leaving the key out."""
    text = HEAD + (
        "phenotype: null\nsubject:\npolicy: null\n"
        'teeth:\n  "11":\n  "12": {width_mm: ~, sites: {midfacial: , mesial: {margin_mm: null}}, furcation_mm: {facial: }}\n'
    )
    case = parse_case(text.encode(), "a.yaml").case
    bare = parse_case(
        (HEAD + 'teeth: {"11": {}, "12": {sites: {midfacial: {}, mesial: {}}}}\n').encode(), "a.yaml"
    ).case
    assert case == bare.model_copy(
        update={"teeth": bare.teeth | {"12": bare.teeth["12"].model_copy(update={"furcation_mm": {"facial": ()}})}}
    )


def test_a_bare_number_is_a_level_from_the_present_edge() -> None:
    """A chart is read from the edge in the mouth; a long form must say its datum."""
    text = (
        HEAD
        + 'teeth: {"11": {sites: {midfacial: {margin_mm: [8, {value: 8.1, datum: bonded_mark}]}},'
        + (" datum_offset_mm: {bonded_mark: 0}}}\n")
    )
    readings = parse_case(text.encode(), "a.yaml").case.teeth["11"].sites[Site.MIDFACIAL].margin_mm
    assert [(reading.value, reading.datum) for reading in readings] == [
        (8.0, Datum.PRESENT_EDGE),
        (8.1, Datum.BONDED_MARK),
    ]


@pytest.mark.parametrize(
    ("notation", "central", "other", "lateral"),
    [("fdi", "11", "21", "12"), ("universal", "8", "9", "7"), ("palmer", "UR1", "UL1", "UR2")],
)
def test_every_notation_gives_the_same_teeth(notation: str, central: str, other: str, lateral: str) -> None:
    """Teeth, roles and papillae come out in ISO 3950, papillae with the patient's right first."""
    text = (
        f"format: festoon-case/1\ncase: demo\nnotation: {notation}\n"
        f'teeth: {{"{central}": {{role: "{lateral}"}}, "{other}": {{}}}}\n'
        f'papillae: {{"{other}-{central}": {{root_distance_mm: 2}}}}\n'
    )
    case = parse_case(text.encode(), "a.yaml").case
    assert list(case.teeth) == ["11", "21"]
    assert case.teeth["11"].role == "12"
    assert list(case.papillae) == ["11-21"]
    assert case.notation is Notation(notation)


def test_json_and_yaml_of_one_case_are_equal() -> None:
    """The two notations hold the same model."""
    data = yaml.safe_load((CASES / "full.yaml").read_text(encoding="utf-8"))
    as_json = json.dumps(data, default=str, indent=1).encode()
    assert parse_case(as_json, "full.json").case == read_case(CASES / "full.yaml").case


def test_a_byte_order_mark_and_foreign_line_ends_are_accepted() -> None:
    """Files saved by other systems' editors read the same."""
    data = (CASES / "full.yaml").read_bytes()
    other = b"\xef\xbb\xbf" + data.replace(b"\n", b"\r\n")
    assert parse_case(other, "a.yml").case == parse_case(data, "a.yml").case


def test_a_file_without_its_format_is_read_and_that_is_noted() -> None:
    """The format line may be missing while there is one format only."""
    read = parse_case(b'case: demo\nnotation: fdi\nteeth: {"11": {}}\n', "a.yaml")
    assert read.notes == ("format: not said; read as festoon-case/1",)


def test_the_unusual_is_kept_and_noted_with_its_place() -> None:
    """A note names the key, the value and what is usual, and changes nothing."""
    read = parse_case((HEAD + 'teeth: {"11": {sites: {midfacial: {sounding_mm: 7.5}}}}\n').encode(), "a.yaml")
    (note,) = read.notes
    assert note.startswith("teeth.11.sites.midfacial.sounding_mm: 7.5 mm; usual is 1.8 to 6.2 mm (STA-015")
    assert read.case.teeth["11"].sites[Site.MIDFACIAL].sounding_mm[0].value == 7.5


@pytest.mark.parametrize(
    ("name", "found"),
    [("", "a folder"), ("missing.yaml", "no such file"), ("chart.xlsx", ".xlsx"), ("chart", "nothing")],
)
def test_a_path_that_is_no_case_file_is_refused(tmp_path: Path, name: str, found: str) -> None:
    """Folder, missing file and foreign ending give one message each, naming no folder."""
    for present in ("chart.xlsx", "chart"):
        (tmp_path / present).write_bytes(b"case: demo\n")
    with pytest.raises(InputRefusedError) as refused:
        read_case(tmp_path / name if name else tmp_path)
    (fault,) = refused.value.faults
    assert found in fault.found
    assert str(tmp_path.parent) not in str(fault)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no pipes in the file system")
def test_a_pipe_is_refused_and_not_waited_for(tmp_path: Path) -> None:
    """Opening a pipe nobody writes to would hang for ever."""
    pipe = tmp_path / "pipe.yaml"
    os.mkfifo(pipe)
    with pytest.raises(InputRefusedError, match="no ordinary file"):
        read_case(pipe)


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="the superuser may read every file")
def test_an_unreadable_file_is_refused(tmp_path: Path) -> None:
    """Missing rights are told in words."""
    path = tmp_path / "a.yaml"
    path.write_bytes(b"case: demo\n")
    path.chmod(0)
    with pytest.raises(InputRefusedError, match="cannot be opened"):
        read_case(path)


def test_a_refusal_of_the_system_is_told_in_words(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever the system says, it comes as one message and never as its own error."""

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    (tmp_path / "a.yaml").write_bytes(b"case: demo\n")
    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(InputRefusedError, match=r"a\.yaml: found a file that cannot be opened \(permission denied\)"):
        read_case(tmp_path / "a.yaml")


def test_a_name_no_file_can_have_is_refused(tmp_path: Path) -> None:
    """A name with a zero byte or far too long is refused like any other."""
    for name in ("a\0.yaml", "a" * 5000 + ".yaml"):
        with pytest.raises(InputRefusedError):
            read_case(tmp_path / name)


def test_reading_writes_nothing(tmp_path: Path) -> None:
    """Neither a good nor a bad file leaves anything behind."""
    (tmp_path / "good.yaml").write_bytes((CASES / "full.yaml").read_bytes())
    (tmp_path / "bad.yaml").write_bytes(b"case: [")
    before = sorted((path.name, path.stat().st_mtime_ns) for path in tmp_path.iterdir())
    read_case(tmp_path / "good.yaml")
    with pytest.raises(InputRefusedError):
        read_case(tmp_path / "bad.yaml")
    assert sorted((path.name, path.stat().st_mtime_ns) for path in tmp_path.iterdir()) == before

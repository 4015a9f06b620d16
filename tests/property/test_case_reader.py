"""Laws of the case reader: what is written reads back, and no bytes ever give anything but a case or a refusal."""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from festoon.errors import InputRefusedError
from festoon.model.case import Case
from festoon.model.dentition import Notation, Site, SiteKind, Tooth
from festoon.records.casefile import parse_case
from festoon.records.casewriter import write_case

FULL = (Path(__file__).parents[1] / "cases" / "full.yaml").read_bytes()
FULL_JSON = json.dumps(yaml.safe_load(FULL), default=str, indent=1).encode()
SECONDS = 5.0
"""No input may keep a person waiting longer; a case takes about a hundredth of a second."""

PRINTABLE = st.text(st.characters(categories=["L", "M", "N", "P", "S", "Zs"]), max_size=30)
FLAGS = st.none() | st.booleans()


def mm(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_subnormal=False)


@st.composite
def readings(draw: st.DrawFn, value: float, *, datum: str | None, shift: float = 0.0) -> Any:
    """One reading as a bare number, a long form, or a list of both that agree."""

    def one() -> Any:
        if draw(st.booleans()) and not shift:
            return value
        long_form: dict[str, Any] = {"value": value + shift}
        for key, strategy in {
            "se": mm(0.01, 2),
            "method": st.sampled_from(["probe", "scan", "cbct", "photo", "direct"]),
            "source": PRINTABLE,
            "by": PRINTABLE,
            "at": st.dates().map(str),
            "flag": PRINTABLE,
        }.items():
            if draw(st.integers(0, 3)) == 0:
                long_form[key] = draw(strategy)
        if datum:
            long_form["datum"] = datum
        return long_form

    n = draw(st.integers(0, 3))
    return None if n == 0 else one() if n == 1 else [one() for _ in range(n)]


@st.composite
def sites(draw: st.DrawFn, site: Site, offset: dict[str, float]) -> dict[str, Any]:
    """A site whose levels stand in the order they have in a mouth."""
    is_tip = site.kind is SiteKind.INTERPROXIMAL
    margin = draw(mm(2, 5)) if is_tip else draw(mm(6, 9))
    sounding = draw(mm(2, 4))
    levels = {
        "margin_mm": margin,
        "crest_mm": margin + sounding,
        "cej_mm": margin + draw(mm(0, 1.5)),
        "mucogingival_mm": margin + draw(mm(3, 6)),
    }
    if is_tip:
        levels["contact_mm"] = margin - draw(mm(0, 1))
    depths = {"sounding_mm": sounding, "probing_mm": draw(mm(0, 2)), "bone_thickness_mm": draw(mm(0, 3))}
    chart: dict[str, Any] = {"healthy_reference": draw(st.booleans())}
    for key, level in levels.items():
        datum = draw(st.sampled_from(["present_edge", *offset]))
        chart[key] = draw(readings(level, datum=datum, shift=-offset.get(datum, 0.0)))
    for key, depth in depths.items():
        chart[key] = draw(readings(depth, datum=None))
    return chart


@st.composite
def cases(draw: st.DrawFn) -> Case:
    """A case with readings in every form from every datum, plausible so that the reader takes it."""
    codes = draw(st.lists(st.sampled_from(["11", "13", "22", "24", "33", "41", "46"]), min_size=1, unique=True))
    teeth = {}
    for code in codes:
        extension = draw(mm(-1, 1))
        offset = {"planned_edge": -extension, "template": draw(mm(-5, 5)), "bonded_mark": draw(mm(-5, 5))}
        teeth[code] = {
            "role": draw(st.none() | st.just(code)),
            "width_mm": draw(readings(draw(mm(5, 10)), datum=None)),
            "incisal_extension_mm": extension,
            "restoration": "planned",
            "datum_offset_mm": {name: offset[name] for name in ("template", "bonded_mark")},
            "furcation_mm": {"facial": draw(readings(draw(mm(12, 16)), datum="present_edge"))},
            "target_length_mm": draw(st.none() | mm(8, 12)),
            "mobility": draw(st.none() | st.integers(0, 3)),
            "ankylosed": draw(FLAGS),
            "sites": {
                site.value: draw(sites(site, offset))
                for site in draw(st.lists(st.sampled_from(list(Site)), unique=True, max_size=3))
            },
        }
    right = draw(st.sampled_from([Tooth("11"), Tooth("13"), Tooth("43"), Tooth("41")]))
    left = {"11": "21", "13": "12", "43": "42", "41": "31"}[right.fdi]
    return Case.model_validate(
        {
            "case": draw(st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._-]{0,10}", fullmatch=True)),
            "notation": draw(st.sampled_from(list(Notation))),
            "purpose": draw(st.sampled_from(["aesthetic", "restorative"])),
            "examined_at": draw(st.none() | st.dates()),
            "approval": {"design_version": draw(st.none() | PRINTABLE)},
            "subject": {"age_years": draw(st.none() | mm(12, 90)), "health": {"smoker": draw(FLAGS), "allergy": draw(PRINTABLE)}},
            "policy": {"limits": {draw(PRINTABLE): {"force": "hard", "reason": "because"}}},
            "teeth": teeth,
            "papillae": {f"{right}-{left}": {"root_distance_mm": draw(readings(2.0, datum=None))}},
        }
    )  # fmt: skip


@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(case=cases(), notation=st.sampled_from(list(Notation)))
def test_a_written_case_reads_back_equal(case: Case, notation: Notation) -> None:
    """Every value, error, datum, day, hand and remark survives being written and read, in every notation."""
    read = parse_case(write_case(case, notation).encode(), "case.yaml")
    assert read.case == case.model_copy(update={"notation": notation})


@settings(max_examples=40, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(case=cases())
def test_writing_is_settled_after_once(case: Case) -> None:
    """Writing what was read gives the same text: no drift from file to file."""
    text = write_case(case, case.notation)
    assert write_case(parse_case(text.encode(), "case.yaml").case, case.notation) == text


TOKENS = [
    b"\x00", b"\xff", b"\xef\xbb\xbf", b"\n", b"\r", b"\t", b" ", b":", b": ", b"- ", b"{", b"}", b"[", b"]", b",", b"&a ",
    b"*a", b"!!float ", b"<<: ", b"---\n", b"...\n", b"%YAML 1.1\n", b"? ", b"| ", b"> ", b'"', b"'", b"\\", b"#", b"~", b"null", b"true",
    b".nan", b"-.inf", b"1e999", b"NaN", b"Infinity", b"-", b"0", b"9" * 400, b"1.5", b"2026-02-11", b"11", b"51", b"99", b"UR1",
    b"present_edge", b"datum", b"value", b"teeth", b"notation", "é".encode(), "\u2028".encode(), "\U0001f600".encode(),
]  # fmt: skip


@st.composite
def mutations(draw: st.DrawFn, data: bytes) -> bytes:
    """A valid file, damaged in a few places."""
    damaged = data
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(damaged)))
        end = min(len(damaged), at + draw(st.integers(0, 40)))
        kind = draw(st.sampled_from(["insert", "replace", "delete", "repeat", "move", "cut"]))
        piece = draw(st.sampled_from(TOKENS) | st.binary(max_size=6))
        if kind == "insert":
            damaged = damaged[:at] + piece + damaged[at:]
        elif kind == "replace":
            damaged = damaged[:at] + piece + damaged[end:]
        elif kind == "delete":
            damaged = damaged[:at] + damaged[end:]
        elif kind == "repeat":
            damaged = damaged[:end] + damaged[at:end] + damaged[end:]
        elif kind == "move":
            to = draw(st.integers(0, len(damaged)))
            damaged = damaged[:to] + damaged[at:end] + damaged[to:]
        else:
            damaged = damaged[:at]
    return damaged


def check_case_or_refusal(data: bytes, name: str) -> None:
    begun = time.perf_counter()
    outcome: Case | InputRefusedError
    try:
        outcome = parse_case(data, name).case
    except InputRefusedError as refused:
        outcome = refused
    assert time.perf_counter() - begun < SECONDS
    if isinstance(outcome, Case):
        assert Case.model_validate(outcome.model_dump()) == outcome
        return
    assert outcome.faults
    for fault in outcome.faults:
        assert fault.file == name
        assert fault.found
        assert fault.expected
        assert fault.do
        assert "Input should" not in str(fault)
        assert str(fault).encode("utf-8")
        assert "\x1b" not in str(fault)


@settings(max_examples=150, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(data=mutations(FULL))
def test_damaged_yaml_is_a_case_or_a_refusal(data: bytes) -> None:
    """No damage to a valid file gives another error."""
    check_case_or_refusal(data, "a.yaml")


@settings(max_examples=100, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(data=mutations(FULL_JSON))
def test_damaged_json_is_a_case_or_a_refusal(data: bytes) -> None:
    """The same for JSON."""
    check_case_or_refusal(data, "a.json")


@settings(max_examples=100, deadline=None, derandomize=True)
@given(data=st.binary(max_size=200), name=st.sampled_from(["a.yaml", "a.json"]))
def test_junk_is_refused(data: bytes, name: str) -> None:
    """Bytes out of nowhere are never a case."""
    with pytest.raises(InputRefusedError):
        parse_case(data, name)


@settings(max_examples=30, deadline=None, derandomize=True)
@given(
    head=st.sampled_from([b"", b"case: demo\nteeth: ", b'{"teeth": ', b'teeth:\n "11":\n  sites: ', b"width_mm: "]),
    token=st.sampled_from([*TOKENS, b"a: ", b'"a": ', b'{"a": ', b"[1, ", b"a: 1\n", b" a", b"- - ", b"? a\n: "]),
    n=st.integers(1, 2_000_000),
    name=st.sampled_from(["a.yaml", "a.json"]),
)
def test_deep_and_huge_input_is_bounded_in_time(head: bytes, token: bytes, n: int, name: str) -> None:
    """Nesting, repetition and length up to the limit of size are refused before anybody gets impatient."""
    check_case_or_refusal((head + token * (n // len(token)))[:2_000_000], name)


HOSTILE = {
    "keys nobody knows": b'teeth: {"11": {' + b", ".join(b"k%d: 1" % i for i in range(55_000)) + b"}}",
    "teeth nobody has": b"notation: fdi\nteeth: {" + b", ".join(b'"k%d": {}' % i for i in range(55_000)) + b"}",
    "unquoted teeth": b"notation: fdi\nteeth:\n" + b"".join(b" %d: {}\n" % i for i in range(55_000)),
    "doubled keys": b"teeth:\n" + b' "11": {}\n' * 55_000,
    "many readings": b'teeth: {"11": {width_mm: [' + b"8, " * 55_000 + b"8]}}",
    "readings at every site": b"case: a\nnotation: fdi\nteeth:\n"
    + b"".join(
        b' "%d%d": {sites: {' % (quadrant, position)
        + b", ".join(
            site.value.encode()
            + b": {margin_mm: [%s], sounding_mm: [%s], crest_mm: [%s]}"
            % (b"8, " * 11 + b"8", b"3, " * 11 + b"3", b"11, " * 11 + b"11")
            for site in Site
        )
        + b"}}\n"
        for quadrant in range(1, 5)
        for position in range(1, 9)
    ),
    "one long line": b"a: " + b"x " * 900_000,
    "anchors": b"\n".join(b"k%d: &a%d 1" % (i, i) for i in range(50_000)),
    "aliases that multiply": b"a: &a [1,1]\n" + b"".join(b"b%d: [*a,*a,*a,*a]\n" % i for i in range(10_000)),
    "a number of a million digits": b"notation: fdi\nteeth: {'11': {width_mm: " + b"9" * 1_000_000 + b"}}",
    "blanks before a dash": b"notation: fdi\nteeth: {'11': {width_mm: '1" + b" " * 1_000_000 + b"x'}}",
}


@pytest.mark.parametrize("kind", HOSTILE)
def test_a_hostile_file_is_bounded_in_time(kind: str) -> None:
    """Each shape that could cost more than its size does not."""
    check_case_or_refusal(HOSTILE[kind], "a.yaml")


@pytest.mark.slow
@settings(max_examples=6_000, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=mutations(FULL) | st.binary(max_size=2_000), name=st.just("a.yaml"))
def test_long_fuzz_of_yaml(data: bytes, name: str) -> None:
    """The same laws, for longer and with other seeds each time."""
    check_case_or_refusal(data, name)


@pytest.mark.slow
@settings(max_examples=6_000, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=mutations(FULL_JSON))
def test_long_fuzz_of_json(data: bytes) -> None:
    """The same laws, for longer and with other seeds each time."""
    check_case_or_refusal(data, "a.json")

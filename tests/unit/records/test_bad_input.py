"""Every kind of bad input is refused with file, line, key, what was found, what was expected and what to do."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from festoon.errors import Fault, InputRefusedError
from festoon.records.casefile import parse_case

HEAD = "format: festoon-case/1\ncase: demo\nnotation: fdi\n"


@dataclass(frozen=True)
class Bad:
    """One bad file and what its one fault must say."""

    name: str
    text: str
    line: int
    where: str
    found: str
    expected: str
    do: str
    ending: str = "yaml"


def tooth(body: str) -> str:
    """A case with one tooth, whose content begins on line 6."""
    return HEAD + 'teeth:\n  "11":\n' + "".join(f"    {line}\n" for line in body.splitlines())


def site(body: str, name: str = "midfacial") -> str:
    """A case with one site, whose content stands on line 7."""
    return tooth(f"sites:\n  {name}: {{{body}}}")


SITE = "teeth.11.sites.midfacial"

CASES = [
    # Unknown keys.
    Bad("unknown key", tooth("restoraton: none"), 6, "teeth.11.restoraton", "restoraton", "such as restoration", "Write restoration"),
    Bad("unknown top key", HEAD + 'tooth: {}\nteeth: {"11": {}}\n', 4, "tooth", "tooth", "teeth", "Write teeth"),
    Bad("key with nothing under it", tooth("colour: null"), 6, "teeth.11.colour", "colour", "one of the keys", "Take the key out"),
    Bad("key of another place", tooth("sounding_mm: 3"), 6, "teeth.11.sounding_mm", "sounding_mm", "<site>.sounding_mm", "Move it"),
    Bad("unknown site", site("margin_mm: 8", "midbuccal"), 7, "teeth.11.sites.midbuccal", "midbuccal", "mesiofacial", "Write midfacial"),
    Bad("key without unit", site("margin: 8"), 7, f"{SITE}.margin", "margin", "margin_mm", "margin_mm"),
    # Units.
    Bad("key in centimetres", site("margin_cm: 0.8"), 7, f"{SITE}.margin_cm", "margin_cm", "millimetres only", "Convert"),
    Bad("unit in value", site("margin_mm: 8.1 mm"), 7, f"{SITE}.margin_mm", "8.1 mm", "a number of millimetres", "without a unit"),
    Bad("centimetres in value", site('margin_mm: "0.81 cm"'), 7, f"{SITE}.margin_mm", "0.81 cm", "a number of millimetres", "8.1"),
    Bad("other unit", site("sounding_mm: {value: 2, unit: cm}"), 7, f"{SITE}.sounding_mm.unit", "cm", "mm", "Convert"),
    Bad("lost decimal point", site("margin_mm: 81"), 7, f"{SITE}.margin_mm", "81 mm", "1 to 20", "decimal point"),
    Bad("centimetres by size", tooth("width_mm: 0.86"), 6, "teeth.11.width_mm", "0.86 mm", "3 to 14", "centimetres"),
    # Impossible values.
    Bad("sounding of 15", site("margin_mm: 8, sounding_mm: 15"), 7, f"{SITE}.sounding_mm", "15 mm", "0.3 to 10", "Look again"),
    Bad("past the junction", site("margin_mm: 12, mucogingival_mm: 10"), 7, f"{SITE}.margin_mm", "2 mm apical to the mucogingival junction", "coronal", "Look again"),
    Bad("bone above the margin", site("margin_mm: 8, crest_mm: 7"), 7, f"{SITE}.margin_mm", "apical to the alveolar crest", "coronal", "Bone is covered"),
    Bad("pocket below bone", site("sounding_mm: 2, probing_mm: 3.5"), 7, f"{SITE}.sounding_mm", "bone at 2 mm", "at least as deep", "exchanged"),
    Bad("contact past the tip", site("margin_mm: 4, contact_mm: 5", "mesial"), 7, "teeth.11.sites.mesial.contact_mm", "the contact at 5 mm", "coronal", "Look again"),
    Bad("contact in the middle", site("contact_mm: 4"), 7, f"{SITE}.contact_mm", "midfacial", "mesial_lingual", "Move it"),
    Bad("attached too wide", site("margin_mm: 8, mucogingival_mm: 12, attached_mm: 6"), 7, f"{SITE}.attached_mm", "6 mm attached", "no wider", "Look again"),
    Bad("cover without restoration", tooth("restoration: none\nroot_cover_mm: 0.4"), 7, "teeth.11.root_cover_mm", "restoration: none", "a restoration", "planned"),
    Bad("role in the other jaw", tooth('role: "41"'), 6, "teeth.11.role", "lower right central incisor", "same jaw", "Name the tooth"),
    Bad("tip in radians or worse", tooth("axis_tip_deg: 75"), 6, "teeth.11.axis_tip_deg", "75 degrees", "-60 to 60", "Look again"),
    Bad("edge out of reach", tooth("edge_height_mm: -16"), 6, "teeth.11.edge_height_mm", "-16 mm", "-15 to 15", "decimal point"),
    Bad("zenith outside the tooth", tooth("width_mm: 8\nzenith_offset_mm: 4.5"), 7, "teeth.11.zenith_offset_mm", "4.5 mm", "within the width", "distal positive"),
    Bad("mobility of 4", tooth("mobility: 4"), 6, "teeth.11.mobility", "4", "at most 3", "Check"),
    Bad("error of nothing", site("sounding_mm: {value: 2, se: 0}"), 7, f"{SITE}.sounding_mm.se", "0", "above 0", "Check"),
    Bad("error without measure", site("sounding_mm: {value: 2, se: 9}"), 7, f"{SITE}.sounding_mm.se", "9 mm", "at most 5", "standard error"),
    Bad("age of 200", HEAD + 'teeth: {"11": {}}\nsubject: {age_years: 200}\n', 5, "subject.age_years", "200", "a number of years of at most 120", "Check"),
    Bad("lateral limits crossed", HEAD + 'teeth: {"11": {}}\npolicy: {lateral_coronal_min_mm: 1, lateral_coronal_max_mm: 0.5}\n', 5, "policy.lateral_coronal_min_mm", "1 mm", "smaller", "Exchange"),
    Bad("override without reason", HEAD + 'teeth: {"11": {}}\npolicy: {limits: {cej: {force: hard, reason: ""}}}\n', 5, "policy.limits.cej.reason", '""', "at least 3", "Say it"),
    Bad("override with no reason at all", HEAD + 'teeth: {"11": {}}\npolicy: {limits: {cej: {force: hard}}}\n', 5, "policy.limits.cej.reason", "nothing", "reason", "Say why"),
    # Levels and datums.
    Bad("level without datum", site("margin_mm: {value: 8}"), 7, f"{SITE}.margin_mm", "a table", "its datum", "present_edge"),
    Bad("depth with datum", site("sounding_mm: {value: 2, datum: template}"), 7, f"{SITE}.sounding_mm", "a table", "no datum", "Take the datum out"),
    Bad("datum without a place", site("margin_mm: {value: 2, datum: template}"), 7, f"{SITE}.margin_mm", "datum template", "datum_offset_mm.template", "Give datum_offset_mm.template"),
    Bad("planned edge without extension", site("margin_mm: {value: 8, datum: planned_edge}"), 7, f"{SITE}.margin_mm", "planned_edge", "incisal_extension_mm", "Give incisal_extension_mm"),
    # Contradictions.
    Bad("two readings apart", site("margin_mm: [8.0, 9.5]"), 7, f"{SITE}.margin_mm[1]", "9.5 mm beside 8 mm", "two combined standard errors", "Settle"),
    Bad("crest is not the sum", site("margin_mm: 8, sounding_mm: 3, crest_mm: 14"), 7, f"{SITE}.crest_mm", "margin + sounding = 11", "two combined standard errors", "Settle"),
    # Notation and teeth.
    Bad("no notation", 'format: festoon-case/1\ncase: demo\nteeth: {"11": {}, "12": {}, "13": {}, "14": {}}\n', 1, "notation", "no notation", "fdi, universal or palmer", "upper right central incisor (fdi) or the upper left canine (universal)"),
    Bad("no notation, one fits", 'format: festoon-case/1\ncase: demo\nteeth: {"8": {}, "9": {}}\n', 1, "notation", "no notation", "fdi, universal or palmer", "only in universal"),
    Bad("unknown notation", 'format: festoon-case/1\ncase: demo\nnotation: iso\nteeth: {"11": {}}\n', 3, "notation", "iso", "fdi, universal, palmer", "Use one"),
    Bad("no tooth", HEAD + 'teeth: {"19": {}}\n', 4, "teeth.19", '"19"', "11-18", "lower left first molar"),
    Bad("deciduous tooth", HEAD + 'teeth: {"51": {}}\n', 4, "teeth.51", '"51"', "permanent", "deciduous"),
    Bad("deciduous by letter", HEAD.replace("fdi", "universal") + 'teeth: {"E": {}}\n', 4, "teeth.E", '"E"', "permanent", "deciduous"),
    Bad("deciduous in quadrants", HEAD.replace("fdi", "palmer") + 'teeth: {"URA": {}}\n', 4, "teeth.URA", '"URA"', "permanent", "deciduous"),
    Bad("notation in capitals", HEAD.replace("fdi", "FDI") + 'teeth: {"11": {}}\n', 3, "notation", "FDI", "fdi, universal, palmer", "Write fdi"),
    Bad("another notation's tooth", HEAD + 'teeth: {"UR1": {}}\n', 4, "teeth.UR1", '"UR1"', "fdi", "palmer"),
    Bad("same tooth twice", HEAD.replace("fdi", "palmer") + 'teeth:\n  "UR1": {}\n  "ur1": {}\n', 6, "teeth.ur1", "again", "each once", "together"),
    Bad("no neighbours", HEAD + 'teeth: {"11": {}}\npapillae: {"11-22": {}}\n', 5, "papillae.11-22", "no neighbours", "side by side", "either side"),
    Bad("no neighbours by role", HEAD + 'teeth: {"11": {}, "12": {}, "13": {role: "12"}}\npapillae: {"13-11": {}}\n', 5, "papillae.13-11", "no neighbours", "side by side", "role"),
    Bad("papilla of two jaws", HEAD + 'teeth: {"11": {}}\npapillae: {"11-41": {}}\n', 5, "papillae.11-41", "lower right central", "one jaw", "either side"),
    Bad("papilla of one tooth", HEAD + 'teeth: {"11": {}}\npapillae: {"11": {}}\n', 5, "papillae.11", '"11"', "two neighbouring", "Name the papilla"),
    Bad("papilla twice", HEAD + 'teeth: {"11": {}}\npapillae: {"11-21": {}, "21-11": {}}\n', 5, "papillae.21-11", "again", "each once", "together"),
    Bad("role of no tooth", tooth('role: "10"'), 6, "teeth.11.role", '"10"', "permanent", "universal"),
    Bad("no teeth", HEAD + "teeth: {}\n", 4, "teeth", "an empty table", "at least one tooth", "Add the teeth"),
    Bad("teeth left out", HEAD, 1, "teeth", "nothing", "must be there", "Add teeth"),
    Bad("case left out", 'format: festoon-case/1\nnotation: fdi\nteeth: {"11": {}}\n', 1, "case", "nothing", "must be there", "pseudonymous"),
    Bad("a name as code", HEAD.replace("demo", "Jo Doe") + 'teeth: {"11": {}}\n', 2, "case", "Jo Doe", "a code", "names of persons"),
    # YAML traps.
    Bad("unquoted tooth", HEAD + "teeth:\n  11: {}\n", 5, "teeth.11", "11 without quotes", '"11"', "in quotes"),
    Bad("doubled key", tooth("width_mm: 8\nmobility: 0\nwidth_mm: 9"), 8, "teeth.11.width_mm", "first on line 6", "once", "lines 6 and 8"),
    Bad("day for a number", tooth("width_mm: 2026-08-06"), 6, "teeth.11.width_mm", "2026-08-06", "a number", "spreadsheet"),
    Bad("month for a number", tooth("width_mm: 8-Jun"), 6, "teeth.11.width_mm", "8-Jun", "a number", "spreadsheet"),
    Bad("yes for true", tooth("ankylosed: yes"), 6, "teeth.11.ankylosed", "yes", "true or false", "Write true or false"),
    Bad("1 for true", tooth("ankylosed: 1"), 6, "teeth.11.ankylosed", "1", "true or false", "Write true or false"),
    Bad("true for a number", tooth("width_mm: true"), 6, "teeth.11.width_mm", "true", "a number", "answers to questions"),
    Bad("octal", tooth("width_mm: 012"), 6, "teeth.11.width_mm", "012", "a number", "leading zeros"),
    Bad("sexagesimal", tooth("width_mm: 1:30"), 6, "teeth.11.width_mm", "1:30", "a number", "ninety"),
    Bad("underscore", tooth("width_mm: 1_000"), 6, "teeth.11.width_mm", "1_000", "a number", "without marks"),
    Bad("hexadecimal", tooth("width_mm: 0x8"), 6, "teeth.11.width_mm", "0x8", "a number", "ordinary digits"),
    Bad("decimal comma", tooth("width_mm: 8,1"), 6, "teeth.11.width_mm", "8,1", "a number", "decimal point"),
    Bad("comma between braces", site("margin_mm: 8,1"), 7, f"{SITE}.1", '"1"', "a word", "decimal point"),
    Bad("quoted number", tooth('width_mm: "8.1"'), 6, "teeth.11.width_mm", '"8.1"', "a number", "quotes"),
    Bad("digit missing after the point", tooth("width_mm: 8."), 6, "teeth.11.width_mm", "8.", "a number", "both sides of the point"),
    Bad("digit missing before the point", tooth("width_mm: .5"), 6, "teeth.11.width_mm", ".5", "a number", "both sides of the point"),
    Bad("range", tooth("width_mm: 8-9"), 6, "teeth.11.width_mm", "8-9", "a number", "not a range"),
    Bad("doubt", tooth("width_mm: ~8"), 6, "teeth.11.width_mm", "~8", "a number", "se"),
    Bad("not measured", tooth("width_mm: n/a"), 6, "teeth.11.width_mm", "n/a", "a number", "unknown, never"),
    Bad("number for text", tooth("role: 11"), 6, "teeth.11.role", "11", "text", '"11"'),
    Bad("number for a day", HEAD + 'examined_at: 20260211\nteeth: {"11": {}}\n', 4, "examined_at", "20260211", "a day as", "2026-02-11"),
    Bad("day that is none", HEAD + 'examined_at: 2026-02-30\nteeth: {"11": {}}\n', 4, "examined_at", "2026-02-30", "a day as", "a day that exists"),
    Bad("time of day", HEAD + 'examined_at: 2026-02-11T10:00:00\nteeth: {"11": {}}\n', 4, "examined_at", "10:00", "a day as", "without a time"),
    Bad("half a mobility", tooth("mobility: 1.5"), 6, "teeth.11.mobility", "1.5", "a whole number", "whole"),
    Bad("anchor", tooth("width_mm: &a 8.1"), 6, "teeth.11.width_mm", "&a", "where it belongs", "Write the value out"),
    Bad("alias", tooth("width_mm: 8.1\nfuture_width_mm: *a"), 7, "teeth.11.future_width_mm", "*a", "where it belongs", "Write the value out"),
    Bad("tag", tooth('width_mm: !!float "8.1"'), 6, "teeth.11.width_mm", "tag", "without tags", "Drop the tag"),
    Bad("object tag", tooth("role: !!python/name:os.getcwd """), 6, "teeth.11.role", "tag", "without tags", "Drop the tag"),
    Bad("merge key", tooth("<<: {mobility: 0}"), 6, "teeth.11.\"<<\"", "<<", "where it belongs", "Write the merged"),
    Bad("two documents", HEAD + 'teeth: {"11": {}}\n---\na: 1\n', 5, "", "second document", "one case", "file of its own"),
    Bad("tab", HEAD + 'teeth:\n\t"11": {}\n', 5, "teeth", "a tab", "indented with spaces", "Mend"),
    Bad("unclosed brace", HEAD + 'teeth: {"11": {}\n', 5, "teeth", "", "YAML", "Mend"),
    Bad("colon in text", HEAD + 'teeth: {"11": {}}\npolicy: {supracrestal_reason: a: b}\n', 5, "policy", "{", "YAML", "quotes"),
    Bad("table as key", HEAD + 'teeth: {"11": {}}\n? {a: b}\n: c\n', 5, "", "used as a key", "text", "plain text"),
    # Numbers that are none.
    Bad("nan", tooth("width_mm: .nan"), 6, "teeth.11.width_mm", ".nan", "a number", "not a number"),
    Bad("inf", tooth("width_mm: -.inf"), 6, "teeth.11.width_mm", "-.inf", "a number", "infinite"),
    Bad("NaN", tooth("width_mm: NaN"), 6, "teeth.11.width_mm", "NaN", "a number", "not a number"),
    Bad("beyond any number", tooth("width_mm: 1e999"), 6, "teeth.11.width_mm", "1e999", "a number", "infinite"),
    # Wrong kinds.
    Bad("too many readings", tooth(f"width_mm: {[8.0] * 13}"), 6, "teeth.11.width_mm", "a list of 13", "at most 12", "Keep"),
    Bad("endless text", site(f"sounding_mm: {{value: 2, flag: {'x' * 3000}}}"), 7, f"{SITE}.sounding_mm.flag", "3000 characters", "at most 2000", "Shorten"),
    Bad("list for one value", tooth("edge_height_mm: [0, 1]"), 6, "teeth.11.edge_height_mm", "a list of 2", "one value", "several readings"),
    Bad("text for a table", tooth("sites: none"), 6, "teeth.11.sites", "none", "a table", "Write keys and values"),
    Bad("list for a table", HEAD + "teeth: [11, 12]\n", 4, "teeth", "a list of 2", "a table", "Write keys and values"),
    Bad("nothing in a list", site("margin_mm: [8.0, null]"), 7, f"{SITE}.margin_mm[1]", "nothing", "a number", "unknown"),
    Bad("list in a list", site("margin_mm: [8.0, [8.1]]"), 7, f"{SITE}.margin_mm[1]", "a list", "long form", "apart"),
    Bad("text for a word", HEAD + 'purpose: cosmetic\nteeth: {"11": {}}\n', 4, "purpose", "cosmetic", "aesthetic", "Use one"),
    Bad("word nearly right", tooth("restoration: planed"), 6, "teeth.11.restoration", "planed", "planned", "Write planned"),
    Bad("hidden character", site('sounding_mm: {value: 2, by: "a\\u202Eb"}'), 7, f"{SITE}.sounding_mm.by", "U+202E", "printed", "without it"),
    Bad("a plan", 'format: festoon-plan/1\ncase: demo\n', 1, "format", "festoon-plan/1", "festoon-case/1", "another kind"),
    Bad("another format", 'format: chart\ncase: demo\n', 1, "format", "chart", "festoon-case/1", "Write format"),
    # JSON.
    Bad("json comment", '{"case": "demo",\n // no\n "notation": "fdi"}', 2, "", "//", "a key in double quotes", "comments", "json"),
    Bad("json single quotes", "{\n'case': 'demo'}", 2, "", "'case'", "a key in double quotes", "double quotes", "json"),
    Bad("json trailing comma", '{"case": "demo",\n}', 2, "", "}", "no comma before", "Mend", "json"),
    Bad("json missing comma", '{"case": "demo"\n"notation": "fdi"}', 2, "", "notation", "a comma", "", "json"),
    Bad("json cut off", '{"case": "demo",\n"teeth": {"11": {', 2, "teeth.11", "the end of the file", "or }", "Mend", "json"),
    Bad("json two values", '{"case": "demo"}\n{}', 2, "", "{", "nothing after", "Mend", "json"),
    Bad("json leading zero", '{"case": "demo",\n"age": 012}', 2, "age", "012", "a value", "Mend", "json"),
]  # fmt: skip

JSON_HEAD = '{"format": "festoon-case/1", "case": "demo", "notation": "fdi",\n"teeth": {"11": {\n'
CASES += [
    Bad(name, JSON_HEAD + body + "}}}", line, where, found, expected, do, "json")
    for name, body, line, where, found, expected, do in [
        ("json nan", '"width_mm": NaN', 3, "teeth.11.width_mm", "NaN", "a number", "not a number"),
        ("json infinity", '"width_mm": -Infinity', 3, "teeth.11.width_mm", "-Infinity", "a number", "infinite"),
        ("json beyond", '"width_mm": 1e999', 3, "teeth.11.width_mm", "1e999", "a number", "infinite"),
        ("json doubled", '"width_mm": 8,\n"width_mm": 9', 4, "teeth.11.width_mm", "first on line 3", "once", "lines 3 and 4"),
        ("json text", '"width_mm":\n"8.1"', 4, "teeth.11.width_mm", '"8.1"', "a number", "quotes"),
        ("json half a character", '"width_mm": {"value": 8, "by": "\\ud800"}', 3, "teeth.11.width_mm.by", "U+D800", "printed", "without it"),
    ]
]  # fmt: skip


def faults_of(text: str | bytes, name: str = "bad.yaml") -> tuple[Fault, ...]:
    data = text.encode("utf-8") if isinstance(text, str) else text
    with pytest.raises(InputRefusedError) as refused:
        parse_case(data, name)
    return refused.value.faults


@pytest.mark.parametrize("bad", CASES, ids=lambda bad: bad.name)
def test_a_fault_says_file_line_key_found_expected_and_what_to_do(bad: Bad) -> None:
    """Each bad file gives exactly one message, and the message has all its parts."""
    faults = faults_of(bad.text, f"bad.{bad.ending}")
    fault = faults[0]
    assert fault.file == f"bad.{bad.ending}"
    assert (fault.line, fault.where) == (bad.line, bad.where)
    assert bad.found in fault.found
    assert bad.expected in fault.expected
    assert bad.do in fault.do
    assert fault.found
    assert fault.do.endswith((".", "?"))
    assert [str(other) for other in faults[1:]] == []
    assert all(word not in str(fault) for word in ("pydantic", "Input should", "http", "Traceback", "validator"))


def test_all_faults_of_a_file_are_told_together_in_the_order_of_its_lines() -> None:
    """Syntax, teeth, kinds, words, ranges, relations and contradictions come in one refusal."""
    text = (
        "format: festoon-case/1\n"
        "case: Jo Doe\n"  # 2 pattern
        "notation: fdi\n"
        "examined_at: 2026-02-30\n"  # 4 day
        "teeth:\n"
        "  11:\n"  # 6 unquoted
        "    width_mm: 8,1\n"  # 7 comma
        "    status: naturel\n"  # 8 word
        "    colour: A2\n"  # 9 unknown
        "    sites:\n"
        "      midfacial: {margin_mm: 12, mucogingival_mm: 10}\n"  # 11 relation
        "      mesial: {sounding_mm: 15}\n"  # 12 range
        '  "21": {width_mm: [8.0, 9.0]}\n'  # 13 contradiction
        '  "99": {mobility: 7}\n'  # 14 no tooth, and its content
        "papillae: {11-13: {}}\n"  # 15 no neighbours
    )
    lines = [fault.line for fault in faults_of(text)]
    assert lines == [2, 4, 6, 7, 8, 9, 11, 12, 13, 14, 14, 15]


def test_an_endless_key_is_cut_and_refused() -> None:
    """A key as long as a page is a quotation mark that was never closed."""
    faults = faults_of(HEAD + 'teeth: {"11": {? "' + " x" * 50_000 + '" : 1}}\n')
    assert "a key of 100000 characters" in faults[0].found


def test_faults_beyond_a_few_hundred_are_counted() -> None:
    """A file of nonsense does not flood the screen."""
    for n, rest in ((1000, "700 more faults"), (10_000, "1700 more faults, and reading stopped")):
        faults = faults_of(tooth("\n".join(f"nonsense_{i}: 1" for i in range(n))))
        assert len(faults) == 301
        assert faults[-1].found == rest


@pytest.mark.parametrize(
    ("data", "found", "do"),
    [
        (b"", "an empty file", "right file"),
        (b"\xef\xbb\xbf  \n\n", "an empty file", "right file"),
        (b"# nothing but a remark\n", "no values", "right file"),
        (b"- 1\n- 2\n", "a list of 2", "right file"),
        (b"just words\n", "just words", "right file"),
        (b"case: demo\nname: Andr\xe9\n", "0xE9 at place 11 of line 2 (byte 21)", "UTF-8"),
        ("case: demo".encode("utf-16"), "UTF-16", "UTF-8"),
        (b"\x89PNG\r\n\x1a\n" + bytes(range(256)), "0x89 at place 1 of line 1 (byte 0)", "UTF-8"),
        (b"case: demo\n\x00\x01", "control character 0x00", "binary"),
        (b"PK\x03\x04 sheet", "control character 0x03", "binary"),
        (b"a: " + b"x" * 3_000_000, "more than 2 MB", "right file"),
        (b"[" * 100_000, "more than 16 deep", "brackets"),
        (b"{a: " * 100_000, "more than 16 deep", "brackets"),
        (b"- " * 100_000, "more than 16 deep", "brackets"),
        (b"a: [" + b"1," * 100_000 + b"1]", "more than 60000 values", "right file"),
    ],
)  # fmt: skip
def test_what_is_no_case_file_gets_one_clear_message(data: bytes, found: str, do: str) -> None:
    """Empty, binary, foreign, huge and endlessly nested input is refused at once, by one message."""
    (fault,) = faults_of(data)
    assert found in fault.found
    assert do in fault.do
    assert fault.expected


@pytest.mark.parametrize("data", [b"[" * 100_000, b'{"a":' * 100_000])
def test_json_is_not_followed_into_endless_nesting(data: bytes) -> None:
    """Depth is refused, not recursed into."""
    (fault,) = faults_of(data, "bad.json")
    assert "more than 16 deep" in fault.found


def test_a_fault_never_prints_what_would_steer_a_terminal() -> None:
    """Escape sequences and direction marks of a hostile file are shown as their codes."""
    text = HEAD + 'teeth: {"11": {"\\e[2Jx\\u202E": 1}}\n'
    message = "\n".join(str(fault) for fault in faults_of(text))
    assert "\x1b" not in message
    assert "\u202e" not in message
    assert "\\x1b[2J" in message or "\\u001b[2J" in message


def test_a_wish_for_one_notation_is_never_guessed() -> None:
    """The same keys mean other teeth in other notations, so even an unambiguous file must say which."""
    for keys in (["11", "12"], ["8", "9"], ["UR1", "UL1"]):
        body = ", ".join(f'"{key}": {{}}' for key in keys)
        (fault,) = faults_of(f"format: festoon-case/1\ncase: demo\nteeth: {{{body}}}\n")
        assert fault.where == "notation"

"""No number without a source."""

from __future__ import annotations

import re

import pytest
from repository import SOURCE, sources, text_of

from festoon.evidence.defaults import COMMON_PRACTICE, DESIGN, SETTINGS, Setting
from festoon.evidence.table import Published, all_published
from festoon.model.case import PolicyChoice

PREFIXES = "AES|CP|CRN|DX|ERR|GIN|HEAL|ROOT|STA"
NAMED = re.compile(rf"\b({PREFIXES})-(\d{{3}})((?:\s*(?:to|/|-)\s*(?:(?:{PREFIXES})-)?\d{{3}}\b|,\s*0\d\d\b)*)")
IDS = {row.id for row in all_published()}


def ids_in(text: str) -> set[str]:
    """Evidence ids named in a text: ``GIN-010``, ``GIN-017/018``, ``STA-020 to 022``, ``ERR-001 to ERR-004``."""
    found = set()
    for prefix, first, rest in NAMED.findall(text):
        found.add(f"{prefix}-{first}")
        last = int(first)
        for joint, other, number in re.findall(rf"(to|/|-|,)\s*(?:({PREFIXES})-)?(\d{{3}})\b", rest):
            is_range = joint in ("to", "-") and other in ("", prefix)
            found |= {
                f"{other or prefix}-{n:03}" for n in range(last + 1 if is_range else int(number), int(number) + 1)
            }
            last = int(number)
    return found


def test_ranges_of_ids_are_understood() -> None:
    """The reader of ids sees what a person sees."""
    assert ids_in("ERR-001 to ERR-004") == {"ERR-001", "ERR-002", "ERR-003", "ERR-004"}
    assert ids_in("Rows GIN-034, 035, 063") == {"GIN-034", "GIN-035", "GIN-063"}
    assert ids_in("ERR-004, 190 teeth") == {"ERR-004"}
    assert ids_in("GIN-017/018 and STA-020 to 022") == {"GIN-017", "GIN-018", "STA-020", "STA-021", "STA-022"}


def test_every_id_named_in_the_code_is_in_the_table() -> None:
    """A citation that leads nowhere is no source."""
    unknown = {f"{path.name}: {row}" for path in sources() for row in ids_in(text_of(path)) if row not in IDS}
    assert unknown == set()


@pytest.mark.parametrize("setting", SETTINGS.values(), ids=lambda setting: setting.name)
def test_setting_has_a_source_and_a_meaning(setting: Setting) -> None:
    """A source names evidence, or says plainly that there is none."""
    admits = (
        COMMON_PRACTICE,
        DESIGN,
        "common practice",
        "memory",
        "as above",
        "meant as given",
        "doi",
        "evidence notes",
    )
    assert setting.meaning
    assert ids_in(setting.source) or any(words in setting.source for words in admits), setting.source


def test_every_number_of_a_policy_has_a_default() -> None:
    """What a clinician may choose has a setting behind it, except what only a case can say."""
    only_in_a_case = {"supracrestal_reason", "reference_side", "limits", "presets"}
    assert set(PolicyChoice.model_fields) - SETTINGS.keys() == only_in_a_case


@pytest.mark.parametrize("row", all_published(), ids=lambda row: row.id)
def test_row_says_how_it_is_known(row: Published) -> None:
    """Seen rows have a place to look; ids are unique; a value or a range is there, or the row is a rule."""
    assert re.fullmatch(rf"({PREFIXES})-\d{{3}}", row.id)
    assert row.how_known in ("seen", "memory", "common-practice")
    if row.how_known == "seen":
        assert row.reference, "seen, but nowhere to look"
    assert row.unit == "rule" or any(value is not None for value in (row.mean, row.low, row.high)) or row.note


def test_ids_are_unique() -> None:
    """One id, one row."""
    text = (SOURCE / "evidence" / "values.csv").read_text("utf-8")
    ids = re.findall(r"^([A-Z]+-\d{3}),", text, re.MULTILINE)
    assert len(ids) == len(set(ids)) == len(IDS)

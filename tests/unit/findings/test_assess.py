"""The ranking, the honesty about the unknown, and the text."""

from __future__ import annotations

import re

import pytest
from finding_cases import COVERED, findings, mouth
from hypothesis import given
from hypothesis import strategies as st

from festoon.evidence.table import all_published
from festoon.findings import assess, thresholds
from festoon.findings.causes import CAUSES
from festoon.findings.thresholds import Threshold, support_word
from festoon.model.case import Case
from festoon.records.reconcile import resolve

BARE = Case(case="bare", notation="fdi", teeth={"11": {}, "21": {}})


def test_nothing_charted_is_nothing_known() -> None:
    """No cause is ruled out by silence, none is found, and every question is asked."""
    found = assess(resolve(BARE))
    assert found[0].cause == "none_found"
    assert found[0].title == "No cause found in what was charted"
    assert {f.support for f in found} == {"unknown"}
    assert all(f.missing for f in found)
    assert not any(f.withholds_surgery for f in found)


def test_every_cause_is_weighed_once_and_ranked_from_one() -> None:
    found = assess(resolve(mouth(COVERED)))
    assert len(found) == len(CAUSES)
    assert len({f.cause for f in found}) == len(CAUSES)
    assert [f.rank for f in found] == list(range(1, len(CAUSES) + 1))


def test_what_withholds_surgery_is_read_first() -> None:
    """Growth not complete stands before an altered passive eruption with a larger sum."""
    first, second, *_ = assess(resolve(mouth(COVERED, subject={"age_years": 14, "growth_complete": False})))
    assert (first.cause, second.cause) == ("incomplete_growth", "altered_passive_eruption")
    weight = {f.cause: sum(line.weight for line in f.evidence_for + f.evidence_against) for f in (first, second)}
    assert weight["incomplete_growth"] < weight["altered_passive_eruption"]


def test_restorative_purpose_is_no_cause_to_look_for() -> None:
    case = mouth(purpose="restorative")
    assert assess(resolve(case))[0].title.startswith("Restorative lengthening")


def test_ranking_does_not_depend_on_the_order_of_the_teeth() -> None:
    case = mouth(COVERED, smile={"gingival_display_mm": 5.0})
    turned = case.model_copy(update={"teeth": dict(reversed(case.teeth.items()))})
    assert assess(resolve(case)) == assess(resolve(turned))


def test_missing_is_listed_by_what_is_at_stake() -> None:
    """The CEJ moves the sum by 2, the sounding by 1, the mucogingival junction by 0.5."""
    bare = {code: change | {"cej": None, "crest": None, "mucogingival": None} for code, change in COVERED.items()}
    missing = findings(mouth(bare))["altered_passive_eruption"].missing
    keys = [name.rsplit(".", 1)[1] for name in missing]
    assert keys == ["cej_mm", "sounding_mm", "mucogingival_mm"]


def test_every_line_has_a_weight_and_a_source_that_exists() -> None:
    """Ids named as sources are rows of the evidence table; every line says which way it speaks."""
    ids = {row.id for row in all_published()}
    case = mouth(COVERED, smile={"gingival_display_mm": 5.0, "lip_travel_mm": 9.5}, health={"previous_surgery": True})
    for finding in assess(resolve(case)):
        for line in (*finding.evidence_for, *finding.evidence_against):
            assert line.weight != 0
            assert line.source
            for word in line.source.replace(";", " ").replace(",", " ").split():
                if word[:3].isupper() and "-" in word and word[-3:].isdigit():
                    assert word in ids, line


@pytest.mark.parametrize("name", [n for n, v in vars(thresholds).items() if isinstance(v, Threshold)])
def test_every_threshold_names_its_source(name: str) -> None:
    threshold: Threshold = getattr(thresholds, name)
    assert re.search(r"[A-Z]+-\d{3}|no source|no published source|\d{4};\d+:|\.com |taught, memory", threshold.source)


@given(st.floats(-10, 10), st.floats(-10, 10))
def test_more_weight_never_weakens_the_word(a: float, b: float) -> None:
    order = ("against", "weak", "moderate", "strong")
    low, high = sorted((a, b))
    assert order.index(support_word(low)) <= order.index(support_word(high))


@given(display=st.floats(2, 12), further=st.floats(0, 5))
def test_more_display_never_shrinks_what_remains(display: float, further: float) -> None:
    """The display that remains grows with the display there is, and never goes below zero."""
    from festoon.findings.display import remaining_display
    from festoon.findings.mouth import Mouth

    less, more = (
        remaining_display(Mouth(resolve(mouth(COVERED, smile={"gingival_display_mm": d}))))
        for d in (display, display + further)
    )
    assert less is not None
    assert more is not None
    assert 0 <= less <= more


def test_spontaneous_smile_counts_when_it_shows_more() -> None:
    """5 mm in laughter against 2 posed: the larger is used and no posed-smile caution is needed."""
    case = mouth(COVERED, smile={"gingival_display_mm": 2.0, "display_spontaneous_mm": 5.0})
    text = findings(case)["altered_passive_eruption"].surgery_can
    assert "Display in a spontaneous laugh 5.0 mm" in text
    assert "under-shows" not in text


@pytest.mark.parametrize("section", ["smile", "face", "subject", "subject.health"])
def test_silence_about_a_person_never_speaks_against_a_cause(section: str) -> None:
    """Whatever answer is taken out, no cause gains a line against it that it did not have."""
    full = mouth(COVERED, smile={"gingival_display_mm": 5.0, "rest_display_mm": 6.0})
    part = full
    for name in section.split("."):
        part = getattr(part, name)
    before = {cause: len(f.evidence_against) for cause, f in findings(full).items()}
    for field in type(part).model_fields:
        if field in ("sex", "health"):
            continue
        empty = () if isinstance(getattr(part, field), tuple) else None
        smaller = part.model_copy(update={field: empty})
        if section == "subject.health":
            case = full.model_copy(update={"subject": full.subject.model_copy(update={"health": smaller})})
        else:
            case = full.model_copy(update={section: smaller})
        for cause, finding in findings(case).items():
            assert len(finding.evidence_against) <= before.get(cause, 0), (field, cause)


@pytest.mark.parametrize("key", ["cej", "crest", "mucogingival", "probing"])
def test_silence_about_a_reading_never_speaks_against_a_cause(key: str) -> None:
    """The same for readings of all six teeth at once."""
    before = {cause: len(f.evidence_against) for cause, f in findings(mouth(COVERED)).items()}
    bare = {code: change | {key: None} for code, change in COVERED.items()}
    for cause, finding in findings(mouth(bare)).items():
        assert len(finding.evidence_against) <= before.get(cause, 0), cause

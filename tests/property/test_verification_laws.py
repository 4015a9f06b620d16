"""Laws of the verification: the error never turns a verdict round, the datum never matters, the mirror mirrors."""

from __future__ import annotations

import re

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from festoon.model.dentition import Tooth
from festoon.model.quantities import Quantity
from festoon.model.verification import Moment, Verdict
from festoon.records.casefile import parse_case
from festoon.records.placing import place_readings
from festoon.records.readings import parse_readings
from festoon.verify.before import before_checks
from festoon.verify.bone import bone_checks, remaining
from festoon.verify.session import Limits
from festoon.workflow.verifying import VerifyOptions, verify_files
from verify_worked import FILES, SURGERY, entry_at, reading, session

LEVELS = st.floats(5.0, 20.0).map(lambda value: round(value, 2))
ERRORS = st.floats(0.01, 3.0)


@given(LEVELS, ERRORS, ERRORS)
def test_an_error_never_turns_too_far_into_still_to_remove(level: float, one: float, other: float) -> None:
    """Whatever the errors, two verdicts of one reading are never on opposite sides of the target."""
    found = session(reading(level))
    verdicts = {remaining(found, 13.0 - level, se, "bone")[0] for se in (one, other)}
    assert not {Verdict.TO_REMOVE, Verdict.TOO_FAR} <= verdicts
    assert (Verdict.TOO_FAR in verdicts) <= (level > 13.0)
    assert (Verdict.TO_REMOVE in verdicts) <= (level < 13.0)


@given(LEVELS, ERRORS)
def test_a_papilla_is_never_still_to_be_cut(level: float, se: float) -> None:
    """No reading asks for bone where the plan removes none."""
    check = entry_at(bone_checks(session(reading(level, site="mesial", se=se))), "11", "mesial")
    assert check.verdict in (Verdict.WITHIN, Verdict.RECOMPUTE, Verdict.STOP)


@given(LEVELS, ERRORS)
def test_limits_hold_whatever_the_error(level: float, se: float) -> None:
    """Before cutting the error is said and softens nothing: 0.5 and 1.0 mm off the charted 8.5."""
    (check,) = before_checks(session(reading(level, Quantity.MARGIN_LEVEL, se=se)))
    off = round(abs(level - 8.5), 4)
    wanted = Verdict.STOP if off > 1.0 else Verdict.RECOMPUTE if off > 0.5 else Verdict.WITHIN
    assert check.verdict is wanted


@pytest.mark.parametrize(("off", "verdict"), [(0.5, "within"), (0.51, "recompute"), (1.0, "recompute"), (1.01, "stop")])
@pytest.mark.parametrize("sign", [1, -1])
def test_a_limit_itself_is_still_within_it(off: float, verdict: str, sign: int) -> None:
    """More than the limit, not the limit; alike in both directions; unharmed by the last bits."""
    (check,) = before_checks(session(reading(8.5 + sign * off, Quantity.MARGIN_LEVEL)))
    assert check.verdict == verdict


def test_limits_can_be_changed() -> None:
    """The same reading under limits of one's own."""
    (check,) = before_checks(session(reading(9.2, Quantity.MARGIN_LEVEL), limits=Limits(0.2, 0.6)))
    assert check.verdict is Verdict.STOP


CASE = (FILES / "case.yaml").read_text("utf-8")


def with_extension(mm: float) -> bytes:
    """The worked case with another extension of 11 and, from its present edge, the same mouth."""
    edges = "{restored_edge: -0.7, template: 1.5, bonded_mark: 4.0}"
    return re.sub(
        r'("11":.*?incisal_extension_mm: )0.5(.*?datum_offset_mm: )\{.*?\}', rf"\g<1>{mm}\g<2>{edges}", CASE, flags=re.S
    ).encode()


@pytest.mark.parametrize("extension", [0.5, -0.5, 0.0])
def test_one_point_read_from_every_datum_is_one_level(extension: float) -> None:
    """Bone 12.0 mm from the present edge: 12.0 + extension from the planned edge, whatever it was read from."""
    case = parse_case(with_extension(extension), "case.yaml").case
    as_read = {
        "present_edge": 12.0,
        "planned_edge": 12.0 + extension,
        "restored_edge": 12.7,
        "template": 10.5,
        "bonded_mark": 8.0,
    }
    for datum, value in as_read.items():
        entry = {"tooth": "11", "site": "midfacial", "quantity": "crest_level", "value": value, "datum": datum}
        text = yaml.safe_dump({"format": "festoon-readings/1", "case": "abacus-07", "readings": [entry]})
        (placed,) = place_readings(parse_readings(text.encode(), "r.yaml"), case, Moment.BONE).readings
        assert placed.planned_edge_mm == pytest.approx(12.0 + extension), datum
        assert placed.present_edge_mm == pytest.approx(12.0), datum


def swapped(text: str) -> bytes:
    """Right and left exchanged, in keys and in readings."""
    return re.sub(r'"([12][1-8])"', lambda found: f'"{Tooth(found[1]).contralateral.fdi}"', text).encode()


@pytest.mark.parametrize("moment", ["before", "bone", "suture", "recall"])
def test_the_mirrored_mouth_has_the_mirrored_verification(moment: str) -> None:
    """Every verdict and number on the other side; the left-right difference with the other sign."""
    text = (FILES / f"{moment}.yaml").read_text("utf-8")
    name = Moment(moment)
    options = VerifyOptions(name, surgery_at=SURGERY if name is Moment.RECALL else None)
    one, other = (
        verify_files(parse_case(case, "case.yaml"), parse_readings(data, "r.yaml"), options)
        for case, data in ((CASE.encode(), text.encode()), (swapped(CASE), swapped(text)))
    )
    for part in ("checks", "spaces", "sutures", "visits", "courses"):
        first, second = getattr(one, part), getattr(other, part)
        assert len(first) == len(second)
        numbers = {(Tooth(e.tooth).contralateral.fdi, e.site, getattr(e, "at", None), e.verdict, e.text) for e in first}
        # The sentence names no tooth, so it is the same on both sides.
        assert numbers == {(e.tooth, e.site, getattr(e, "at", None), e.verdict, e.text) for e in second}
    assert [p.difference_mm for p in one.pairs] == [-p.difference_mm + 0.0 for p in other.pairs]

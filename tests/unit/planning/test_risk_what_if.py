"""What if: the answer is the plan of the changed case, and a wrong question is refused in words."""

from __future__ import annotations

import pytest

from festoon.errors import InputRefusedError
from festoon.model.anatomy import Anatomy
from festoon.model.plan import Procedure
from festoon.planning.what_if import WhatIf, what_if
from festoon.records.reconcile import resolve
from mouths import case, front, tooth


@pytest.fixture(scope="module")
def mouth() -> Anatomy:
    return resolve(case(front()))


def asked(mouth: Anatomy, **change: float | str | bool | None) -> WhatIf:
    return what_if(mouth, {path.replace("__", "."): value for path, value in change.items()}, resolve=resolve)


def test_a_nearer_cej_shortens_the_move_and_says_so(mouth: Anatomy) -> None:
    """CEJ 10.4 to 9.4: the margin stops at the CEJ, 1.2 mm on, and the sentence names both rules."""
    answer = asked(mouth, teeth__11__sites__midfacial__cej_mm=9.4)
    own = next(change for change in answer.teeth if change.tooth == "11")
    assert own.move_after_mm == pytest.approx(1.2)
    assert (own.binding_before, own.binding_after) == ("target_length", "root_exposure")
    assert "now set by the CEJ, before by its target length" in answer.text
    assert answer.text.startswith("If teeth.11.sites.midfacial.cej_mm = 9.4: 11: the margin moves 1.20 mm instead of")


def test_the_answer_is_the_plan_of_the_changed_case(mouth: Anatomy) -> None:
    """The same change made in the case itself gives the same moves, collars and bone."""
    answer = asked(mouth, teeth__12__sites__midfacial__sounding_mm=3.6)
    direct = asked(resolve(case(front(t12={"sounding": 3.6}))), teeth__12__mobility=0)
    assert answer.after.solution == direct.before.solution


def test_more_sounding_is_less_bone_by_as_much(mouth: Anatomy) -> None:
    """1.1 mm more from margin to crest: 1.1 mm less bone, the margin as before, at that tooth alone."""
    answer = asked(mouth, teeth__12__sites__midfacial__sounding_mm=3.6)
    (change,) = answer.teeth
    assert change.tooth == "12"
    assert change.bone_before_mm is not None
    assert change.bone_after_mm == pytest.approx(change.bone_before_mm - 1.1)
    assert change.move_after_mm == change.move_before_mm
    assert "the crest lies elsewhere" in change.text


def test_a_setting_changes_every_tooth_it_binds(mouth: Anatomy) -> None:
    """Half a millimetre less distance wanted: half a millimetre less bone at all six, said together."""
    answer = asked(mouth, policy__supracrestal_midfacial_mm=2.5)
    assert len(answer.teeth) == 6
    for change in answer.teeth:
        assert change.bone_before_mm is not None
        assert change.bone_after_mm == pytest.approx(change.bone_before_mm - 0.5)
    assert answer.text.count("another distance from margin to crest is wanted") < 6


def test_more_tissue_to_keep_changes_the_procedure(mouth: Anatomy) -> None:
    """5 of 5.8 mm to be kept: the collar is 0.8 mm and the rest goes by apical suturing."""
    answer = asked(mouth, policy__keratinised_minimum_mm=5.0)
    assert {change.procedure_after for change in answer.teeth} == {Procedure.APICAL_FLAP_WITH_OSTECTOMY}
    assert "allows 0.8 mm of collar" in answer.text


def test_taking_a_reading_away_gives_no_cut_and_no_zero(mouth: Anatomy) -> None:
    """Unknown is unknown: undetermined, with lengths that are None."""
    (change,) = asked(mouth, teeth__21__sites__midfacial__mucogingival_mm=None).teeth
    assert (change.procedure_after, change.move_after_mm, change.bone_after_mm) == (Procedure.UNDETERMINED, None, None)
    assert "not measured" in change.text
    assert "0.00" not in change.text


def test_a_replaced_reading_keeps_its_method_error_and_datum() -> None:
    """10.4 from the planned edge with an extension of 0.5 stays a level from the planned edge."""
    scanned = {"value": 10.4, "se": 0.1, "method": "scan", "datum": "planned_edge"}
    known = resolve(case({"11": tooth("11", cej=scanned, incisal_extension_mm=0.5)}))
    answer = what_if(known, {"teeth.11.sites.midfacial.cej_mm": 9.9}, resolve=resolve)
    (reading,) = answer.after.problem.anatomy.case.teeth["11"].sites["midfacial"].cej_mm  # type: ignore[index]
    assert (reading.value, reading.se, reading.method, reading.datum) == (9.9, 0.1, "scan", "planned_edge")
    moved = answer.after.problem.teeth[next(iter(known.teeth))].anatomy.sites["midfacial"].cej  # type: ignore[index]
    assert moved is not None
    assert moved.value == pytest.approx(9.9)


def test_a_change_without_effect_is_said(mouth: Anatomy) -> None:
    """A change that changes nothing is an answer too."""
    answer = asked(mouth, teeth__11__mobility=1)
    assert answer.teeth == ()
    assert answer.text.endswith("Nothing changes in the plan.")


def test_a_plan_that_is_at_hand_is_not_solved_again(mouth: Anatomy) -> None:
    """The caller's plan is taken as it stands and gives the same answer."""
    first = asked(mouth, policy__supracrestal_midfacial_mm=2.5)
    change = {"policy.supracrestal_midfacial_mm": 2.5}
    again = what_if(mouth, change, resolve=resolve, before=first.before)
    assert again.before is first.before
    assert again.teeth == first.teeth


@pytest.mark.parametrize(
    ("path", "value", "found", "expected"),
    [
        ("teeth.11.sites.midfacial.cej", 9.4, "no 'cej' there", "cej_mm"),
        ("teeth.18.width_mm", 8.0, "no '18' there", "11"),
        ("teeth.11.sites.mesiofacial.margin_mm", 8.0, "no 'mesiofacial' there", "midfacial"),
        ("teeth.11.width_mm.value", 8.0, "no 'value' there", "ends here"),
        ("policy.gum_mm", 8.0, "no 'gum_mm' there", "keratinised_minimum_mm"),
        ("policy.keratinised_minimum_mm", -1.0, "-1.0", "greater than or equal to 0"),
        ("teeth.11.sites.midfacial.cej_mm", "high", "'high'", "number"),
        ("teeth.11.status", "loose", "'loose'", "natural"),
        ("", 1.0, "no '' there", "teeth"),
    ],
)
def test_a_wrong_question_is_refused_with_its_place(
    mouth: Anatomy, path: str, value: float | str, found: str, expected: str
) -> None:
    """The fault names the key path, what was found, what was expected and what to do."""
    with pytest.raises(InputRefusedError) as refused:
        what_if(mouth, {path: value}, resolve=resolve)
    (fault,) = refused.value.faults
    assert fault.where == path
    assert fault.found == found
    assert expected in fault.expected
    assert fault.do


def test_all_faults_are_told_together(mouth: Anatomy) -> None:
    """Two wrong paths, two faults."""
    with pytest.raises(InputRefusedError) as refused:
        what_if(mouth, {"teeth.18.width_mm": 8.0, "policy.gum_mm": 1.0}, resolve=resolve)
    assert len(refused.value.faults) == 2

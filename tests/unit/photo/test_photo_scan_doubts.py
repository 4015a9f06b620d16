"""A photograph measured with a scan is no surer than the scan: doubts are carried over, a tooth that does not fit is left out."""

from __future__ import annotations

from festoon.model.dentition import Tooth
from festoon.model.quantities import Quantity
from festoon.photo.crown import crowns_of
from festoon.photo.posed import readings_with_pose
from festoon.photo.quantities import tell_reading
from festoon.workflow.measuring_photo import with_doubts_of
from made_front import CAMERA, made_front, marks_from


def test_doubts_about_a_scanned_tooth_are_said_and_widen_its_errors() -> None:
    """About everything: every reading; about the sides: width, ratio, zenith; no other tooth; what then says nothing is left out."""
    read = [
        tell_reading(Tooth(code), quantity, 1.0, se, by=None)
        for code in ("11", "12", "13")
        for quantity, se in ((Quantity.CROWN_WIDTH, 0.2), (Quantity.CROWN_LENGTH, 0.1), (Quantity.ZENITH_OFFSET, 0.6))
    ]
    made = with_doubts_of(read, {Tooth("11"): (("a hole",), ()), Tooth("12"): ((), ("a side hardly shows",))})
    by = {(r.tooth, r.quantity): r for r in made}
    assert by["11", Quantity.CROWN_LENGTH].se == 0.3
    assert by["11", Quantity.CROWN_LENGTH].flag == "scan: a hole"
    assert by["12", Quantity.CROWN_LENGTH] == read[4]
    assert by["12", Quantity.CROWN_WIDTH].se == 0.6
    assert ("12", Quantity.ZENITH_OFFSET) not in by
    assert [r for r in made if r.tooth == "13"] == read[6:]


def test_a_tooth_that_is_wider_in_the_picture_than_on_the_scan_is_not_measured() -> None:
    """A width does not change: an outline a quarter wider than the scanned crown is not of it, and the others are measured all the same."""
    front = made_front()
    marks = marks_from(front, CAMERA)
    crowns = crowns_of(marks)
    right = readings_with_pose(front, crowns, marks, CAMERA)
    assert any(r.tooth == "11" for r in right)
    wider = dict(marks.teeth)
    middle = crowns[Tooth("11")].middle[0]
    wider["11"] = marks.teeth["11"].model_copy(
        update={"outline": tuple((middle + 1.25 * (x - middle), y) for x, y in marks.teeth["11"].outline or ())}
    )
    other = marks.model_copy(update={"teeth": wider})
    left = readings_with_pose(front, crowns_of(other), other, CAMERA)
    assert not any(r.tooth == "11" for r in left)
    assert any(r.tooth == "12" for r in left)

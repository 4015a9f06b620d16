"""A measured scan corrected by hand: what the app asks for when a person moves a margin."""

from __future__ import annotations

import time

import numpy as np
import pytest

from festoon.errors import InputRefusedError
from festoon.model.dentition import Tooth
from festoon.model.quantities import Quantity, Readings
from festoon.scan.correction import with_margin_points
from festoon.scan.quantities import readings_of
from festoon.scan.trace import TracedArch
from festoon.workflow.measuring_scan import MeasuredScan, SetPoint, corrected


@pytest.fixture(scope="module")
def measured(traced: TracedArch) -> MeasuredScan:
    """The phantom, measured."""
    return MeasuredScan(traced, Readings(case="t", readings=readings_of(traced)), ())


def _moved(measured: MeasuredScan, code: str, by_mm: float) -> SetPoint:
    """The middle of a tooth's margin moved coronally, in the pose of the file."""
    curve = np.array(measured.margins[code])
    axis = measured.arch.frame.to_file(measured.arch.teeth[Tooth(code)].frame.axis) - measured.arch.frame.to_file(
        np.zeros(3)
    )
    x, y, z = (float(v) for v in curve[len(curve) // 2] - by_mm * axis)
    return SetPoint(Tooth(code), (x, y, z))


def test_a_moved_point_moves_its_readings_and_no_others(measured: MeasuredScan) -> None:
    """0.4 mm coronal: 11 gets shorter, says so and by whom; other teeth but for the papilla they share stay; it takes no time."""
    begun = time.process_time()
    moved = _moved(measured, "11", 0.4)
    after = corrected(measured, [moved], by="op-2")
    assert time.process_time() - begun < 1.0
    assert np.linalg.norm(np.array(after.margins["11"]) - moved.point, axis=1).min() < 0.06
    old = {(r.tooth, r.quantity, r.site): r for r in measured.readings.readings}
    for new in after.readings.readings:
        was = old[new.tooth, new.quantity, new.site]
        if new.tooth == "11" and new.quantity is Quantity.CROWN_LENGTH:
            assert new.value < was.value
            assert new.flag == "margin set by hand at 1 place"
            assert new.by == "op-2"
        if new.tooth in ("13", "22", "23"):
            assert new == was


def test_nothing_is_remembered(measured: MeasuredScan) -> None:
    """The points given are all that count: without any the readings are those that were measured, and the order is the same."""
    assert corrected(measured, []).readings == measured.readings
    again = corrected(corrected(measured, [_moved(measured, "11", 0.4)]), [_moved(measured, "21", 0.3)])
    assert {r.tooth for r in again.readings.readings if r.flag and "by hand" in r.flag} == {"21"}


@pytest.mark.parametrize(
    ("place", "found"),
    [
        (SetPoint(Tooth("26"), (0.0, 0.0, 0.0)), "not measured"),
        (SetPoint(Tooth("11"), (500.0, 0.0, 0.0)), "off the facial surface"),
    ],
)
def test_points_that_cannot_be_are_refused(measured: MeasuredScan, place: SetPoint, found: str) -> None:
    """A tooth that is not on the scan and a place far off are refused in words."""
    with pytest.raises(InputRefusedError, match=found):
        corrected(measured, [place])


@pytest.mark.parametrize("by_mm", [0.3, 0.6, -0.5])
def test_a_moved_margin_bends_to_its_point_without_a_hook(traced: TracedArch, by_mm: float) -> None:
    """The curve goes through the point, turns by under 10 degrees from one of its places to the next, and is the old one 2 mm away."""
    tooth = Tooth("11")
    side = traced.teeth[tooth].facial
    k = len(side.traced.columns) // 2
    x, y = float(side.traced.columns[k]), float(side.traced.rows[k]) - by_mm
    point = side.view.points(np.array([y]), np.array([x]), np.zeros(1))
    new = with_margin_points(traced, tooth, point).teeth[tooth].facial.traced
    away = np.hypot(new.columns - x, new.rows - y)
    assert away.min() < 0.06
    heading = np.unwrap(np.arctan2(np.diff(new.rows), np.diff(new.columns)))
    assert np.degrees(np.abs(np.diff(heading)))[away[1:-1] < 2.0].max() < 10.0
    for aside in (-2.0, 2.0):
        was, now = (np.interp(x + aside, t.columns, t.rows) for t in (side.traced, new))
        assert abs(was - now) < 0.15


def test_a_papilla_tip_is_where_it_was_set(traced: TracedArch) -> None:
    """The mesial tip of 11 set 0.4 mm more coronal: the curve goes through it and rises no more than 0.15 mm beyond."""
    tooth = Tooth("11")
    side = traced.teeth[tooth].facial
    x, y = float(side.traced.columns[0]), float(side.traced.rows[0]) - 0.4
    point = side.view.points(np.array([y]), np.array([x]), np.zeros(1))
    new = with_margin_points(traced, tooth, point).teeth[tooth].facial.traced
    assert np.hypot(new.columns - x, new.rows - y).min() < 0.1
    assert y - 0.15 < new.rows[:20].min() < y + 0.1

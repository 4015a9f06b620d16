"""A measured scan corrected by hand: what the app asks for when a person moves a margin."""

from __future__ import annotations

import json
import time
from pathlib import Path

import numpy as np
import pytest

from festoon.errors import InputRefusedError
from festoon.model.dentition import Site, Tooth
from festoon.model.quantities import Quantity, QuantityReading, Readings
from festoon.scan.by_hand import ByHand, Place
from festoon.scan.correction import with_points
from festoon.scan.quantities import readings_of
from festoon.scan.trace import TracedArch
from festoon.workflow.measuring_scan import MeasuredScan, SetPoint, corrected
from festoon.workflow.scan_corrections import read_corrections


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


def _on_margin(point: np.ndarray) -> ByHand:
    x, y, z = (float(v) for v in point)
    return ByHand((("margin", (x, y, z)),))


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
    new = with_points(traced, tooth, _on_margin(point[0])).teeth[tooth].facial.traced
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
    new = with_points(traced, tooth, _on_margin(point[0])).teeth[tooth].facial.traced
    assert np.hypot(new.columns - x, new.rows - y).min() < 0.1
    assert y - 0.15 < new.rows[:20].min() < y + 0.1


def _value(measured: MeasuredScan, code: str, quantity: Quantity, site: Site | None = None) -> QuantityReading:
    return next(r for r in measured.readings.readings if (r.tooth, r.quantity, r.site) == (code, quantity, site))


def _place(measured: MeasuredScan, code: str, place: Place, across: float, facial: float, level: float) -> SetPoint:
    """A point given in a tooth's own coordinates."""
    frame = measured.arch.teeth[Tooth(code)].frame
    x, y, z = (float(v) for v in measured.arch.frame.to_file(frame.points(*map(np.array, (across, facial, level)))))
    return SetPoint(Tooth(code), (x, y, z), place)


def test_a_zenith_is_where_it_was_set(measured: MeasuredScan) -> None:
    """Set 0.7 mm distal on the margin: the offset is that, the length the level there, both say so, the width stays."""
    one = measured.arch.teeth[Tooth("11")]
    at = one.frame.coordinates(one.facial.curve)
    spot = at[np.argmin(np.abs(at[:, 0] - 0.7))]
    after = corrected(measured, [_place(measured, "11", "zenith", *spot)], by="op-2")
    offset, length = (_value(after, "11", q) for q in (Quantity.ZENITH_OFFSET, Quantity.CROWN_LENGTH))
    assert offset.value == pytest.approx(spot[0], abs=0.05)
    assert length.value == pytest.approx(spot[2], abs=0.05)
    assert offset.flag
    assert "zenith set by hand" in offset.flag
    assert length.by == "op-2"
    assert _value(after, "11", Quantity.CROWN_WIDTH).flag is None or "hand" not in str(
        _value(after, "11", Quantity.CROWN_WIDTH).flag
    )


def test_an_edge_set_by_hand_moves_every_level(measured: MeasuredScan) -> None:
    """The edge point 0.5 mm more apical: the crown and all its levels are shorter by that within 0.03 mm, and say why."""
    frame = measured.arch.teeth[Tooth("11")].frame
    after = corrected(measured, [_place(measured, "11", "edge", -frame.middle, 0.0, 0.5)])
    for quantity, site in ((Quantity.CROWN_LENGTH, None), (Quantity.MARGIN_LEVEL, Site.MIDFACIAL)):
        now = _value(after, "11", quantity, site)
        assert now.value == pytest.approx(_value(measured, "11", quantity, site).value - 0.5, abs=0.06)
        assert now.flag
        assert "edge point set by hand" in now.flag


def test_the_end_of_a_crown_is_where_it_was_set(measured: MeasuredScan) -> None:
    """The distal end of 11 set 0.3 mm further out: it is 0.3 mm wider."""
    one = measured.arch.teeth[Tooth("11")]
    at = one.frame.coordinates(one.outline.ends[1].points)
    spot = at[np.argmax(at[:, 0])] + [0.3, 0.0, 0.0]
    after = corrected(measured, [_place(measured, "11", "distal_end", *spot)])
    width = _value(after, "11", Quantity.CROWN_WIDTH)
    assert width.value == pytest.approx(one.frame.width + 0.3, abs=0.05)
    assert width.flag == "end of the crown set by hand"


def test_a_papilla_set_on_one_tooth_is_that_of_both(measured: MeasuredScan) -> None:
    """The tip between 11 and 21 set on 11: both teeth read that point and say so, and neither says known only to within."""
    one = measured.arch.teeth[Tooth("11")]
    tip = one.frame.coordinates(one.facial.curve)[0] - [0.0, 0.0, 0.4]
    set_ = _place(measured, "11", "mesial_papilla", *tip)
    after = corrected(measured, [set_])
    for code in ("11", "21"):
        read = _value(after, code, Quantity.MARGIN_LEVEL, Site.MESIAL)
        there = after.arch.teeth[Tooth(code)].frame.coordinates(after.arch.frame.to_arch(np.array(set_.point)))
        assert read.value == pytest.approx(there[2], abs=1e-3)
        assert read.flag
        assert "papilla tip set by hand" in read.flag


def test_a_file_of_corrections_is_read_and_its_faults_are_named(tmp_path: Path) -> None:
    """Numbers and points come out; each wrong key is named in one refusal."""
    good = {
        "format": "festoon-scan-corrections/1",
        "by": "op-2",
        "numbers": {"13": "14"},
        "points": [{"tooth": "11", "place": "zenith", "at_mm": [1, 2, 3]}],
    }
    path = tmp_path / "set.json"
    path.write_text(json.dumps(good), encoding="utf-8")
    read = read_corrections(path)
    assert read.numbers == {Tooth("13"): Tooth("14")}
    assert read.points == (SetPoint(Tooth("11"), (1.0, 2.0, 3.0), "zenith"),)
    bad = good | {"numbers": {"19": "14"}, "points": [{"tooth": "11", "place": "cusp", "at_mm": [1, 2, 3]}], "also": 1}
    path.write_text(json.dumps(bad), encoding="utf-8")
    with pytest.raises(InputRefusedError) as refused:
        read_corrections(path)
    assert {f.where for f in refused.value.faults} == {"numbers.19", "points.0", "also"}

"""Millimetres from known widths: turned teeth corrected, errors honest, nothing without something known."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

from festoon.model.dentition import Tooth
from festoon.model.quantities import Quantity
from festoon.photo.arch import KnownWidth, arch_scale
from festoon.photo.crown import crowns_of
from festoon.photo.lines import readings_of_lines
from festoon.photo.marks import Marks, read_marks
from festoon.photo.quantities import readings_without_scan
from festoon.photo.scale import KnownLength
from photographed import chain_marks

WIDTHS = {"13": 7.6, "12": 6.7, "11": 8.6, "21": 8.6, "22": 6.7, "23": 7.6}
PER_MM = 20.0


def read(**more: Any) -> Marks:
    return read_marks(json.dumps(chain_marks(WIDTHS, PER_MM) | more), "m.json")


def test_without_anything_known_there_are_ratios_and_no_millimetres() -> None:
    """Unknown stays unknown: a dpi would give 43 px per mm here and nobody asks it."""
    marks = read()
    assert arch_scale(crowns_of(marks), (), (), 1.0) is None
    readings = readings_without_scan(crowns_of(marks), marks, None)
    assert {r.quantity for r in readings} == {Quantity.CROWN_RATIO}
    assert all(r.unit == "1" and r.flag and "no scale" in r.flag for r in readings)
    by_tooth = {r.tooth: r for r in readings}
    assert by_tooth["11"].value == pytest.approx(0.86, abs=0.03)


def test_one_known_width_scales_its_neighbours() -> None:
    """The other central comes out as it is; a canine that shows little of itself comes with a large error that holds the truth."""
    marks = read()
    scale = arch_scale(crowns_of(marks), [KnownWidth(Tooth("11"), 8.6, 0.05)], (), 1.0)
    assert scale is not None
    assert scale.teeth[Tooth("11")].width_mm is None  # what was given is not given back
    assert scale.teeth[Tooth("21")].width_mm == pytest.approx(8.6, abs=0.15)
    canine = scale.teeth[Tooth("13")]
    assert canine.width_mm is not None
    assert canine.width_se_mm > 3 * scale.teeth[Tooth("21")].width_se_mm
    assert abs(canine.width_mm - 7.6) < 1.96 * canine.width_se_mm
    assert any("pitch" in note for note in scale.notes)


def test_more_known_widths_narrow_the_turns() -> None:
    """Six known widths tell how the teeth turn: the error of the turns falls, and so does that of a length."""
    crowns = crowns_of(read())
    one = arch_scale(crowns, [KnownWidth(Tooth("11"), 8.6, 0.05)], (), 1.0)
    six = arch_scale(crowns, [KnownWidth(Tooth(c), w, 0.05) for c, w in WIDTHS.items()], (), 1.0)
    assert one is not None
    assert six is not None
    assert six.teeth[Tooth("12")].turn_se_deg < 0.7 * one.teeth[Tooth("12")].turn_se_deg
    assert six.teeth[Tooth("11")].relative_se < one.teeth[Tooth("11")].relative_se
    assert six.conflicts == ()


def test_a_wrong_known_width_is_told() -> None:
    """A millimetre too much on 21 is named, not averaged in silence."""
    known = [KnownWidth(Tooth(c), w + (1.2 if c == "21" else 0), 0.05) for c, w in WIDTHS.items()]
    scale = arch_scale(crowns_of(read()), known, (), 1.0)
    assert scale is not None
    assert any(c.startswith("21:") for c in scale.conflicts)


def test_a_turned_camera_is_seen_in_the_widths_of_both_sides() -> None:
    """A camera 8 degrees to the patient's left shows more of the left teeth; six known widths find the side and hold the angle."""
    marks = read_marks(json.dumps(chain_marks(WIDTHS, PER_MM, yaw_deg=8.0)), "m.json")
    scale = arch_scale(crowns_of(marks), [KnownWidth(Tooth(c), w, 0.05) for c, w in WIDTHS.items()], (), 1.0)
    assert scale is not None
    assert scale.yaw_deg > 3.0
    assert abs(scale.yaw_deg - 8.0) < 1.96 * scale.yaw_se_deg


def test_each_jaw_has_its_own_scale() -> None:
    """A known upper width gives lower teeth no millimetres, and does not stumble over them."""
    data = chain_marks(WIDTHS, PER_MM)
    lower = [[x, y + 150] for x, y in data["teeth"]["11"]["outline"]]
    data["teeth"]["41"] = {"outline": lower}
    crowns = crowns_of(read_marks(json.dumps(data), "m.json"))
    scale = arch_scale(crowns, [KnownWidth(Tooth("11"), 8.6, 0.05)], (), 1.0)
    assert scale is not None
    assert Tooth("41") not in scale.teeth
    assert Tooth("12") in scale.teeth


def test_a_ruler_scales_too() -> None:
    """Ten millimetres of a ruler over 200 pixels before the centrals."""
    ruler = KnownLength("ruler", 10, 0.05, 200.0, 2**0.5)
    scale = arch_scale(crowns_of(read()), (), [ruler], 1.0)
    assert scale is not None
    assert scale.teeth[Tooth("11")].width_mm == pytest.approx(8.6, abs=0.2)


def test_lengths_hold_the_truth_and_say_the_pitch() -> None:
    """A length of 10 mm is read as 10 within its error, which is not smaller than what an unknown pitch leaves."""
    marks = read()
    scale = arch_scale(crowns_of(marks), [KnownWidth(Tooth("11"), 8.6, 0.05)], (), 1.0)
    length = next(
        r
        for r in readings_without_scan(crowns_of(marks), marks, scale)
        if r.tooth == "21" and r.quantity is Quantity.CROWN_LENGTH
    )
    assert length.se is not None
    assert abs(length.value - 10.0) < 1.96 * length.se
    assert length.se > 0.01 * length.value


def test_cant_and_midline_have_the_signs_of_the_arch_frame() -> None:
    """Cant + when the patient's left (the picture's right) is higher; shift + to the patient's left."""
    marks = read(horizontal=[[100, 320], [800, 300]], midline=[[470, 50], [470, 120]])
    crowns = crowns_of(marks)
    along = dict.fromkeys(crowns, (1 / PER_MM, 0.02))
    by = {r.quantity: r for r in readings_of_lines(crowns, marks, along)}
    # The horizontal rises to the picture's right by 1.64 degrees, the edges do not: they cant to the other side.
    assert by[Quantity.OCCLUSAL_CANT].value == pytest.approx(-np.degrees(np.arctan(20 / 700)), abs=0.3)
    assert by[Quantity.OCCLUSAL_CANT].unit == "deg"
    middle = (crowns[Tooth("11")].sides[0] + crowns[Tooth("21")].sides[0])[0] / 2
    assert by[Quantity.MIDLINE_SHIFT].value == pytest.approx((middle - 470) / PER_MM, abs=0.05)


def test_the_lip_line_gives_display_and_hides_no_margin_in_silence() -> None:
    """Over the margin: display by its distance. Over the crown: the lip's level alone, and no length of that tooth."""
    high = read(view="smile", lip_line=[[100, 140], [800, 140]])
    crowns = crowns_of(high)
    along = dict.fromkeys(crowns, (1 / PER_MM, 0.02))
    by = {(r.tooth, r.quantity): r for r in readings_of_lines(crowns, high, along)}
    zenith = crowns[Tooth("11")].zenith[1]
    assert by["11", Quantity.GINGIVAL_DISPLAY].value == pytest.approx((zenith - 140) / PER_MM, abs=0.1)
    low = read(view="smile", lip_line=[[100, 260], [800, 260]])
    by = {(r.tooth, r.quantity): r for r in readings_of_lines(crowns_of(low), low, along)}
    assert ("11", Quantity.GINGIVAL_DISPLAY) not in by
    assert by["11", Quantity.LIP_LEVEL].value > 0
    assert readings_without_scan(crowns_of(low), low, None) == ()

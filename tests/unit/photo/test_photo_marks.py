"""A mark file is read whole or refused with every fault named; crowns are measured from it by the definitions of the readings."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

from festoon.errors import InputRefusedError
from festoon.model.dentition import Site, Tooth
from festoon.photo.crown import crowns_of
from festoon.photo.marks import Marks, read_marks
from festoon.photo.reading import Photo

SIZE = (900, 600)


def crown(left: float, right: float, top: float, bottom: float, turn: float = 0.0) -> list[list[float]]:
    """A crown with a round margin above and a straight edge below, turned about its middle (degrees, clockwise)."""
    t = np.linspace(1, -1, 60)
    middle, half = (left + right) / 2, (right - left) / 2
    arch = np.stack([middle + half * t, top + 60 * t**2], axis=1)
    points = np.concatenate([arch, [[left, bottom], [right, bottom]]])
    a = np.radians(turn)
    about = np.array([middle, (top + bottom) / 2])
    return ((points - about) @ np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]]) + about).tolist()


def marks(**more: Any) -> dict[str, Any]:
    """Two centrals of 170 by 210 pixels."""
    teeth = {"11": {"outline": crown(280, 450, 200, 410)}, "21": {"outline": crown(450, 620, 200, 410)}}
    return {
        "format": "festoon-marks/1",
        "photo": {"sha256": "a" * 64, "width_px": SIZE[0], "height_px": SIZE[1]},
        "teeth": teeth,
    } | more


def read(data: dict[str, Any]) -> Marks:
    return read_marks(json.dumps(data), "m.json")


def test_a_crown_is_measured_by_the_definitions() -> None:
    """Width, length, zenith and papilla tip of a drawn crown are those it was drawn with."""
    found = crowns_of(read(marks()))
    one = found[Tooth("11")]
    assert one.width == pytest.approx(170, abs=0.5)
    assert one.length == pytest.approx(210, abs=0.5)
    assert one.across(one.zenith) == pytest.approx(0, abs=1)
    assert one.level(one.tips[Site.MESIAL]) == pytest.approx(150, abs=4)  # where the margins meet
    assert one.margin_at(0.0) == pytest.approx(210, abs=0.5)


@pytest.mark.parametrize("turn", [-12, 5, 12])
def test_a_leaning_crown_keeps_its_size(turn: float) -> None:
    """The axis follows the crown: a lean of the tooth or of the camera changes no length by more than 1 %."""
    data = marks(teeth={"11": {"outline": crown(280, 450, 200, 410, turn)}})
    one = crowns_of(read(data))[Tooth("11")]
    assert np.degrees(np.arctan2(one.axis[0], -one.axis[1])) == pytest.approx(turn, abs=1.5)
    assert one.length == pytest.approx(210, rel=0.01)
    assert one.width == pytest.approx(170, rel=0.02)


def test_distal_is_away_from_the_midline_on_both_sides() -> None:
    """Facing the patient, distal of 11 points to the picture's left and of 21 to its right."""
    found = crowns_of(read(marks()))
    assert found[Tooth("11")].distal[0] < -0.99
    assert found[Tooth("21")].distal[0] > 0.99


def test_four_points_do_and_a_missing_one_is_named() -> None:
    """Points give width and length; three of the four are refused with the fourth's name."""
    points = {"mesial": [450, 300], "distal": [280, 300], "edge": [365, 410], "zenith": [365, 200]}
    one = crowns_of(read(marks(teeth={"11": points})))[Tooth("11")]
    assert (one.width, one.length) == (pytest.approx(170), pytest.approx(210))
    assert one.margin_at(0.0) is None
    del points["zenith"]
    with pytest.raises(InputRefusedError, match="these lack: zenith"):
        read(marks(teeth={"11": points}))


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"teeth": {"51": {"outline": crown(280, 450, 200, 410)}}}, "no permanent tooth"),
        ({"teeth": {"11": {"outline": [[1, 2], [3, 4]]}}}, "teeth.11.outline"),
        ({"teeth": {"11": {"outline": [[k, k] for k in range(40)]}}}, "no crown"),
        ({"papillae": {"21-11": [450, 350]}}, "no two teeth of one jaw, patient's right first"),
        ({"lip_line": [[10, 10], [5000, 10]]}, "lies outside the picture"),
        ({"lenghts": []}, "lenghts"),
        ({"lengths": [{"name": "ruler", "start": [1, 1], "end": [9, 1], "length_mm": 10}]}, "se_mm"),
        ({"teeth": {"11": {"outline": crown(450, 620, 200, 410)}, "21": {"outline": crown(280, 450, 200, 410)}}}, "mirrored"),
    ],
)  # fmt: skip
def test_what_cannot_be_meant_is_refused_by_its_place(wrong: dict[str, Any], said: str) -> None:
    """No such tooth, too few points, sides exchanged, points outside, unknown keys, a length without its error."""
    with pytest.raises(InputRefusedError, match=said):
        read(marks(**wrong))


def test_text_that_is_no_json_names_its_line() -> None:
    """A comma too many is found by its line."""
    with pytest.raises(InputRefusedError, match=r"m\.json:2"):
        read_marks('{"format":\n,}', "m.json")


def test_marks_belong_to_one_picture() -> None:
    """Another size or another hash is refused: pixels of one picture mean nothing on another."""
    text = json.dumps(marks())
    picture = np.zeros((SIZE[1], SIZE[0], 3), np.uint8)
    assert read_marks(text, "m.json", Photo("p.png", picture, (), "a" * 64)).teeth.keys() == {"11", "21"}
    with pytest.raises(InputRefusedError, match=r"hash of p\.png"):
        read_marks(text, "m.json", Photo("p.png", picture, (), "b" * 64))
    with pytest.raises(InputRefusedError, match=r"600 x 900, as p\.png is upright"):
        read_marks(text, "m.json", Photo("p.png", np.zeros((900, 600, 3), np.uint8), (), "a" * 64))

"""Planned margins stand where they project to; two photographs are laid on each other only where their poses agree."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from festoon.model.dentition import Site, Tooth
from festoon.photo import overlay
from festoon.photo.comparing import homography, in_pose_of, mapped, misfit_mm, reasons_apart
from festoon.photo.crown import crowns_of
from festoon.photo.overlay import draw_measured, draw_planned
from festoon.photo.planned import moved_margin
from festoon.photo.pose import ScannedFront
from festoon.photo.reading import Photo
from made_front import CAMERA, SIZE, made_front, marks_from

PICTURE = Photo("made.png", np.full((SIZE[1], SIZE[0], 3), 90, np.uint8), ())


@pytest.fixture(scope="module")
def front() -> ScannedFront:
    return made_front()


MOVES = {Site.MESIAL: 0.0, Site.MIDFACIAL: 1.5, Site.DISTAL: 0.0}


def test_a_planned_margin_is_moved_along_the_axis_in_space(front: ScannedFront) -> None:
    """1.5 mm at mid-width of the made central land where 1.5 mm of its axis project to, to a third of a pixel per millimetre."""
    crown = crowns_of(marks_from(front, CAMERA))[Tooth("11")]
    moved = moved_margin(crown, MOVES, 0.05, front, CAMERA)
    assert moved is not None
    top = np.argmax(np.linalg.norm(moved.planned - moved.present, axis=1))
    frame = front.frames[Tooth("11")]
    neck = frame.edge + 9.0 * frame.axis + 2.0 * frame.facial
    should = CAMERA.project((neck + 1.5 * frame.axis)[None]) - CAMERA.project(neck[None])
    assert moved.planned[top] - moved.present[top] == pytest.approx(should[0], abs=1.0)
    ends = np.linalg.norm(moved.planned - moved.present, axis=1)[[0, -1]]
    assert ends.max() < 4  # papillae stay


def test_without_a_scan_it_is_moved_along_the_axis_in_the_picture(front: ScannedFront) -> None:
    """1.5 mm at 0.05 mm a pixel are 30 pixels apically, less beside the middle."""
    crown = crowns_of(marks_from(front, CAMERA))[Tooth("21")]
    moved = moved_margin(crown, MOVES, 0.05)
    assert moved is not None
    up = (moved.planned - moved.present) @ crown.axis
    assert up.max() == pytest.approx(30, abs=0.5)
    assert up.min() >= 0


def test_one_known_site_is_no_margin(front: ScannedFront) -> None:
    """What is not planned is not drawn."""
    crown = crowns_of(marks_from(front, CAMERA))[Tooth("21")]
    assert moved_margin(crown, {Site.MIDFACIAL: 1.0}, 0.05) is None


def test_the_homography_is_that_of_a_vision_library() -> None:
    """OpenCV's findHomography on the same noisy points: mapped places agree to a tenth of a pixel."""
    rng = np.random.default_rng(2)
    a = rng.uniform(0, 900, (60, 2))
    true = np.array([[1.05, 0.03, 12], [-0.02, 0.97, -8], [2e-5, -3e-5, 1]])
    b = mapped(true, a) + 0.3 * rng.standard_normal(a.shape)
    theirs, _ = cv2.findHomography(a, b)
    assert mapped(homography(a, b), a) == pytest.approx(mapped(theirs, a), abs=0.1)
    assert mapped(homography(a, mapped(true, a)), a) == pytest.approx(mapped(true, a), abs=1e-5)


def test_photographs_from_one_place_are_laid_on_each_other_and_others_are_not(front: ScannedFront) -> None:
    """A camera moved by 2 degrees and 30 mm agrees, the teeth then within 0.2 mm; one moved by 20 degrees is refused with the angle."""
    near = replace(CAMERA, parameters=CAMERA.parameters + np.array([0.02, 0.02, 0.1, 0.01, 0, 0.1, 0.05, 0, 0, 0]))
    far = replace(CAMERA, parameters=CAMERA.parameters + np.array([0.0, 0.35, 0, 0, 0, 0, 0, 0, 0, 0]))
    assert reasons_apart(front, CAMERA, near) == ()
    assert misfit_mm(front, CAMERA, near) < 0.2
    assert "20 degrees apart" in reasons_apart(front, CAMERA, far)[0]


def test_the_later_photograph_is_framed_as_the_earlier(front: ScannedFront) -> None:
    """A spot on a tooth's facial surface, painted where the later camera sees it, is found where the earlier one sees it."""
    later = replace(CAMERA, parameters=CAMERA.parameters + np.array([0.01, 0.02, 0.08, 0.01, 0.01, 0.1, 0.05, 0, 0, 0]))
    frame = front.frames[Tooth("21")]
    spot = frame.edge + 5.0 * frame.axis + 2.6 * frame.facial
    painted = PICTURE.pixels.copy()
    x, y = np.round(later.project(spot[None])[0]).astype(int)
    painted[y - 4 : y + 5, x - 4 : x + 5] = 255
    shown = in_pose_of(front, CAMERA, later, Photo("later.png", painted, ()))
    rows, columns = np.nonzero(shown[..., 0] > 200)
    assert np.array([columns.mean(), rows.mean()]) == pytest.approx(CAMERA.project(spot[None])[0], abs=3)


def test_pictures_are_drawn_and_say_that_they_promise_nothing(
    front: ScannedFront, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Both pictures are PNG files; the words are drawn into the planned one, which is another picture without them."""
    marks = marks_from(front, CAMERA)
    crowns = crowns_of(marks)
    moved = moved_margin(crowns[Tooth("11")], MOVES, 0.05, front, CAMERA)
    assert moved is not None
    lines = ({Tooth("11"): moved.present}, {Tooth("11"): moved.planned})
    drawn = draw_planned(PICTURE, *lines)
    assert drawn[:4] == draw_measured(PICTURE, crowns, marks, ())[:4] == b"\x89PNG"
    monkeypatch.setattr(overlay, "PROMISE", "")
    assert draw_planned(PICTURE, *lines) != drawn

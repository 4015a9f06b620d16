"""The camera before the teeth: a worked pinhole, a general-purpose vision library, and a made row of teeth seen from a known place."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from festoon.model.dentition import Tooth
from festoon.photo.crown import crowns_of
from festoon.photo.framing import Framing
from festoon.photo.pose import Pose, ScannedFront, seen_borders, solve_pose
from festoon.photo.posed import back_projected, readings_with_pose, sigma_points
from made_front import CAMERA, SIZE, made_front, marks_from, pose


@pytest.fixture(scope="module")
def front() -> ScannedFront:
    return made_front()


def test_the_worked_pinhole() -> None:
    """u = f X / Z + c by hand (the pinhole of every textbook, e.g. Hartley and Zisserman 2004, eq. 6.1): 10 mm aside at 250 mm with f = 5000 is 200 px."""
    straight = pose((0, 0, 0), (0, 0), 250.0, 5000.0)
    middle = (np.array(SIZE) - 1) / 2
    assert straight.project(np.zeros((1, 3)))[0] == pytest.approx(middle)
    assert straight.project(np.array([[10.0, 0, 0]]))[0] == pytest.approx(
        middle + np.array([200, 0])
    )  # the patient's left: right
    assert straight.project(np.array([[0, 0, 5.0]]))[0] == pytest.approx(middle - np.array([0, 100]))  # apical: up
    assert straight.project(np.array([[10.0, 250.0, 0]]))[0] == pytest.approx(
        middle + np.array([100, 0])
    )  # twice as far: half
    assert straight.position == pytest.approx([0, -250.0, 0])


def test_projection_is_that_of_a_vision_library() -> None:
    """OpenCV's projectPoints, with its rotation, shift, focal length and first distortion term: the same pixels to 1e-6."""
    rng = np.random.default_rng(4)
    points = rng.uniform(-20, 20, (50, 3))
    local_shift = CAMERA.distance_mm * np.array([0.01, -0.02, 1.0])
    matrix = np.array([[5000.0, 0, (SIZE[0] - 1) / 2], [0, 5000.0, (SIZE[1] - 1) / 2], [0, 0, 1]])
    rvec, _ = cv2.Rodrigues(CAMERA.rotation)
    theirs, _ = cv2.projectPoints(points, rvec, local_shift, matrix, np.array([0.4, 0, 0, 0]))
    assert CAMERA.project(points) == pytest.approx(theirs[:, 0], abs=1e-6)


def test_pixels_come_back_along_their_rays() -> None:
    """There and back is the start, distortion included."""
    points = np.random.default_rng(5).uniform(-15, 15, (40, 3))
    assert CAMERA.at_depth(CAMERA.project(points), CAMERA.depth(points)) == pytest.approx(points, abs=1e-6)


def test_angles_are_those_the_camera_was_given() -> None:
    """A camera 8 degrees to the patient's left and 5 above has yaw +8 and pitch +5."""
    yaw, pitch = np.radians(8.0), np.radians(5.0)
    forward = np.array([-np.sin(yaw) * np.cos(pitch), np.cos(yaw) * np.cos(pitch), -np.sin(pitch)])
    right = np.cross(forward, [0, 0, 1.0])
    right /= np.linalg.norm(right)
    turned = np.stack([right, np.cross(forward, right), forward]) @ np.array([[1.0, 0, 0], [0, 0, -1.0], [0, 1.0, 0]]).T
    made = pose(tuple(Rotation.from_matrix(turned).as_rotvec()), (0, 0), 300.0, 5000.0)
    assert made.angles_deg == pytest.approx((8.0, 5.0, 0.0), abs=1e-6)


def test_a_known_camera_is_found_again(front: ScannedFront) -> None:
    """From outlines alone, of noisy marks: angles within a degree and three standard errors, outlines to half a pixel of the marks' noise."""
    marks = marks_from(front, CAMERA, np.random.default_rng(1))
    found = solve_pose(front, crowns_of(marks), SIZE, 1.0, margins=True)
    assert found is not None
    for mine, true, se in zip(
        found.angles_deg,
        CAMERA.angles_deg,
        np.sqrt((sigma_points(found, lambda at: np.array(at.angles_deg)) ** 2).sum(axis=0)),
        strict=True,
    ):
        assert abs(mine - true) < min(1.2, 3 * se + 0.2)
    assert found.residual_px < 1.5


def test_the_pose_agrees_with_a_vision_library(front: ScannedFront) -> None:
    """OpenCV's solvePnP on the borders' true points and pixels, given the focal length, finds the same camera."""
    marks = marks_from(front, replace(CAMERA, parameters=CAMERA.parameters * [1, 1, 1, 1, 1, 1, 1, 0, 1, 1]))
    plain = replace(CAMERA, parameters=CAMERA.parameters * [1, 1, 1, 1, 1, 1, 1, 0, 1, 1])
    found = solve_pose(front, crowns_of(marks), SIZE, 1.0, focal_px=5000.0, margins=True, framing=Framing.WHOLE)
    borders = seen_borders(front, plain)
    points, pixels = (
        np.concatenate([getattr(b, name)[::5] for b in borders.values()]) for name in ("points", "pixels")
    )
    matrix = np.array([[5000.0, 0, (SIZE[0] - 1) / 2], [0, 5000.0, (SIZE[1] - 1) / 2], [0, 0, 1]])
    _, rvec, tvec = cv2.solvePnP(points, pixels, matrix, None)
    theirs = cv2.Rodrigues(rvec)[0]
    assert found is not None
    apart = np.degrees(np.arccos(np.clip((np.trace(found.rotation @ theirs.T) - 1) / 2, -1, 1)))
    assert apart < 1.0
    # Distance and focal length are told apart by perspective alone: their ratio, the scale, is what is sure.
    assert found.distance_mm / found.focal_px == pytest.approx(float(tvec[2, 0]) / 5000.0, rel=0.01)


def test_a_part_of_a_frame_is_measured_with_larger_errors(front: ScannedFront) -> None:
    """Teeth far off the middle, as in a picture cut out: told, lengths are the whole picture's to 1.5 % with a larger error; the line of sight is the same."""
    whole = marks_from(front, CAMERA, np.random.default_rng(2))
    crowns = crowns_of(whole)
    size = (2 * SIZE[0], SIZE[1])  # the same marks, the middle of the picture half its width aside
    poses = {
        Framing.WHOLE: solve_pose(front, crowns, SIZE, 1.0, framing=Framing.WHOLE),
        Framing.PART: solve_pose(front, crowns, size, 1.0, framing=Framing.PART),
    }
    made = {
        framing: {
            r.tooth: r for r in readings_with_pose(front, crowns, whole, found) if r.quantity.value == "crown_length"
        }
        for framing, found in poses.items()
        if found is not None
    }
    for tooth, cut in made[Framing.PART].items():
        full = made[Framing.WHOLE][tooth]
        assert cut.value == pytest.approx(full.value, rel=0.015), tooth
        assert cut.se is not None
        assert full.se is not None
        assert cut.se >= full.se
    part, frame = poses[Framing.PART], poses[Framing.WHOLE]
    assert part is not None
    assert frame is not None
    assert part.angles_deg[:2] == pytest.approx(frame.angles_deg[:2], abs=2.5)


def test_turned_teeth_are_corrected(front: ScannedFront) -> None:
    """Widths to 3 % and lengths to 3 % of the made crowns, canines that turn away 55 degrees among them."""
    marks = marks_from(front, CAMERA, np.random.default_rng(2))
    found = solve_pose(front, crowns_of(marks), SIZE, 1.0)
    assert found is not None
    crowns = {t: c for t, c in crowns_of(marks).items() if t.is_right}
    readings = readings_with_pose(front, crowns, marks, found)
    for r in readings:
        true = {
            "crown_width": front.frames[Tooth(str(r.tooth))].width,
            "crown_length": 9.0 if str(r.tooth)[1] == "2" else 10.0,
        }
        if r.quantity.value in true:
            assert r.value == pytest.approx(true[r.quantity.value], rel=0.035), (r.tooth, r.quantity)
    assert len(readings) >= 12


def test_the_covariance_spreads_as_draws_do(front: ScannedFront) -> None:
    """A length read back under poses drawn at random from the covariance spreads over its middle 68 % as the principal steps say, to 20 %."""
    marks = marks_from(front, CAMERA, np.random.default_rng(3))
    crowns = crowns_of(marks)
    found = solve_pose(front, crowns, SIZE, 1.0, margins=True)
    assert found is not None
    canine = Tooth("13")
    ends = np.stack([crowns[canine].edge + 8.0, crowns[canine].zenith - 8.0])

    def length(at: Pose) -> np.ndarray:
        return np.array([np.ptp(back_projected(front, canine, at, ends)[:, 2])])

    steps = np.sqrt((sigma_points(found, length) ** 2).sum())
    rng = np.random.default_rng(6)
    drawn = [
        length(replace(found, parameters=p))[0]
        for p in rng.multivariate_normal(found.parameters, found.covariance, 200)
    ]
    low, high = np.quantile(drawn, [0.1587, 0.8413])
    assert steps == pytest.approx((high - low) / 2, rel=0.2)  # far draws of distance and focal length have longer tails


def test_two_teeth_are_too_few(front: ScannedFront) -> None:
    """A pose needs three outlined teeth of the scan; else there is none and nothing is guessed."""
    marks = marks_from(front, CAMERA)
    two = marks.model_copy(update={"teeth": {c: marks.teeth[c] for c in ("11", "21")}})
    assert solve_pose(front, crowns_of(two), SIZE, 1.0) is None

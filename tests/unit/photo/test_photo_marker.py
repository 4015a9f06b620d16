"""A printed square gives the scale without a click: found where it is, measured without the blur's bias, never guessed in size."""

from __future__ import annotations

import io
import json
from pathlib import Path

import cv2
import numpy as np
import pypdfium2
import pytest
from PIL import Image
from scipy import ndimage
from scipy.spatial.transform import Rotation

from drawn_mouths import drawn_mouth
from festoon.cli.main import run
from festoon.errors import InputRefusedError
from festoon.photo.arch import arch_scale
from festoon.photo.crown import crowns_of
from festoon.photo.marker import CELLS, FoundMarker, found_markers, marker_scale, pattern
from festoon.photo.marks import Marks, read_marks
from festoon.photo.reading import Photo
from festoon.photo.scale import known_lengths
from festoon.workflow.marking_photo import KnownSquare, with_marker
from festoon.workflow.measuring_photo import NO_SCALE, known_square, measure_photo
from festoon.workflow.printing_marker import marker_files
from photographed import chain_marks

SIZE = 420
CAMERA_MM = 300.0


def square_before_a_camera(per_mm: float, *, tilt: tuple[float, float] = (0.0, 0.0), turn: float = 0.0) -> np.ndarray:
    """Homography from mm on a square (middle 0, down positive) to pixels of a camera 300 mm away."""
    turned = (Rotation.from_euler("z", turn, degrees=True) * Rotation.from_rotvec(np.radians([*tilt, 0]))).as_matrix()
    focal = per_mm * CAMERA_MM
    camera = np.array([[focal, 0, SIZE / 2 + 3.3], [0, focal, SIZE / 2 - 2.7], [0, 0, 1]])
    return camera @ np.column_stack([turned[:, 0], turned[:, 1], [0, 0, CAMERA_MM]])


def photographed(homography: np.ndarray, side_mm: float, blur: float, number: int = 7) -> Photo:
    """The square on white card before dark red, light gathered over each pixel, blurred as light, with noise of 3 levels."""
    fine = 3
    row, column = (np.mgrid[0 : SIZE * fine, 0 : SIZE * fine] + 0.5) / fine - 0.5
    back = np.linalg.inv(homography) @ np.stack([column.ravel(), row.ravel(), np.ones(row.size)])
    at = back[:2] / back[2] / side_mm * CELLS + CELLS / 2
    j, i = np.floor(at).astype(int)
    inside = (i >= 0) & (i < CELLS) & (j >= 0) & (j < CELLS)
    card = (np.abs(at - CELLS / 2) < CELLS / 2 + 2).all(axis=0)
    white = pattern(number)[np.clip(i, 0, CELLS - 1), np.clip(j, 0, CELLS - 1)]
    light = np.where(inside, np.where(white, 0.75, 0.03), np.where(card, 0.75, 0.12))
    light = ndimage.gaussian_filter(light.reshape(SIZE, fine, SIZE, fine).mean(axis=(1, 3)), blur)
    levels = 255 * np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 1e-9) ** (1 / 2.4) - 0.055)
    levels += 3 * np.random.default_rng(5).standard_normal(levels.shape)
    return Photo("square.png", np.repeat(np.clip(levels.round(), 0, 255).astype(np.uint8)[..., None], 3, axis=2), ())


def corners(homography: np.ndarray, side_mm: float) -> np.ndarray:
    """True corners in pixels."""
    half = side_mm / 2
    at = homography @ np.array([[-half, half, half, -half], [-half, -half, half, half], [1, 1, 1, 1]])
    return (at[:2] / at[2]).T


@pytest.mark.parametrize(("blur", "tilt", "turn"), [(0.6, (0, 0), 3), (1.2, (12, -8), 40), (2.5, (-9, 14), -130)])
def test_corners_and_scale_of_a_blurred_tilted_square(blur: float, tilt: tuple[float, float], turn: float) -> None:
    """Corners to a tenth of a pixel, the scale square to the camera to 0.2 % and the tilt to 1.5 degrees, whatever blur and tilt."""
    homography = square_before_a_camera(16.0, tilt=tilt, turn=turn)
    found = found_markers(photographed(homography, 10.0, blur))
    assert [one.number for one in found] == [7]
    assert np.abs(found[0].corners - corners(homography, 10.0)).max() < 0.15
    scale = marker_scale(found[0].corners, 10.0)
    assert scale.px_per_mm == pytest.approx(16.0, rel=0.002)
    assert scale.relative_se < 0.01
    assert scale.tilt_deg == pytest.approx(np.hypot(*tilt), abs=1.5)
    assert not scale.is_bent


def test_the_library_alone_finds_a_blurred_square_too_small() -> None:
    """Why corners are found anew: refined in the levels of the file, the side is 1 % short at a blur of 1.2 pixels."""
    homography = square_before_a_camera(16.0)
    photo = photographed(homography, 10.0, 1.2)
    wishes = cv2.aruco.DetectorParameters()
    wishes.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    ring, _, _ = cv2.aruco.ArucoDetector(family, wishes).detectMarkers(np.ascontiguousarray(photo.pixels[..., 0]))
    assert FoundMarker(7, ring[0].reshape(4, 2).astype(float)).side_px < 0.994 * 160
    assert found_markers(photo)[0].side_px == pytest.approx(160, abs=0.3)


def test_corners_that_are_no_flat_square_are_not_trusted() -> None:
    """A corner 3 pixels off what a flat square can show."""
    seen = corners(square_before_a_camera(16.0, tilt=(5, 5)), 10.0)
    assert not marker_scale(seen, 10.0).is_bent
    assert marker_scale(seen + np.array([[0, 0], [0, 0], [3, 3], [0, 0]]), 10.0).is_bent


def test_the_printed_card_has_the_size_it_says() -> None:
    """Marker and ruler of the PDF, drawn by another library at 600 dots an inch: 10 mm within one of its 236 dots."""
    page = pypdfium2.PdfDocument(marker_files(10.0, 12)["marker.pdf"])[0]
    drawn = np.asarray(page.render(scale=600 / 72).to_pil().convert("RGB"))
    found = found_markers(Photo("card", drawn, ()))
    assert len(found) == 5
    assert {one.number for one in found} == {12}
    for one in found:
        assert one.side_px / 600 * 25.4 == pytest.approx(10.0, rel=0.0045)


def test_the_bare_square_carries_its_size() -> None:
    """Dots an inch of the PNG make its black square as large as was asked."""
    picture = Image.open(io.BytesIO(marker_files(8.0, 0)["marker.png"]))
    found = found_markers(Photo("bare", np.asarray(picture.convert("RGB")), ()))
    assert found[0].side_px / picture.info["dpi"][0] * 25.4 == pytest.approx(8.0, rel=0.002)


def with_square_below(photo: Photo, side_px: int) -> Photo:
    """A drawn mouth with a marker pasted under it."""
    bare = np.pad(pattern(3), 1, constant_values=True)
    cell = side_px // CELLS
    square = np.kron(bare, np.ones((cell, cell), bool))
    pixels = photo.pixels.copy()
    high, wide = pixels.shape[:2]
    top, left = high - square.shape[0] - 4, wide // 2 - square.shape[1] // 2
    pixels[top : top + square.shape[0], left : left + square.shape[1]] = np.where(square, 235, 20)[..., None]
    return Photo(photo.name, pixels, (), photo.sha256)


def test_no_marker_is_seen_in_teeth() -> None:
    """A mouth without one has none."""
    assert found_markers(drawn_mouth().photo()) == ()


def test_a_marker_scales_an_arch_and_stays_in_the_marks() -> None:
    """160 pixels of a square of 8 mm are 20 pixels a mm: widths of the centrals within their errors; the file of marks holds the square."""
    per_mm = 20.0
    data = chain_marks({"13": 7.6, "12": 6.7, "11": 8.6, "21": 8.6, "22": 6.7, "23": 7.6}, per_mm)
    marks = read_marks(json.dumps(data), "m.json")
    photo = with_square_below(Photo("p", np.full((600, 920, 3), 120, np.uint8), ()), 160)
    marked, notes = with_marker(photo, marks, KnownSquare(8.0, 0.05))
    assert "marker 3: 8 mm are 160" in notes[0]
    assert Marks.model_validate_json(marked.model_dump_json()) == marked
    crowns = crowns_of(marked)
    scale = arch_scale(crowns, (), known_lengths(marked), marked.mark_se)
    assert scale is not None
    one = scale.teeth[next(t for t in crowns if t.fdi == "11")]
    assert one.width_mm is not None
    assert abs(one.width_mm - 8.6) < 1.96 * one.width_se_mm < 0.5


def test_a_marker_held_behind_the_teeth_is_corrected_and_its_place_is_uncertain() -> None:
    """9 mm further from a camera some 300 mm away it looks 3 % smaller than against the teeth."""
    data = chain_marks({"11": 8.6, "21": 8.6, "12": 6.7}, 20.0)
    marks = read_marks(json.dumps(data), "m.json")
    photo = with_square_below(Photo("p", np.full((600, 920, 3), 120, np.uint8), ()), 160)
    widths = []
    for behind in (0.0, 9.0):
        marked, _ = with_marker(photo, marks, KnownSquare(8.0, 0.05, behind))
        crowns = crowns_of(marked)
        scale = arch_scale(crowns, (), known_lengths(marked), 1.0)
        assert scale is not None
        widths.append(scale.teeth[next(iter(crowns))])
    assert widths[1].mm_per_px / widths[0].mm_per_px == pytest.approx(1 / 1.03, abs=0.006)
    assert widths[1].relative_se > widths[0].relative_se


def test_without_its_size_a_marker_gives_no_millimetres(tmp_path: Path) -> None:
    """Found, named, and asked about; the size is never taken from its number."""
    photo = with_square_below(drawn_mouth().photo(), 120)
    file = tmp_path / "front.png"
    Image.fromarray(photo.pixels).save(file)
    measured = measure_photo(file)
    assert NO_SCALE in measured.notes
    assert any("marker 3" in note and "--marker-size" in note for note in measured.notes)
    assert {r.unit for r in measured.readings.readings} == {"1"}
    with_it = measure_photo(file, marker=known_square("8"))
    assert {r.unit for r in with_it.readings.readings} >= {"mm"}


def test_a_marker_that_is_not_there_is_refused() -> None:
    """Whoever gives a size expects millimetres of it."""
    marks = read_marks(json.dumps(chain_marks({"11": 8.6, "21": 8.6}, 20.0)), "m.json")
    with pytest.raises(InputRefusedError, match="no marker"):
        with_marker(Photo("p", np.full((600, 920, 3), 120, np.uint8), ()), marks, KnownSquare(8.0, 0.05))


@pytest.mark.parametrize("text", ["", "8,0", "8:0", "1", "200", "x:0.1"])
def test_a_size_that_is_none_is_refused(text: str) -> None:
    """Words, no error, or a side that no marker has."""
    with pytest.raises(ValueError, match=r"write it as|expected|error"):
        known_square(text)


def test_the_command_prints_a_marker(tmp_path: Path) -> None:
    """Three files; a side that does not fit is refused."""
    assert run(["marker", "--side", "12", "--number", "4", "-o", str(tmp_path / "out")]) == 0
    assert {f.name for f in (tmp_path / "out").iterdir()} == {"marker.pdf", "marker.svg", "marker.png"}
    assert run(["marker", "--side", "80", "-o", str(tmp_path / "large")]) != 0
    assert not (tmp_path / "large").exists()

"""From a rendered photograph of a mouth whose truth is known to readings, outlines found by themselves: the whole job."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from festoon.model.dentition import Tooth
from festoon.model.quantities import Quantity, QuantityReading, Readings
from festoon.phantom.photo import PhotoSettings
from festoon.photo.arch import KnownWidth
from festoon.workflow.measuring_photo import MeasuredPhoto, measure_photo
from festoon.workflow.phantom import PhantomOrder, make_phantom

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def patient(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Eight upper teeth, a frontal photograph and a scan."""
    folder = tmp_path_factory.mktemp("patient")
    photos = PhotoSettings(views=("front",), distortion=1.0)
    make_phantom(PhantomOrder(3, per_side=4, photos=photos, parts=("scan", "photos"), scan_kinds=("ply",)), folder)
    return folder


@pytest.fixture(scope="module")
def with_scan(patient: Path) -> MeasuredPhoto:
    """The photograph measured with the pose of the camera solved."""
    return measure_photo(patient / "photo-front.png", scan=patient / "scan.ply")


def errors(patient: Path, readings: tuple[QuantityReading, ...], quantity: Quantity) -> dict[str, tuple[float, float]]:
    """Error and standard error by incisor."""
    truth = Readings.model_validate_json((patient / "truth.json").read_text())
    true = {(r.tooth, r.quantity, r.site): r.value for r in truth.readings}
    return {
        str(r.tooth): (r.value - true[r.tooth, r.quantity, r.site], float(r.se or 0))
        for r in readings
        if r.quantity is quantity and str(r.tooth)[1] in "12"
    }


def test_with_the_scan_incisors_are_measured_to_three_tenths(patient: Path, with_scan: MeasuredPhoto) -> None:
    """Lengths within 0.3 mm and widths within 0.5 of the truth, and nineteen in twenty within 1.96 standard errors."""
    lengths = errors(patient, with_scan.readings.readings, Quantity.CROWN_LENGTH)
    widths = errors(patient, with_scan.readings.readings, Quantity.CROWN_WIDTH)
    assert len(lengths) == len(widths) == 4
    assert max(abs(e) for e, _ in lengths.values()) < 0.3
    assert max(abs(e) for e, _ in widths.values()) < 0.5
    held = [abs(e) <= 1.96 * se for e, se in [*lengths.values(), *widths.values()]]
    assert np.mean(held) >= 7 / 8


def test_the_camera_is_found_where_it_stood(patient: Path, with_scan: MeasuredPhoto) -> None:
    """Distance over focal length, the scale, to 3 %: the scan's frame is not the mouth's, but this is the same in both."""
    assert with_scan.pose is not None
    camera = json.loads((patient / "truth-about-files.json").read_text())["photos"]["front"]
    true = camera["distance_mm"] / camera["focal_px"]
    assert with_scan.pose.distance_mm / with_scan.pose.focal_px == pytest.approx(true, rel=0.03)


def test_one_known_width_measures_the_incisors_within_its_error(patient: Path) -> None:
    """Lengths of the incisors within 1.96 standard errors, and within 8 %."""
    truth = Readings.model_validate_json((patient / "truth.json").read_text())
    width = next(r.value for r in truth.readings if r.tooth == "11" and r.quantity is Quantity.CROWN_WIDTH)
    made = measure_photo(patient / "photo-front.png", known=[KnownWidth(Tooth("11"), width, 0.05)])
    for tooth, (error, se) in errors(patient, made.readings.readings, Quantity.CROWN_LENGTH).items():
        assert abs(error) < min(1.96 * se, 0.8), tooth

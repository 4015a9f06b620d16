"""A line between two clicks falls on the edge, and on the best one there is."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from scipy import ndimage
from skimage.graph import route_through_array

from festoon.photo.reading import Photo
from festoon.photo.snapping import Snapper, cheapest, cheapest_offsets, prepare, window

CENTRE, RADIUS = (150.0, 130.0), 80.0


def disc(mirrored_light: bool = False) -> Photo:
    """A white disc on red with noise; mirrored light on its border where wanted."""
    y, x = np.mgrid[:260, :300].astype(float)
    pixels = np.empty((260, 300, 3))
    pixels[:] = (190, 105, 100)
    pixels[np.hypot(x - CENTRE[0], y - CENTRE[1]) < RADIUS] = (228, 214, 180)
    pixels = ndimage.gaussian_filter(pixels, (1.2, 1.2, 0)) + np.random.default_rng(3).normal(0, 4, pixels.shape)
    if mirrored_light:
        pixels[np.hypot(x - CENTRE[0], y - CENTRE[1] + RADIUS) < 3] = 255
    return Photo("disc", np.clip(pixels, 0, 255).astype(np.uint8), ())


def on_circle(degrees: float) -> tuple[float, float]:
    angle = np.radians(degrees)
    return CENTRE[0] + RADIUS * float(np.cos(angle)), CENTRE[1] + RADIUS * float(np.sin(angle))


def off(line: np.ndarray) -> np.ndarray:
    """Distance of each point from the circle."""
    return np.abs(np.hypot(*(line - np.array(CENTRE)).T) - RADIUS)


@pytest.fixture(scope="module")
def snapper() -> Snapper:
    return prepare(disc())


def test_segments_follow_the_edge_and_pass_the_clicks(snapper: Snapper) -> None:
    """Four clicks round a disc give the circle to half a pixel on average, and the clicked points are on the line as clicked."""
    clicks = [on_circle(a) for a in (0, 100, 190, 280)]
    line = snapper.line(np.array(clicks), closed=True)
    assert off(line).mean() < 0.5
    assert off(line).max() < 2
    for click in clicks:
        assert (line == click).all(axis=1).any()


def test_a_click_beside_the_edge_is_kept_and_left_at_once(snapper: Snapper) -> None:
    """Who clicks five pixels off gets a line through that point that is back on the edge after some ten pixels."""
    start = (CENTRE[0] + RADIUS + 5, CENTRE[1])
    line = snapper.segment(start, on_circle(90))
    assert tuple(line[0]) == start
    assert off(line[14:-2]).mean() < 0.7


def test_mirrored_light_on_the_edge_does_not_lead_it_off() -> None:
    """A glare on the margin is bridged, not walked round."""
    line = prepare(disc(mirrored_light=True)).segment(on_circle(220), on_circle(320))
    assert off(line).max() < 3


def test_the_coarse_path_is_the_cheapest_there_is(snapper: Snapper) -> None:
    """Same cost as an independent search over the whole picture: the window leaves nothing better out here."""
    ends = np.array([on_circle(200), on_circle(300)])
    low, high = window(ends, snapper.costs[0].shape)
    path = cheapest(snapper.costs[0], low, high, ends, 0)
    nodes = [tuple(int(v) for v in (end + 0.5)[::-1]) for end in ends]
    expected, cost = route_through_array(snapper.costs[0], *nodes)
    steps = np.clip(np.floor(path + 0.5), 0, None).astype(int)
    value = snapper.costs[0][steps[:, 1], steps[:, 0]]
    length = np.hypot(*np.diff(np.array([steps[:, 0], steps[:, 1]]), axis=1))
    assert ((value[1:] + value[:-1]) / 2 * length).sum() == pytest.approx(cost, rel=0.02)
    assert len(expected) == len(path)


@pytest.mark.parametrize("seed", range(4))
def test_dynamic_programming_finds_what_trying_all_finds(seed: int) -> None:
    """On small tables every line is tried: none is cheaper."""
    cost = np.random.default_rng(seed).random((5, 4))
    reach, bend = 1, 0.1

    def price(line: tuple[int, ...]) -> float:
        steps = np.abs(np.diff(line))
        return np.inf if steps.max() > reach else float(cost[range(5), line].sum() + bend * steps.sum())

    best = min(product(range(4), repeat=5), key=price)
    assert tuple(cheapest_offsets(cost, reach, bend)) == best


def test_no_way_through_is_said() -> None:
    """A strip that is blocked gives an error and no line."""
    cost = np.ones((4, 3))
    cost[2] = np.inf
    with pytest.raises(ValueError, match="no line"):
        cheapest_offsets(cost, 1, 0.1)


def test_points_outside_the_photograph_are_refused(snapper: Snapper) -> None:
    """Nothing is clipped in silence."""
    with pytest.raises(ValueError, match="in the photograph"):
        snapper.segment((-5.0, 10.0), (20.0, 20.0))

"""The lines of the profile invent nothing: they pass through the sites, stay between them, and stop at a gap."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from festoon.drawings.curves import Curve, between, runs
from festoon.drawings.hatch import BONE, GINGIVA
from festoon.drawings.labels import spread

LEVELS = st.floats(min_value=-3, max_value=25, allow_nan=False)
SITES = st.lists(st.tuples(st.floats(min_value=0.5, max_value=9), LEVELS), min_size=1, max_size=7)


def _placed(steps: list[tuple[float, float]]) -> list[tuple[float, float]]:
    x, points = 0.0, []
    for width, level in steps:
        x += width
        points.append((x, level))
    return points


@given(SITES)
def test_the_curve_passes_through_every_charted_site(steps: list[tuple[float, float]]) -> None:
    points = _placed(steps)
    curve = Curve.through(points)
    for x, y in points:
        assert curve.at(x) == pytest.approx(y, abs=1e-9)


@given(SITES)
def test_between_two_sites_the_curve_is_monotone_and_leaves_neither(steps: list[tuple[float, float]]) -> None:
    points = _placed(steps)
    curve = Curve.through(points)
    for (x0, y0), (x1, y1) in pairwise(points):
        seen = [curve.at(x0 + k / 40 * (x1 - x0)) for k in range(41)]
        rising = y1 >= y0
        assert all((b - a) * (1 if rising else -1) >= -1e-9 for a, b in pairwise(seen))
        assert min(y0, y1) - 1e-9 <= min(seen) <= max(seen) <= max(y0, y1) + 1e-9


def test_an_even_scallop_is_a_parabola() -> None:
    curve = Curve.through([(0, 4), (4, 9), (8, 4)])
    # y = 9 - 5 (x/4 - 1)^2: zero slope at the zenith, twice the secant at the papillae.
    for x in (0.5, 1.0, 2.5, 5.0, 7.5):
        assert curve.at(x) == pytest.approx(9 - 5 * (x / 4 - 1) ** 2)


def test_an_unknown_site_breaks_the_line_in_two() -> None:
    curves = runs([(0, 4.0), (1, 5.0), (2, None), (3, 6.0)])
    assert [(c.start, c.end) for c in curves] == [(0, 1), (3, 3)]


def test_sites_out_of_order_are_refused() -> None:
    with pytest.raises(ValueError, match="increasing"):
        Curve.through([(1, 4.0), (1, 5.0)])


def test_no_area_is_made_where_one_of_two_lines_is_unknown() -> None:
    whole, broken = runs([(0, 1.0), (4, 1.0)]), runs([(0, 3.0), (1, 3.0), (2, None), (3, 3.0), (4, 3.0)])
    spans = [(min(x for x, _ in area), max(x for x, _ in area)) for area in between(whole, broken)]
    assert spans == [(0, 1), (3, 4)]


@pytest.mark.parametrize("hatch", [GINGIVA, BONE])
def test_hatch_lines_stay_inside_their_area(hatch: object) -> None:
    square = [(0.0, 0.0), (6.0, 0.0), (6.0, 4.0), (0.0, 4.0)]
    segments = hatch._segments(square)  # type: ignore[attr-defined] # either of two hatches
    assert len(segments) > 4
    for start, end in segments:
        for x, y in (start, end):
            assert -1e-9 <= x <= 6 + 1e-9
            assert -1e-9 <= y <= 4 + 1e-9


def test_the_two_hatches_lean_apart_and_differ_in_weight() -> None:
    assert GINGIVA.lean * BONE.lean < 0
    assert BONE.weight > 2 * GINGIVA.weight


@given(st.lists(st.tuples(st.floats(0, 40), st.floats(1, 5)), min_size=1, max_size=7))
def test_labels_never_lie_over_each_other_and_keep_their_order(labels: list[tuple[float, float]]) -> None:
    wanted, heights = [w for w, _ in labels], [h for _, h in labels]
    centres = spread(wanted, heights, 0, 40)
    order = sorted(range(len(wanted)), key=lambda k: wanted[k])
    for a, b in pairwise(order):
        assert centres[a] + heights[a] / 2 <= centres[b] - heights[b] / 2 + 1e-9
    assert all(h / 2 - 1e-9 <= c <= 40 - h / 2 + 1e-9 for c, h in zip(centres, heights, strict=True))

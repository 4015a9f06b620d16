"""A scale comes from known lengths, with their errors, and says when they disagree."""

from __future__ import annotations

import numpy as np
import pytest

from festoon.photo.scale import KnownLength, scale_from


def test_without_a_known_length_there_is_no_scale() -> None:
    """Unknown stays unknown."""
    assert scale_from([]) is None


def test_error_of_one_length_matches_a_simulation() -> None:
    """The propagated error is the spread seen over 200,000 seeded draws, to 1 %."""
    one = scale_from([KnownLength("11", 8.43, 0.1, 300.0, 2.0)])
    assert one is not None
    assert one.mm_per_px == pytest.approx(8.43 / 300)
    rng = np.random.default_rng(8)
    drawn = (8.43 + 0.1 * rng.standard_normal(200_000)) / (300 + 2 * rng.standard_normal(200_000))
    assert one.se == pytest.approx(drawn.std(), rel=0.01)


def test_two_equal_lengths_halve_the_variance_and_do_not_conflict() -> None:
    """Two like readings: the same scale, its error smaller by the square root of two."""
    k = KnownLength("11", 8.4, 0.1, 300.0, 2.0)
    one, two = scale_from([k]), scale_from([k, k])
    assert one is not None
    assert two is not None
    assert two.se == pytest.approx(one.se / 2**0.5)
    assert two.conflicts == ()


def test_a_disagreement_is_told() -> None:
    """A canine that turns away gives another scale than the central: both are named."""
    said = scale_from([KnownLength("11", 8.4, 0.1, 300.0, 2.0), KnownLength("13", 7.6, 0.1, 200.0, 2.0)])
    assert said is not None
    assert "11 and 13" in said.conflicts[0]
    low, high = 8.4 / 300, 7.6 / 200
    assert said.se > 0.25 * (high - low)  # no surer than the two are apart


def test_an_error_of_nothing_is_refused() -> None:
    """A length without an error would outweigh every other."""
    with pytest.raises(ValueError, match="11"):
        KnownLength("11", 8.4, 0.0, 300.0, 2.0)

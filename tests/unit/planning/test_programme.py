"""The programme in ranks, on problems small enough to solve by eye."""

from __future__ import annotations

import pytest

from festoon.errors import SolverError
from festoon.planning.programme import ZERO, Programme


def test_a_later_rank_never_spoils_an_earlier_one() -> None:
    """First x + y as small as possible under x + 2y >= 3, then x as large as that allows."""
    programme = Programme()
    x, y = programme.variable(0, 10), programme.variable(0, 10)
    programme.require(x + y * 2, at_least=3)
    answer = programme.solve([x + y, x * -1.0])
    assert answer is not None
    assert y.value(answer[0]) == pytest.approx(1.5, abs=1e-3)
    assert x.value(answer[0]) == pytest.approx(0.0, abs=1e-3)


def test_the_probe_shows_both_ends_of_a_tie() -> None:
    """One of two equal switches must be on: the ranks leave it open, the probe shows both answers."""
    programme = Programme()
    right, left = programme.variable(0, 1, integer=True), programme.variable(0, 1, integer=True)
    programme.require(right + left, at_least=1)
    answer = programme.solve([right + left], probe=right + left * 2)
    assert answer is not None
    assert [round(v.value(answer[0])) for v in (right, left)] == [1, 0]
    assert [round(v.value(answer[1])) for v in (right, left)] == [0, 1]


def test_rows_that_cannot_all_hold_have_no_answer() -> None:
    """Infeasible is an answer, not an exception."""
    programme = Programme()
    x = programme.variable(0, 1)
    programme.require(x, at_least=2)
    assert programme.solve([x]) is None


def test_a_row_without_variables_that_does_not_hold() -> None:
    """A broken constant row makes the programme infeasible instead of being lost."""
    programme = Programme()
    x = programme.variable(0, 1)
    programme.require(ZERO + 3.0, at_most=2.0)
    assert programme.solve([x]) is None


def test_an_unbounded_wish_is_an_error_not_a_number() -> None:
    """Any other status than optimal or infeasible raises."""
    programme = Programme()
    x = programme.variable()
    with pytest.raises(SolverError):
        programme.solve([x * -1.0])


def test_excess_and_absolute_value() -> None:
    """Distance from a band and from zero, as small as the rows allow."""
    programme = Programme()
    x = programme.variable(2.5, 2.5)
    outside, size = programme.excess(x, 0.0, 2.0), programme.absolute(x - 4.0)
    answer = programme.solve([outside + size])
    assert answer is not None
    assert outside.value(answer[0]) == pytest.approx(0.5)
    assert size.value(answer[0]) == pytest.approx(1.5)

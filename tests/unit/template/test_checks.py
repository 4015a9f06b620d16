"""Measures of the checks, on bodies whose walls and collisions are known."""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace

import numpy as np
import pytest
import trimesh

from festoon.errors import InputRefusedError
from festoon.model.case import Case
from festoon.template.body import Body
from festoon.template.checks import _deepest
from festoon.template.inputs import Sheet
from festoon.template.wall import inner_faces, walls
from festoon.workflow.templating import StoppedError, TemplateOrder, _dates, _Steps


def sheet_of(mesh: trimesh.Trimesh) -> Sheet:
    return Sheet(np.array(mesh.vertices, dtype=float), np.array(mesh.faces, dtype=np.int64))


def cap_over_ball(inner: float, outer: float, aside: float = 0.0) -> tuple[Body, Body]:
    """Half a shell over a ball of 4 mm, open apically; its outer face may stand aside."""
    big = trimesh.creation.icosphere(subdivisions=5, radius=outer)
    big.apply_translation([aside, 0, 0])
    small = trimesh.creation.icosphere(subdivisions=5, radius=inner)
    half = trimesh.creation.box(bounds=[[-9, -9, -9], [9, 9, 1.0]])
    shell = trimesh.boolean.intersection(
        [trimesh.boolean.difference([big, small], engine="manifold"), half], engine="manifold"
    )
    ball = trimesh.creation.icosphere(subdivisions=5, radius=4.0)
    return Body(sheet_of(shell)), Body(sheet_of(ball))


@pytest.mark.parametrize(("outer", "aside", "least"), [(6.1, 0.0, 2.0), (6.1, 0.5, 1.5), (5.6, 0.0, 1.5)])
def test_wall_is_the_ball_that_fits(outer: float, aside: float, least: float) -> None:
    """An even shell has its thickness everywhere; one that stands aside is found thin on its thin side, and rims do not count."""
    part, land = cap_over_ball(4.1, outer, aside)
    places, thick = walls(part, land, inner_faces(part, land), 2.0)
    assert len(thick) > 500
    assert thick.min() == pytest.approx(least, abs=0.03)
    if aside:
        assert places[np.argmin(thick), 0] < -3.0


def test_depth_on_the_way_is_that_of_the_collision() -> None:
    """A point that passes 0.3 mm within a ball on its way is told to be 0.3 mm deep, never less; one that passes beside it is not."""
    land = Body(sheet_of(trimesh.creation.icosphere(subdivisions=6, radius=4.0)))
    start = np.array([[3.7, 0.0, 6.0], [4.02, 0.0, 6.0]])
    deep, beside = _deepest(start, np.array([0.0, 0.0, -1.0]), land)
    assert 0.29 <= deep <= 0.33
    assert beside == 0.0


def case(**teeth: object) -> Case:
    return Case.model_validate(
        {"format": "festoon-case/1", "case": "x", "purpose": "aesthetic", "notation": "fdi", "examined_at": "2026-01-10",
         "teeth": {"11": {"status": "natural", **teeth}}}
    )  # fmt: skip


def test_scan_older_than_a_change_of_a_tooth_is_refused() -> None:
    """The tooth and both days are named; a younger scan passes; with a change on record the day must be said."""
    changed = case(changed_at="2026-03-01")
    with pytest.raises(InputRefusedError, match="11 was changed on 2026-03-01"):
        _dates(changed, TemplateOrder(scanned_at=dt.date(2026, 2, 20)), "scan.ply")
    with pytest.raises(InputRefusedError, match="day of the scan not said"):
        _dates(changed, TemplateOrder(), "scan.ply")
    assert _dates(changed, TemplateOrder(scanned_at=dt.date(2026, 3, 2)), "scan.ply") == []
    assert "unknown" in _dates(case(), TemplateOrder(), "scan.ply")[0]


def test_a_job_can_be_watched_and_stopped() -> None:
    """Shares rise and stay below one; the step after the wish to stop is not begun."""
    told: list[tuple[float, str]] = []
    wish = SimpleNamespace(stop=False)
    step = _Steps(3, lambda share, what: told.append((share, what)), lambda: bool(wish.stop))
    for what in ("a", "b", "c", "d"):
        step(what)
    wish.stop = True
    with pytest.raises(StoppedError, match="e"):
        step("e")
    shares = [share for share, _ in told]
    assert shares == sorted(shares)
    assert shares[-1] < 1
    assert [what for _, what in told] == ["a", "b", "c", "d"]

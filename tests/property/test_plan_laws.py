"""Laws every plan keeps, on mouths drawn at random within what is seen in mouths."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from festoon.model.dentition import Site, Tooth
from festoon.planning.conflicts import distance
from festoon.planning.limits import Limit
from festoon.planning.make import Context, make_plan
from festoon.planning.problem import State
from festoon.planning.solve import Model, Solution, Variant, solve
from festoon.records.reconcile import resolve
from mouths import FRONT, body, case, mirrored, problem, tooth


def _tenths(low: float, high: float) -> st.SearchStrategy[float]:
    return st.integers(round(low * 10), round(high * 10)).map(lambda n: n / 10)


@st.composite
def a_tooth(draw: st.DrawFn, code: str) -> dict[str, Any]:
    """One upper front tooth, ordinary to odd."""
    margin = draw(_tenths(5.5, 10.5))
    changes: dict[str, Any] = {
        "margin": margin,
        "sounding": draw(_tenths(1.5, 5.0)),
        "cej": round(margin + draw(_tenths(-0.5, 3.0)), 2),
        "mucogingival": round(margin + draw(_tenths(1.0, 6.0)), 2),
        "width_mm": draw(_tenths(5.8, 9.2)),
        "edge_height_mm": draw(_tenths(-0.5, 1.0)),
        "axis_tip_deg": draw(st.sampled_from([0.0, 4.0, 8.0])),
        "incisal_extension_mm": draw(st.sampled_from([0.0, 0.0, 0.5, -0.5, 0.3])),
    }
    if draw(st.integers(0, 4)) == 0:
        changes["target_length_mm"] = draw(_tenths(8.0, 11.0))
    if draw(st.integers(0, 7)) == 0:
        changes["status"] = draw(st.sampled_from(["implant", "pontic", "absent"]))
    return tooth(code, **changes)


@st.composite
def mouths(draw: st.DrawFn) -> dict[str, dict[str, Any]]:
    """Six upper front teeth."""
    return {code: draw(a_tooth(code)) for code in FRONT}


def _cuts(solution: Solution) -> dict[str, float]:
    cuts = {f"{tooth} move": move for tooth, move in solution.moves.items()}
    cuts |= {f"{tooth} {site}": bone for (tooth, site), bone in solution.bones.items()}
    cuts |= {f"{tooth} collar": collar for tooth, collar in solution.collars.items()}
    return cuts


def _same(one: Solution, other: Solution, tolerance: float = 2e-3) -> bool:
    first, second = _cuts(one), _cuts(other)
    return all(abs(first.get(key, 0.0) - second.get(key, 0.0)) < tolerance for key in first.keys() | second.keys())


@given(mouths())
@settings(max_examples=40)
def test_mirroring_the_mouth_mirrors_the_plan(teeth: dict[str, dict[str, Any]]) -> None:
    """Right and left are treated alike."""
    here, there = solve(problem(teeth)), solve(problem(mirrored(teeth)))
    if here.ties or there.ties:
        return  # a true tie between sides is said, and cannot mirror
    back = Solution(
        {t.contralateral: move for t, move in there.moves.items()},
        {t.contralateral: collar for t, collar in there.collars.items()},
        {(t.contralateral, s): bone for (t, s), bone in there.bones.items()},
        frozenset(t.contralateral for t in there.operated),
    )
    assert _same(here, back)


@given(mouths(), st.sampled_from([-3.0, 0.7, 12.0]))
@settings(max_examples=30)
def test_moving_the_whole_arch_changes_no_cut(teeth: dict[str, dict[str, Any]], up: float) -> None:
    """Only heights against each other matter."""
    moved = {code: chart | {"edge_height_mm": chart["edge_height_mm"] + up} for code, chart in teeth.items()}
    assert _same(solve(problem(teeth)), solve(problem(moved)))


@given(mouths(), st.sampled_from([0.5, -0.5, 0.3]))
@settings(max_examples=30)
def test_another_edge_leaves_the_anatomy_where_it_was(teeth: dict[str, dict[str, Any]], change: float) -> None:
    """Every level is converted: with the target moved along, the same tissue is cut from the same places."""
    before, after = {}, {}
    for code, chart in teeth.items():
        if chart["status"] == "natural":
            before[code] = chart | {"target_length_mm": 9.5, "axis_tip_deg": 0.0}
            after[code] = before[code] | {
                "incisal_extension_mm": chart["incisal_extension_mm"] + change,
                "target_length_mm": 9.5 + change,
                # The edge lies further incisally, so its height falls by as much.
                "edge_height_mm": chart["edge_height_mm"] - change,
            }
        else:
            before[code] = after[code] = chart
    assert _same(solve(problem(before)), solve(problem(after)))


def _least_outside(teeth: dict[str, dict[str, Any]], **changes: Any) -> float:
    """The best second rank: distance outside tolerance."""
    model = Model(problem(teeth, **changes))
    answer = model.programme.solve([model.outside])
    assert answer is not None
    return model.outside.value(answer[0])


@given(
    mouths(),
    st.sampled_from(
        [
            {"supracrestal_midfacial_mm": 4.0},
            {"crest_step_mm": 3.0},
            {"crest_slope": 0.8},
            {"smallest_move_mm": 1.0},
        ]
    ),
)
@settings(max_examples=40)
def test_tightening_a_limit_never_improves_the_objective(
    teeth: dict[str, dict[str, Any]], tighter: dict[str, float]
) -> None:
    """Less is allowed, so nothing gets nearer to its target."""
    assert _least_outside(teeth, policy=tighter) >= _least_outside(teeth) - 1e-4


@given(mouths())
@settings(max_examples=25)
def test_a_limit_that_does_not_bind_has_no_price(teeth: dict[str, dict[str, Any]]) -> None:
    """Where the margin stays well clear of the CEJ, giving the CEJ another half millimetre buys nothing."""
    posed = problem(teeth)
    plain = solve(posed)
    for code, entry in posed.teeth.items():
        cap = entry.move_caps.get(Limit.ROOT_EXPOSURE)
        if entry.state is State.OPEN and cap is not None and plain.moves.get(code, 0.0) < cap - 0.6 and cap > 1.2:
            anew = solve(posed, Variant(relax={(Limit.ROOT_EXPOSURE, code): 0.5}))
            assert distance(posed, anew, code) >= distance(posed, plain, code) - 2e-3
            assert _least_outside(teeth) == pytest.approx(_least_outside(teeth))
            return


@given(mouths())
@settings(max_examples=40)
def test_where_no_rule_binds_nothing_is_cut(teeth: dict[str, dict[str, Any]]) -> None:
    """Every site that is cut names its rule; every site without a rule is left as it is."""
    for planned in body(teeth).sites:
        moved = (planned.margin_planned_mm or 0) - (planned.margin_present_mm or 0)
        cut = (planned.bone_removal_mm or 0.0) > 0 or (planned.margin_planned_mm is not None and moved > 1e-9)
        assert cut == bool(planned.binding), planned


@given(mouths())
@settings(max_examples=40)
def test_every_hard_limit_holds_exactly(teeth: dict[str, dict[str, Any]]) -> None:
    """Checked from the definitions, not from the programme that was solved."""
    made = body(teeth)
    for planned in made.sites:
        whole = made.teeth[planned.tooth]
        if not whole.procedure.cuts or planned.margin_planned_mm is None or planned.margin_present_mm is None:
            continue
        assert planned.margin_planned_mm >= planned.margin_present_mm - 1e-9
        if planned.crest_planned_mm is not None and planned.crest_present_mm is not None:
            assert planned.crest_planned_mm >= planned.crest_present_mm - 1e-9
        if planned.margin_planned_mm > planned.margin_present_mm + 1e-9:
            assert planned.cej_mm is None or planned.margin_planned_mm <= planned.cej_mm + 1e-6
            assert (planned.supracrestal_after_mm or 0) >= 3.0 - 1e-3
            assert planned.margin_planned_mm - planned.margin_present_mm >= 0.5 - 1e-6
        if planned.site in (Site.MESIAL, Site.DISTAL):
            assert planned.bone_removal_mm == 0.0
        assert (whole.keratinised_after_mm or 0) >= min(2.0, whole.keratinised_present_mm or 0) - 1e-6


@given(mouths())
@settings(max_examples=60)
def test_the_sheet_breaks_no_hard_limit_and_its_rows_add_up(teeth: dict[str, dict[str, Any]]) -> None:
    """Half-millimetre steps, margins coronal, crests apical, every row a sum."""
    made = body(teeth)
    assert made.paper.rechecked, made.paper.notes
    exact = {(s.tooth, s.site): s for s in made.sites}
    for row in made.paper.sites:
        if row.margin_planned_mm is None or row.margin_present_mm is None:
            continue
        true = exact[row.tooth, row.site]
        assert (row.margin_planned_mm * 2) % 1 == pytest.approx(0)
        assert row.margin_planned_mm <= (true.margin_planned_mm or 0) + 1e-6
        if row.crest_present_mm is None or row.crest_planned_mm is None:
            continue
        left, bone, after = row.left_if_soft_only_mm, row.bone_removal_mm, row.supracrestal_after_mm
        assert left is not None
        assert bone is not None
        assert after is not None
        assert left == pytest.approx(row.crest_present_mm - row.margin_planned_mm)
        assert after == pytest.approx(left + bone)
        if bone > 0:
            assert row.crest_planned_mm >= row.margin_planned_mm + 3.0 - 1e-6
            # What is printed to take reaches the printed level from the true crest as well.
            assert (true.crest_present_mm or 0) + bone >= row.crest_planned_mm - 1e-6
    for code, paper_tooth in made.paper.teeth.items():
        if paper_tooth.margin_move_mm is not None and paper_tooth.planned_length_mm is not None:
            assert paper_tooth.margin_move_mm == pytest.approx(
                paper_tooth.planned_length_mm - (paper_tooth.margin_present_mm or 0)
            ), code
            parts = (paper_tooth.excised_collar_mm or 0) + (paper_tooth.apical_shift_mm or 0)
            assert paper_tooth.margin_move_mm == pytest.approx(parts), code


@given(mouths())
@settings(max_examples=5)
def test_order_of_the_file_changes_nothing(teeth: dict[str, dict[str, Any]]) -> None:
    """The same teeth listed backwards give the same plan."""
    backwards = dict(reversed(teeth.items()))
    one = make_plan(resolve(case(teeth)), Context()).as_json()
    assert make_plan(resolve(case(backwards)), Context()).as_json() == one


def test_the_tooth_names_of_the_strategies_are_teeth() -> None:
    """The mirrored codes exist."""
    assert {Tooth(code).contralateral.fdi for code in FRONT} == set(FRONT)

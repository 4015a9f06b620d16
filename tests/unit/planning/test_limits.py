"""Each limit of the table: what it stops, and what it lets through."""

from __future__ import annotations

import pytest

from festoon.errors import InputRefusedError
from festoon.model.plan import Procedure
from mouths import front, plan, site, tooth


def test_supracrestal_space_asks_for_bone_only_where_the_margin_moves() -> None:
    """A tooth that is left alone keeps its crest, however near it lies."""
    made = plan({"11": tooth("11", margin=10.0, sounding=1.5)})
    assert made.teeth["11"].procedure is Procedure.NONE
    assert site(made, "11").bone_removal_mm == 0.0


def test_the_cej_stops_the_margin_and_prices_the_rest() -> None:
    """Target 10.4, CEJ at 10.0: the margin stops at the CEJ; a restoration covering 0.4 mm of root would allow it."""
    made = plan({"11": tooth("11", margin=8.2, cej=10.0, target_length_mm=10.4)})
    assert made.teeth["11"].planned_length_mm == pytest.approx(10.0)
    (conflict,) = made.conflicts
    assert (conflict.limit, conflict.tooth, conflict.by_mm) == ("root_exposure", "11", 0.4)
    assert conflict.text == ("11: the CEJ stops a further 0.4 mm; a restoration covering 0.4 mm of root would allow it")
    assert {price.relax_mm: price.buys_mm for price in conflict.prices} == pytest.approx({0.5: 0.4, 1.0: 0.4})


def test_root_cover_moves_the_stop() -> None:
    """The covered root counts: CEJ 10.0 + cover 0.4."""
    made = plan(
        {"11": tooth("11", margin=8.2, cej=10.0, target_length_mm=10.4, restoration="planned", root_cover_mm=0.4)}
    )
    assert made.teeth["11"].planned_length_mm == pytest.approx(10.4)
    assert made.teeth["11"].root_exposed_mm == pytest.approx(0.4)


def test_near_the_cej_the_chance_of_exposure_is_said() -> None:
    """Within 0.5 mm of the CEJ a caution names the chance; exactly at it the chance is one half."""
    made = plan({"11": tooth("11", margin=8.2, cej=10.0, target_length_mm=10.0)})
    (caution,) = [c for c in made.teeth["11"].cautions if c.code == "near_cej"]
    assert "50%" in caution.text


def test_keratinised_tissue_chooses_the_procedure() -> None:
    """Keratinised 3.0, minimum 2.0, move 2.0: 1.0 is excised, the rest moved by an apically positioned flap."""
    made = plan({"11": tooth("11", margin=8.0, cej=10.5, mucogingival=11.0, target_length_mm=10.0)})
    whole = made.teeth["11"]
    assert whole.procedure is Procedure.APICAL_FLAP_WITH_OSTECTOMY
    assert whole.excised_collar_mm == pytest.approx(1.0)
    assert whole.apical_shift_mm == pytest.approx(1.0)
    assert whole.keratinised_after_mm == pytest.approx(2.0)
    # The junction travels with the flap.
    assert whole.mucogingival_after_mm == pytest.approx(12.0)
    assert site(made, "11").incision_level_mm == pytest.approx(9.0)


def test_an_excision_without_bone_is_a_gingivectomy() -> None:
    """Low crest: 5.0 from margin to bone leaves 3.0 after a move of 2.0."""
    made = plan({"11": tooth("11", margin=8.0, cej=10.5, sounding=5.0, target_length_mm=10.0)})
    assert made.teeth["11"].procedure is Procedure.GINGIVECTOMY
    assert site(made, "11").bone_removal_mm == 0.0


def test_bone_between_the_teeth_is_left_alone() -> None:
    """Every septum keeps its crest under an aesthetic plan."""
    made = plan(front())
    assert {s.bone_removal_mm for s in made.sites if s.site in ("mesial", "distal")} == {0.0}


def test_a_steep_crest_stops_the_cut_and_is_a_conflict() -> None:
    """The septum is locked, so a small step allowed stops the midfacial cut, and says by how much."""
    made = plan({"11": tooth("11", margin=8.0, cej=11.0, target_length_mm=10.5)}, policy={"crest_step_mm": 4.5})
    middle, septum = site(made, "11"), site(made, "11", "mesial")
    assert (middle.crest_planned_mm or 0) - (septum.crest_planned_mm or 0) == pytest.approx(4.5, abs=2e-3)
    assert [conflict.limit for conflict in made.conflicts] == ["crest_contour"]


def test_an_existing_step_is_no_reason_to_cut_nor_to_stop() -> None:
    """The larger of limit and present holds: a present step beyond the limit may stay."""
    made = plan(
        {"11": tooth("11", margin=8.0, cej=11.0, sounding=4.6, target_length_mm=9.2)}, policy={"crest_step_mm": 1.0}
    )
    assert made.teeth["11"].procedure is Procedure.GINGIVECTOMY


def test_the_furcation_stops_bone_by_surface() -> None:
    """Facial furcation at 14.0: crest no further than 10.0, so from 8.9 at most 1.1 mm, so margin at most 7.0."""
    made = plan({"16": tooth("16", target_length_mm=8.0, cej=9.0, furcation_mm={"facial": 14.0})})
    middle = site(made, "16")
    assert middle.crest_planned_mm == pytest.approx(10.0)
    assert middle.margin_planned_mm == pytest.approx(7.0)
    assert "furcation" in [conflict.limit for conflict in made.conflicts]


def test_a_furcation_on_another_surface_does_not_stop_the_facial_cut() -> None:
    """Mesial and distal entrances of an upper first premolar say nothing about its facial bone."""
    charted = tooth("14", target_length_mm=8.5, furcation_mm={"mesial": 11.0, "distal": 11.0})
    assert plan({"14": charted}).teeth["14"].planned_length_mm == pytest.approx(8.5)


def test_a_molar_without_its_furcation_is_undetermined_where_bone_would_go() -> None:
    """The hard limit lacks its reading, so no cut is given."""
    made = plan({"16": tooth("16", target_length_mm=8.0, cej=9.0)})
    assert made.teeth["16"].procedure is Procedure.UNDETERMINED
    assert "furcation_mm.facial" in [missing.what for missing in made.missing if missing.hard]


@pytest.mark.parametrize("status", ["implant", "pontic", "absent", "excluded"])
def test_fixed_places_stay(status: str) -> None:
    """No rule of bone or CEJ applies to them, and nothing is cut there."""
    made = plan(front() | {"12": tooth("12", status=status)})
    assert made.teeth["12"].procedure is Procedure.NONE
    assert site(made, "12").bone_removal_mm == 0.0
    assert site(made, "12").margin_planned_mm == site(made, "12").margin_present_mm


def test_bone_beside_an_implant_is_locked_even_where_interdental_bone_is_free() -> None:
    """The neighbour's septum towards the implant stays; the other may be cut when a step asks for it."""
    teeth = front(t11={"margin": 8.0, "cej": 11.5, "target_length_mm": 11.0}) | {"12": tooth("12", status="implant")}
    made = plan(teeth, policy={"interdental_ostectomy": True, "crest_step_mm": 3.0})
    assert site(made, "11", "distal").bone_removal_mm == 0.0


def test_near_roots_lock_the_bone_between_them() -> None:
    """0.5 mm between the roots of 11 and 21: their septum is not shaped, whatever is allowed."""
    teeth = {code: tooth(code, margin=8.0, cej=11.5, target_length_mm=11.0) for code in ("11", "21")}
    changes = {"policy": {"interdental_ostectomy": True, "crest_step_mm": 4.0}}
    free = plan(teeth, **changes)
    near = plan(teeth, papillae={"11-21": {"root_distance_mm": 0.5}}, **changes)
    assert (site(free, "11", "mesial").bone_removal_mm or 0) > 0
    assert site(near, "11", "mesial").bone_removal_mm == 0.0


def test_interdental_ostectomy_lets_the_septum_follow() -> None:
    """With it allowed, the septum is lowered just enough for the step, and the rule is named."""
    made = plan(
        {"11": tooth("11", margin=8.0, cej=11.0, target_length_mm=10.5)},
        policy={"crest_step_mm": 4.5, "interdental_ostectomy": True},
    )
    septum = site(made, "11", "mesial")
    assert made.teeth["11"].planned_length_mm == pytest.approx(10.5)
    assert septum.bone_removal_mm == pytest.approx(13.5 - 4.5 - (septum.crest_present_mm or 0))
    assert septum.binding == ("crest_contour",)


def test_a_lateral_never_goes_apical_to_the_line_unless_asked() -> None:
    """A long lateral target stops at the central-canine line."""
    septum = {"margin_mm": 3.7, "sounding_mm": 5.5, "contact_mm": 3.3}
    long_lateral = {"target_length_mm": 10.6, "cej": 11.0, "sites": {"mesial": septum, "distal": septum}}
    made = plan(front(t12=long_lateral))
    under = {line.side: line.lateral_coronal_planned_mm for line in made.arch.gingival_line}
    assert under["right"] is not None
    assert under["right"] >= -1e-3
    asked = plan(front(t12=long_lateral), policy={"lateral_apical_allowed": True})
    assert asked.teeth["12"].planned_length_mm == pytest.approx(10.6)


def test_a_limit_held_as_a_caution_no_longer_stops() -> None:
    """The clinician may hold root exposure as a caution, with a reason that is kept."""
    held = {"limits": {"root_exposure": {"force": "caution", "reason": "veneers planned over the root"}}}
    made = plan({"11": tooth("11", margin=8.2, cej=10.0, target_length_mm=10.4)}, policy=held)
    assert made.teeth["11"].planned_length_mm == pytest.approx(10.4)
    assert "root_exposure" in [caution.code for caution in made.teeth["11"].cautions]
    assert "veneers planned over the root" in made.provenance.settings["limits.root_exposure"]


def test_a_caution_held_as_a_limit_stops() -> None:
    """Root to crown held hard at 1:1: crest no further than half the apex level."""
    held = {"limits": {"root_to_crown": {"force": "hard", "reason": "short roots"}}}
    made = plan({"11": tooth("11", cej=10.8, target_length_mm=10.4, root_apex_mm=24.0)}, policy=held)
    assert (site(made, "11").crest_planned_mm or 99) <= 12.0 + 1e-6


@pytest.mark.parametrize("name", ["bone_not_added", "margin_not_incisal", "no_such_limit"])
def test_what_cannot_be_changed_is_refused(name: str) -> None:
    """Bone is never added and surgery never moves a margin incisally, whoever asks."""
    with pytest.raises(InputRefusedError, match=name):
        plan({"11": tooth("11")}, policy={"limits": {name: {"force": "caution", "reason": "because"}}})


def test_a_margin_that_is_too_long_stays_and_is_said() -> None:
    """Surgery does not move a margin incisally."""
    made = plan({"11": tooth("11", margin=11.5, target_length_mm=10.0)})
    assert made.teeth["11"].margin_move_mm == 0.0
    assert [conflict.limit for conflict in made.conflicts] == ["margin_not_incisal"]


@pytest.mark.parametrize(
    ("change", "word"),
    [({"lesion": True}, "lesion"), ({"mobility": 2}, "mobility"), ({"ankylosed": True}, "ankylosed"),
     ({"inflamed": True}, "inflamed")],
)  # fmt: skip
def test_a_tooth_waits_for_what_must_be_cleared(change: dict[str, object], word: str) -> None:
    """It is not advised, nothing is cut there, and the caution stops the signature."""
    made = plan(front(t11=change))
    assert made.teeth["11"].procedure is Procedure.NOT_ADVISED
    assert site(made, "11").bone_removal_mm == 0.0
    (caution,) = [c for c in made.teeth["11"].cautions if c.code == "cleared_first"]
    assert caution.severity == "stop"
    assert word in caution.text
    assert not made.signable


def test_individual_need_uses_only_reference_sites() -> None:
    """A healthy reference sounding of 3.6 raises the need; below 3.0 it is kept at 3.0 without a reason."""
    reference = {
        "margin_mm": 9.9,
        "sounding_mm": 3.6,
        "healthy_reference": True,
        "cej_mm": 11.0,
        "mucogingival_mm": 15.0,
    }
    teeth = {"11": tooth("11", target_length_mm=10.0), "21": tooth("21", sites={"midfacial": reference})}
    individual = plan(teeth, policy={"supracrestal_basis": "individual"})
    assert site(individual, "11").need_mm == pytest.approx(3.6)
    low = {"21": tooth("21", sites={"midfacial": reference | {"sounding_mm": 2.4}})}
    assert site(plan(teeth | low, policy={"supracrestal_basis": "individual"}), "11").need_mm == pytest.approx(3.0)
    reasoned = {"supracrestal_basis": "individual", "supracrestal_reason": "two healthy sites agree"}
    assert site(plan(teeth | low, policy=reasoned), "11").need_mm == pytest.approx(2.4)

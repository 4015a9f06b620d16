"""The numbers festoon starts from, against the pages they were read in. The source stands beside each check."""

from __future__ import annotations

from statistics import NormalDist

import pytest

from festoon.evidence.defaults import SETTINGS
from festoon.evidence.errors import reading_se
from festoon.evidence.presets import LATERAL, PHENOTYPE, ZENITH
from festoon.evidence.table import all_published, published
from festoon.model.reading import DepthReading, LevelReading
from festoon.planning.papillae import fill_chance
from festoon.planning.targets import premolar_below_canine, published_ratio
from mouths import front, plan, tooth


@pytest.mark.parametrize(
    ("sex", "position", "width", "length"),
    [
        # Sterrett et al. 1999, J Clin Periodontol 26:153: clinical crowns of adults, abstract (seen).
        ("male", 1, 8.59, 10.19), ("female", 1, 8.06, 9.39),
        ("male", 2, 6.59, 8.70), ("female", 2, 6.13, 7.79),
        ("male", 3, 7.64, 10.06), ("female", 3, 7.15, 8.89),
    ],
)  # fmt: skip
def test_crown_widths_lengths_and_ratios_by_tooth(sex: str, position: int, width: float, length: float) -> None:
    """The target ratio is the ratio of the printed means."""
    found = published_ratio(position, sex)
    assert found is not None
    assert found[0] == pytest.approx(width / length, abs=5e-4)
    assert "Sterrett" in found[1]


@pytest.mark.parametrize(("position", "ratio"), [(1, 0.85), (2, 0.79), (3, 0.79)])
def test_ratios_where_the_sex_is_unknown(position: int, ratio: float) -> None:
    """Orozco-Varo et al. 2015, 10.1016/j.prosdent.2014.11.006: 412 adults."""
    found = published_ratio(position, "unknown")
    assert found is not None
    assert found[0] == ratio


def test_the_target_length_of_a_mean_tooth_is_the_mean_length() -> None:
    """A woman's central of mean width aims at the mean length of the same series: 9.39 (Sterrett 1999)."""
    made = plan({"11": tooth("11", width_mm=8.06)})
    assert made.teeth["11"].target_length_mm == pytest.approx(9.39, abs=0.005)


def test_no_clinical_proportion_is_made_up_for_other_teeth() -> None:
    """Anatomic and textbook crowns count to the CEJ and are not mixed in."""
    assert published_ratio(4, "female") is None
    assert plan({"31": tooth("31")}).teeth["31"].target_length_mm is None


def test_zenith_offsets_of_three_samples() -> None:
    """1.0 / 0.4 / 0 (2009, n 20), 0.41 / 0.22 / 0.13 (n 60), 0.70-0.76 / 0.59-0.62 (2018, n 105)."""
    by_name = {preset.name: preset.offset_mm for preset in ZENITH}
    assert [by_name["far"][position] for position in (1, 2, 3)] == [1.0, 0.4, 0.0]
    assert [by_name["near"][position] for position in (1, 2, 3)] == [0.41, 0.22, 0.13]
    assert 0.70 <= by_name["middle"][1] <= 0.76
    assert 0.59 <= by_name["middle"][2] <= 0.62
    made = plan(front(), policy={"presets": {"zenith": "near"}})
    assert made.teeth["11"].zenith_target_mm == 0.41
    assert {preset.name for preset in made.presets if preset.quantity == "zenith"} == {"far", "near", "middle"}


def test_the_laterals_place_of_the_published_samples() -> None:
    """0.60 ± 0.28 (Thai adults), 0.61 and 0.54 (2021), 1.0 (2009, memory): the default band holds every mean."""
    low, high = LATERAL[0].band_mm
    for row in ("GIN-004", "GIN-010", "GIN-017", "GIN-018"):
        assert low <= published(row).value <= high
    made = plan(front(), policy={"presets": {"lateral": "six_tenths"}})
    assert made.arch.gingival_line[0].wanted_mm == (0.32, 0.88)


def test_premolars_below_the_canine() -> None:
    """1.04 and 1.56 mm coronal to the canine (60 Thai adults)."""
    first, second = premolar_below_canine(4), premolar_below_canine(5)
    assert first is not None
    assert second is not None
    assert (first[0], second[0]) == (1.04, 1.56)


def test_the_papilla_proportion_is_reported_with_its_disagreement() -> None:
    """60 % is common practice, no source (CP-003); published means run 53 to 58 %: 100 − 42/43/45/47."""
    assert published("CP-003").how_known == "common-practice"
    means = [100 - published(row).value for row in ("GIN-023", "GIN-024", "GIN-029", "GIN-030")]
    assert min(means) == pytest.approx(52.83, abs=0.01)
    assert max(means) == pytest.approx(58.0)
    (papilla,) = [p for p in plan(front()).papillae if p.between == "11-21"]
    # A longer crown with the tip left where it is: the tip's share falls.
    assert papilla.tip_share_planned is not None
    assert papilla.tip_share_present is not None
    assert papilla.tip_share_planned < papilla.tip_share_present


@pytest.mark.parametrize(
    ("distance", "share"),
    # Tarnow et al. 1992, 10.1902/jop.1992.63.12.995: 98 % at 5 (table, memory), 56 % at 6, 27 % at 7 and more.
    [(5.0, 0.98), (6.0, 0.56), (7.0, 0.27), (9.0, 0.27)],
)
def test_contact_to_crest_fill(distance: float, share: float) -> None:
    """At the printed distances the printed shares."""
    assert fill_chance(distance)[0] == pytest.approx(share)


@pytest.mark.parametrize(
    # Cho et al. 2006 (memory): 89.7 / 58.5 / 35.2 / 7.5 % at 4 / 5 / 6 / 7.
    ("distance", "share"),
    [(4.0, 0.897), (5.0, 0.585), (6.0, 0.352), (7.0, 0.075)],
)
def test_contact_to_crest_fill_of_the_series_that_disagrees(distance: float, share: float) -> None:
    """Both stand beside each other on a plan."""
    assert fill_chance(distance)[1] == pytest.approx(share)


def test_supracrestal_height_default_against_measured_means() -> None:
    """3.0 midfacially is common practice; measured means run 2.70 to 3.54, people 1.8 to 6.2 and more."""
    default = float(SETTINGS["supracrestal_midfacial_mm"].value)
    means = [published(row).value for row in ("STA-018", "STA-020", "STA-021", "STA-022", "STA-026", "STA-027")]
    assert min(means) <= default <= max(means)
    assert published("CP-001").how_known == "common-practice"
    assert "CP-001" in SETTINGS["supracrestal_midfacial_mm"].source


def test_phenotype_cuts_disagree_and_both_are_offered() -> None:
    """1.0 mm (2023 consensus use) against 1.5 and 2.0."""
    assert [(p.thin_to_mm, p.thick_from_mm) for p in PHENOTYPE] == [(1.0, 1.0), (1.5, 2.0)]
    middle = tooth("11")["sites"]["midfacial"] | {"gingiva_thickness_mm": 1.3}
    teeth = {"11": tooth("11", sites={"midfacial": middle})}
    assert plan(teeth).teeth["11"].phenotype_by_thickness == "thick"
    other = plan(teeth, policy={"presets": {"phenotype": "one_and_half"}})
    assert other.teeth["11"].phenotype_by_thickness == "thin"


def test_the_sounding_error_from_the_printed_shares() -> None:
    """190 teeth: 4.7 % within 1 mm, 12.1 % beyond; second moment by hand, whole-millimetre rounding, bias taken out."""
    by_hand = (0.047 * 1 + 0.121 * 4 + 0.29**2 - 0.28**2) ** 0.5
    assert reading_se("sounding_mm", DepthReading(value=3.0)) == pytest.approx(by_hand, abs=1e-6)


def test_the_cbct_error_is_the_width_of_its_limits_of_agreement() -> None:
    """Timock et al. 2011: limits −0.77 to 0.81; 95 % limits span 2 x 1.96 standard deviations (Bland and Altman)."""
    reading = LevelReading.model_validate({"value": 10.0, "datum": "present_edge", "method": "cbct"})
    z = NormalDist().inv_cdf(0.975)
    assert reading_se("crest_mm", reading) == pytest.approx((0.81 + 0.77) / (2 * z), abs=1e-3)


def test_every_row_says_how_it_is_known() -> None:
    """Seen, memory or common practice, and nothing else."""
    assert {row.how_known for row in all_published()} == {"seen", "memory", "common-practice"}


def test_every_setting_names_its_source() -> None:
    """Evidence rows, common practice, or festoon's own: said each time."""
    for setting in SETTINGS.values():
        assert setting.source
        assert any(
            word in setting.source for word in ("-0", "-1", "common practice", "festoon", "as above", "notes", "given")
        )

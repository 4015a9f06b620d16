"""The health gate: flags and refers, never clears, and lists what nobody answered."""

from __future__ import annotations

import pytest
from finding_cases import HEALTHY, mouth

from festoon.findings import health_cautions, unanswered_health
from festoon.model.case import Case, Health

STOPS = {
    "anticoagulant", "antiplatelet", "bleeding_disorder", "antiresorptive", "jaw_radiotherapy", "overgrowth_drug",
    "immunosuppression", "endocarditis_risk", "pregnancy", "active_periodontitis", "expectation_concern",
}  # fmt: skip


def codes(case: Case) -> dict[str, str]:
    return {caution.code: caution.severity for caution in health_cautions(case)}


def test_healthy_adult_raises_nothing_and_owes_no_answer() -> None:
    assert health_cautions(mouth()) == ()
    assert unanswered_health(mouth()) == ()


@pytest.mark.parametrize("field", [f for f in Health.model_fields if f not in ("diabetes", "allergy")])
def test_every_yes_is_flagged(field: str) -> None:
    """Each question answered with yes raises exactly its own caution, with a source."""
    (caution,) = health_cautions(mouth(health={field: True}))
    assert caution.code == f"health.{field}"
    assert caution.severity == ("stop" if field in STOPS else "warn")
    assert caution.source


@pytest.mark.parametrize("field", list(Health.model_fields))
def test_every_unanswered_question_is_listed(field: str) -> None:
    case = mouth(health={field: None})
    assert unanswered_health(case) == (f"subject.health.{field}",)
    assert health_cautions(case) == ()


def test_diabetes_and_allergy() -> None:
    assert codes(mouth(health={"diabetes": "uncontrolled"})) == {"health.diabetes": "stop"}
    assert codes(mouth(health={"diabetes": "controlled"})) == {"health.diabetes": "warn"}
    assert codes(mouth(health={"allergy": "latex"})) == {"health.allergy": "warn"}


@pytest.mark.parametrize(
    ("age", "grown", "expected"),
    [
        (15, False, {"health.growth": "stop"}),
        (15, None, {"health.growth": "stop"}),
        (17, True, {"health.growth": "warn"}),
    ],
)
def test_growth(age: float, grown: bool | None, expected: dict[str, str]) -> None:
    assert codes(mouth(subject={"age_years": age, "growth_complete": grown})) == expected


def test_volume_asks_for_its_justification() -> None:
    case = mouth({"11": {"width_mm": {"value": 8.1, "method": "cbct"}}})
    assert codes(case) == {"radiograph.justification": "note"}


def test_no_drug_is_ever_told_to_be_stopped() -> None:
    """Anticoagulants: the text refers to the prescriber and says not to stop."""
    for field in ("anticoagulant", "antiplatelet"):
        (caution,) = health_cautions(mouth(health={field: True}))
        assert "Do not stop the drug" in caution.text
        assert "prescriber" in caution.text


def test_builder_answers_every_question() -> None:
    """The ordinary mouth of these tests must not hide a new question."""
    assert set(HEALTHY) == set(Health.model_fields)

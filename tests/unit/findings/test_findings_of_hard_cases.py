"""The findings of the hard cases: what must be seen in each invented mouth of ``tests/cases/hard``."""

from __future__ import annotations

from pathlib import Path

import pytest

from festoon.findings import assess, health_cautions, unanswered_health
from festoon.model.plan import Finding
from festoon.records.casefile import read_case
from festoon.records.reconcile import resolve

HARD = Path(__file__).parents[2] / "cases" / "hard"
FILES = sorted(HARD.glob("*.yaml"))
APE = "altered_passive_eruption"

EXPECTED: dict[str, tuple[dict[str, str], dict[str, set[str]]]] = {
    # file: (every cause with support, what withholds and for which teeth; an empty set is the whole mouth)
    "adolescent": ({"incomplete_growth": "strong", APE: "strong"}, {"incomplete_growth": set()}),
    "ankylosed-incisor": ({"ankylosis": "strong", APE: "weak"}, {"ankylosis": {"11"}}),
    "black-triangle": ({APE: "strong"}, {}),
    "canine-in-lateral-place": ({APE: "strong"}, {}),
    "canted-plane": ({"occlusal_cant": "strong"}, {}),
    "cleft-scar-recession": ({"recession": "strong"}, {"recession": {"11", "21", "23"}}),
    "crowded-rotated": ({APE: "strong", "tooth_position": "strong"}, {}),
    "crowned-hidden-cej": ({APE: "moderate"}, {}),
    "diastema": ({APE: "moderate"}, {}),
    "drug-enlarged": ({"drug_overgrowth": "strong", APE: "strong"}, {"drug_overgrowth": set()}),
    "high-crest": ({APE: "strong", "altered_active_eruption": "moderate"}, {}),
    "high-frenum": ({APE: "strong"}, {}),
    "implant-beside-teeth": ({APE: "strong"}, {}),
    "inflamed-bracketed": (
        {"inflammatory_enlargement": "strong", APE: "strong"},
        {"inflammatory_enlargement": {"13", "12", "11", "21", "22", "23"}},
    ),
    "low-crest": ({APE: "strong"}, {}),
    "lower-anteriors": ({}, {}),
    "midline-shift": ({APE: "strong"}, {}),
    "missing-lateral": ({APE: "strong"}, {}),
    "mixed-cej-exposure": ({APE: "strong", "recession": "strong"}, {"recession": {"13"}}),
    "mobile-tooth-with-lesion": ({APE: "strong"}, {}),
    "one-side-right": ({APE: "strong"}, {}),
    "pontic": ({APE: "strong"}, {}),
    "posterior-restorative": ({}, {}),
    "premolar-furcation": ({APE: "strong"}, {}),
    "recurrence": ({APE: "strong", "recurrence": "strong", "altered_active_eruption": "moderate"}, {}),
    "root-proximity": ({APE: "strong"}, {}),
    "short-conical-roots": ({APE: "strong"}, {}),
    "thick-bone-ledges": ({APE: "strong"}, {}),
    "thin-phenotype": ({APE: "strong"}, {}),
    "veneers-kept": ({APE: "strong"}, {}),
    "worn-over-erupted-incisors": (
        {"wear_with_over_eruption": "strong"},
        {"wear_with_over_eruption": {"11", "21"}},
    ),
}


def found(name: str) -> tuple[Finding, ...]:
    return assess(resolve(read_case(HARD / f"{name}.yaml").case))


def by_cause(name: str) -> dict[str, Finding]:
    return {finding.cause: finding for finding in found(name)}


def test_every_hard_case_has_its_expectation() -> None:
    assert {path.stem for path in FILES} == set(EXPECTED)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_case_says_its_trap_and_answers_every_health_question(path: Path) -> None:
    """Each file opens with the trap and what must come out, and is complete enough to be signed."""
    head = path.read_text("utf-8").splitlines()
    assert head[0].startswith("# Trap: ")
    assert any(line.startswith("# Must come out: ") for line in head[:6])
    assert unanswered_health(read_case(path).case) == ()


@pytest.mark.parametrize("name", sorted(EXPECTED))
def test_causes_and_what_they_withhold(name: str) -> None:
    """Every supported cause with its word, no other one, and nothing withheld but what must be."""
    supported, withheld = EXPECTED[name]
    findings = found(name)
    assert {f.cause: f.support for f in findings if f.support in ("strong", "moderate", "weak")} == supported
    assert {f.cause: set(f.teeth) for f in findings if f.withholds_surgery} == withheld
    assert (findings[0].cause == "none_found") == (not supported)


@pytest.mark.parametrize(
    ("name", "teeth"),
    [
        ("missing-lateral", {"11", "21", "22"}),  # 12 is absent
        ("canine-in-lateral-place", {"13", "11", "21", "23"}),  # a canine is judged as a canine, whatever its place
        ("implant-beside-teeth", {"11", "21", "22"}),
        ("pontic", {"12", "11"}),  # 22 is a pontic, 21 and 23 are crowned
        ("crowned-hidden-cej", {"12", "22"}),
        ("mixed-cej-exposure", {"11", "21", "22"}),  # 12 at its CEJ, 13 and 23 past it
        ("one-side-right", {"11"}),
    ],
)
def test_hidden_enamel_is_seen_only_where_it_can_be(name: str, teeth: set[str]) -> None:
    assert set(by_cause(name)[APE].teeth) == teeth


@pytest.mark.parametrize(
    ("name", "code"),
    [("adolescent", "health.growth"), ("drug-enlarged", "health.overgrowth_drug")],
)
def test_gate_stops_before_surgery(name: str, code: str) -> None:
    """Health and growth; teeth to be cleared first are told by the plan."""
    cautions = health_cautions(read_case(HARD / f"{name}.yaml").case)
    assert any(c.code == code and c.severity == "stop" for c in cautions)


def test_cant_is_told_with_its_millimetres_and_the_slope_of_the_cejs() -> None:
    text = " ".join(line.text for line in by_cause("canted-plane")["occlusal_cant"].evidence_for)
    assert "3.0 degrees, left higher: 1.8 mm" in text
    assert "CEJs of the left side" in text


def test_recurrence_names_the_bone_that_was_left() -> None:
    assert any("the bone was left" in line.text for line in by_cause("recurrence")["recurrence"].evidence_for)

"""What a mouth allows: impossible, unusual, ordinary."""

from __future__ import annotations

import re
from typing import Any

import pytest

from festoon.evidence.table import published
from festoon.model.case import Case, Face, PapillaChart, PolicyChoice, SiteChart, Smile, ToothChart
from festoon.model.reading import Reading
from festoon.records.kinds import bare
from festoon.records.plausible import concerns
from festoon.records.ranges import RANGES


def case_of(**teeth: Any) -> Case:
    """A case of teeth given as t11=..., t21=...."""
    return Case.model_validate(
        {"case": "demo", "notation": "fdi", "teeth": {key[1:]: chart for key, chart in teeth.items()}}
    )


def verdicts(case: Case) -> dict[str, bool]:
    """Path of each concern, and whether it is refused."""
    return {".".join(str(step) for step in concern.path): concern.is_refused for concern in concerns(case)}


def site(name: str = "midfacial", **values: Any) -> dict[str, Any]:
    return {"sites": {name: values}}


ROOMY = {"edge_height_mm": 0.0, "incisal_extension_mm": 0.0}

ORDINARY: list[tuple[str, dict[str, Any]]] = [
    ("recession", {"t11": site(margin_mm=11.5, cej_mm=10.0, sounding_mm=2.5)}),
    ("margin at the junction", {"t11": site(margin_mm=12.0, mucogingival_mm=12.0)}),
    ("probe at bone", {"t11": site(sounding_mm=2.5, probing_mm=2.5)}),
    ("readings within their errors", {"t11": site(margin_mm=[8.0, 8.3])}),
    ("crest near the sum", {"t11": site(margin_mm=8.0, sounding_mm=3.0, crest_mm=11.5)}),
    (
        "crest of another visit",
        {
            "t11": site(
                margin_mm={"value": 8, "datum": "present_edge", "at": "2026-01-01"},
                sounding_mm={"value": 3, "at": "2026-01-01"},
                crest_mm={"value": 13.5, "datum": "present_edge", "at": "2026-03-01"},
            )
        },
    ),
    (
        "same level from two edges",
        {
            "t11": site(margin_mm=[8.1, {"value": 8.6, "datum": "planned_edge"}])
            | {"incisal_extension_mm": 0.5, "restoration": "planned"}
        },
    ),
    ("canine for a lateral", {"t13": {"role": "12"}, "t12": {"status": "absent"}}),
    ("papilla read alike from both sides", {"t11": ROOMY | site("mesial", margin_mm=4.4), "t21": ROOMY | site("mesial", margin_mm=4.5)}),
    ("neighbours' tips without edge heights", {"t11": site("mesial", margin_mm=2.0), "t21": site("mesial", margin_mm=8.0)}),
    ("root covered by a crown", {"t11": {"root_cover_mm": 0.5, "restoration": "planned"}}),
]  # fmt: skip

NOTED: list[tuple[str, dict[str, Any], str]] = [
    ("crest coronal to the CEJ", {"t11": site(cej_mm=11.0, crest_mm=10.5)}, "teeth.11.sites.midfacial.cej_mm"),
    ("the same by sounding", {"t11": site(margin_mm=8.0, sounding_mm=2.0, cej_mm=10.5)}, "teeth.11.sites.midfacial.cej_mm"),
    ("probe just past bone", {"t11": site(sounding_mm=2.0, probing_mm=2.5)}, "teeth.11.sites.midfacial.sounding_mm"),
    ("zenith mesial", {"t11": {"zenith_offset_mm": -0.8}}, "teeth.11.zenith_offset_mm"),
    ("deep sounding", {"t11": site(sounding_mm=7.0)}, "teeth.11.sites.midfacial.sounding_mm.0"),
    ("implant with a CEJ", {"t11": {"status": "implant"} | site(cej_mm=10.0)}, "teeth.11.status"),
    ("role of the other side", {"t11": {"role": "21"}}, "teeth.11.role"),
    ("role taken twice", {"t13": {"role": "12"}, "t12": {}}, "teeth.12.role"),
    ("longer without restoration", {"t11": {"incisal_extension_mm": 0.5, "restoration": "none"}}, "teeth.11.incisal_extension_mm"),
    ("reference without sounding", {"t11": site(healthy_reference=True)}, "teeth.11.sites.midfacial.healthy_reference"),
    ("lost papilla", {"t11": {"sites": {"midfacial": {"margin_mm": 7.0}, "mesial": {"margin_mm": 8.0}}}}, "teeth.11.sites.mesial.margin_mm"),
    (
        "papilla from two sides",
        {"t11": ROOMY | site("mesial", margin_mm=4.0), "t21": ROOMY | site("mesial", margin_mm=5.5)},
        "teeth.21.sites.mesial.margin_mm",
    ),
]  # fmt: skip

REFUSED: list[tuple[str, dict[str, Any], str]] = [
    ("tip and margin swapped", {"t11": {"sites": {"midfacial": {"margin_mm": 4.4}, "mesial": {"margin_mm": 8.1}}}}, "teeth.11.sites.mesial.margin_mm"),
    ("the same lingually", {"t11": {"sites": {"midlingual": {"margin_mm": 4.4}, "distal_lingual": {"margin_mm": 8.1}}}}, "teeth.11.sites.distal_lingual.margin_mm"),
    ("apex above the crest", {"t11": {"root_apex_mm": 10.0} | site(crest_mm=11.0)}, "teeth.11.root_apex_mm"),
    ("apex above the CEJ", {"t11": {"root_apex_mm": 9.0} | site(cej_mm=10.0)}, "teeth.11.root_apex_mm"),
    ("furcation above the CEJ", {"t16": {"furcation_mm": {"facial": 6.0}} | site(cej_mm=8.0)}, "teeth.16.furcation_mm.facial"),
    ("furcation above the mesial CEJ", {"t16": {"furcation_mm": {"mesial": 6.0}} | site("mesial", cej_mm=7.0)}, "teeth.16.furcation_mm.mesial"),
    ("datum out of reach", {"t11": {"datum_offset_mm": {"template": 40.0}}}, "teeth.11.datum_offset_mm.template"),
    (
        "papilla from two sides too far apart",
        {"t11": ROOMY | site("mesial", margin_mm=3.0), "t21": ROOMY | site("mesial", margin_mm=6.5)},
        "teeth.21.sites.mesial.margin_mm",
    ),
    (
        "lingual papilla from two sides",
        {"t12": ROOMY | site("mesial_lingual", margin_mm=3.0), "t11": ROOMY | site("distal_lingual", margin_mm=6.5)},
        "teeth.11.sites.distal_lingual.margin_mm",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("name", "teeth"), ORDINARY, ids=[row[0] for row in ORDINARY])
def test_the_ordinary_passes_without_a_word(name: str, teeth: dict[str, Any]) -> None:
    """What happens in sound mouths is neither refused nor noted."""
    assert verdicts(case_of(**teeth)) == {}, name


@pytest.mark.parametrize(("name", "teeth", "path"), NOTED, ids=[row[0] for row in NOTED])
def test_the_unusual_is_noted(name: str, teeth: dict[str, Any], path: str) -> None:
    """What happens in some mouths is kept and noted at its place."""
    assert verdicts(case_of(**teeth)) == {path: False}, name


@pytest.mark.parametrize(("name", "teeth", "path"), REFUSED, ids=[row[0] for row in REFUSED])
def test_the_impossible_is_refused(name: str, teeth: dict[str, Any], path: str) -> None:
    """What happens in no mouth is refused at its place."""
    assert [where for where, is_refused in verdicts(case_of(**teeth)).items() if is_refused] == [path], name


def test_swapped_mesial_and_distal_are_asked_for_by_tooth() -> None:
    """When exchanging one tooth's sides would bring the papilla together, the question names that tooth."""
    case = case_of(
        t11=ROOMY | {"sites": {"mesial": {"margin_mm": 6.6}, "distal": {"margin_mm": 3.0}}},
        t21=ROOMY | {"sites": {"mesial": {"margin_mm": 3.2}, "distal": {"margin_mm": 3.3}}},
    )
    (concern,) = (concern for concern in concerns(case) if concern.is_refused)
    assert concern.do == "Are mesial and distal of 11 swapped? Exchanged, the two would lie 0.2 mm apart."


def test_heights_and_not_levels_are_compared_across_a_papilla() -> None:
    """A shorter neighbour's edge lies higher: its tip has a smaller level and the same height."""
    shorter = {"edge_height_mm": 4.0, "incisal_extension_mm": 0.0}
    case = case_of(t11=ROOMY | site("distal", margin_mm=6.0), t12=shorter | site("mesial", margin_mm=2.0))
    assert verdicts(case) == {}


def test_a_planned_edge_reading_is_checked_as_what_it_is() -> None:
    """8.6 from an edge to be lengthened by 0.5 is 8.1 from the present edge (design section 2): no contradiction."""
    lengthened = {"incisal_extension_mm": 0.5, "restoration": "planned"}
    reading = {"value": 8.6, "datum": "planned_edge"}
    assert verdicts(case_of(t11=lengthened | site(margin_mm=[8.1, reading]))) == {}
    shortened = {"incisal_extension_mm": -0.5}
    assert verdicts(case_of(t11=shortened | site(margin_mm=[8.1, reading]))) == {
        "teeth.11.sites.midfacial.margin_mm.1": True
    }


def test_a_converted_level_is_told_with_what_was_written() -> None:
    """Nobody can find 26.8 in a file that says 20.8."""
    mark = {"datum_offset_mm": {"template": 6.0}}
    written = {"value": 20.8, "datum": "template"}
    (alone,) = concerns(case_of(t11=mark | site(margin_mm=written)))
    assert alone.found == "26.8 mm from the present edge (20.8 mm from template)"
    apart = concerns(case_of(t11=mark | site(margin_mm=[8.0, {"value": 3.5, "datum": "template"}])))
    assert [concern.found for concern in apart if concern.is_refused] == [
        "9.5 mm from the present edge (3.5 mm from template) beside 8 mm for the same quantity: 1.5 mm apart"
    ]


def test_every_number_in_mm_or_degrees_has_a_range() -> None:
    """A new field of the case must say what is possible before it can be read."""
    for model in (ToothChart, SiteChart, PapillaChart, Smile, Face, PolicyChoice):
        for key, info in model.model_fields.items():
            if key.endswith(("_mm", "_deg")) and key != "datum_offset_mm":
                assert key in RANGES, key
                assert not isinstance(bare(info.annotation), type) or not issubclass(bare(info.annotation), Reading)


def test_every_range_is_ordered_and_names_its_source() -> None:
    """Usual lies within possible, and each source is an evidence row or marked as common practice."""
    for key, allowed in RANGES.items():
        assert allowed.low <= allowed.usual_low < allowed.usual_high <= allowed.high, key
        ids = re.findall(r"[A-Z]{2,4}-\d{3}", allowed.source)
        for row in ids:
            assert published(row).id == row
        assert ids or "common practice, no source" in allowed.source or "practice notes" in allowed.source, key


@pytest.mark.parametrize(
    ("key", "row"),
    [
        ("sounding_mm", "STA-015"),  # Arora 2013, median 3.5, range 1.8-6.2
        ("sounding_mm", "STA-018"),  # Ramirez 2013, midfacial 2.70
        ("margin_mm", "CRN-008"),  # Sterrett 1999, lateral of women 7.79
        ("margin_mm", "CRN-032"),  # Magne 2003, unworn central 11.69
        ("width_mm", "CRN-006"),  # Sterrett 1999, lateral of women 6.13
        ("bone_thickness_mm", "ERR-028"),  # 0.55
        ("gingiva_thickness_mm", "STA-023"),  # 1.45
        ("zenith_offset_mm", "GIN-001"),  # Chu 2009, 1.0
        ("zenith_offset_mm", "GIN-007"),  # Pankhem, canine 0.13
    ],
)
def test_published_means_are_usual(key: str, row: str) -> None:
    """A value that a paper prints as its mean must never be called unusual."""
    assert RANGES[key].usual_low <= published(row).value <= RANGES[key].usual_high

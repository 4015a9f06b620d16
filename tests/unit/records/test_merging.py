"""Kept readings laid into a case, and kept readings that contradict each other."""

from __future__ import annotations

import datetime as dt

import pytest

from festoon.model.case import Case
from festoon.model.dentition import Site
from festoon.model.reading import Datum, Method
from festoon.records.conflicts import conflicts
from festoon.records.intake.understood import ChartReading
from festoon.records.merging import begun_case, with_readings

DAY = dt.date(2026, 3, 2)


def _reading(quantity: str, value: float, **other: object) -> ChartReading:
    base = ChartReading("c-1", "11", None, quantity, value, None, None, None, None, None, None, 1)
    return base._replace(**other)  # type: ignore[arg-type]  # any field of the tuple


def test_each_reading_goes_to_its_place() -> None:
    """Site, tooth, root surface, papilla: with error, method, datum, day and hand as kept."""
    readings = [
        _reading(
            "margin_level",
            8.1,
            site=Site.MIDFACIAL,
            datum=Datum.TEMPLATE,
            se=0.2,
            method=Method.SCAN,
            at=DAY,
            by="op-2",
        ),
        _reading("crown_width", 8.6),
        _reading("furcation_level", 14.0, tooth="16", site=Site.MIDFACIAL, datum=Datum.PRESENT_EDGE),
        _reading("root_distance", 2.1, site=Site.MESIAL),
        _reading("root_distance", 1.4, tooth="12", site=Site.DISTAL),
        _reading("root_apex_level", 23.0, datum=Datum.PRESENT_EDGE),
    ]
    merged = with_readings(begun_case("c-1", readings), readings)
    assert merged.placed == tuple(range(6))
    assert merged.left_out == ()
    (margin,) = merged.case.teeth["11"].sites[Site.MIDFACIAL].margin_mm
    assert (margin.value, margin.datum, margin.se, margin.method, margin.at, margin.by) == (
        8.1, Datum.TEMPLATE, 0.2, Method.SCAN, DAY, "op-2",
    )  # fmt: skip
    assert merged.case.teeth["11"].width_mm[0].value == 8.6
    assert merged.case.teeth["16"].furcation_mm["facial"][0].value == 14.0
    assert merged.case.papillae["11-21"].root_distance_mm[0].value == 2.1
    assert merged.case.papillae["13-12"].root_distance_mm[0].value == 1.4


def test_a_papilla_is_found_by_who_stands_beside_not_by_number() -> None:
    """The septum mesial of a canine in a lateral's place lies between it and the central."""
    case = Case.model_validate({"case": "c-1", "notation": "fdi", "teeth": {"13": {"role": "12"}, "11": {}}})
    merged = with_readings(case, [_reading("root_distance", 1.9, tooth="13", site=Site.MESIAL)])
    assert merged.case.papillae["13-11"].root_distance_mm[0].value == 1.9


def test_what_the_chart_has_no_place_for_is_counted_not_lost_in_silence() -> None:
    """Recession counts from the CEJ; a probing depth of a whole tooth has no site; behind a third molar is no papilla."""
    readings = [
        _reading("recession", 1.0, site=Site.MIDFACIAL),
        _reading("recession", 2.0, site=Site.MESIAL),
        _reading("probing_depth", 2.5),
        _reading("root_distance", 2.0, tooth="18", site=Site.DISTAL),
    ]
    merged = with_readings(begun_case("c-1", readings), readings)
    assert merged.placed == ()
    assert merged.left_out[0].startswith("1 x probing depth of a whole tooth")
    assert merged.left_out[1].startswith("2 x recession")
    assert merged.left_out[2].startswith("1 x root distance")


def test_the_file_of_the_case_stays_as_it_is() -> None:
    """A kept reading stands beside what the file says, in its order."""
    data = {"case": "c-1", "notation": "fdi", "teeth": {"11": {"width_mm": 8.5, "status": "natural"}}}
    merged = with_readings(Case.model_validate(data), [_reading("crown_width", 8.6)])
    assert [reading.value for reading in merged.case.teeth["11"].width_mm] == [8.5, 8.6]
    assert merged.case.teeth["11"].status == "natural"


def test_a_conflict_names_the_odd_one() -> None:
    """Three widths, one of them of another tooth: named, with what the others agree on."""
    found = conflicts([_reading("crown_width", value, se=0.1, line=i) for i, value in enumerate((8.5, 6.4, 8.6), 1)])
    assert len(found) == 1
    assert found[0].together.odd_one == 1
    assert "without the 6.4 mm the others agree on 8.55 ± 0.071 mm" in str(found[0])


@pytest.mark.parametrize(
    "other",
    [{"at": DAY}, {"site": Site.MESIAL}, {"tooth": "21"}, {"case": "c-2"}, {"quantity": "root_apex_level"}],
)
def test_only_the_same_is_compared(other: dict[str, object]) -> None:
    """Another day, site, tooth, case or quantity is another thing."""
    assert conflicts([_reading("crown_width", 8.5, se=0.1), _reading("crown_width", 6.4, se=0.1)])
    assert (
        conflicts([_reading("crown_width", 8.5, se=0.1), _reading("crown_width", 6.4, se=0.1)._replace(**other)]) == []
    )  # type: ignore[arg-type]  # any field

"""Readings of another source taken into a chart: where they go, what they stand beside, what stays outside."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from festoon.errors import InputRefusedError
from festoon.model.dentition import Site
from festoon.model.quantities import Quantity, QuantityReading
from festoon.model.reading import Datum, Method
from festoon.records.casefile import parse_case
from festoon.records.editing import edited
from festoon.store.opening import open_store
from festoon.workflow.desk import open_on_desk
from festoon.workflow.records import column_map, keep_case_bytes, keep_table, read_table
from festoon.workflow.taking_readings import take_readings, takeable

CASE = b"""format: festoon-case/1
case: taken-1
notation: fdi
examined_at: 2026-03-01
teeth:
  "11": {width_mm: 8.6, incisal_extension_mm: 0.5, sites: {midfacial: {margin_mm: {value: 9.0, datum: present_edge, method: calliper, at: 2026-03-01}}}}
  "12": {width_mm: 6.6, incisal_extension_mm: 0}
  "21": {width_mm: 8.6, incisal_extension_mm: 0.5}
"""
DAY = dt.date(2026, 3, 1)


def reading(tooth: str, quantity: Quantity, value: float, site: Site | None = None, **more: object) -> QuantityReading:
    datum = Datum.PRESENT_EDGE if quantity.is_level else None
    return QuantityReading(
        tooth=tooth, site=site, quantity=quantity, value=value, se=0.1, method=Method.SCAN, datum=datum, **more
    )


def test_a_reading_stands_beside_that_of_another_method_and_replaces_its_own() -> None:
    """Two methods are combined by their errors; the same method on the same day is measured once."""
    case = parse_case(CASE, "case.yaml").case
    first = takeable(case, [reading("11", Quantity.MARGIN_LEVEL, 9.123, Site.MIDFACIAL)], at=DAY).changes
    kept = first["teeth.11.sites.midfacial.margin_mm"]
    assert [one["method"] for one in kept] == ["calliper", "scan"]
    assert kept[1] == {"value": 9.12, "se": 0.1, "method": "scan", "datum": "present_edge", "at": "2026-03-01"}
    again = takeable(edited(case, first).case, [reading("11", Quantity.MARGIN_LEVEL, 9.2, Site.MIDFACIAL)], at=DAY)
    assert [one["value"] for one in again.changes["teeth.11.sites.midfacial.margin_mm"]] == [9.0, 9.2]


def test_heights_of_edges_are_of_the_planned_edge() -> None:
    """12 stays, the centrals get 0.5 mm longer: 12 then lies 0.5 mm further apical of them."""
    case = parse_case(CASE, "case.yaml").case
    heights = {"11": 0.1, "21": -0.1, "12": 0.6}
    found = takeable(case, [reading(t, Quantity.EDGE_HEIGHT, h) for t, h in heights.items()])
    assert found.changes == pytest.approx(
        {"teeth.11.edge_height_mm": 0.1, "teeth.21.edge_height_mm": -0.1, "teeth.12.edge_height_mm": 1.1}
    )


def test_what_a_smile_photograph_tells_goes_to_smile_and_face() -> None:
    """Display is that of the two centrals; the others' readings are silent, for the case has no place for them."""
    case = parse_case(CASE, "case.yaml").case
    found = takeable(
        case,
        [
            *(reading(t, Quantity.GINGIVAL_DISPLAY, v) for t, v in {"12": 4.0, "11": 3.0, "21": 3.5}.items()),
            QuantityReading(quantity=Quantity.MIDLINE_SHIFT, value=-0.8, se=0.3),
            QuantityReading(quantity=Quantity.OCCLUSAL_CANT, value=1.5, unit="deg", se=0.4),
        ],
    )
    assert found.changes == {
        "smile.gingival_display_mm": 3.25, "face.midline_shift_mm": -0.8, "face.occlusal_cant_deg": 1.5,
    }  # fmt: skip
    assert found.left == ()


def test_what_the_chart_does_not_hold_is_left_out_with_why() -> None:
    """Derived lengths are silent; a tooth that is not in the case and an unsaid extension are said."""
    case = parse_case(CASE.replace(b", incisal_extension_mm: 0}", b"}"), "case.yaml").case
    found = takeable(
        case,
        [
            reading("11", Quantity.CROWN_LENGTH, 9.4),
            reading("24", Quantity.CROWN_WIDTH, 7.0),
            *(reading(t, Quantity.EDGE_HEIGHT, 0.0) for t in ("11", "12", "21")),
        ],
    )
    assert set(found.changes) == {"teeth.11.edge_height_mm", "teeth.21.edge_height_mm"}
    assert any("24" in line and "no such tooth" in line for line in found.left)
    assert any("12" in line and "0 must be said" in line for line in found.left)


def test_taken_readings_are_a_new_version_and_an_impossible_one_is_refused_whole(tmp_path: Path) -> None:
    """Nothing is half written: either all chosen readings are in a new version, or none."""
    store = open_store(tmp_path)
    keep_case_bytes(store, CASE, "case.yaml", by="tester", why="for a test")
    base = open_on_desk(store, "taken-1").version
    good = reading("11", Quantity.CROWN_WIDTH, 8.7)
    saved, left = take_readings(store, "taken-1", base, [good], at=DAY, by="tester", why="taken")
    assert (saved.version, left) == (base + 1, ())
    assert [one.value for one in open_on_desk(store, "taken-1").case.teeth["11"].width_mm] == [8.6, 8.7]
    wild = reading("12", Quantity.CROWN_WIDTH, 66.0)
    with pytest.raises(InputRefusedError, match="66"):
        take_readings(store, "taken-1", base + 1, [good, wild], at=DAY, by="tester", why="taken")
    with pytest.raises(InputRefusedError, match="nothing that the chart holds"):
        take_readings(
            store, "taken-1", base + 1, [reading("11", Quantity.CROWN_LENGTH, 9.4)], at=DAY, by="tester", why="taken"
        )
    assert open_on_desk(store, "taken-1").version == base + 1


def test_a_reading_kept_beside_the_case_is_not_counted_twice(tmp_path: Path) -> None:
    """A width imported as a reading and one of a scan are two readings, not three: a third would shrink the error for nothing."""
    store = open_store(tmp_path / "home")
    keep_case_bytes(
        store, CASE.replace(b"{width_mm: 8.6, incisal", b"{incisal"), "case.yaml", by="tester", why="for a test"
    )
    table = tmp_path / "widths.csv"
    table.write_text("tooth,width_mm,date\n11,8.6,2026-03-01\n")
    kept = read_table(table, column_map(None, None, {"notation": "fdi"}))
    assert kept.faults == ()
    keep_table(store, kept, "taken-1", by="tester", why="for a test")
    opened = open_on_desk(store, "taken-1")
    assert [one.value for one in opened.case.teeth["11"].width_mm] == [8.6]
    take_readings(
        store, "taken-1", opened.version, [reading("11", Quantity.CROWN_WIDTH, 8.7)], at=DAY, by="tester", why="taken"
    )
    assert sorted(one.value for one in open_on_desk(store, "taken-1").case.teeth["11"].width_mm) == [8.6, 8.7]

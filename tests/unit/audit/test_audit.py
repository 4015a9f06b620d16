"""The audit: estimates, tables, charts, and its coverage of a truth that is known."""

from __future__ import annotations

import json
import re
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd
import pytest

from festoon.audit.engine import estimates, gather
from festoon.audit.estimates import estimate, own_error, wilson
from festoon.audit.learning import course
from festoon.audit.table import COLUMNS
from festoon.drawings.audit_shares import draw_course, draw_differences
from festoon.errors import InputRefusedError
from festoon.phantom.practice import PracticeTruth, make_practice
from festoon.workflow.auditing import audit_paths
from festoon.workflow.practising import make_practice_files, write_table


def engine_of(table: dict) -> duckdb.DuckDBPyConnection:
    engine = duckdb.connect()
    engine.execute("SET threads = 1")
    engine.register("frame", pd.DataFrame(table))
    numbers = {name for name, kind in COLUMNS.items() if kind == "DOUBLE"}
    columns = ", ".join(f'nullif("{n}", \'nan\'::DOUBLE) AS "{n}"' if n in numbers else f'"{n}"' for n in COLUMNS)
    engine.execute(f"CREATE TABLE rows AS SELECT {columns} FROM frame")
    gather(engine)
    return engine


def test_wilson_interval_is_the_textbook_one() -> None:
    """0 of 10: upper limit z²/(n + z²) = 3.8415/13.8415 = 0.2775, by hand from Wilson's formula."""
    low, high = wilson(0.0, 10)
    assert low == 0.0
    assert high == pytest.approx(0.2775, abs=5e-5)


def test_a_case_far_off_is_outside_the_limits_and_few_cases_have_none() -> None:
    """One case off by 2 mm among small ones is seen; seven cases get no limits."""
    means = (*(0.1 * (-1) ** k for k in range(20)), 2.0)
    assert 21 in course("op", tuple(range(1, 22)), means).outside
    assert course("op", tuple(range(1, 8)), means[:7]).upper_mm is None


def test_sites_of_one_patient_do_not_count_as_patients() -> None:
    """Every site twenty times over leaves the interval of the bias where it was."""
    table = make_practice(3, 0, 30, PracticeTruth())
    once = estimates(engine_of(table), "all")["margin_cut", "all"]
    again = {name: np.concatenate([values] * 20) for name, values in table.items()}
    many = estimates(engine_of(again), "all")["margin_cut", "all"]
    assert many.sites == 20 * once.sites
    assert many.bias_ci_mm == pytest.approx(once.bias_ci_mm)


def test_folders_and_table_give_the_same_audit(tmp_path: Path) -> None:
    """A case on disk means what its rows mean."""
    make_practice_files(4, 5, tmp_path / "cases")
    make_practice_files(4, 5, tmp_path / "table", table_only=True)
    folders, table = (audit_paths([tmp_path / name]).as_dict() for name in ("cases", "table"))
    assert folders["counts"] == table["counts"]
    for one, other in zip(folders["estimates"], table["estimates"], strict=True):
        assert one["bias_mm"] == pytest.approx(other["bias_mm"], abs=1e-3)
        assert one["within_half_mm"] == pytest.approx(other["within_half_mm"], abs=0.02)


def test_output_holds_no_code_of_a_case(tmp_path: Path) -> None:
    """The exported rows name no case as the practice does, and can be audited again."""
    make_practice_files(6, 5, tmp_path / "table", table_only=True)
    audit_paths([tmp_path / "table"], tmp_path / "out")
    assert "case-0" not in (tmp_path / "out" / "sites.csv").read_text()
    assert json.loads((tmp_path / "out" / "audit.json").read_text())["format"] == "festoon-audit-report/1"
    assert (tmp_path / "out" / "report.pdf").read_bytes()[:4] == b"%PDF"
    assert audit_paths([tmp_path / "out" / "sites.csv"]).counts["cases"] == 6


def test_a_table_without_a_column_is_refused(tmp_path: Path) -> None:
    """The fault names the file and the column."""
    table = make_practice(1, 0, 2, PracticeTruth())
    path = write_table(table, tmp_path / "whole.parquet")
    with duckdb.connect() as engine:
        engine.execute(f"COPY (SELECT * EXCLUDE (se_mm) FROM '{path}') TO '{tmp_path}/short.parquet'")
    with pytest.raises(InputRefusedError, match="se_mm"):
        audit_paths([tmp_path / "short.parquet"])


@pytest.mark.parametrize(
    ("column", "value", "named"),
    [
        ("quantity", "'sounding'", "quantity"),
        ("tooth", "'99'", "tooth"),
        ("site", "'middle'", "site"),
        ("planned_mm", "900.0", "levels"),
        ("se_mm", "0.0", "se_mm"),
        ("days", "NULL", "days"),
    ],
)
def test_rows_that_no_reading_can_be_are_refused(tmp_path: Path, column: str, value: str, named: str) -> None:
    """A depth among the levels would be counted as a margin; every such column is named."""
    path = write_table(make_practice(1, 0, 2, PracticeTruth()), tmp_path / "whole.parquet")
    with duckdb.connect() as engine:
        engine.execute(
            f"COPY (SELECT * REPLACE ({value} AS {column}) FROM '{path}' WHERE moment = 'recall') TO '{tmp_path}/odd.csv' (HEADER)"
        )
    with pytest.raises(InputRefusedError, match=named):
        audit_paths([tmp_path / "odd.csv"])


def test_a_patient_of_two_paths_is_refused(tmp_path: Path) -> None:
    """The same code of the same practice in two paths is one patient counted twice, or two taken for one."""
    for seed, name in ((1, "east"), (2, "west")):
        (tmp_path / name).mkdir()
        write_table(make_practice(seed, 0, 3, PracticeTruth()), tmp_path / name / "a.parquet")
    with pytest.raises(InputRefusedError, match=r"3 cases of the practice practice-a .*east"):
        audit_paths([tmp_path / "east", tmp_path / "west"])
    with pytest.raises(InputRefusedError, match="named before"):
        audit_paths([tmp_path / "east", tmp_path / "east"])


def test_what_is_offered_to_a_practice_is_its_own(tmp_path: Path) -> None:
    """Sounding 0.6 mm wide in one practice and 0.2 in the other: each is offered its own, not what lies between."""
    wide, narrow = PracticeTruth(), PracticeTruth(sounding_sd_mm=0.2)
    write_table(make_practice(1, 0, 40, wide, "east"), tmp_path / "east.parquet")
    write_table(make_practice(2, 0, 40, narrow, "west"), tmp_path / "west.parquet")
    offers = audit_paths([tmp_path / "east.parquet", tmp_path / "west.parquet"]).offers
    own = {offer.practice: offer.value for offer in offers if offer.key and offer.key.endswith("sounding_mm.se")}
    assert own == pytest.approx({"east": 0.6, "west": 0.2}, abs=0.05)
    assert not any(offer.applied for offer in offers)


def test_nobody_stands_in_a_plot_as_if_known_who_is_not() -> None:
    """One patient has no interval: the circle is hollow and says so."""
    svg = draw_differences(
        "Cut", [("all", 9, 0.1, (0.0, 0.2), -0.5, 0.7), ("operator: op-9", 1, 0.0, None, None, None)]
    )
    assert svg.count("no interval") == 1


def test_the_course_of_whoever_has_limits_is_drawn_first() -> None:
    """Seven operators with few cases do not push out the one whose limits are known, and all fits a page."""
    few = [(f"a-{k}", (1, 2), (0.1, 0.2), None, None, None, "2 cases") for k in range(7)]
    svg = draw_course([*few, ("z-9", tuple(range(1, 10)), (0.1,) * 9, 0.1, -0.2, 0.4, "9 cases")])
    assert "z-9" in svg
    assert "7 more operators" in svg
    many = draw_course([(f"a-{k}", (1, 2), (0.1, 0.2), 0.1, -0.2, 0.4, "9 cases") for k in range(9)])
    width, height = (float(n) for n in re.search(r'width="([0-9.]+)mm" height="([0-9.]+)mm"', many).groups())
    assert height / width < 275 / 190  # an A4 page inside its margins


@pytest.mark.slow
def test_the_bias_at_suturing_is_held_as_often_as_it_is_said() -> None:
    """1000 practices, each summed by hand: 95 % within three standard errors of a share (0.7 %)."""
    truth = PracticeTruth()
    held = []
    for seed in range(1000):
        table = make_practice(seed, 0, 80, truth)
        low, high = estimate(by_hand(table, table["moment"] == "suture")).bias_ci_mm
        held.append(low <= truth.suture_bias_mm <= high)
    assert 0.929 <= np.mean(held) <= 0.971


def by_hand(table: dict, rows: np.ndarray) -> list[dict]:
    """The sums of each operator's patients, without the engine."""
    off = (table["measured_mm"] - table["planned_mm"])[rows]
    case, operator = table["case"][rows], table["operator"][rows]
    found = []
    for name in np.unique(operator):
        mine = operator == name
        _, patient = np.unique(case[mine], return_inverse=True)
        d = off[mine]
        one = {
            "n": np.bincount(patient).astype(float),
            "a": np.bincount(patient, d),
            "b": np.bincount(patient, d * d),
            "w": np.bincount(patient, (np.abs(d) <= 0.5 + 1e-9).astype(float)),
        }
        sums = {key: float(values.sum()) for key, values in one.items()}
        sums |= {i + j: float((one[i] * one[j]).sum()) for i, j in ("nn", "na", "nb", "aa", "ab", "bb", "nw", "ww")}
        found.append(sums | {"patients": len(one["n"]), "se2": None})
    return found


def test_the_engine_sums_as_by_hand() -> None:
    """Bias, limits of agreement and share of the engine's sums are those of sums made without it."""
    table = make_practice(4, 0, 30, PracticeTruth())
    engine, hand = (
        estimates(engine_of(table), "all")["sutured", "all"],
        estimate(by_hand(table, table["moment"] == "suture")),
    )
    for name in ("bias_mm", "bias_ci_mm", "lower_loa_ci_mm", "upper_loa_ci_mm", "within_half_ci"):
        assert getattr(engine, name) == pytest.approx(getattr(hand, name)), name


@pytest.mark.slow
def test_intervals_hold_the_truth_nine_times_in_ten() -> None:
    """Over 150 practices of 80 cases, 95 % intervals hold bias, operator bias, error of sounding and rebound in 90-98 %."""
    shares = coverage(150)
    assert shares
    assert {name: share for name, share in shares.items() if not 0.90 <= share <= 0.98} == {}


def coverage(runs: int) -> dict[str, float]:
    """Share of practices whose interval holds the truth, by quantity."""
    truth = PracticeTruth()
    large = estimates(engine_of(make_practice(999_999, 0, 20_000, truth)), "distance")
    held: dict[str, list[bool]] = {}

    def note(name: str, interval: tuple[float, float] | None, true: float) -> None:
        held.setdefault(name, []).append(interval is not None and interval[0] <= true <= interval[1])

    for seed in range(runs):
        engine = engine_of(make_practice(seed, 0, 80, truth))
        by = estimates(engine, "all")
        note("cut bias", by["margin_cut", "all"].bias_ci_mm, float(np.mean(truth.cut_bias_mm)))
        note("suture bias", by["sutured", "all"].bias_ci_mm, truth.suture_bias_mm)
        note("sounding bias", by["sounding", "all"].bias_ci_mm, truth.sounding_bias_mm)
        own = own_error(by["sounding", "all"])
        note("sounding error", own[1] if own else None, truth.sounding_sd_mm)
        operators = estimates(engine, "operator")
        for name, bias in zip(truth.operators, truth.cut_bias_mm, strict=True):
            note(f"cut bias of {name}", operators["margin_cut", f"practice-a/{name}"].bias_ci_mm, bias)
        for (_, band), found in estimates(engine, "distance").items():
            if band not in ("under 1.5", "not said"):  # too few patients by far in 80 cases; sites of every distance
                note(f"rebound {band}", found.bias_ci_mm, large["rebound", band].bias_mm)
        engine.close()
    return {name: float(np.mean(values)) for name, values in held.items()}


def test_operators_are_strata_not_scatter() -> None:
    """Two operators 1 mm apart, four patients each: the bias is 0.5 ± t(6) sqrt(0.04/12 + 0.16/12)/2, by hand; their distance is not in it."""
    sums = []
    for values in ((-0.1, -0.1, 0.1, 0.1), (0.8, 0.8, 1.2, 1.2)):
        a, b = np.array(values), np.array(values) ** 2
        ones, w = np.ones(4), (np.abs(a) <= 0.5).astype(float)
        products = {
            "n": ones,
            "a": a,
            "b": b,
            "w": w,
            "nn": ones,
            "na": a,
            "nb": b,
            "aa": a * a,
            "ab": a * b,
            "bb": b * b,
        }
        products |= {"nw": w, "ww": w * w}
        sums.append({"patients": 4, "se2": None} | {name: float(v.sum()) for name, v in products.items()})
    found = estimate(sums)
    variance = (0.04 / 3 / 4 + 0.16 / 3 / 4) / 4
    half = 2.4469 * variance**0.5
    assert found.bias_mm == pytest.approx(0.5)
    assert found.bias_ci_mm == pytest.approx((0.5 - half, 0.5 + half), abs=1e-4)


def test_the_synthetic_practice_has_every_kind_of_site_and_work() -> None:
    """Sites between the teeth and lingual ones, three procedures, four kinds of template: each has its own line."""
    engine = engine_of(make_practice(3, 0, 60, PracticeTruth()))
    values = {
        name: {value for _, value in estimates(engine, name)} for name in ("site_type", "procedure", "template_kind")
    }
    assert values["site_type"] == {"interproximal", "facial", "line_angle", "lingual"}
    assert len(values["procedure"]) == 3
    assert len(values["template_kind"]) == 4
    assert ("margin_cut", "interproximal") not in estimates(engine, "site_type")  # nothing is cut there

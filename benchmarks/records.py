"""How fast the records are: 10,000 cases listed, searched and opened; a table of 65,228 teeth read, beside pandas.

    python benchmarks/records.py [FOLDER]     FOLDER holds perio-tables (default: ../shared/data)

Every query is the app's own. Times are medians of 15 runs, in milliseconds; the table is the best of three.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from festoon.records.casefile import parse_case
from festoon.records.demo import TITLES, demo_case
from festoon.records.identities import broken_sums
from festoon.records.intake.column_map import ColumnMap
from festoon.records.intake.files import table_intake
from festoon.store import looking
from festoon.store.opening import open_store
from festoon.store.store import Store
from festoon.store.tables import case_versions, cases, plan_readings, plans, readings, signatures
from festoon.store.trail import Act, digest

N_CASES = 10_000
N_READINGS = 30
MAP = {
    "notation": "universal",
    "columns": {
        "id": {"holds": "case"},
        "tooth": {"holds": "tooth"},
        "x4": {"holds": "reading", "quantity": "probing_depth"},
        "x6": {"holds": "reading", "quantity": "attachment"},
        "x8": {"holds": "reading", "quantity": "recession", "positive": "apical"},
    },
}


def fill(store: Store) -> None:
    """Ten thousand cases with a chart, thirty readings, and a signed plan for every second."""
    document = parse_case(demo_case(next(iter(TITLES))), "demo.yaml").case.model_dump_json()
    sha, at = digest(document.encode()), "2026-03-02T09:00:00.000000Z"
    acts: list[Act] = []
    for number in range(N_CASES):
        case = f"site-{number % 7}.{number:05d}"
        key: dict[str, Any] = {"case_id": case, "number": 1}
        kept = {"kept_at": at, "kept_by": "op-1"}
        version = key | kept | {"parent": 0, "document": document, "sha256": sha}
        rows = [
            {"case_id": case, "number": i + 1, "tooth": "11", "site": "midfacial", "quantity": "sounding", "value": 2.0 + i / 100}
            | dict.fromkeys(("se", "method", "datum", "at", "by", "flag")) | {"source": "csv row 2"}
            for i in range(N_READINGS)
        ]  # fmt: skip
        added: dict[Any, list[dict[str, Any]]] = {case_versions: [version], readings: rows}
        if number % 2:
            added[plans] = [key | kept | {"case_version": 1, "supersedes": None, "document": "{}", "sha256": sha}]
            added[plan_readings] = [{"case_id": case, "plan": 1, "reading": i + 1} for i in range(N_READINGS)]
            added[signatures] = [
                key | {"plan": 1, "plan_sha256": sha, "signed_by": "op-1", "signed_at": at, "role": "surgeon", "reason": "ok"}
            ]  # fmt: skip
        acts.append(Act("case saved", "version 1", "benchmark", case, added))
    from sqlalchemy import insert

    with store.write() as write:
        write.connection.execute(
            insert(cases), [{"case_id": act.case, "head": 1, "changed": i} for i, act in enumerate(acts, 1)]
        )
        write.record(acts, "op-1")


def median_ms(work: Callable[[], object], n_runs: int = 15) -> float:
    """Median time of a piece of work, in milliseconds."""
    work()
    times = []
    for _ in range(n_runs):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return 1000 * statistics.median(times)


def best_seconds(work: Callable[[], object], n_runs: int = 3) -> float:
    """The best of some runs, in seconds."""
    times = []
    for _ in range(n_runs):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def queries(folder: Path) -> None:
    """The three queries of the app on a store of ten thousand cases."""
    store = open_store(folder / "home")
    start = time.perf_counter()
    fill(store)
    size = store.home.database.stat().st_size / 1e6
    print(
        f"{N_CASES} cases, {N_CASES * N_READINGS} readings, kept in {time.perf_counter() - start:.1f} s, {size:.0f} MB"
    )
    rows: list[tuple[str, Callable[[], object]]] = [
        ("list all", lambda: looking.list_cases(store)),
        ("list the first 50", lambda: looking.list_cases(store, limit=50)),
        ("search part of an id", lambda: looking.list_cases(store, search="3.04")),
        ("open one case", lambda: looking.open_case(store, "site-3.05001")),
        ("open the store", lambda: open_store(folder / "home")),
    ]
    for name, work in rows:
        print(f"  {name:<24}{median_ms(work):8.1f} ms")


def table(path: Path) -> None:
    """One real table, read by us with every check and by pandas without."""
    import pandas

    data, chosen = path.read_bytes(), ColumnMap.model_validate(MAP)

    def ours() -> None:
        intake, faults = table_intake(data, path.name, chosen)
        assert not faults.found
        assert broken_sums(intake.readings, 0.05)

    def only_numbers() -> None:
        frame = pandas.read_csv(path)
        assert (abs(frame.x6 - frame.x4 - frame.x8) > 0.05).sum()

    print(f"{path.name}, 65,228 teeth")
    print(f"  festoon: readings, each checked, and broken sums   {best_seconds(ours):6.2f} s")
    print(f"  pandas: numbers and broken sums, nothing checked   {best_seconds(only_numbers):6.2f} s")


def main() -> None:
    """Run both."""
    data = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).resolve().parents[2] / "shared" / "data"
    with tempfile.TemporaryDirectory() as folder:
        queries(Path(folder))
    found = data / "perio-tables" / "derived" / "teeth.csv.gz"
    if found.exists():
        table(found)
    else:
        print(f"no table at {found}: name the folder of the data")


if __name__ == "__main__":
    main()

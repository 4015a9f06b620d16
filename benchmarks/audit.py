"""How long the audit of a large synthetic practice takes: ``python benchmarks/audit.py [cases]``."""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

from festoon.workflow.auditing import audit_paths
from festoon.workflow.practising import make_practice_files


def main() -> None:
    """Make the tables, audit them on two threads, print both times."""
    cases = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    with tempfile.TemporaryDirectory() as folder:
        start = time.perf_counter()
        make_practice_files(cases, 7, Path(folder), table_only=True)
        made = time.perf_counter()
        rows = audit_paths([Path(folder)]).counts["rows"]
        print(
            f"{cases} cases, {rows} rows: made in {made - start:.1f} s, audited in {time.perf_counter() - made:.1f} s"
        )


if __name__ == "__main__":
    main()

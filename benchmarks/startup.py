"""What a user waits for: wall time of whole commands, start-up included.

python benchmarks/startup.py [RUNS]
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from festoon.records.demo import TITLES, demo_case

FESTOON = Path(sys.executable).with_name("festoon")


def seconds(*arguments: str) -> float:
    """Wall time of one run of the command."""
    start = time.perf_counter()
    subprocess.run([str(FESTOON), *arguments], check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - start


def main(runs: int) -> None:
    """Print the median and the slowest of several runs of each command."""
    with tempfile.TemporaryDirectory() as folder:
        commands = {"festoon --version": ("--version",), "festoon --help": ("--help",)}
        for name in TITLES:
            case = Path(folder) / f"{name}.yaml"
            case.write_bytes(demo_case(name))
            commands[f"festoon plan {name}.yaml -o DIR"] = ("plan", str(case), "-o", str(Path(folder) / name))
        commands["festoon demo DIR --no-app"] = ("demo", str(Path(folder) / "demo"), "--no-app")
        for title, arguments in commands.items():
            times = [seconds(*arguments) for _ in range(runs)]
            print(f"{title:40} median {statistics.median(times):5.2f} s, slowest {max(times):5.2f} s")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5)

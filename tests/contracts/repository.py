"""Where things are, and what is kept: shared by the contract tests."""

from __future__ import annotations

import subprocess
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "src" / "festoon"


@cache
def kept_files() -> tuple[Path, ...]:
    """Every file under version control; where there is none (an unpacked archive), every file of the source folders."""
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=False)
    if listed.returncode == 0 and listed.stdout:
        return tuple(path for name in listed.stdout.decode().split("\0") if name and (path := ROOT / name).is_file())
    folders = ("src", "tests", "docs", "scripts", "benchmarks")
    return tuple(path for folder in folders for path in (ROOT / folder).rglob("*") if path.is_file())


@cache
def text_of(path: Path) -> str:
    """A kept file as text; empty for a binary one."""
    data = path.read_bytes()
    return "" if b"\0" in data else data.decode("utf-8")


def sources() -> list[Path]:
    """Every module of the package."""
    return sorted(SOURCE.rglob("*.py"))

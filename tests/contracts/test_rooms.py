"""The rooms of the house keep their doors shut."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from pathlib import Path

from repository import ROOT, SOURCE, sources, text_of

LONGEST = 600
"""Lines of a module at most: one idea a file."""


def test_import_contract_holds() -> None:
    """Left may import right, never the reverse."""
    command = [str(Path(sys.executable).with_name("lint-imports")), "--no-cache"]
    run = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stdout + run.stderr


def test_every_room_is_in_the_contract_and_on_the_page() -> None:
    """No room stands outside the contract."""
    contract = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["importlinter"]["contracts"][0]
    named = set(re.findall(r"festoon\.(\w+)", " ".join(contract["layers"])))
    found = {
        p.stem
        for p in SOURCE.iterdir()
        if (p.is_dir() and (p / "__init__.py").exists()) or (p.suffix == ".py" and not p.stem.startswith("__"))
    }
    assert found - {"errors"} == named
    page = (ROOT / "docs" / "house.md").read_text("utf-8")
    assert {room for room in named if f"| `{room}` |" not in page} == set()


def test_modules_hold_one_idea() -> None:
    """No module is longer than the hard stop."""
    long = {str(path.relative_to(SOURCE)): n for path in sources() if (n := len(text_of(path).splitlines())) > LONGEST}
    assert long == {}

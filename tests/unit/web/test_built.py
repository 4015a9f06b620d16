"""The built components are small, whole, and ask nothing of another computer."""

from __future__ import annotations

import gzip
import hashlib
import json
import re
from pathlib import Path

import pytest

BUILT = Path(__file__).resolve().parents[3] / "src" / "festoon" / "web" / "built"
pytestmark = pytest.mark.skipif(
    not (BUILT / "manifest.json").exists(), reason="the components are not built: run python3 scripts/set_up.py front"
)


def test_script_of_every_page_is_small() -> None:
    """At most 250 kB compressed without the 3-D view, which is apart."""
    scripts = [path for path in BUILT.glob("*.js") if path.name != "mesh.js"]
    assert sum(len(gzip.compress(path.read_bytes())) for path in scripts) < 250_000
    assert b"WebGLRenderer" not in (BUILT / "app.js").read_bytes()


def test_list_names_what_is_there() -> None:
    """Cache control goes by these hashes: each must be the hash of its file."""
    files = json.loads((BUILT / "manifest.json").read_text("utf-8"))["files"]
    assert {"app.js", "app.css", "mesh.js"} <= set(files)
    for name, digest in files.items():
        assert hashlib.sha256((BUILT / name).read_bytes()).hexdigest() == digest, name


def test_style_loads_only_what_lies_beside_it() -> None:
    """Fonts come from the bundle."""
    addresses = re.findall(r"url\(([^)]+)\)", (BUILT / "app.css").read_text("utf-8"))
    assert addresses
    for address in addresses:
        assert (BUILT / address.strip("\"'")).is_file(), address


def test_licences_of_others_go_along() -> None:
    """Packages in the bundle are named with their terms."""
    text = (BUILT / "LICENCES.txt").read_text("utf-8")
    assert "SIL Open Font License" in text
    assert text.count("MIT License") >= 2

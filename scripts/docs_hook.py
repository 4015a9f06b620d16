"""Draw the hard cases when the docs are built, so that no drawing has to be kept beside its case."""

from __future__ import annotations

import sys
from pathlib import Path

from mkdocs.config.defaults import MkDocsConfig
from mkdocs.structure.files import File, Files

sys.path.insert(0, str(Path(__file__).resolve().parent))

from pages.cases import case_drawings

HARD_CASES = Path(__file__).resolve().parent.parent / "tests" / "cases" / "hard"


def on_files(files: Files, *, config: MkDocsConfig) -> Files:
    """Add one drawing per hard case."""
    for path, drawing in case_drawings(HARD_CASES).items():
        files.append(File.generated(config, path, content=drawing))
    return files

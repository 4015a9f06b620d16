"""Shared by all tests: where the real data lies, and how it is missed."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

sys.path.insert(0, str(Path(__file__).parent))  # the helpers beside the tests: mouths.py, plans.py

settings.register_profile(
    "festoon", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow], print_blob=True
)
settings.load_profile("festoon")


@pytest.fixture(scope="session")
def shared_data() -> Path:
    """The folder of real data beside the checkout; the test is skipped, loudly, where it is absent."""
    for folder in Path(__file__).resolve().parents:
        candidate = folder / "shared" / "data"
        if candidate.is_dir():
            return candidate
    pytest.skip("REAL DATA ABSENT: no folder shared/data beside this checkout, so nothing real was measured here")

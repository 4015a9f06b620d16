"""The published OpenAPI is kept by the API: made-up requests never crash it, and every answer has its documented shape."""

from __future__ import annotations

from pathlib import Path

import pytest
import schemathesis
from hypothesis import HealthCheck, settings

from desks import desk_at
from festoon.web.app import bare_app


@pytest.fixture(scope="module")
def api(tmp_path_factory: pytest.TempPathFactory) -> object:
    folder: Path = tmp_path_factory.mktemp("home")
    return schemathesis.openapi.from_asgi("/api/openapi.json", bare_app(desk_at(folder)))


schema = schemathesis.pytest.from_fixture("api")


@pytest.mark.slow
@schema.parametrize()
@settings(max_examples=15, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
def test_no_request_crashes_the_api(case: schemathesis.Case) -> None:
    """Status and body are as published; nothing is a crash."""
    case.call_and_validate(
        excluded_checks=[schemathesis.checks.unsupported_method]
        if hasattr(schemathesis.checks, "unsupported_method")
        else None
    )

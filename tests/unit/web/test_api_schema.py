"""The published OpenAPI is kept by the API: made-up requests never crash it, and every answer has its documented shape."""

from __future__ import annotations

from pathlib import Path

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from desks import desk_at
from festoon.web.app import bare_app

CHECKS = [not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance]


@pytest.mark.slow
def test_no_request_crashes_the_api(tmp_path: Path) -> None:
    """Status and body are as published; nothing is a crash."""
    api = schemathesis.openapi.from_asgi("/api/openapi.json", bare_app(desk_at(tmp_path)))
    operations = [found.ok() for found in api.get_all_operations()]
    assert len(operations) >= 15
    for operation in operations:

        @given(case=operation.as_strategy())
        @settings(
            max_examples=12, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck), database=None
        )
        def holds(case: schemathesis.Case) -> None:
            case.call_and_validate(checks=CHECKS)

        holds()

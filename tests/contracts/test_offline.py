"""festoon never uses the network."""

from __future__ import annotations

import ast
import socket
from pathlib import Path

import pytest
from repository import ROOT, SOURCE, sources, text_of

from festoon.workflow import planning as workflow

REACHING_OUT = {
    "socket",
    "ssl",
    "http",
    "urllib",
    "ftplib",
    "smtplib",
    "asyncio",
    "requests",
    "httpx",
    "urllib3",
    "aiohttp",
}


@pytest.mark.parametrize("path", sources(), ids=lambda path: str(path.relative_to(SOURCE)))
def test_no_module_can_reach_out(path: Path) -> None:
    """Nothing that talks to a network is imported."""
    imported = {
        name.split(".")[0]
        for node in ast.walk(ast.parse(text_of(path)))
        for name in (
            [alias.name for alias in node.names]
            if isinstance(node, ast.Import)
            else [node.module or ""]
            if isinstance(node, ast.ImportFrom) and node.level == 0
            else []
        )
    }
    assert imported & REACHING_OUT == set()


def test_a_plan_is_made_with_sockets_forbidden(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """From case file to PDF without a socket."""

    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("something tried to open a socket")

    monkeypatch.setattr(socket, "socket", refuse)
    monkeypatch.setattr(socket, "getaddrinfo", refuse)
    planned = workflow.plan_case(ROOT / "tests" / "cases" / "full.yaml")
    written = workflow.write_plan(planned.plan, tmp_path / "plan")
    assert [path.name for path in written] == list(workflow.PLAN_FILES)

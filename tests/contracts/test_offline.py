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
SPEAKS_ONLY = {"urllib.parse", "http.cookies", "http"}
"""Parsing of addresses and cookies and the names of statuses: nothing of it opens a connection."""
LISTENS = SOURCE / "web" / "serve.py"
"""The one module that opens a socket: it listens on this computer."""


@pytest.mark.parametrize("path", sources(), ids=lambda path: str(path.relative_to(SOURCE)))
def test_no_module_can_reach_out(path: Path) -> None:
    """Nothing that talks to a network is imported."""
    imported = {
        name if name in SPEAKS_ONLY else name.split(".")[0]
        for node in ast.walk(ast.parse(text_of(path)))
        for name in (
            [alias.name for alias in node.names]
            if isinstance(node, ast.Import)
            else [node.module or ""]
            if isinstance(node, ast.ImportFrom) and node.level == 0
            else []
        )
    }
    allowed = {"socket"} if path == LISTENS else set()
    assert (imported & REACHING_OUT) - SPEAKS_ONLY - allowed == set()


def test_the_one_listener_binds_this_computer_only() -> None:
    """Loopback stands in the code as the only address."""
    assert 'HOST = "127.0.0.1"' in text_of(LISTENS)
    assert text_of(LISTENS).count(".bind(") == text_of(LISTENS).count(".bind((HOST,") == 1


def test_a_plan_is_made_with_sockets_forbidden(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """From case file to PDF without a socket."""

    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("something tried to open a socket")

    monkeypatch.setattr(socket, "socket", refuse)
    monkeypatch.setattr(socket, "getaddrinfo", refuse)
    planned = workflow.plan_case(ROOT / "tests" / "cases" / "full.yaml")
    written = workflow.write_plan(planned.plan, tmp_path / "plan")
    assert [path.name for path in written] == list(workflow.PLAN_FILES)

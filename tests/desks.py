"""A running app for tests: on a store of its own, in process or in a browser."""

from __future__ import annotations

import atexit
import shutil
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

import uvicorn
from starlette.testclient import TestClient

from festoon.store.opening import open_store
from festoon.web.app import create_app
from festoon.web.desk import Desk
from festoon.web.security import Door
from festoon.web.serve import listening_socket
from festoon.workflow.demo import keep_demo_cases

TOKEN = "a-token-for-tests"


def desk_at(folder: Path, port: int = 8737) -> Desk:
    """A desk on a new store."""
    return Desk(open_store(folder), Door(TOKEN, port), "tester")


def demo_desk_at(folder: Path, port: int = 8737) -> Desk:
    """A desk on a new store with the demo cases: a copy of one that was made once, since a case is followed through surgery to its last recall."""
    shutil.copytree(_demo_home(), folder, dirs_exist_ok=True, ignore=shutil.ignore_patterns("*-shm"))
    return desk_at(folder, port)


@cache
def _demo_home() -> Path:
    home = Path(tempfile.mkdtemp())
    atexit.register(shutil.rmtree, home, ignore_errors=True)
    keep_demo_cases(open_store(home), by="tester")
    return home


def client_of(desk: Desk, *, is_let_in: bool = True) -> TestClient:
    """A client that has come in through the door, or has not."""
    client = TestClient(create_app(desk), base_url=f"http://127.0.0.1:{desk.door.port}", raise_server_exceptions=False)
    if is_let_in:
        client.cookies.set(desk.door.cookie, TOKEN)
        client.headers["X-Festoon-Token"] = desk.door.form_token
    return client


@contextmanager
def served(folder: Path) -> Iterator[str]:
    """The address of an app that runs, token included; stopped at the end."""
    listener = listening_socket(0)
    desk = desk_at(folder, listener.getsockname()[1])
    server = uvicorn.Server(uvicorn.Config(create_app(desk), log_level="error", lifespan="off"))
    runner = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
    runner.start()
    for _ in range(200):
        if server.started:
            break
        time.sleep(0.02)
    try:
        yield f"http://127.0.0.1:{desk.door.port}/enter?token={TOKEN}"
    finally:
        server.should_exit = True
        runner.join(10)

"""Running the app on this computer."""

from __future__ import annotations

import secrets
import socket
import webbrowser
from collections.abc import Callable
from pathlib import Path
from urllib.parse import quote

import uvicorn

from festoon.store.opening import open_store
from festoon.web.app import create_app
from festoon.web.desk import Desk
from festoon.web.security import ENTRY, Door

HOST = "127.0.0.1"
FIRST_PORT = 8737
"""Tried first; the next free one is taken where it is in use."""


def serve(
    *,
    port: int | None,
    by: str,
    tell: Callable[[str], None],
    opens: bool,
    to: str = "/",
    store_folder: Path | None = None,
    token: str | None = None,
) -> None:
    """Run the app until it is stopped.

    Parameters
    ----------
    port : int or None
        The port; None takes the first free one.
    by : str
        Code of whoever works here.
    tell : callable
        Is told the address, which holds the token.
    opens : bool
        Whether the address is opened in the browser.
    to : str
        The page it opens on.

    Raises
    ------
    StoreError
        If the store cannot be used.
    OSError
        If the port is taken.
    """
    store = open_store(store_folder)
    listener = listening_socket(port)
    door = Door(token or secrets.token_urlsafe(24), listener.getsockname()[1])
    address = f"http://{HOST}:{door.port}{ENTRY}?token={door.token}" + (
        f"&to={quote(to, safe='')}" if to != "/" else ""
    )
    config = uvicorn.Config(
        create_app(Desk(store, door, by)),
        log_level="warning",
        access_log=False,
        server_header=False,
        lifespan="off",
        h11_max_incomplete_event_size=64 * 1024,
    )
    tell(address)
    if opens:
        webbrowser.open(address)
    uvicorn.Server(config).run(sockets=[listener])


def listening_socket(port: int | None) -> socket.socket:
    """A listening socket on this computer only."""
    tries = (port,) if port is not None else (*range(FIRST_PORT, FIRST_PORT + 20), 0)
    for candidate in tries:
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((HOST, candidate))
        except OSError:
            listener.close()
            if candidate == tries[-1]:
                raise
        else:
            listener.listen(128)
            listener.set_inheritable(True)
            return listener
    raise OSError("no free port")

"""Who may drive the app: this computer only, with the token that was handed out when it was started.

Three checks before anything else runs: the request names this computer as its host (a page elsewhere that lets its own
name point here does not), it carries the token (another user of this computer does not have it), and what changes
something comes from a page of the app itself (another page in the same browser cannot make it).
"""

from __future__ import annotations

import hashlib
import hmac
import json
from collections.abc import Awaitable, Callable, MutableMapping
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import parse_qs, quote

from starlette.exceptions import HTTPException

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

LARGEST_REQUEST = 4 * 1024 * 1024
"""Bytes of an ordinary request."""
LARGEST_FILE = 512 * 1024 * 1024
"""Bytes of a request that brings a file: a scan, a photograph, a volume."""
ENTRY = "/enter"
FORM_HEADER = b"x-festoon-token"
_OPEN = ("/look/", "/built/", "/favicon.ico")
"""Looks only, no records: they may be asked for without the token."""
_POLICY = "; ".join(
    (
        "default-src 'none'", "script-src 'self'", "style-src 'self'", "img-src 'self' data: blob:", "font-src 'self'",
        "connect-src 'self'", "form-action 'self'", "frame-ancestors 'none'", "base-uri 'none'", "object-src 'none'",
        "worker-src 'self' blob:", "manifest-src 'self'",
    )
)  # fmt: skip
_HEADERS = (
    (b"content-security-policy", _POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), microphone=(), geolocation=(), usb=(), payment=()"),
    (b"x-frame-options", b"DENY"),
)


@dataclass(frozen=True)
class Door:
    """What a request must show to come in."""

    token: str
    port: int

    @property
    def hosts(self) -> tuple[str, ...]:
        """The names of this computer under which the app answers."""
        return tuple(f"{name}:{self.port}" for name in ("127.0.0.1", "localhost", "[::1]"))

    @property
    def cookie(self) -> str:
        """A cookie does not know the port, and two of these apps may run."""
        return f"festoon-{self.port}"

    @property
    def form_token(self) -> str:
        """What a page of the app puts into the header of a request that changes something."""
        return hmac.new(self.token.encode(), b"form", hashlib.sha256).hexdigest()


class Guard:
    """The checks, round the app."""

    def __init__(self, app: App, door: Door) -> None:
        self.app, self.door = app, door

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request in, or say in one line why not."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        headers = {name.lower(): value for name, value in scope["headers"]}
        refused = self._refused(scope, headers)
        if scope["path"] == ENTRY and refused != _WRONG_HOST:
            await self._enter(scope, send)
        elif refused is not None:
            await _answer(send, *refused)
        else:
            largest = LARGEST_FILE if scope["path"].endswith("/files") else LARGEST_REQUEST
            await self.app(scope, _Measured(receive, headers, largest), _with_headers(send, scope["path"]))

    def _refused(self, scope: Scope, headers: dict[bytes, bytes]) -> tuple[int, str] | None:
        if headers.get(b"host", b"").decode("latin-1").lower() not in self.door.hosts:
            return _WRONG_HOST
        if scope["method"] in ("GET", "HEAD") and scope["path"].startswith(_OPEN):
            return None
        if not _same(self._token_of(headers), self.door.token):
            return 403, "open festoon by the address that festoon serve printed: it holds the token"
        if scope["method"] in ("GET", "HEAD"):
            return None
        origin = headers.get(b"origin", b"").decode("latin-1")
        if origin and origin.removeprefix("http://") not in self.door.hosts:
            return 403, "this request came from another page"
        if not _same(headers.get(FORM_HEADER, b"").decode("latin-1"), self.door.form_token):
            return (
                403,
                "this request was not made by a page of this app, or the app was started anew: load the page again",
            )
        return None

    def _token_of(self, headers: dict[bytes, bytes]) -> str:
        try:
            morsel = SimpleCookie(headers.get(b"cookie", b"").decode("latin-1")).get(self.door.cookie)
        except CookieError:
            return ""
        return morsel.value if morsel else ""

    async def _enter(self, scope: Scope, send: Send) -> None:
        asked = parse_qs(scope["query_string"].decode("latin-1"))
        if not _same(asked.get("token", [""])[0], self.door.token):
            await _answer(send, 403, "the token is not that of this app: use the address that it printed")
            return
        place = asked.get("to", ["/"])[0]
        if not place.startswith("/") or place.startswith(("//", "/\\")):
            place = "/"
        cookie = f"{self.door.cookie}={self.door.token}; Path=/; HttpOnly; SameSite=Strict"
        # A page, not a redirect: a strict cookie is not sent along when the address was opened from elsewhere.
        target = quote(place, safe="/?=&%-._~")
        page = f'<!doctype html><html lang="en"><meta http-equiv="refresh" content="0; url={target}"><title>festoon</title><a href="{target}">festoon</a></html>'
        await _answer(send, 200, page, kind="text/html; charset=utf-8", more=((b"set-cookie", cookie.encode()),))


def _same(shown: str, wanted: str) -> bool:
    """Compared in the same time whatever it is; what was shown may hold any sign."""
    return hmac.compare_digest(shown.encode("utf-8", "surrogatepass"), wanted.encode())


_WRONG_HOST = (421, "festoon answers on this computer only, by the address it printed")


class TooLargeError(HTTPException):
    """A request is larger than its kind may be."""

    def __init__(self, largest: int) -> None:
        super().__init__(413, f"The request is larger than {largest // (1024 * 1024)} MB; nothing was kept.")


class _Measured:
    """A request's body, counted while it streams in: no header is believed."""

    def __init__(self, receive: Receive, headers: dict[bytes, bytes], largest: int) -> None:
        self.receive, self.largest, self.seen = receive, largest, 0
        said = headers.get(b"content-length", b"0")
        self.said = int(said) if said.isdigit() else 0

    async def __call__(self) -> Message:
        if self.said > self.largest:
            raise TooLargeError(self.largest)
        message = await self.receive()
        self.seen += len(message.get("body", b""))
        if self.seen > self.largest:
            raise TooLargeError(self.largest)
        return message


def _with_headers(send: Send, path: str) -> Send:
    keeps = b"public, max-age=3600" if path.startswith(_OPEN) else b"no-store"

    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            named = {name.lower() for name, _ in message.get("headers", [])}
            extra = [pair for pair in (*_HEADERS, (b"cache-control", keeps)) if pair[0] not in named]
            message = {**message, "headers": [*message.get("headers", []), *extra]}
        await send(message)

    return sending


async def _answer(
    send: Send, status: int, text: str, *, kind: str = "application/json", more: tuple[tuple[bytes, bytes], ...] = ()
) -> None:
    body = (
        json.dumps({"error": {"kind": "door", "text": text, "faults": []}}) if kind == "application/json" else text
    ).encode()
    headers = [(b"content-type", kind.encode()), (b"content-length", str(len(body)).encode()), *more, *_HEADERS]
    headers.append((b"cache-control", b"no-store"))
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})

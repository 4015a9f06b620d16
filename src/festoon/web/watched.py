"""Work of more than a second, watched: one open answer tells how far it is, line by line, then what came of it.

Each line is a JSON object: ``{"share": 0.4, "what": "tracing 11"}`` (``share`` null where it is not known) while it goes on, and at
the end ``{"done": …}`` or ``{"error": …}`` in the one shape of an error. Whoever closes the answer stops the work at its next step.
"""

from __future__ import annotations

import asyncio
import json
import sys
import threading
import traceback
from collections.abc import AsyncIterator, Callable
from typing import Any

from fastapi.responses import StreamingResponse
from pydantic import BaseModel

from festoon.web.faults import told

MEDIA_TYPE = "application/x-ndjson"
LINES: dict[int | str, dict[str, Any]] = {
    200: {
        "content": {MEDIA_TYPE: {"schema": {"type": "string"}}},
        "description": "Lines of JSON: progress, then what came of it.",
    }
}
"""For the routes that answer so, in the published OpenAPI."""


class GoneError(Exception):
    """Nobody waits for this work any more."""


class Watch:
    """Told how far the work is; asked whether anybody still waits for it."""

    def __init__(self, put: Callable[[dict[str, Any]], None], gone: threading.Event) -> None:
        self._put, self._gone = put, gone

    def step(self, share: float | None, what: str) -> None:
        """Tell a step.

        Raises
        ------
        GoneError
            If nobody waits any more: the work ends here.
        """
        if self.is_stopped():
            raise GoneError(what)
        self._put({"share": share, "what": what})

    def tell(self, what: str) -> None:
        """A step of work that does not know its share."""
        self.step(None, what)

    def is_stopped(self) -> bool:
        """True once nobody waits."""
        return self._gone.is_set()


def watched(work: Callable[[Watch], BaseModel]) -> StreamingResponse:
    """Do ``work`` in a thread of its own and answer with its lines."""

    async def lines() -> AsyncIterator[bytes]:
        loop, queue, gone = asyncio.get_running_loop(), asyncio.Queue[dict[str, Any] | None](), threading.Event()

        def put(line: dict[str, Any] | None) -> None:
            if not loop.is_closed():
                loop.call_soon_threadsafe(queue.put_nowait, line)

        threading.Thread(target=_work, args=(work, Watch(put, gone), put), daemon=True).start()
        try:
            while (line := await queue.get()) is not None:
                yield json.dumps(line, ensure_ascii=False).encode() + b"\n"
        finally:
            gone.set()

    return StreamingResponse(lines(), media_type=MEDIA_TYPE)


def _work(work: Callable[[Watch], BaseModel], watch: Watch, put: Callable[[dict[str, Any] | None], None]) -> None:
    try:
        put({"done": work(watch).model_dump(mode="json")})
    except GoneError:
        pass
    except Exception as error:  # the thread's last resort: whatever went wrong is told in the one shape
        status, wrong = told(error)
        if status == 500:
            traceback.print_exception(error, file=sys.stderr)
        put({"error": wrong.model_dump(mode="json")})
    finally:
        put(None)

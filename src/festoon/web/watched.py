"""Work of more than a second, watched: one open answer tells how far it is, line by line, then what came of it.

Each line is a JSON object: ``{"share": 0.4, "what": "tracing 11"}`` (``share`` null where it is not known) while it goes on, and at
the end ``{"done": …}`` or ``{"error": …}`` in the one shape of an error. Whoever closes the answer stops the work at its next step.
"""

from __future__ import annotations

import json
import queue
import sys
import threading
import traceback
from collections.abc import AsyncIterator, Callable
from typing import Any

from anyio import to_thread
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
        told_so_far, gone = queue.SimpleQueue[dict[str, Any] | None](), threading.Event()
        threading.Thread(target=_work, args=(work, Watch(told_so_far.put, gone), told_so_far.put), daemon=True).start()
        try:
            # A thread that waits for the next line is let go when the answer is closed; the work's last word ends it.
            while (line := await to_thread.run_sync(told_so_far.get, abandon_on_cancel=True)) is not None:
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

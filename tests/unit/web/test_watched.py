"""Work that is watched: its steps are told, what came of it stands last, and nobody waiting ends it."""

from __future__ import annotations

import asyncio
import json
import threading
import time

import pytest
from fastapi import FastAPI
from pydantic import BaseModel
from starlette.responses import StreamingResponse
from starlette.testclient import TestClient

from festoon.errors import Fault, InputRefusedError
from festoon.web.watched import GoneError, Watch, watched


class Came(BaseModel):
    """What came of the work."""

    number: int


def lines_of(work) -> list[dict[str, object]]:
    """The lines of one answer."""
    app = FastAPI()

    @app.post("/work")
    def route() -> StreamingResponse:
        return watched(work)

    return [json.loads(line) for line in TestClient(app).post("/work").text.splitlines()]


def test_steps_come_in_order_and_the_end_comes_last() -> None:
    """A page can draw a bar from the shares, and takes the last line as the answer."""

    def work(watch: Watch) -> Came:
        watch.step(0.5, "half")
        watch.tell("on")
        return Came(number=7)

    assert lines_of(work) == [{"share": 0.5, "what": "half"}, {"share": None, "what": "on"}, {"done": {"number": 7}}]


def test_what_goes_wrong_on_the_way_has_the_one_shape(capsys: pytest.CaptureFixture[str]) -> None:
    """A refusal keeps its words; a fault of festoon's own tells the page no stack, and the terminal all of it."""

    def refused(_: Watch) -> Came:
        raise InputRefusedError([Fault("scan.stl", "", "nothing", "an arch", "Scan again.")])

    def broken(_: Watch) -> Came:
        raise ZeroDivisionError("/secret/path")

    assert lines_of(refused)[-1]["error"]["faults"][0]["do"] == "Scan again."
    said = lines_of(broken)[-1]["error"]
    assert said["kind"] == "failed"
    assert "secret" not in json.dumps(said)
    assert "ZeroDivisionError" in capsys.readouterr().err


def test_work_ends_at_its_next_step_once_nobody_waits() -> None:
    """A closed page does not leave two cores busy."""
    gone = threading.Event()
    watch = Watch(lambda _: None, gone)
    watch.tell("first")
    gone.set()
    assert watch.is_stopped()
    with pytest.raises(GoneError, match="second"):
        watch.tell("second")


def test_a_closed_answer_stops_the_work() -> None:
    """The answer's end is what tells the work that nobody waits."""
    ended = threading.Event()

    def work(watch: Watch) -> Came:
        try:
            while True:
                watch.tell("on")
                time.sleep(0.01)
        finally:
            ended.set()

    async def read_one_line() -> None:
        lines = watched(work).body_iterator
        await anext(lines)
        await lines.aclose()

    asyncio.run(read_one_line())
    assert ended.wait(5)

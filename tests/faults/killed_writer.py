"""A writer that is killed with no warning, and what must be true of its store afterwards."""

from __future__ import annotations

import json
import os
import random
import select
import signal
import time
import traceback
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from festoon.store import keeping, looking
from festoon.store.archive import export_case, import_archive
from festoon.store.backup import back_up
from festoon.store.erasing import collect_files, delete_case
from festoon.store.opening import open_store
from festoon.store.store import Store

Tell = Callable[[str, object], None]
N_READINGS = 40
"""Of each batch: all or none of them must be there."""


def write_for_ever(root: Path, tell: Tell, seed: int) -> None:
    """Every kind of write, one after the other, each announced before it begins and after it was acknowledged."""
    tell("begin open", None)
    store = open_store(root)
    rng = random.Random(seed)
    turn = 0
    while True:
        turn += 1
        case = f"c-{seed}-{turn}"
        _one_case(store, case, root, tell, rng)


def _one_case(store: Store, case: str, root: Path, tell: Tell, rng: random.Random) -> None:
    def does(kind: str, work: Callable[[], object], said: object = None) -> None:
        tell(f"begin {kind}", case)
        made = work()
        tell(f"done {kind}", said if said is not None else [case, made if isinstance(made, int | str) else None])

    who = {"by": "op-1", "why": "test"}
    does("save", lambda: keeping.save_case(store, case, json.dumps({"v": 1}), base=0, **who))
    rows = [{"tooth": "11", "quantity": "sounding", "value": rng.random(), "source": "t"} for _ in range(N_READINGS)]
    does("readings", lambda: keeping.keep_readings(store, {case: rows}, **who))
    does("verdict", lambda: keeping.judge_reading(store, case, 1, is_kept=False, **who))
    plan = keeping.keep_plan(store, case, '{"p":1}', case_version=1, used=range(2, N_READINGS), **who)
    does(
        "plan",
        lambda: keeping.keep_plan(store, case, '{"p":2}', case_version=1, used=[2, 3], supersedes=None, **who).number,
    )
    does(
        "sign", lambda: keeping.sign_plan(store, case, plan.number, plan.sha256, by="op-1", role="surgeon", reason="ok")
    )
    data = rng.randbytes(200_000)
    does("file", lambda: keeping.attach_file(store, case, data, kind="photo", removed=[], **who))
    does("map", lambda: keeping.keep_map(store, "ours", json.dumps({"turn": case}), **who))
    does("backup", lambda: back_up(store, root.parent / f"backup-{case}").n_files)
    packed = root.parent / f"{case}.zip"
    does("export", lambda: export_case(store, case, packed, schemas={}))
    if rng.random() < 0.5:
        does("delete", lambda: delete_case(store, case, **who).tombstone)
        does("collect", lambda: collect_files(store, grace_seconds=0)[0])
    else:
        other = open_store(root.parent / "other")
        does("import", lambda: import_archive(other, packed, **who).n_rows)


@dataclass
class Killed:
    """What a killed writer had said before it died."""

    done: list[tuple[str, object]] = field(default_factory=list)
    during: str = ""
    """The kind of write it was in the middle of."""


def kill_one(run: Callable[[Tell], None], after_seconds: float) -> Killed:
    """Run in a process of its own and kill -9 it ``after_seconds`` after it began to write."""
    readable, writable = os.pipe()
    child = os.fork()
    if child == 0:  # the writer: it must never come back into the test
        os.close(readable)
        try:
            run(lambda what, said: os.write(writable, (json.dumps([what, said]) + "\n").encode()) and None)
        except BaseException:
            os.write(writable, traceback.format_exc()[-2000:].encode())
        os._exit(1)
    os.close(writable)
    said = b""
    try:
        select.select([readable], [], [], 10)
        time.sleep(after_seconds)
        os.kill(child, signal.SIGKILL)
        while piece := os.read(readable, 1 << 16):
            said += piece
    finally:
        os.close(readable)
        _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status), f"the writer ended by itself: {said[-2000:].decode()}"
    killed = Killed()
    for line in said.decode().splitlines():
        what, value = json.loads(line)
        verb, _, kind = what.partition(" ")
        killed.during = kind if verb == "begin" else ""
        if verb == "done":
            killed.done.append((kind, value))
    return killed


def check_acknowledged(store: Store, killed: Killed) -> Counter[str]:
    """Everything acknowledged is there, whole; nothing of a batch is there in part."""
    deleted = {str(value[0]) for kind, value in killed.done if kind == "delete" and isinstance(value, list)}
    asked = Counter(kind for kind, _ in killed.done)
    present = {line.case for line in looking.list_cases(store)}
    for kind, value in killed.done:
        if not isinstance(value, list) or kind in ("map", "backup", "export", "collect", "import", "delete"):
            continue
        case = str(value[0])
        if case not in present:
            assert case in deleted or killed.during == "delete", f"{kind} of {case} was acknowledged and is gone"
            continue
        record = looking.open_case(store, case)
        found = {
            "save": record.version >= 1,
            "readings": len(record.readings) == N_READINGS,
            "verdict": any(reading.is_set_aside for reading in record.readings),
            "plan": len(record.plans) == 2,
            "sign": any(plan.signatures for plan in record.plans),
            "file": bool(record.files),
        }[kind]
        assert found, f"{kind} of {case} was acknowledged and is not there"
    for case in present:
        record = looking.open_case(store, case)
        assert len(record.readings) in (0, N_READINGS), "half a batch of readings is visible"
        for file in record.files:
            store.files.get(file.sha256)
        for plan in record.plans:
            assert plan.used, "a plan is visible without its readings"
    return asked

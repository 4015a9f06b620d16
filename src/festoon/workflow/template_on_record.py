"""A template of a case in the store: made from its plan as it stands and an attached scan, and kept with the case."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from festoon.errors import Fault, InputRefusedError
from festoon.store import keeping, looking
from festoon.store.errors import UnknownRecordError
from festoon.store.store import Store
from festoon.workflow.desk import open_on_desk, plan_on_desk
from festoon.workflow.measuring_scan import MeasuredScan, write_measured
from festoon.workflow.templating import TemplateOrder, template_files

KIND = "template"
"""How the kinds of its files begin: ``template 2 checks.json``, the second that was made for the case."""


@dataclass(frozen=True)
class TemplateKept:
    """One template that was kept."""

    number: int
    about: dict[str, Any]
    """What ``checks.json`` says (format ``festoon-template/1``)."""
    files: dict[str, str]
    """SHA-256 of each file, by name."""


def make_and_keep_template(
    store: Store,
    case: str,
    scan: str,
    order: TemplateOrder,
    *,
    traced: MeasuredScan | None,
    by: str,
    tell: Callable[[float, str], None],
    is_stopped: Callable[[], bool],
) -> TemplateKept:
    """Make the template of a case over one of its scans and keep every file of it, or nothing.

    Parameters
    ----------
    scan : str
        SHA-256 of the attached scan.
    traced : MeasuredScan, optional
        The scan as it was traced and corrected by hand; None: traced anew.
    tell, is_stopped : callable
        As in :func:`festoon.workflow.templating.template_files`.

    Raises
    ------
    InputRefusedError
        If there is no plan, or scan and plan do not make a part; every reason is named.
    StoppedError
        If ``is_stopped`` said so.
    UnknownRecordError
        If there is no such case or scan.
    """
    on_desk = open_on_desk(store, case)
    plan = plan_on_desk(on_desk)
    if plan is None:
        raise InputRefusedError(
            [Fault(case, "", "no plan", "a plan", "Chart the mouth and settle what contradicts itself first.")]
        )
    kind = next((file.kind for file in looking.open_case(store, case).files if file.sha256 == scan), "")
    if not kind.startswith("scan"):
        raise UnknownRecordError(f"case {case} has no such scan")
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        file = folder / f"scan{kind.removeprefix('scan')}"
        file.write_bytes(store.files.get(scan))
        if traced is not None:
            frames = next(path for path in write_measured(traced, folder / "traced") if path.name == "frames.json")
            order = replace(order, frames=frames)
        order = replace(order, scan_name=f"scan {scan[:12]}")
        made = template_files(plan, on_desk.case, file, order, tell=tell, is_stopped=is_stopped)
    number = 1 + max((one.number for one in templates_of(store, case)), default=0)
    why = f"template of plan {plan.fingerprint[:6]}"
    kept = {
        name: keeping.attach_file(store, case, data, kind=f"{KIND} {number} {name}", removed=(), by=by, why=why)
        for name, data in made.files.items()
    }
    return TemplateKept(number, made.result.about(), kept)


def templates_of(store: Store, case: str) -> tuple[TemplateKept, ...]:
    """The templates kept with a case, the newest first: the files of one making never stand beside the checks of another."""
    found: dict[int, dict[str, str]] = {}
    for file in looking.open_case(store, case).files:
        if file.kind.startswith(f"{KIND} "):
            _, number, name = file.kind.split(" ", 2)
            found.setdefault(int(number), {})[name] = file.sha256
    return tuple(
        TemplateKept(number, json.loads(store.files.get(files["checks.json"])), files)
        for number, files in sorted(found.items(), reverse=True)
        if "checks.json" in files
    )

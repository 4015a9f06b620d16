"""The demo: invented mouths with their plans, one of them operated and followed for a year."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml
from pydantic import Field

from festoon.model.case import Code
from festoon.model.dentition import Site
from festoon.model.plan import Plan
from festoon.model.quantities import Quantity, QuantityReading
from festoon.model.reading import Datum, Frozen
from festoon.model.recall import VisitEntry
from festoon.model.surgery import ReadingEntry, Step, StepEntry
from festoon.records.casefile import parse_case
from festoon.records.demo import TITLES, demo_case, demo_course
from festoon.records.writing import write_whole
from festoon.store import keeping, looking
from festoon.store.store import Store
from festoon.workflow import recall, surgery
from festoon.workflow.planning import PaperSize, plan_of, write_plan
from festoon.workflow.records import plan_and_keep, sign_kept_plan

_WHY = "demo case, invented"


@dataclass(frozen=True)
class DemoCase:
    """One demo case with its plan and the folder that holds both."""

    title: str
    plan: Plan
    folder: Path


def make_demo(folder: Path, *, paper: PaperSize = "a4") -> Iterator[DemoCase]:
    """Write the demo cases below ``folder`` and plan each of them."""
    for name, title in TITLES.items():
        data = demo_case(name)
        plan = plan_of(parse_case(data, f"{name}.yaml"))
        place = folder / name
        write_whole(place, {"case.yaml": data})
        write_plan(plan, place, paper=paper)
        yield DemoCase(title, plan, place)


def keep_demo_cases(store: Store, *, by: str) -> tuple[str, ...]:
    """Keep the demo cases that are not there yet, with what followed their plans. Returns the ids of all of them."""
    there = {line.case for line in looking.list_cases(store)}
    for name in TITLES:
        if name not in there:
            case = parse_case(demo_case(name), f"{name}.yaml").case
            keeping.save_case(store, name, case.model_dump_json(), base=0, by=by, why=_WHY)
            course = demo_course(name)
            if course is not None:
                _follow(store, name, Course.model_validate(yaml.safe_load(course)), by)
    return tuple(TITLES)


class Course(Frozen):
    """What followed a demo plan: signed, operated, visited again. Levels are from the present edge."""

    surgery_at: dt.date
    operator: Code
    chair: tuple[ChairLine, ...]
    role: str
    remark: str
    visits: tuple[VisitLine, ...]


class ChairLine(Frozen):
    """One entry at the chair: a step of the hands, or a reading."""

    step: Step
    tooth: str | None = None
    site: Site = Site.MIDFACIAL
    quantity: Quantity | None = None
    value: float | None = None

    def entry(self) -> StepEntry | ReadingEntry:
        """The entry as it is kept."""
        if self.tooth is None:
            return StepEntry(step=self.step)
        said: dict[str, Any] = self.model_dump()
        return ReadingEntry.model_validate(said | {"datum": _datum(self.quantity)})


class VisitLine(VisitEntry):
    """One visit, with midfacial margins and keratinised widths by tooth."""

    margins: Mapping[str, float] = Field(default_factory=dict)
    keratinised: Mapping[str, float] = Field(default_factory=dict)

    def entry(self) -> VisitEntry:
        """The entry as it is kept."""
        rows = [(Quantity.MARGIN_LEVEL, self.margins), (Quantity.KERATINISED_WIDTH, self.keratinised)]
        readings = [
            QuantityReading(tooth=tooth, site=Site.MIDFACIAL, quantity=quantity, value=value, datum=_datum(quantity))
            for quantity, by_tooth in rows
            for tooth, value in by_tooth.items()
        ]
        said = self.model_dump(exclude={"margins", "keratinised", "readings"})
        return VisitEntry.model_validate(said | {"readings": readings})


def _datum(quantity: Quantity | None) -> Datum | None:
    return Datum.PRESENT_EDGE if quantity is not None and quantity.is_level else None


def _follow(store: Store, case: str, course: Course, by: str) -> None:
    """Sign the plan, operate, sign off and visit, as a practice would, entry by entry."""
    plan = plan_and_keep(store, case, by=by, why=_WHY).kept.number
    sign_kept_plan(store, case, plan, by=by, role="surgeon", reason=_WHY)
    begun = surgery.start_surgery(
        store, case, plan, by=by, why=_WHY, surgery_at=course.surgery_at, operator=course.operator
    )
    for number, line in enumerate(course.chair):
        surgery.enter(store, begun, line.entry(), key=f"demo-chair-{number:03d}", by=by)
    surgery.sign_off(store, begun, key="demo-sign-off", by=by, role=course.role, reasons={}, remark=course.remark)
    for number, visit in enumerate(course.visits):
        recall.add(store, begun, visit.entry(), key=f"demo-visit-{number:02d}", by=by)

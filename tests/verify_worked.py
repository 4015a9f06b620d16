"""The worked mouth of ``tests/cases/verify``, read, planned and verified once; sessions made from it."""

from __future__ import annotations

import datetime as dt
from functools import cache
from pathlib import Path
from typing import Any

from festoon.model.anatomy import Anatomy
from festoon.model.dentition import Site
from festoon.model.plan import Plan
from festoon.model.quantities import Quantity
from festoon.model.reading import Datum
from festoon.model.verification import Moment, PlacedReading, Verification
from festoon.records.casefile import read_case
from festoon.records.reconcile import resolve
from festoon.verify.session import Limits, Session
from festoon.workflow.planning import plan_of
from festoon.workflow.verifying import VerifyOptions, verify_case

FILES = Path(__file__).parent / "cases" / "verify"
SURGERY = dt.date(2026, 3, 10)


@cache
def worked(moment: str) -> Verification:
    """The readings of one moment against the plan of the worked mouth."""
    name = Moment(moment)
    options = VerifyOptions(name, surgery_at=SURGERY if name is Moment.RECALL else None)
    return verify_case(FILES / "case.yaml", FILES / f"{moment}.yaml", options)


@cache
def planned() -> tuple[Plan, Anatomy]:
    """Plan and mouth of the worked case."""
    file = read_case(FILES / "case.yaml")
    return plan_of(file), resolve(file.case)


def reading(
    value: float,
    quantity: Quantity = Quantity.CREST_LEVEL,
    *,
    tooth: str = "11",
    site: Site = Site.MIDFACIAL,
    se: float = 0.2,
    at: dt.date | None = SURGERY,
    datum: Datum = Datum.PLANNED_EDGE,
    method: str = "direct",
) -> PlacedReading:
    """A reading already placed: a level from the planned edge, or a depth."""
    is_level = quantity.is_level
    return PlacedReading(
        tooth=tooth,
        site=site,
        quantity=quantity,
        value_mm=value,
        datum=datum if is_level else None,
        planned_edge_mm=value if is_level else None,
        present_edge_mm=value if is_level else None,
        se_mm=se,
        method=method,
        source="test",
        at=at,
    )


def session(*readings: PlacedReading, limits: Limits | None = None) -> Session:
    """These readings against the plan of the worked mouth."""
    return Session(*planned(), readings, limits or Limits())


def entry_at(entries: tuple[Any, ...], tooth: str, site: Site = Site.MIDFACIAL, **wanted: Any) -> Any:
    """The one entry of a tooth and site, with the given fields."""
    (found,) = [
        entry
        for entry in entries
        if (entry.tooth, entry.site) == (tooth, site) and all(getattr(entry, k) == v for k, v in wanted.items())
    ]
    return found

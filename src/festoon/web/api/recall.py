"""Routes of recalls: visits and edges kept, taken back, held against the expected band."""

from __future__ import annotations

from fastapi import APIRouter
from pydantic import BaseModel

from festoon.model.recall import EdgeEntry, RecallState, VisitEntry
from festoon.model.surgery import Key
from festoon.web.api.cases import Body, CaseId
from festoon.web.desk import DeskHere
from festoon.workflow import recall as work
from festoon.workflow.surgery import Surgery

router = APIRouter(tags=["recall"])


class Visit(Body):
    """A visit, with the key that makes it count once."""

    key: Key
    visit: VisitEntry


class Edge(Body):
    """Where an edge lies from a day on."""

    key: Key
    edge: EdgeEntry


class Entered(BaseModel):
    """The number of the entry that is on disk."""

    entry: int


@router.get("/cases/{case}/surgeries/{number}/recall")
def look(desk: DeskHere, case: CaseId, number: int) -> RecallState:
    """Every visit against the expected band, and whether restorations may be made."""
    return work.recall_state(desk.store, Surgery(case, number))


@router.post("/cases/{case}/surgeries/{number}/visits", status_code=201)
def visit(desk: DeskHere, case: CaseId, number: int, wanted: Visit) -> Entered:
    """Keep a visit."""
    return Entered(entry=work.add(desk.store, Surgery(case, number), wanted.visit, key=wanted.key, by=desk.by))


@router.post("/cases/{case}/surgeries/{number}/edges", status_code=201)
def edge(desk: DeskHere, case: CaseId, number: int, wanted: Edge) -> Entered:
    """Keep where an edge lies from a day on: a restored tooth is still read from the same planned edge."""
    return Entered(entry=work.add(desk.store, Surgery(case, number), wanted.edge, key=wanted.key, by=desk.by))


@router.delete("/cases/{case}/surgeries/{number}/visits/{entry}")
def take_back(desk: DeskHere, case: CaseId, number: int, entry: int, key: Key) -> Entered:
    """Take back a visit or an edge; it stays on record."""
    return Entered(entry=work.take_back(desk.store, Surgery(case, number), entry, key=key, by=desk.by))

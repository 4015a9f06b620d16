"""The invented mouths of ``tests/cases/hard``, planned as they stand or with one thing changed."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any
from unittest.mock import patch

import yaml

from festoon.model.plan import Caution, Plan
from festoon.records.casefile import parse_case
from festoon.workflow.planning import plan_case, plan_of

HARD = Path(__file__).parent / "cases" / "hard"
NAMES = tuple(sorted(path.stem for path in HARD.glob("*.yaml")))


@cache
def planned(name: str) -> Plan:
    """The plan of a hard case as it stands."""
    return plan_case(HARD / f"{name}.yaml").plan


def changed(name: str, **changes: Any) -> Plan:
    """Its plan with entries changed: ``teeth__11__sites__midfacial__cej_mm=10.9``; ``None`` takes one away.

    A name that starts with ``t__`` changes every tooth. Alternatives are left out: they are not looked at here, and take
    two thirds of the time.
    """
    case = yaml.safe_load((HARD / f"{name}.yaml").read_text(encoding="utf-8"))
    for key, value in changes.items():
        first, *rest = key.split("__")
        places = case["teeth"].values() if first == "t" else [case.setdefault(first, {}) if rest else case]
        for place in places:
            *path, last = rest or [first]
            for part in path:
                place = place.setdefault(part.replace("_to_", "-"), {})
            if value is None:
                place.pop(last)
            else:
                place[last] = value
    with patch("festoon.planning.make.alternatives_of", return_value=()):
        return plan_of(parse_case(json.dumps(case, default=str).encode(), f"{name}.json"))


def cautions(plan: Plan, code: str) -> list[Caution]:
    """The cautions of one kind, those of several teeth said once."""
    return [caution for caution in plan.cautions if caution.code == code]


def the_caution(plan: Plan, code: str) -> str:
    """The text of the one caution of a kind."""
    (caution,) = cautions(plan, code)
    return f"{caution.tooth}: {caution.text}" if caution.tooth else caution.text


def cut_teeth(plan: Plan) -> set[str]:
    """Teeth that are cut."""
    return {code for code, tooth in plan.teeth.items() if tooth.procedure.cuts}


def moves(plan: Plan) -> dict[str, float | None]:
    """Midfacial moves, mm."""
    return {code: tooth.margin_move_mm for code, tooth in plan.teeth.items()}


def bones(plan: Plan, code: str) -> dict[str, float]:
    """Bone removed by site of one tooth, sites that keep theirs left out, mm."""
    return {s.site.value: s.bone_removal_mm for s in plan.sites if s.tooth == code and s.bone_removal_mm}


def offered(plan: Plan, cause: str) -> str:
    """What a finding offers instead, in one text."""
    return " ".join(next(finding for finding in plan.findings if finding.cause == cause).alternatives)

"""Invented mouths for the tests of planning: an ordinary tooth, changed in one thing at a time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from festoon.model.case import Case
from festoon.model.dentition import Site, Tooth
from festoon.model.plan import Paper, Plan, SitePlan, ToothPlan
from festoon.planning.compose import site_plans, tooth_plan
from festoon.planning.make import Context, make_plan
from festoon.planning.paper import paper_of
from festoon.planning.policy import policy_of
from festoon.planning.pose import build
from festoon.planning.problem import Problem
from festoon.planning.solve import solve
from festoon.records.reconcile import resolve

FRONT = ("13", "12", "11", "21", "22", "23")
_WIDTH = {1: 8.6, 2: 6.5, 3: 7.6, 4: 7.0, 5: 6.9, 6: 10.4, 7: 9.8}
_MARGIN = {1: 8.2, 2: 6.6, 3: 8.0, 4: 7.0, 5: 6.4, 6: 6.4, 7: 6.2}
_EDGE = {1: 0.0, 2: 0.5, 3: -0.2, 4: 0.4, 5: 0.9, 6: 1.0, 7: 1.2}


def tooth(code: str, **changes: Any) -> dict[str, Any]:
    """The chart of one short tooth. Any charted value is changed by its name; ``None`` takes it away.

    ``margin``, ``sounding``, ``cej``, ``mucogingival`` and ``bone_thickness`` are midfacial; ``sites`` replaces sites.
    """
    position = int(code[1])
    margin = changes.pop("margin", _MARGIN[position])
    base = margin if margin is not None else _MARGIN[position]
    middle = {
        "margin_mm": margin,
        "probing_mm": changes.pop("probing", 1.5),
        "sounding_mm": changes.pop("sounding", 2.5),
        "cej_mm": changes.pop("cej", round(base + 2.2, 2)),
        "mucogingival_mm": changes.pop("mucogingival", round(base + 5.8, 2)),
        "bone_thickness_mm": changes.pop("bone_thickness", 1.1),
    }
    tip = round(base * 0.56, 2)
    septum = {"margin_mm": tip, "sounding_mm": 4.0, "contact_mm": round(tip - 0.4, 2)}
    sites = {
        "midfacial": {name: value for name, value in middle.items() if value is not None},
        "mesial": dict(septum),
        "distal": dict(septum),
    } | changes.pop("sites", {})
    chart = {
        "status": "natural",
        "width_mm": _WIDTH[position],
        "edge_height_mm": _EDGE[position],
        "axis_tip_deg": 0.0,
        "axis_torque_deg": 0.0,
        "incisal_extension_mm": 0.0,
        "restoration": "none",
        "root_apex_mm": round(base + 15.5, 2),
        "mobility": 0,
        "sites": sites,
    } | changes
    return {name: value for name, value in chart.items() if value is not None}


def case(teeth: dict[str, dict[str, Any]], **changes: Any) -> Case:
    """A case of these teeth; ``policy``, ``subject``, ``smile`` and the like by name."""
    return Case.model_validate(
        {"case": "test-mouth", "notation": "fdi", "subject": {"sex": "female"}, "teeth": teeth} | changes
    )


def front(**by_tooth: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """Six upper front teeth; ``t11={"margin": 9.0}`` changes one."""
    return {code: tooth(code, **by_tooth.get(f"t{code}", {})) for code in FRONT}


def plan(teeth: dict[str, dict[str, Any]], **changes: Any) -> Plan:
    """The plan of these teeth, without findings."""
    return make_plan(resolve(case(teeth, **changes)), Context())


def problem(teeth: dict[str, dict[str, Any]], **changes: Any) -> Problem:
    """The posed problem of these teeth."""
    anatomy = resolve(case(teeth, **changes))
    return build(anatomy, policy_of(anatomy))


@dataclass(frozen=True)
class Body:
    """Teeth, sites and paper of a plan, without what is said about it: a tenth of the time."""

    teeth: dict[str, ToothPlan]
    sites: tuple[SitePlan, ...]
    paper: Paper


def body(teeth: dict[str, dict[str, Any]], **changes: Any) -> Body:
    """The plan of these teeth as far as millimetres go."""
    posed = problem(teeth, **changes)
    solution = solve(posed)
    plans = {t.fdi: tooth_plan(posed.policy, solution, entry) for t, entry in posed.teeth.items()}
    sites = tuple(
        s for t, entry in posed.teeth.items() for s in site_plans(posed, solution, entry, plans[t.fdi].procedure)
    )
    return Body(plans, sites, paper_of(posed, solution, plans, sites))


def site(plan: Plan, code: str, name: Site | str = Site.MIDFACIAL) -> SitePlan:
    """One site of a plan."""
    return next(s for s in plan.sites if s.tooth == code and s.site == name)


def mirrored(teeth: dict[str, dict[str, Any]]) -> dict[str, dict[str, Any]]:
    """The same mouth with right and left exchanged."""
    return {Tooth(code).contralateral.fdi: chart for code, chart in teeth.items()}

"""What if one reading, or one limit, were different: what changes in the plan, and why.

The change is named as it stands in the case file: ``teeth.11.sites.midfacial.cej_mm`` or
``policy.keratinised_minimum_mm``. The case is changed, resolved, posed and solved anew by the code that makes the plan,
so the answer is the plan that the changed case would get. Nothing is written.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel, ValidationError

from festoon.errors import Fault, InputRefusedError
from festoon.model.anatomy import Anatomy
from festoon.model.case import Case
from festoon.model.dentition import Tooth
from festoon.model.plan import Procedure
from festoon.model.reading import Reading
from festoon.planning import words
from festoon.planning.binding import binding_of_move
from festoon.planning.compose import procedure_of
from festoon.planning.limits import RULES, Limit
from festoon.planning.policy import policy_of
from festoon.planning.pose import build
from festoon.planning.problem import EPSILON, Problem
from festoon.planning.solve import Solution, solve

Value = float | str | bool | None
"""A number in the unit of its key, a word, yes or no, or None: not measured, or the default of a setting."""
_TELLS_MM = 0.005
"""Two plans that differ by less than this are told as the same."""
_RULE_WORDS = {
    "target_length": "its target length",
    "left_right_difference": "the height of the tooth on the other side",
    "place_in_gingival_line": "its place in the gingival line",
    "gingival_line_of_neighbours": "the gingival line of its neighbours",
    "finish_line": "its finish line",
}


@dataclass(frozen=True)
class Solved:
    """A mouth as posed and as solved."""

    problem: Problem
    solution: Solution


@dataclass(frozen=True)
class ToothChange:
    """What changes at one tooth. Millimetres; None where no cut is given because something is unknown."""

    tooth: str
    move_before_mm: float | None
    move_after_mm: float | None
    bone_before_mm: float | None
    """The deepest cut of the tooth."""
    bone_after_mm: float | None
    procedure_before: Procedure
    procedure_after: Procedure
    binding_before: str | None
    """The rule that sets the margin; None where it stays."""
    binding_after: str | None
    text: str
    """Without the name of the tooth."""


@dataclass(frozen=True)
class WhatIf:
    """The answer: the change, what it does to each tooth, and both plans."""

    change: Mapping[str, Value]
    teeth: tuple[ToothChange, ...]
    """Only the teeth at which something changes, as seen facing the patient."""
    text: str
    before: Solved
    after: Solved


def what_if(
    anatomy: Anatomy,
    change: Mapping[str, Value],
    *,
    resolve: Callable[[Case], Anatomy],
    withheld: Callable[[Anatomy], Mapping[Tooth, str]] | None = None,
    before: Solved | None = None,
) -> WhatIf:
    """What a change of the case does to the plan.

    Parameters
    ----------
    anatomy : Anatomy
        The mouth as known, with its case.
    change : mapping of str to value
        By key path of the case file. A number given for a reading replaces its value; error, method and datum stay
        those of the (first) reading it replaces, and further readings of the same quantity are left out, because
        several readings say together what the one asked about would be.
    resolve : callable
        Makes a mouth from a case: ``festoon.records.reconcile.resolve``.
    withheld : callable, optional
        From a mouth, the teeth for which a finding says that surgery is not the answer, and why; asked before and
        after the change.
    before : Solved, optional
        The plan as it stands, where the caller has it: saves solving it again.

    Raises
    ------
    InputRefusedError
        If a key path does not exist or a value is not allowed there: all of them together.
    SolverError
        If the solver fails.
    """
    changed = resolve(_changed(anatomy.case, change))
    first = before or _solved(anatomy, withheld)
    second = _solved(changed, withheld)
    teeth = tuple(_tooth_changes(first, second))
    asked = "; ".join(f"{path} = {_shown(value)}" for path, value in change.items())
    told = _together(teeth) or "Nothing changes in the plan."
    return WhatIf(dict(change), teeth, f"If {asked}: {told}", first, second)


def plan_changes(
    before: Anatomy,
    after: Anatomy,
    *,
    withheld: Callable[[Anatomy], Mapping[Tooth, str]] | None = None,
) -> tuple[tuple[ToothChange, ...], str]:
    """What differs between the plans of two states of one mouth: tooth by tooth, and in sentences.

    Raises
    ------
    SolverError
        If the solver fails.
    """
    teeth = tuple(_tooth_changes(_solved(before, withheld), _solved(after, withheld)))
    return teeth, _together(teeth) or "Nothing changes in the plan."


def _solved(anatomy: Anatomy, withheld: Callable[[Anatomy], Mapping[Tooth, str]] | None) -> Solved:
    problem = build(anatomy, policy_of(anatomy), withheld=withheld(anatomy) if withheld else None)
    return Solved(problem, solve(problem))


def _shown(value: Value) -> str:
    if value is None:
        return "not measured"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float | int) else value


# The changed case ------------------------------------------------------------------------------------------------


def _changed(case: Case, change: Mapping[str, Value]) -> Case:
    """The case with every change made, validated on the way."""
    faults: list[Fault] = []
    for path, value in change.items():
        try:
            case = _set(case, path.split("."), value)
        except _NoSuchPlaceError as error:
            faults.append(
                Fault(
                    file="what-if",
                    where=path,
                    found=f"no {error.step!r} there",
                    expected=f"one of {', '.join(error.choices)}" if error.choices else "a key path that ends here",
                    do="Name a reading or a limit as it stands in the case file, e.g. teeth.11.sites.midfacial.cej_mm.",
                )
            )
        except ValidationError as error:
            faults.append(
                Fault(
                    file="what-if",
                    where=path,
                    found=repr(value),
                    expected="; ".join(dict.fromkeys(item["msg"] for item in error.errors())),
                    do="Ask about a value that a case file may hold.",
                )
            )
    if faults:
        raise InputRefusedError(faults)
    return case


class _NoSuchPlaceError(Exception):
    """A step of a key path that does not exist, and those that do."""

    def __init__(self, step: str, choices: Sequence[str]) -> None:
        super().__init__(step)
        self.step, self.choices = step, tuple(choices)


def _set(part: Any, steps: Sequence[str], value: Value) -> Any:
    """The same part with one value set below it. Only what lies on the way is validated again."""
    step, rest = steps[0], steps[1:]
    if isinstance(part, BaseModel):
        fields = {name: getattr(part, name) for name in type(part).model_fields}
        if step not in fields:
            raise _NoSuchPlaceError(step, list(fields))
        fields[step] = _set(fields[step], rest, value) if rest else _replaced(fields[step], value)
        return type(part).model_validate(fields)
    if isinstance(part, dict):
        if step not in part:
            # A reading that was never charted may be asked about; a tooth or site that was never charted may not.
            raise _NoSuchPlaceError(step, [str(key) for key in part])
        return {**part, step: _set(part[step], rest, value) if rest else _replaced(part[step], value)}
    raise _NoSuchPlaceError(step, ())


def _replaced(old: Any, value: Value) -> Any:
    """What is put in the place of an old value: a reading keeps its error, method and datum."""
    if isinstance(old, tuple) and old and isinstance(old[0], Reading):
        return () if value is None else ({**old[0].model_dump(), "value": value, "flag": "asked: what if"},)
    return value


# What changed ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _State:
    """What a plan does to one tooth; move and bone are None where it gives no cut because something is unknown."""

    procedure: Procedure
    why: str
    move: float | None
    bone: float | None
    rule: str | None

    @classmethod
    def of(cls, solved: Solved, tooth: Tooth) -> _State:
        problem, solution = solved.problem, solved.solution
        entry = problem.teeth[tooth]
        procedure, why = procedure_of(entry, solution)
        if procedure is Procedure.UNDETERMINED:
            return cls(procedure, why, None, None, None)
        move = solution.moves.get(tooth, 0.0)
        bone = max((solution.bone(tooth, site) for site in entry.sites), default=0.0)
        return cls(procedure, why, move, bone, binding_of_move(problem, solution, entry) if move > EPSILON else None)

    def is_like(self, other: _State) -> bool:
        """True where the two would be told in the same words."""
        lengths = ((self.move, other.move), (self.bone, other.bone))
        return self.procedure is other.procedure and not any(_differ(one, two) for one, two in lengths)


def _differ(one: float | None, two: float | None) -> bool:
    return abs(one - two) >= _TELLS_MM if one is not None and two is not None else one is not two


def _tooth_changes(before: Solved, after: Solved) -> Iterator[ToothChange]:
    for tooth in before.problem.teeth:
        old, new = _State.of(before, tooth), _State.of(after, tooth)
        if not old.is_like(new):
            yield ToothChange(
                tooth=tooth.fdi,
                move_before_mm=old.move,
                move_after_mm=new.move,
                bone_before_mm=old.bone,
                bone_after_mm=new.bone,
                procedure_before=old.procedure,
                procedure_after=new.procedure,
                binding_before=old.rule,
                binding_after=new.rule,
                text=f"{'; '.join(_parts(old, new))}. {_why(tooth, before, after, old, new)}",
            )


def _parts(old: _State, new: _State) -> Iterator[str]:
    """The margin, the bone and the procedure of one tooth, then and now."""
    if old.move is not None and new.move is not None and _differ(old.move, new.move):
        if new.move < EPSILON:
            yield f"the margin stays instead of moving {words.mm(old.move)} mm"
        else:
            way = "further apically" if new.move > old.move else "less"
            yield (
                f"the margin moves {words.mm(new.move)} mm instead of {words.mm(old.move)} mm, "
                f"{words.mm(abs(new.move - old.move))} mm {way}"
            )
    if old.bone is not None and new.bone is not None and _differ(old.bone, new.bone):
        yield f"bone {words.mm(new.bone)} mm instead of {words.mm(old.bone)} mm"
    if new.procedure is not old.procedure:
        yield f"{_spoken(new.procedure)} instead of {_spoken(old.procedure)}"


def _together(changes: Sequence[ToothChange]) -> str:
    """The changes in sentences; teeth of which the same is said are named together."""
    teeth: dict[str, list[str]] = {}
    for change in changes:
        teeth.setdefault(change.text, []).append(change.tooth)
    return " ".join(f"{', '.join(codes)}: {text}" for text, codes in teeth.items())


def _why(tooth: Tooth, before: Solved, after: Solved, old: _State, new: _State) -> str:
    """What sets the margin now and set it before; what moved the bone where the margin is the same."""
    if new.rule is None:
        return f"Why: {new.why}."
    if old.rule is None:
        return f"The margin is now set by {_rule(new.rule)}."
    if new.rule != old.rule:
        return f"The margin is now set by {_rule(new.rule)}, before by {_rule(old.rule)}."
    if _differ(old.move, new.move):
        return f"The margin is set by {_rule(new.rule)}, as before."
    sites = [solved.problem.teeth[tooth].sites for solved in (before, after)]
    if [here.need for here in sites[0].values()] != [here.need for here in sites[1].values()]:
        return "Why: another distance from margin to crest is wanted."
    if [here.crest for here in sites[0].values()] != [here.crest for here in sites[1].values()]:
        return "Why: the crest lies elsewhere; the wanted distance from margin to crest is the same."
    return f"Why: {new.why}."


def _rule(name: str) -> str:
    """A rule in words."""
    return _RULE_WORDS[name] if name in _RULE_WORDS else RULES[Limit(name)].words


def _spoken(procedure: Procedure) -> str:
    return procedure.value.replace("_", " ")

"""A whole template: which parts, over which teeth, made, checked, written, read back and checked again."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from festoon.model.dentition import Tooth
from festoon.model.plan import Plan
from festoon.template.body import Body
from festoon.template.build import Part, build
from festoon.template.checks import Check, Maps, check_part
from festoon.template.files import read_back_stl, stl_bytes, three_mf_bytes
from festoon.template.inputs import Kind, Sheet, ToothOnScan, Wish
from festoon.template.prepare import Ground, ground_of, smoothed
from festoon.template.seating import Seating, find_seating
from festoon.template.targets import Target, running_on, targets_of

Readers = Mapping[str, Callable[[bytes], Sheet]]
"""By ending of the file: a reader that had no part in writing it."""
_LINES: dict[Kind, tuple[tuple[str, str], ...]] = {
    "gingival-line": (("gingival-line", "margin"),),
    "gingival-and-crest": (("gingival-and-crest", "margin-and-crest"),),
    "two-piece": (("gingival-line", "margin"), ("crest-line", "crest")),
}


class CannotBuildError(ValueError):
    """Why no part can be made of this plan and scan, in words."""


@dataclass(frozen=True)
class MadePart:
    """One part with its checks; ``files`` is empty where a check failed."""

    part: Part
    checks: tuple[Check, ...]
    maps: Maps
    files: dict[str, bytes]

    @property
    def printable(self) -> bool:
        """True when no check failed."""
        return all(c.passed is not False for c in self.checks)


@dataclass(frozen=True)
class Template:
    """All parts of a template and what was found on the way."""

    kind: Kind
    parts: tuple[MadePart, ...]
    ground: Ground
    seating: Seating
    covered: tuple[str, ...]
    supports: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def printable(self) -> bool:
        """True when every part passed every check."""
        return all(p.printable for p in self.parts)


def kind_for(plan: Plan) -> tuple[Kind, str]:
    """The kind a plan asks for, and why."""
    bone = [s for s in plan.sites if (s.bone_removal_mm or 0) > 0]
    if not bone:
        return "gingival-line", "no bone is removed in the plan: one edge, for the gingival line"
    teeth = ", ".join(dict.fromkeys(s.tooth for s in bone))
    return (
        "two-piece",
        f"bone is removed at {teeth}: on models a gingival line alone was no better than freehand for the crest (ERR-036), so a second part "
        "carries the crest line after the flap is raised",
    )


def treated_teeth(plan: Plan) -> list[str]:
    """Teeth with an edge, from the patient's right."""
    chosen = (f for f, t in plan.teeth.items() if t.procedure not in ("none", "not_advised", "undetermined"))
    return sorted(chosen, key=lambda f: Tooth(f).column)


def covered_teeth(
    plan: Plan, teeth: dict[str, ToothOnScan], unsound: frozenset[str]
) -> tuple[list[str], tuple[str, ...]]:
    """Teeth under the part, from the patient's right, and those beyond the field that must bear it.

    Raises
    ------
    CannotBuildError
        If nothing is treated, a treated tooth is not on the scan, or no sound tooth stands beyond an end of the field.
    """
    field = treated_teeth(plan)
    if not field:
        raise CannotBuildError("the plan treats no tooth: there is nothing to carry to the mouth")
    lost = [f for f in field if f not in teeth]
    if lost:
        raise CannotBuildError(
            f"{', '.join(lost)} treated in the plan but not found on the scan: scan again, or give frames by hand"
        )
    by_column = {Tooth(f).column: f for f in teeth if Tooth(f).is_upper == Tooth(field[0]).is_upper}
    ends = []
    for start, step in ((Tooth(field[0]).column, -1), (Tooth(field[-1]).column, 1)):
        beyond = (by_column[c] for c in range(start + step, start + 4 * step, step) if c in by_column)
        sound = next((f for f in beyond if f not in unsound), None)
        if sound is None:
            side = "the patient's right" if step < 0 else "the patient's left"
            raise CannotBuildError(
                f"no sound tooth on the scan beyond the field on {side}: scan further, or treat fewer teeth"
            )
        ends.append(sound)
    first, last = (Tooth(f).column for f in ends)
    return [by_column[c] for c in sorted(by_column) if first <= c <= last], (ends[0], ends[1])


def make_template(
    plan: Plan,
    sheet: Sheet,
    teeth: dict[str, ToothOnScan],
    kind: Kind,
    wish: Wish,
    unsound: frozenset[str] = frozenset(),
    readers: Readers = {"stl": read_back_stl},  # noqa: B006  # never changed
    tell: Callable[[str], None] = lambda _: None,
) -> Template:
    """Make and check every part.

    Parameters
    ----------
    plan : Plan
    sheet : Sheet
        The scan, file coordinates, mm, outward wound.
    teeth : dict of ToothOnScan
        By ISO 3950 number, file coordinates.
    kind : {"gingival-line", "gingival-and-crest", "two-piece"}
    wish : Wish
    unsound : set of str
        Teeth that may not bear: implants, pontics, mobile teeth.
    readers : mapping of str to callable
        Each file with such an ending is read back by it and measured again.
    tell : callable
        Is told what is being done, in words.

    Raises
    ------
    CannotBuildError
        If no part can be made of this plan and scan.
    """
    covered, supports = covered_teeth(plan, teeth, unsound)
    tell("insertion axis")
    seating = find_seating(smoothed(sheet), [teeth[f] for f in covered], wish.axis)
    seated = {f: t.moved(seating.turn, seating.shift) for f, t in teeth.items()}
    ground = ground_of(sheet.moved(seating.turn, seating.shift), list(seated.values()))
    every, notes = targets_of(plan, seated)
    targets = [t for t in every if t.tooth.fdi in covered]
    parts = []
    land = Body(ground.sheet)
    for name, line in _LINES[kind]:
        if line != "margin" and not any(t.treated and t.crest is not None for t in targets):
            raise CannotBuildError("the plan has no crest levels (no sounding): only a gingival-line part can be made")
        bare = [t.tooth.fdi for t in targets if t.treated and t.crest is None]
        if line == "margin-and-crest" and bare:
            raise CannotBuildError(
                f"{', '.join(bare)} treated without planned crest levels (no sounding): the bar beside would cover the gingival line there; "
                "sound these teeth, or choose two pieces"
            )
        tell(f"part {name}")
        own = targets if line != "crest" else running_on([_without_margin_edge(t) for t in targets])
        made = build(name, ground, own, wish, line=line)
        tell(f"checking {name}")
        parts.append(_checked(made, ground, land, wish, supports, seating, plan, readers))
    return Template(kind, tuple(parts), ground, seating, tuple(covered), supports, tuple(notes))


def _without_margin_edge(target: Target) -> Target:
    """For the second part a treated tooth without a crest line gets no edge."""
    if not target.treated or target.crest is not None:
        return target
    return replace(target, treated=False, margin=target.present - 1.0)


def _checked(
    made: Part,
    ground: Ground,
    land: Body,
    wish: Wish,
    supports: tuple[str, ...],
    seating: Seating,
    plan: Plan,
    readers: Readers,
) -> MadePart:
    checks, maps = check_part(made, ground, wish, supports, land)
    in_file = Sheet(seating.back(made.sheet.vertices), made.sheet.faces)
    about = {
        "Title": f"{plan.case} {made.name}",
        "Application": f"festoon {plan.provenance.festoon}",
        "Description": f"surgical template, plan {plan.fingerprint}; pose of the scan; not a medical device",
    }
    files = {
        f"{made.name}.stl": stl_bytes(in_file, f"festoon mm {plan.case} {made.name} plan {plan.fingerprint[:16]}"),
        f"{made.name}.3mf": three_mf_bytes(in_file, about),
    }
    for name, data in files.items():
        reader = readers.get(name.rsplit(".", 1)[1])
        if reader is not None:
            back = reader(data).moved(seating.turn, seating.shift)
            checks.append(_read_again(name, replace(made, sheet=back), ground, land, wish, supports, checks))
    passed = all(c.passed is not False for c in checks)
    return MadePart(made, tuple(checks), maps, files if passed else {})


def _read_again(
    name: str, back: Part, ground: Ground, land: Body, wish: Wish, supports: tuple[str, ...], before: list[Check]
) -> Check:
    """The written file, read by another library, measured again in full."""
    again, _ = check_part(back, ground, wish, supports, land)
    first = {c.name: c for c in before}
    worse = [c.name for c in again if c.passed is False and first[c.name].passed is not False]
    values = {c.name: c.value for c in again}
    volume, edge = values["volume"] or 0.0, values["edge"]
    passed = not worse and abs(volume - (first["volume"].value or 0.0)) < 0.001 * abs(volume) + 0.1
    words = f"{volume:.0f} mm3" + ("" if edge is None else f", edges within {edge:.3f} mm")
    ending = name.rsplit(".", 1)[1]
    return Check(
        f"read_back_{ending}",
        f"{name} read back by another library",
        passed,
        words,
        "every check again",
        ", ".join(worse),
    )

"""What to weigh before cutting that concerns several teeth, and how cautions are put together."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from festoon.model.case import Purpose
from festoon.model.dentition import Pair, Site, Tooth, facing
from festoon.model.plan import Arch, Caution, PapillaPlan
from festoon.planning.gingival_line import pairs
from festoon.planning.limits import Limit
from festoon.planning.papillae import fill_chance
from festoon.planning.problem import EPSILON, Problem, ToothProblem
from festoon.planning.standing import COMMON

FILLS_TO_MM = 5.0
"""Contact to crest up to which nearly every papilla filled its space: the first point of the 1992 series (GIN-063)."""
_OPEN_MM = 1.0
"""A papilla that ends this far short of its contact leaves a space that is seen (common practice, no source)."""
_TELLABLE_MM = 0.05
"""Less than this is not worth a word: far below any reading."""


def arch_cautions(problem: Problem, arch: Arch, papillae: tuple[PapillaPlan, ...]) -> Iterator[Caution]:
    """Cautions that belong to more than one tooth."""
    tolerance, warn = problem.policy["pair_tolerance_mm"], problem.policy["pair_warning_mm"]
    for pair, difference in arch.pair_differences_mm.items():
        before = arch.pair_differences_present_mm.get(pair)
        if difference is None:
            continue
        left_over = abs(difference) > tolerance + 1e-3
        made = before is not None and abs(difference) > abs(before) + 1e-3 and abs(difference) > 0.05
        if left_over or made:
            further = pair.split("-")[0 if difference > 0 else 1]
            before_text = f" ({abs(before):.1f} today)" if before is not None else ""
            yield Caution(
                code="left_right_difference",
                text=f"{pair}: a left-right difference of {abs(difference):.1f} mm is left{before_text}; {further} lies "
                "further apically",
                source="CP-008; AES-009 to AES-017",
                severity="warn" if abs(difference) > warn or left_over else "note",
            )
    yield from _lateral_places(arch)
    yield from _rethink(problem, arch)
    for papilla in papillae:
        near = papilla.root_distance_mm
        if near is not None and near < problem.policy["root_distance_minimum_mm"]:
            yield Caution(
                code="root_proximity",
                text=f"{papilla.between}: roots {near:.1f} mm apart: bone between them is not shaped; separate them orthodontically where it must be",
                source=COMMON,
            )
        yield from _open_space(problem, papilla)
    face = problem.anatomy.case.face
    if face.occlusal_cant_deg:
        by_cej = _differences_at_cej(problem)
        yield Caution(
            code="cant",
            text=f"occlusal plane canted {face.occlusal_cant_deg:+.1f}° (patient's left higher is +): heights count from "
            f"the declared horizontal ({face.horizontal or 'not declared'}); a limit led by the CEJ can create asymmetry"
            + (f": with every margin at its CEJ {by_cej}" if by_cej else ""),
            source=COMMON,
        )
    if face.midline_shift_mm:
        yield Caution(
            code="midline",
            text=f"dental midline {face.midline_shift_mm:+.1f} mm (to the patient's left is +): pairs are compared about "
            "the dental midline, not the face's",
            source=COMMON,
            severity="note",
        )
    if problem.anatomy.case.high_frenum:
        yield Caution(code="frenum", text="high frenum: combine or stage its release", source=COMMON)
    for tie in arch.ties:
        yield Caution(code="tie", text=tie, source="rank 6 of the programme", severity="note")


def _lateral_places(arch: Arch) -> Iterator[Caution]:
    for line in arch.gingival_line:
        under = line.lateral_coronal_planned_mm
        if under is None:
            continue
        if under < -1e-3:
            yield Caution(
                code="lateral_apical",
                text=f"patient's {line.side}: the lateral's margin lies {-under:.1f} mm apical to the central-canine line",
                source="GIN-010, GIN-017, GIN-020",
            )
        elif under > line.wanted_mm[1] + _TELLABLE_MM:
            (low, high), before = line.wanted_mm, line.lateral_coronal_present_mm
            made = before is not None and under > before + _TELLABLE_MM
            yield Caution(
                code="lateral_coronal",
                text=f"patient's {line.side}: the lateral's margin lies {under:.1f} mm coronal to the central-canine line, "
                f"{low:g} to {high:g} wanted" + (f", {before:.1f} today" if made else ""),
                source="GIN-010, GIN-017, GIN-020",
                severity="warn" if made else "note",
            )


def _rethink(problem: Problem, arch: Arch) -> Iterator[Caution]:
    """Some teeth stand at or past their CEJ while others move: one line for all is no longer to be had."""
    smallest = problem.policy["smallest_move_mm"]
    held = [
        entry.tooth.fdi
        for entry in problem.teeth.values()
        if entry.anatomy.purpose is Purpose.AESTHETIC
        and entry.move_caps.get(Limit.ROOT_EXPOSURE, smallest) < smallest
        and (entry.wants_surgery or _shows_root(entry))
    ]
    if held and arch.flap_fields:
        yield Caution(
            code="rethink_line",
            text=f"{', '.join(held)} stand at or past the CEJ and cannot follow: think the line through again with them where "
            "they are, or add length at the edge, or cover the root",
            source=COMMON,
        )


def _shows_root(entry: ToothProblem) -> bool:
    middle = entry.anatomy.site(Site.MIDFACIAL)
    return middle.margin is not None and middle.cej is not None and middle.margin.value > middle.cej.value + EPSILON


def _open_space(problem: Problem, papilla: PapillaPlan) -> Iterator[Caution]:
    """A space that the papilla may not fill, with the contact that would bring it to where most do."""
    distance, chance = papilla.contact_to_crest_mm, papilla.fill_chance
    short, contact = _short_of_contact(problem, papilla)
    is_open = short is not None and short > _OPEN_MM - EPSILON
    today = f"{papilla.between}: the papilla ends {short:.1f} mm apical to {contact}" if is_open else ""
    if distance is not None and chance is not None and chance < 0.6:
        yield Caution(
            code="black_triangle",
            text=f"{papilla.text}; {f'open by {short:.1f} mm today; ' if is_open else ''}a longer crown makes an open space "
            f"larger: consider a contact {distance - FILLS_TO_MM:.1f} mm longer apically, {FILLS_TO_MM:g} mm from the crest, "
            f"where {fill_chance(FILLS_TO_MM)[0]:.0%} fill",
            source="GIN-034, GIN-035, GIN-063",
        )
    elif is_open:
        yield Caution(code="low_papilla", text=f"{today}: a low papilla, the space may stay open", source=COMMON)


def _short_of_contact(problem: Problem, papilla: PapillaPlan) -> tuple[float | None, str]:
    """How far the papilla ends apical to the contact that is, or will be, there; the larger of the two teeth's."""
    first, second = (problem.teeth[Tooth(code)] for code in papilla.between.split("-"))
    own = problem.anatomy.papillae.get(Pair(first.tooth, second.tooth))
    sides = [
        first.anatomy.site(facing(first.tooth, second.tooth)),
        second.anatomy.site(facing(second.tooth, first.tooth)),
    ]
    if own is not None and own.future_contact is not None:
        tip = sides[0].margin
        return (None if tip is None else tip.value - own.future_contact), "the contact that will be made"
    gaps = [side.margin.value - side.contact.value for side in sides if side.margin and side.contact]
    return max(gaps, default=None), "the contact"


def _differences_at_cej(problem: Problem) -> str:
    """What the pairs would differ by were every margin led to its CEJ, in words; empty where the CEJs are level."""
    parts = []
    for right, left in pairs(problem):
        here, there = (entry.anatomy.site(Site.MIDFACIAL).cej for entry in (right, left))
        heights = right.height(here.value if here else None), left.height(there.value if there else None)
        if heights[0] is not None and heights[1] is not None and abs(heights[0] - heights[1]) > _TELLABLE_MM:
            parts.append(f"{right.tooth}/{left.tooth} differ by {abs(heights[0] - heights[1]):.1f}")
    return f"{', '.join(parts)} mm" if parts else ""


def grouped(cautions: Iterable[Caution]) -> tuple[Caution, ...]:
    """What stops first; the same caution of several teeth said once, with all their names."""
    by_sentence: dict[tuple[str, str, str, str | None], list[Caution]] = {}
    for caution in cautions:
        by_sentence.setdefault((caution.severity, caution.code, caution.text, caution.source), []).append(caution)
    merged = [
        same[0]
        if len(same) == 1
        else same[0].model_copy(
            update={"tooth": None, "site": None, "text": f"{', '.join(map(where, same))}: {same[0].text}"}
        )
        for same in by_sentence.values()
    ]
    return tuple(sorted(merged, key=lambda caution: ("stop", "warn", "note").index(caution.severity)))


def where(caution: Caution) -> str:
    """The place a caution is about: tooth, and site where it has one."""
    return " ".join(filter(None, (caution.tooth or "all", caution.site and caution.site.replace("_", " "))))

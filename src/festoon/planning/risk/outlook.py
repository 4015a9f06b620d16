"""What the errors of the readings make of a plan: chances, readings worth taking again, and a more careful plan.

The plan is held fixed and carried out in many mouths that the readings leave possible
(:mod:`festoon.planning.risk.drawn_mouth`); what goes wrong is counted (:mod:`festoon.planning.risk.harms`). See
``docs/method/risk.md``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from math import sqrt

import numpy as np

from festoon.evidence.errors import default_method
from festoon.evidence.table import published
from festoon.model.dentition import Site, Tooth
from festoon.model.plan import Chance, Risk
from festoon.model.reading import Method
from festoon.planning.problem import Problem
from festoon.planning.risk.drawn_mouth import EXECUTION, SITE_KEYS, DrawnMouth, Hand, Quantity
from festoon.planning.risk.harms import (
    TELLABLE_MM,
    Cuts,
    Flags,
    Harm,
    needless_bone,
    pair_harms,
    planned_cuts,
    site_harms,
    unsayable,
    words_of,
)
from festoon.planning.risk.reading_noise import SOUNDING_BIAS_MM, Noise, noise_of
from festoon.planning.risk.rereading import WORTH_SAYING, Rereading, measure_again
from festoon.planning.risk.robust import PROBABILITY, robust_of
from festoon.planning.solve import Solution

DRAWS = 20_000
"""A chance near one half is then known to ±0.7 percentage points (two Monte Carlo errors)."""
_SHOWN = 5
_NOTHING_AGAIN = (
    f"No single reading, taken again, would lower the chance of a bad outcome by {WORTH_SAYING * 100:g} percentage points "
    "or more; the readings of the day of surgery are taken all the same."
)
_THIN_PLATE_MM = 0.6
"""Two voxels of 0.3 mm: thinner facial bone is not seen reliably (ERR-016, ERR-022)."""


def risk_of(
    problem: Problem,
    solution: Solution,
    *,
    seed: int,
    draws: int = DRAWS,
    probability: float = PROBABILITY,
    hand: Hand = "probe",
) -> Risk | None:
    """The risk of a plan; None when nothing is operated.

    Parameters
    ----------
    problem, solution : Problem, Solution
        The plan as posed and as solved.
    seed : int
        Same seed, same plan, same answer to the last bit.
    draws : int
        Number of simulated mouths.
    probability : float
        With which the robust plan keeps each limit, 0 to 1.
    hand : {"probe", "budget"}
        Error of setting a level at the chair: a probe read to 0.5 mm (ERR-010), or the combined budget of ERR-042,
        0.5 mm, which is from memory and holds some healing too.

    Raises
    ------
    SolverError
        If the robust plan cannot be solved.
    """
    if not solution.operated:
        return None
    mouth = DrawnMouth(problem, seed=seed, draws=draws, hand=hand)
    cuts: dict[Tooth, Cuts] = {
        tooth: planned_cuts(entry, solution) for tooth, entry in problem.teeth.items() if tooth in solution.operated
    }
    harms = dict(harms_of(mouth, problem, cuts))
    rereading = Rereading(mouth, problem, solution, cuts, harms)
    robust = robust_of(mouth, problem, solution, probability)
    again = measure_again(rereading.values(), _SHOWN)
    return Risk(
        draws=draws,
        seed=seed,
        chances=tuple(sorted(_chances(harms), key=lambda chance: -chance.chance)),
        any_bad=_any_bad(problem, [flags for harm, flags in harms.items() if harm.kind.counts]),
        measure_again=again,
        robust_probability=probability,
        robust=robust.teeth,
        robust_price=robust.price,
        notes=(*_notes(mouth, problem, cuts, hand), *([] if again else [_NOTHING_AGAIN])),
    )


def harms_of(mouth: DrawnMouth, problem: Problem, cuts: Mapping[Tooth, Cuts]) -> Iterator[tuple[Harm, Flags]]:
    """Everything that may go wrong, draw by draw."""
    for tooth, its_cuts in cuts.items():
        entry = problem.teeth[tooth]
        for site, cut in its_cuts.items():
            yield from site_harms(mouth, entry, entry.sites[site], cut)
        yield from needless_bone(mouth, entry, its_cuts)
    yield from pair_harms(mouth, problem, cuts, only=cuts.keys())


def _chances(harms: Mapping[Harm, Flags]) -> Iterator[Chance]:
    for harm, flags in harms.items():
        yield _chance(harm.text, flags, harm.tooth, harm.site)


def _chance(text: str, flags: Flags, tooth: Tooth | None = None, site: Site | None = None) -> Chance:
    """A chance with its Monte Carlo error; half a draw is added so that none out of many is not called certain."""
    draws, hits = flags.size, int(np.count_nonzero(flags))
    guarded = (hits + 0.5) / (draws + 1)
    return Chance(
        what=text,
        chance=round(hits / draws, 6),
        mc_se=round(sqrt(guarded * (1 - guarded) / draws), 6),
        tooth=tooth.fdi if tooth else None,
        site=site,
    )


def _any_bad(problem: Problem, counted: list[Flags]) -> Chance | None:
    """The chance that anything counted goes wrong; None where nothing can be said."""
    if not counted:
        return None
    text = (
        f"at least one of: a margin more than {TELLABLE_MM:g} mm closer to bone than wanted, more than "
        f"{TELLABLE_MM:g} mm of root shown, keratinised tissue more than {TELLABLE_MM:g} mm short, a left-right "
        f"difference of more than {problem.policy['pair_warning_mm']:g} mm"
    )
    return _chance(text, np.logical_or.reduce(counted))


def _notes(mouth: DrawnMouth, problem: Problem, cuts: Mapping[Tooth, Cuts], hand: Hand) -> Iterator[str]:
    noises = [*_noises(mouth, problem), EXECUTION[hand]]
    yield (
        "A planned bone level is a hypothesis: probe the bone with the flap open before cutting it, and cut to the "
        "level, not to the millimetres."
    )
    if any(noise.misreads for noise in noises):
        yield (
            f"Sounding reads {abs(SOUNDING_BIAS_MM):.2f} mm too little on average (ERR-004), so planned bone removal "
            "is about that much too large on average; one sounding in eight was off by more than 1 mm (ERR-003, "
            "failing teeth, which may be worse than these)."
        )
    yield (
        f"Counted as bad from {TELLABLE_MM:g} mm on: less than a probe tells (ERR-010). Root shown at all, and bone "
        "removal planned where none is needed, are listed and not counted: bone that lies low enough is not cut."
    )
    yield (
        f"The hand at the chair: {EXECUTION[hand].source}. Where bone is cut the planned level is taken to be reached, "
        "so a chance of zero there means: only if it was probed before closing (CP-006)."
    )
    unmeasured = _unmeasured(noises)
    if unmeasured:
        yield f"Error models from memory, arithmetic or common practice, not measured: {'; '.join(unmeasured)}."
    thin = list(_thin_on_cbct(problem, cuts))
    if thin:
        yield (
            f"Crest from a volume at {', '.join(thin)}, where the facial plate is thin or its thickness unknown: the "
            "crest may read too low (false dehiscence, ERR-016). How often is not published, so it is not in the chances."
        )
    unsaid = [item for tooth, its_cuts in cuts.items() for item in unsayable(problem.teeth[tooth], its_cuts)]
    if unsaid:
        yield f"Not in the chances, for lack of a reading: {'; '.join(unsaid)}."
    yield (
        "Not in the chances: healing, edges that come out otherwise than planned, the axis or scale of one photograph "
        "shared by several readings, and the error of the need itself."
    )


def _noises(mouth: DrawnMouth, problem: Problem) -> Iterator[Noise]:
    for tooth, entry in problem.teeth.items():
        for site in entry.sites:
            for key in SITE_KEYS:
                for reading in mouth.readings(Quantity(tooth, site, key)):
                    yield noise_of(key, reading)


def _unmeasured(noises: Iterable[Noise]) -> list[str]:
    """Evidence rows behind the noises that nobody saw in a source, and entries of common practice."""
    sources = dict.fromkeys(noise.source for noise in noises)
    rows = dict.fromkeys(row for source in sources for row in re.findall(r"ERR-\d{3}", source))
    found = [f"{row} ({known.quantity})" for row in rows if (known := published(row)).how_known != "seen"]
    return found + [source for source in sources if "common practice" in source]


def _thin_on_cbct(problem: Problem, cuts: Mapping[Tooth, Cuts]) -> Iterator[str]:
    """Operated sites whose crest was read from a volume where the facial plate may not show."""
    for tooth, its_cuts in cuts.items():
        for site in its_cuts:
            chart = problem.anatomy.case.teeth[tooth.fdi].sites[site]
            from_volume = any((r.method or default_method("crest_mm")) is Method.CBCT for r in chart.crest_mm)
            plate = problem.teeth[tooth].anatomy.site(site).bone_thickness
            if from_volume and site.is_facial and (plate is None or plate.value < _THIN_PLATE_MM):
                yield f"{tooth} {words_of(site)}"

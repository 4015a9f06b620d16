"""The chairside sheet: what a gloved surgeon reads at arm's length while the tissue is open.

Page 1 (one a jaw) stands alone: identity, datum, time-out, cautions, the grid of numbers in the order of the hands, the
stop conditions, the check line. The pages behind it hold what can be read at the desk: every caution, the arithmetic of
each number, the readings, and the level profiles at true scale.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from festoon.model.dentition import Notation
from festoon.model.plan import Plan
from festoon.reports.content import sheet_content
from festoon.reports.details import detail_content
from festoon.reports.typeset import Paper, paper_size, typeset
from festoon.reports.view import View

PROFILE_MARGIN_MM = 5.0
"""Free edge of the profile's page; printers leave about this much white."""
_SIZE = re.compile(r'<svg[^>]*? width="([0-9.]+)mm" height="([0-9.]+)mm"')


def write_sheet(
    plan: Plan,
    profiles: Sequence[str] = (),
    *,
    paper: Paper = "a4",
    notations: tuple[Notation, Notation] = (Notation.FDI, Notation.UNIVERSAL),
    view: View = "front",
) -> bytes:
    """The chairside sheet of a plan as PDF.

    Numbers are those of ``plan.paper``, on its half-millimetre grid. Where the plan is not for surgery every chairside
    page is stamped so, with the reasons.

    Parameters
    ----------
    plan : Plan
        Any plan.
    profiles : sequence of str
        Level profiles as SVG with their size in mm, as :func:`festoon.drawings.profile_pages` gives them; each is placed
        at that size on a page of its own.
    paper : "a4" or "letter"
        Landscape; a profile's page stands upright where only that fits.
    notations : pair of Notation
        The two names under which every tooth is shown.
    view : "front" or "behind"
        Facing the patient, or turned for the view from behind the head. Only the chairside page is turned: there is
        one of it, so that no two with opposite sides lie in one stack, and the pages behind it say that they are not.

    Returns
    -------
    bytes
        A PDF; the same plan gives the same bytes.

    Raises
    ------
    ValueError
        If the paper or the view is not known, or a profile does not say its size in mm.
    """
    data: dict[str, Any] = {
        "paper": _page(paper_size(paper)),
        "sheet": sheet_content(plan, notations, view),
        "details": detail_content(plan),
        "profiles": [placed(profile, paper) for profile in profiles],
    }
    return typeset("sheet.typ", data)


def profile_room(paper: Paper) -> tuple[float, float]:
    """Width and height in mm that a page leaves for the profile, landscape; upright it is the other way round."""
    width, height = paper_size(paper)
    return width - 2 * PROFILE_MARGIN_MM, height - 2 * PROFILE_MARGIN_MM


def _page(size: tuple[float, float]) -> dict[str, float]:
    return {"width": size[0], "height": size[1]}


def placed(svg: str, paper: Paper) -> dict[str, Any]:
    """The drawing's size, the page it goes on, and by how much it had to be reduced, if it had to."""
    match = _SIZE.search(svg)
    if match is None:
        raise ValueError("the profile does not say its width and height in mm: draw it with festoon.drawings")
    width, height = float(match[1]), float(match[2])
    room = profile_room(paper)
    shares = [min(1.0, across / width, down / height) for across, down in (room, room[::-1])]
    size = paper_size(paper) if shares[0] >= shares[1] else paper_size(paper)[::-1]
    share = max(shares)
    return {
        "svg": svg,
        "width": width * share,
        "page": _page(size),
        "reduced": None if share == 1.0 else f"{share * 100:.0f} %",
        "margin": PROFILE_MARGIN_MM,
    }

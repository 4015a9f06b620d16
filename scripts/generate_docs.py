"""Write the generated pages of the documentation, or check that they are what the code says.

python scripts/generate_docs.py            write them
python scripts/generate_docs.py --check    name those that differ; exit 1 if any does
"""

from __future__ import annotations

import sys
from collections.abc import Collection
from pathlib import Path

from festoon.drawings.profile import draw_profile
from festoon.model.case import Case
from festoon.model.plan import Plan
from festoon.model.practice_files import PlannedLevels, SurgeryNote
from festoon.model.quantities import Readings
from festoon.model.recall import RecallState
from festoon.model.surgery import SurgeryState
from festoon.model.verification import Verification
from festoon.records.casefile import parse_case
from festoon.records.demo import demo_case
from festoon.workflow.planning import plan_of
from pages.cases import case_pages
from pages.data_model import data_model_figure
from pages.figures import frame_figure, levels_figure
from pages.formats import format_page
from pages.reference import bibliography_page, commands_page, limits_page, settings_page

ROOT = Path(__file__).resolve().parent.parent
DOCS = ROOT / "docs"
GENERATED = ("formats", "reference", "cases", "pictures")
HARD_CASES = ROOT / "tests" / "cases" / "hard"
SHOWN = "linden-04"
"""The demo case whose profile is shown."""


def pages() -> dict[str, str]:
    """Every generated page, by its path under ``docs``."""
    return quick_pages() | case_pages(HARD_CASES) | pictures()


def quick_pages() -> dict[str, str]:
    """The pages for which nothing has to be planned."""
    return {
        "formats/case.md": format_page(Case),
        "formats/plan.md": format_page(Plan),
        "formats/readings.md": format_page(Readings),
        "formats/verification.md": format_page(Verification),
        "formats/surgery.md": format_page(SurgeryNote),
        "formats/surgery-state.md": format_page(SurgeryState),
        "formats/recall.md": format_page(RecallState),
        "formats/planned-levels.md": format_page(PlannedLevels),
        "reference/settings.md": settings_page(),
        "reference/limits.md": limits_page(),
        "reference/commands.md": commands_page(),
        "reference/bibliography.md": bibliography_page(),
    }


def pictures() -> dict[str, str]:
    """The drawings that pages and README show: the first demo case, and the figures of the conventions."""
    profile = draw_profile(plan_of(parse_case(demo_case(SHOWN), f"{SHOWN}.yaml")))
    return {
        "pictures/profile.svg": f"{profile}\n",
        "pictures/levels.svg": levels_figure(),
        "pictures/frame.svg": frame_figure(),
        "pictures/records.svg": data_model_figure(),
    }


def stale() -> list[str]:
    """Pages that are not what the code says, or that nothing makes any more."""
    made = pages()
    differing = {path for path, text in made.items() if _kept(path) != text}
    return sorted(differing | orphans(made.keys()))


def orphans(made: Collection[str]) -> set[str]:
    """Pages in the generated folders that nothing makes any more."""
    found = {page.relative_to(DOCS).as_posix() for folder in GENERATED for page in (DOCS / folder).iterdir()}
    return found - set(made)


def _kept(path: str) -> str | None:
    page = DOCS / path
    return page.read_text(encoding="utf-8") if page.is_file() else None


def main(arguments: list[str]) -> int:
    """Write, or check."""
    if arguments == ["--check"]:
        differing = stale()
        for path in differing:
            print(f"docs/{path} is not what the code says: run python scripts/generate_docs.py", file=sys.stderr)
        return 1 if differing else 0
    made = pages()
    for path, text in made.items():
        if _kept(path) != text:
            (DOCS / path).parent.mkdir(parents=True, exist_ok=True)
            (DOCS / path).write_text(text, encoding="utf-8")
    for path in orphans(made.keys()):
        (DOCS / path).unlink(missing_ok=True)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

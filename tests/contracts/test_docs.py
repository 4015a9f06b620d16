"""The pages are what the code says."""

from __future__ import annotations

import ast
import importlib
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import click
import pytest
from click.testing import CliRunner
from pydantic import BaseModel
from repository import ROOT, SOURCE, sources, text_of

import generate_docs
from festoon.cli.main import cli
from festoon.evidence.table import all_published
from festoon.model.case import Case
from festoon.model.plan import Plan
from festoon.model.quantities import Readings
from festoon.model.verification import Verification
from festoon.planning.limits import Limit
from pages import formats, meanings, reference
from pages.cases import case_pages

RENEW = "run python scripts/generate_docs.py"
DOCS = ROOT / "docs"


@pytest.mark.parametrize("root", [Case, Plan, Readings, Verification], ids=lambda root: root.__name__)
def test_every_key_of_a_format_has_a_meaning(root: type[BaseModel]) -> None:
    """A key nobody explains cannot be used."""
    records = formats.records_of(root)
    missing = [
        f"{record.__name__}.{key}"
        for record in records
        for key, field in record.model_fields.items()
        if not formats.meaning_of(record, key, field)
    ]
    assert missing == [], "say it in the model's docstring"


def test_no_meaning_is_given_to_a_key_that_does_not_exist() -> None:
    """The list of meanings holds nothing stale."""
    records = {record for root in (Case, Plan, Readings, Verification) for record in formats.records_of(root)}
    keys = {name for record in records for key in record.model_fields for name in (key, f"{record.__name__}.{key}")}
    assert set(meanings.MEANINGS) - keys == set()


def test_quick_pages_are_up_to_date() -> None:
    """Formats, settings, limits, commands and bibliography as committed."""
    differing = [path for path, text in generate_docs.quick_pages().items() if (DOCS / path).read_text("utf-8") != text]
    assert differing == [], RENEW


@pytest.mark.slow
def test_worked_pages_and_pictures_are_up_to_date() -> None:
    """The hard cases and the drawings as committed."""
    assert generate_docs.stale() == [], RENEW


def test_index_lists_every_hard_case() -> None:
    """No hard case is left without a page."""
    index = (DOCS / "cases" / "index.md").read_text("utf-8")
    files = sorted((ROOT / "tests" / "cases" / "hard").glob("*.yaml"))
    assert files
    assert [file.stem for file in files if f"({file.stem}.md)" not in index] == [], RENEW


def test_a_hard_case_without_its_trap_is_refused(tmp_path: Path) -> None:
    """A page that cannot say its trap is not made."""
    (tmp_path / "bare.yaml").write_bytes((ROOT / "tests" / "cases" / "minimal.yaml").read_bytes())
    with pytest.raises(ValueError, match="Trap"):
        case_pages(tmp_path)


def test_bibliography_prints_every_row() -> None:
    """No published value is left out."""
    assert {row.id.split("-")[0] for row in all_published()} == reference.evidence_prefixes()
    page = (DOCS / "reference" / "bibliography.md").read_text("utf-8")
    assert [row.id for row in all_published() if f'<a id="{row.id.lower()}">' not in page] == []


def test_method_page_names_every_limit() -> None:
    """A limit without a formula is not explained."""
    page = (DOCS / "method" / "plan.md").read_text("utf-8")
    assert [limit.value for limit in Limit if f"`{limit.value}`" not in page] == []


def commands_of(group: click.Group, path: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """Every command that does something, by its words."""
    for name, command in group.commands.items():
        if isinstance(command, click.Group):
            yield from commands_of(command, (*path, name))
        else:
            yield (*path, name)


@pytest.mark.parametrize("path", list(commands_of(cli)), ids=" ".join)
def test_every_command_has_help_with_an_example(path: tuple[str, ...]) -> None:
    """Each command says what it does and shows how."""
    result = CliRunner().invoke(cli, [*path, "--help"])
    assert result.exit_code == 0
    assert f"festoon {' '.join(path)}" in result.output.split("Example")[-1]


@pytest.mark.slow
def test_the_site_builds_without_a_warning_and_without_asking_elsewhere(tmp_path: Path) -> None:
    """Strict build; no page loads anything from another host."""
    command = [str(Path(sys.executable).with_name("mkdocs")), "build", "--strict", "--site-dir", str(tmp_path)]
    run = subprocess.run(
        command, cwd=ROOT, capture_output=True, text=True, check=False, env={**os.environ, "NO_COLOR": "1"}
    )
    assert run.returncode == 0, run.stderr
    loaded = re.compile(r"<(?:script|img|iframe)[^>]*src=\"(?:https?:)?//|<link[^>]*href=\"(?:https?:)?//|@import")
    pages = [*tmp_path.rglob("*.html"), tmp_path / "style.css"]
    assert len(pages) > 20
    assert [page.name for page in pages if loaded.search(page.read_text("utf-8"))] == []


def _public(tree: ast.Module) -> list[str]:
    """Public functions, classes and methods of a module without a docstring; properties and plain data aside."""
    bare = [] if ast.get_docstring(tree) else ["<module>"]
    kinds = (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef)
    for node in tree.body:
        if isinstance(node, kinds) and not node.name.startswith("_"):
            inner = [one for one in node.body if isinstance(one, kinds)] if isinstance(node, ast.ClassDef) else []
            bare += [one.name for one in [node, *inner] if not one.name.startswith("_") and not ast.get_docstring(one)]
    return bare


@pytest.mark.parametrize("path", sources(), ids=lambda path: str(path.relative_to(SOURCE)))
def test_public_things_have_docstrings(path: Path) -> None:
    """Whoever imports a thing can read what it is."""
    assert _public(ast.parse(text_of(path))) == []


def test_files_that_pages_name_exist() -> None:
    """A page that points at a test, a module or a script points at something."""
    pages = [*DOCS.rglob("*.md"), ROOT / "README.md", ROOT / "CONTRIBUTING.md", ROOT / "benchmarks" / "README.md"]
    named = re.compile(r"`(?:python3? )?((?:tests|src|docs|scripts|benchmarks|\.ci)/[\w./*-]+)")
    missing = {
        f"{page.relative_to(ROOT)}: {name}"
        for page in pages
        for name in named.findall(page.read_text("utf-8"))
        if not any(ROOT.glob(name.rstrip("/")))
    }
    assert missing == set()


def test_pages_are_reached() -> None:
    """Every page is in the navigation, or on the index of hard cases."""
    navigation = (ROOT / "mkdocs.yml").read_text("utf-8")
    pages = {page.relative_to(DOCS).as_posix() for page in DOCS.rglob("*.md") if page.parent.name != "cases"}
    assert {page for page in pages if page not in navigation} == set()


def test_modules_that_pages_name_exist() -> None:
    """A page that points at code points at code."""
    missing = {
        f"{page.relative_to(ROOT)}: {name}"
        for page in [*DOCS.rglob("*.md"), ROOT / "README.md", ROOT / "CONTRIBUTING.md"]
        for name in re.findall(r"`(festoon(?:\.\w+)+)`", page.read_text("utf-8"))
        if not _exists(name)
    }
    assert missing == set()


def _exists(name: str) -> bool:
    """Whether a dotted name is a module, or something in one."""
    module, _, last = name.rpartition(".")
    path = SOURCE.parent / Path(*name.split("."))
    if path.with_suffix(".py").is_file() or (path / "__init__.py").is_file():
        return True
    return bool(module) and _exists(module) and hasattr(importlib.import_module(module), last)

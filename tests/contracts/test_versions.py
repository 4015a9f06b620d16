"""Versions that must agree, agree."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from importlib.metadata import packages_distributions
from typing import Any

import pytest
import yaml
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from pydantic import BaseModel
from repository import ROOT, SOURCE, kept_files, text_of

from festoon import __version__
from festoon.errors import InputRefusedError
from festoon.model.case import Case
from festoon.model.plan import Plan
from festoon.model.quantities import Readings
from festoon.records.casefile import parse_case
from festoon.records.schema import case_schema, plan_schema, readings_schema

PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))


def test_changelog_begins_with_this_version() -> None:
    """The newest entry is the package's version."""
    newest = re.search(r"^## (\S+)", (ROOT / "CHANGELOG.md").read_text("utf-8"), re.MULTILINE)
    assert newest is not None
    assert newest[1] == PROJECT["project"]["version"]


def test_installed_version_and_citation_are_the_project_s() -> None:
    """One version everywhere."""
    assert __version__ == PROJECT["project"]["version"]
    citation = yaml.safe_load((ROOT / "CITATION.cff").read_text("utf-8"))
    assert citation["version"] == PROJECT["project"]["version"]
    assert citation["license"] == PROJECT["project"]["license"]


@pytest.mark.parametrize(
    ("model", "schema", "name"),
    [
        (Case, case_schema(), "festoon-case/1"),
        (Plan, plan_schema(), "festoon-plan/1"),
        (Readings, readings_schema(), "festoon-readings/1"),
    ],
    ids=["case", "plan", "readings"],
)
def test_format_names_agree(model: type[BaseModel], schema: dict[str, Any], name: str) -> None:
    """Model, schema, its identifier and the page say one format name and version."""
    assert model.model_fields["format"].default == name
    assert schema["$id"] == f"urn:festoon:{name.removeprefix('festoon-').replace('/', '-')}"
    assert re.findall(r"'const': '(festoon-[^']+)'", str(schema["properties"]["format"])) == [name]
    page = ROOT / "docs" / "formats" / f"{name.removeprefix('festoon-').split('/')[0]}.md"
    assert f"`{name}`" in page.read_text("utf-8")


def test_reader_reads_the_format_of_the_model() -> None:
    """The reader reads what the model writes, without a word, and refuses the version after it."""
    name = Case.model_fields["format"].default
    text = (ROOT / "tests" / "cases" / "minimal.yaml").read_text("utf-8")
    assert name in text
    assert not any("format" in note for note in parse_case(text.encode(), "minimal.yaml").notes)
    with pytest.raises(InputRefusedError, match="format"):
        parse_case(text.replace(name, name.replace("/1", "/2")).encode(), "minimal.yaml")


def _locked(name: str) -> dict[str, list[str]]:
    """Versions by package in a lock file: several where Python versions differ."""
    found: dict[str, list[str]] = {}
    for package, version in re.findall(
        r"^([A-Za-z0-9._-]+)==([^\s;\\]+)", (ROOT / name).read_text("utf-8"), re.MULTILINE
    ):
        found.setdefault(canonicalize_name(package), []).append(version)
    return found


@pytest.mark.parametrize("lock", ["requirements.txt", "requirements-dev.txt"])
def test_locks_hold_what_the_project_asks_for(lock: str) -> None:
    """Every dependency is locked, at a version that the project accepts."""
    wanted = [Requirement(text) for text in PROJECT["project"]["dependencies"]]
    groups = PROJECT["dependency-groups"]
    wanted += [Requirement(text) for text in groups["build"]]
    if lock == "requirements-dev.txt":
        wanted += [Requirement(text) for text in groups["dev"] if isinstance(text, str)]
    locked = _locked(lock)
    for requirement in wanted:
        versions = locked.get(canonicalize_name(requirement.name), [])
        assert versions, f"{requirement} is not in {lock}: run python3 scripts/set_up.py lock"
        assert all(requirement.specifier.contains(version) for version in versions), f"{requirement} in {lock}"


def test_build_backend_is_the_locked_one() -> None:
    """What builds the package is pinned and in the lock."""
    needed = PROJECT["build-system"]["requires"]
    assert needed
    assert set(needed) <= set(PROJECT["dependency-groups"]["build"])
    assert all("==" in requirement for requirement in needed)


def test_both_locks_agree() -> None:
    """What runs is what was tested."""
    run, dev = _locked("requirements.txt"), _locked("requirements-dev.txt")
    assert {name: versions for name, versions in run.items() if dev.get(name) != versions} == {}


@pytest.mark.parametrize("lock", ["requirements.txt", "requirements-dev.txt"])
def test_locks_are_hashed_and_name_no_index(lock: str) -> None:
    """Every line of a package has hashes; where it comes from is the user's own choice."""
    text = (ROOT / lock).read_text("utf-8")
    entries = re.split(r"\n(?=\S)", text.strip())
    assert [entry.split("\n")[0] for entry in entries if "--hash=sha256:" not in entry] == []
    assert [word for word in ("://", "index-url", "find-links", "file:", "@ ") if word in text] == []


def test_everything_imported_is_asked_for_by_name() -> None:
    """What the package needs is a dependency, what tests and scripts need is in the dev group; nothing comes along by chance."""
    asked = {canonicalize_name(Requirement(text).name) for text in PROJECT["project"]["dependencies"]}
    asked |= {"pydantic-core", "annotated-types"}  # parts of pydantic, which pins the one and re-exports the other
    groups = PROJECT["dependency-groups"]
    for_work = [text for text in (*groups["dev"], *groups["build"]) if isinstance(text, str)]
    asked_for_work = asked | {canonicalize_name(Requirement(text).name) for text in for_work}
    own = {"festoon", *(path.stem for path in kept_files() if path.suffix == ".py" and path.parts[-2] != "festoon")} | {
        "pages"
    }
    providers = packages_distributions()
    chance = set()
    for path in kept_files():
        if path.suffix != ".py":
            continue
        allowed = asked if SOURCE in path.parents else asked_for_work
        for module in _imported(ast.parse(text_of(path))) - sys.stdlib_module_names - own:
            names = {canonicalize_name(name) for name in providers.get(module, [module])}
            if not names & allowed:
                chance.add(f"{path.relative_to(ROOT)}: {module}")
    assert chance == set()


def _imported(tree: ast.Module) -> set[str]:
    """Top-level names of what a module imports absolutely."""
    names = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            names.add(node.module.split(".")[0])
    return names

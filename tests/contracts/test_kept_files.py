"""What is committed says nothing about the machine it was made on, and the front page keeps its promises."""

from __future__ import annotations

import re

from repository import ROOT, kept_files, text_of

# Built from pieces, so that this file does not match itself.
_HOSTS = (
    ("pypi", "org"),
    ("pythonhosted", "org"),
    ("registry", "npmjs", "org"),
    ("deb", "debian", "org"),
    ("ubuntu", "com"),
)
_FOLDERS = ("root", "home", "Users", "work", "opt", "mnt")
HOST = re.compile("|".join(r"\b" + re.escape(".".join(host)) for host in _HOSTS))
MACHINE_PATH = re.compile("(?<![\\w.<:/])" + "/" + "(?:" + "|".join(_FOLDERS) + ")" + "/" + r"[\w.]|[A-Z]:" + r"\\\w")


def test_patterns_find_what_they_look_for() -> None:
    """The patterns can fail."""
    assert HOST.search("https://files." + "pythonhosted" + ".org/x")
    assert MACHINE_PATH.search("see " + "/" + "home/somebody/case.yaml")
    assert not MACHINE_PATH.search("docs/home/page.md and https://example.org/home/x")


def test_no_registry_host_is_committed() -> None:
    """Where packages come from is the user's own setting."""
    assert [str(path.relative_to(ROOT)) for path in kept_files() if HOST.search(text_of(path))] == []


def test_no_path_of_a_machine_is_committed() -> None:
    """Nothing depends on, or tells of, one machine."""
    found = {
        f"{path.relative_to(ROOT)}: {match[0]}"
        for path in kept_files()
        if (match := MACHINE_PATH.search(text_of(path)))
    }
    assert found == set()


def test_readme_promises_are_kept() -> None:
    """The job first, two commands that exist, a picture that exists, the cautions; every local link leads somewhere."""
    text = (ROOT / "README.md").read_text("utf-8")
    first, commands, picture, cautions = (
        text.index(part)
        for part in ("A periodontist", "scripts/set_up.py demo", "docs/pictures/profile.svg", "not a medical device")
    )
    assert first < commands < picture < cautions
    assert "scripts/set_up.py test" in text
    links = [link for link in re.findall(r"\]\(([^)#]+)", text) if "://" not in link]
    assert links
    assert [link for link in links if not (ROOT / link).exists()] == []


def test_checks_run_the_readme_s_test_command() -> None:
    """What is checked is what the reader is told to run."""
    assert "python3 scripts/set_up.py test" in (ROOT / ".ci" / "run").read_text("utf-8")

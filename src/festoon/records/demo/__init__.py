"""The demo cases: invented mouths, very different from each other. They prove nothing; tests have their own data."""

from __future__ import annotations

from importlib.resources import files

TITLES = {
    "linden-04": "Short, square front teeth: crest close to the CEJ",
    "millrace-12": "An uneven line, worn centrals, an implant that cannot follow",
    "sandbar-31": "Much gingiva in the smile over teeth of ordinary length",
    "kiln-45": "Lower premolar and molar that need ferrule, with furcations near",
    "harrow-22": "Operated and followed for a year: the job seen from its end",
}
"""Case ids in the order in which they are shown, with what they are about."""


def demo_case(name: str) -> bytes:
    """The case file of one demo case.

    Raises
    ------
    KeyError
        If there is no demo case of that name.
    """
    if name not in TITLES:
        raise KeyError(name)
    return files("festoon.records.demo").joinpath(f"{name}.yaml").read_bytes()


def demo_course(name: str) -> bytes | None:
    """What was read at the chair and at the recalls of one demo case; None where it was not operated.

    Raises
    ------
    KeyError
        If there is no demo case of that name.
    """
    if name not in TITLES:
        raise KeyError(name)
    course = files("festoon.records.demo").joinpath(f"{name}.course.yaml")
    return course.read_bytes() if course.is_file() else None

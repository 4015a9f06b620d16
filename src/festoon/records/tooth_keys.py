"""Tooth and papilla keys of a file, in its declared notation, brought to ISO 3950."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from festoon.model.dentition import Notation, Pair, Tooth, tooth_from
from festoon.records.document import Entry, Faults, Path, Scalar, Table, shown

_WORDS = {
    Notation.FDI: "fdi (ISO 3950: 11-18, 21-28, 31-38, 41-48)",
    Notation.UNIVERSAL: "universal (1-32)",
    Notation.PALMER: "palmer (UR1-UR8, UL1-UL8, LL1-LL8, LR1-LR8)",
}
_DECIDUOUS = {Notation.FDI: "[5-8][1-5]", Notation.UNIVERSAL: "[A-T]", Notation.PALMER: "(UR|UL|LL|LR)[A-E]"}


@dataclass
class Labels:
    """The teeth and papillae a file names, in ISO 3950."""

    keys: dict[Path, str] = field(default_factory=dict)
    """New name of each tooth and papilla key, by its path in the file."""
    roles: dict[str, str | None] = field(default_factory=dict)
    """Role by tooth, both in ISO 3950; None where the file names no tooth there, which has its fault."""


def labels_of(root: Table, faults: Faults) -> Labels:
    """Tooth keys, papilla keys and roles of a file brought to ISO 3950.

    Keys that name no tooth, or one that is there already, have a fault and no new name.
    """
    labels = Labels()
    notation = _declared(root, faults)
    if notation is None:
        return labels
    renamed = labels.keys
    taken: dict[str, str] = {}
    for entry in _entries(root, "teeth"):
        path: Path = ("teeth", entry.key)
        tooth = named_tooth(entry.key, notation, path, entry.line, faults)
        if tooth is None:
            continue
        _settle(tooth.fdi, tooth.name, entry.key, path, entry.line, renamed, taken, faults)
        if isinstance(entry.value, Table):
            role = entry.value.entry("role")
            if role is not None and isinstance(role.value, Scalar) and isinstance(role.value.value, str):
                named = named_tooth(role.value.value, notation, (*path, "role"), role.line, faults)
                labels.roles[tooth.fdi] = None if named is None else named.fdi
    taken = {}
    for entry in _entries(root, "papillae"):
        path = ("papillae", entry.key)
        pair = _pair(entry.key, notation, path, entry.line, faults)
        if pair is not None:
            _settle(str(pair), f"papilla {pair}", entry.key, path, entry.line, renamed, taken, faults)
    return labels


def _entries(root: Table, key: str) -> tuple[Entry, ...]:
    entry = root.entry(key)
    return entry.value.entries if entry is not None and isinstance(entry.value, Table) else ()


def _settle(
    name: str,
    words: str,
    key: str,
    path: Path,
    line: int,
    renamed: dict[Path, str],
    taken: dict[str, str],
    faults: Faults,
) -> None:
    if name in taken:
        faults.add(
            where=path,
            line=line,
            found=f"the {words} again: {shown(taken[name])} and {shown(key)} are the same",
            expected="each once",
            do="Bring both entries together under one key.",
        )
        return
    taken[name] = key
    renamed[path] = name


def _declared(root: Table, faults: Faults) -> Notation | None:
    entry = root.entry("notation")
    if entry is not None and isinstance(entry.value, Scalar) and entry.value.value is not None:
        # In capitals it is refused by the model, but it is plain what was meant: the teeth can be checked.
        said = str(entry.value.value).lower()
        return Notation(said) if said in list(Notation) else None
    keys = [tooth.key for tooth in _entries(root, "teeth")]
    fitting = [notation for notation in Notation if keys and all(_names(key, notation) for key in keys)]
    faults.add(
        where=("notation",),
        line=root.line if entry is None else entry.line,
        found="no notation",
        expected="how the teeth are named: notation: fdi, universal or palmer",
        do=_which(keys, fitting),
    )
    return None


def _which(keys: list[str], fitting: list[Notation]) -> str:
    if len(fitting) > 1:
        first = keys[0]
        meanings = " or ".join(f"the {tooth_from(first, notation).name} ({notation})" for notation in fitting)
        return f"Add the line: {shown(first)[1:-1]} may be {meanings}, and festoon does not guess."
    if fitting:
        return (
            f"Add notation: {fitting[0]} if that is right: these keys are all teeth only in {_WORDS[fitting[0]]}, "
            "but a mistyped key could make it look so."
        )
    if keys:
        return "Add the line, and check the tooth keys: no one notation has a tooth for each of them."
    return "Add the line."


def _names(key: str, notation: Notation) -> bool:
    try:
        tooth_from(key, notation)
    except ValueError:
        return False
    return True


def named_tooth(key: str, notation: Notation, path: Path, line: int, faults: Faults) -> Tooth | None:
    """The tooth that ``key`` names in ``notation``; None, with a fault, where it names none."""
    try:
        return tooth_from(key, notation)
    except ValueError:
        pass
    faults.add(
        where=path,
        line=line,
        found=f"the tooth {shown(key)}",
        expected=f"a permanent tooth in {_WORDS[notation]}",
        do=_instead(key, notation),
    )
    return None


def _instead(key: str, notation: Notation) -> str:
    if re.fullmatch(_DECIDUOUS[notation], key.strip().upper()):
        return "This is a deciduous tooth: festoon plans permanent teeth only. Take it out."
    others = [other for other in Notation if other is not notation and _names(key, other)]
    if others:
        tooth = tooth_from(key, others[0])
        return (
            f"In {others[0]} it is the {tooth.name}: change notation: if the whole file is in {others[0]}, "
            f"or write {shown(tooth.shown(notation))}."
        )
    return "Check the key."


def _pair(key: str, notation: Notation, path: Path, line: int, faults: Faults) -> Pair | None:
    halves = re.split(r"\s*[-/–]\s*", key.strip())
    if len(halves) != 2:
        faults.add(
            where=path,
            line=line,
            found=f"the papilla {shown(key)}",
            expected='two neighbouring teeth with a dash between them, e.g. "11-21"',
            do="Name the papilla by its two teeth.",
        )
        return None
    teeth = [named_tooth(half, notation, path, line, faults) for half in halves]
    if teeth[0] is None or teeth[1] is None:
        return None
    right, left = sorted((teeth[0], teeth[1]), key=lambda tooth: tooth.column)
    if right.is_upper != left.is_upper or right == left:
        faults.add(
            where=path,
            line=line,
            found=f"the papilla {shown(key)}: {right.name} and {left.name}",
            expected="two teeth that stand side by side in one jaw",
            do="Name the two teeth on either side of the papilla.",
        )
        return None
    return Pair(right, left)

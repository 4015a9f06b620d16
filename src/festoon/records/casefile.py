"""Case files in and out. Reading checks everything it can reach and tells all faults together; it never writes.

The way of a file: bytes to text, text to a tree with lines, tooth keys to ISO 3950, the tree laid over the model,
the model's own rules, then what a mouth allows (:mod:`festoon.records.plausible`). What has a fault is set aside so
that the rest is checked as well.
"""

from __future__ import annotations

import copy
import hashlib
from dataclasses import dataclass
from pathlib import Path

from pydantic import ValidationError

from festoon.model.case import Case
from festoon.model.dentition import Tooth
from festoon.records.document import MAX_BYTES, Faults, Node, Scalar, Table, decoded, described, path_text, shown
from festoon.records.json_syntax import compose_json
from festoon.records.kinds import Draft, drafted
from festoon.records.plain_words import add_refusals, without_refused
from festoon.records.plausible import concerns
from festoon.records.tooth_keys import Labels, labels_of
from festoon.records.yaml_syntax import compose_yaml

_SYNTAX = {".yaml": compose_yaml, ".yml": compose_yaml, ".json": compose_json}
_ROUNDS = 12
"""Setting faulty things aside can bare another fault; a sound file takes one round."""


@dataclass(frozen=True)
class CaseFile:
    """A case and the file it came from."""

    case: Case
    sha256: str
    """Of the file's bytes."""
    name: str
    """File name, without its folder."""
    notes: tuple[str, ...]
    """What is unusual and was kept as it stands."""


def read_case(path: Path) -> CaseFile:
    """The case in a YAML or JSON file.

    Raises
    ------
    InputRefusedError
        If the file cannot be read or has faults: all of them together.
    """
    faults = Faults(path.name or str(path))
    return parse_case(bytes_of(path, faults), faults.file)


def bytes_of(path: Path, faults: Faults) -> bytes:
    """The bytes of a file, at most one more than a file may have.

    Raises
    ------
    InputRefusedError
        If there is no such file, or it is none that can be read.
    """
    try:
        # Asked first: opening a pipe or a device would wait for ever.
        is_ordinary = path.is_file() or not path.exists()
        data = b""
        if is_ordinary:
            with path.open("rb") as stream:
                data = stream.read(MAX_BYTES + 1)
    except FileNotFoundError:
        faults.refuse(
            line=None,
            found="no such file",
            expected=f"a {faults.kind} file",
            do="Check the name and the folder it is in.",
        )
    except (OSError, ValueError) as error:
        reason = (error.strerror or "").lower() if isinstance(error, OSError) else "no name of a file"
        faults.refuse(
            line=None,
            found=f"a file that cannot be opened ({reason or 'no reason given'})",
            expected=f"a {faults.kind} file that you may read",
            do="Check the name and who may read the file.",
        )
    if not is_ordinary:
        faults.refuse(
            line=None,
            found="a folder" if path.is_dir() else "something that is no ordinary file",
            expected=f"a {faults.kind} file",
            do=f"Name the {faults.kind} file itself.",
        )
    return data


def parse_case(data: bytes, name: str) -> CaseFile:
    """The case in the bytes of a file; ``name`` says by its ending whether they are YAML or JSON.

    Raises
    ------
    InputRefusedError
        If the bytes are no case: every fault together.
    """
    faults = Faults(name)
    notes: list[str] = []
    root = tree_of(data, faults)
    check_format(root, faults, notes)
    labels = labels_of(root, faults)
    draft = drafted(Case, root, labels.keys, faults)
    _set_roles(draft, labels)
    if faults.found and draft.data.get("notation") is None:
        draft.dropped.add(("notation",))
    case = _checked(draft, faults, notes)
    if faults.found or case is None:
        raise faults.error()
    return CaseFile(case, hashlib.sha256(data).hexdigest(), name, tuple(notes))


def tree_of(data: bytes, faults: Faults) -> Table:
    """The tree of a file; its name says by its ending whether it is YAML or JSON.

    Raises
    ------
    InputRefusedError
        If the bytes are no table of keys and values.
    """
    ending = Path(faults.file).suffix
    compose = _SYNTAX.get(ending.lower())
    if compose is None:
        faults.refuse(
            line=None,
            found=f"a file name that ends in {shown(ending)[1:-1] or 'nothing'}",
            expected=f"a {faults.kind} file ending in .yaml, .yml or .json",
            do=f"Name the {faults.kind} file, or give it the ending of what it holds.",
        )
    root: Node | None = compose(decoded(data, faults), faults)
    if not isinstance(root, Table) or not root.entries:
        faults.refuse(
            line=None if root is None else root.line,
            found="no values" if root is None else described(root),
            expected=f"a {faults.kind} file: keys and values, beginning with format: festoon-{faults.kind}/1",
            do="Check that this is the right file.",
        )
    return root


def check_format(root: Table, faults: Faults, notes: list[str]) -> None:
    """Another format is refused at once: its keys would only give a hundred faults that explain nothing."""
    entry = root.entry("format")
    wanted = f"festoon-{faults.kind}/1"
    if entry is None:
        notes.append(f"format: not said; read as {wanted}")
        return
    value = entry.value.value if isinstance(entry.value, Scalar) else None
    if value == wanted:
        return
    is_other = isinstance(value, str) and value.startswith("festoon-")
    faults.refuse(
        where=("format",),
        line=entry.line,
        found=described(entry.value),
        expected=wanted,
        do=(
            f"This is another kind of file, or one of another version of the format; name the {faults.kind} file."
            if is_other
            else f"Write format: {wanted} if this is a {faults.kind} file."
        ),
    )


def _set_roles(draft: Draft, labels: Labels) -> None:
    teeth = draft.data.get("teeth")
    for code, chart in teeth.items() if isinstance(teeth, dict) else ():
        if isinstance(chart, dict) and "role" in chart:
            chart["role"] = labels.roles.get(code)


def _checked(draft: Draft, faults: Faults, notes: list[str]) -> Case | None:
    """The case, with the faults of the model's rules and of plausibility noted.

    Where there are faults the case that comes back lacks what was faulty: it is good for further checks only.
    """
    draft.data = copy.deepcopy(draft.data)
    for _ in range(_ROUNDS):
        try:
            case = Case.model_validate(draft.data)
        except ValidationError as error:
            add_refusals(error, draft, faults)
            without_refused(error, draft)
            # Stand-ins that let the rest be checked: with the fault noted, no case with them leaves this module.
            draft.data.setdefault("case", "stand-in")
            draft.data.setdefault("notation", "fdi")
        else:
            if faults.found:
                case = case.model_copy(
                    update={
                        "teeth": {k: v for k, v in case.teeth.items() if _is_code(k)},
                        "papillae": {k: v for k, v in case.papillae.items() if _is_pair(k)},
                    }
                )
            _add_concerns(case, draft, faults, notes)
            return case
    return None


def _is_code(key: str) -> bool:
    try:
        Tooth(key)
    except ValueError:
        return False
    return True


def _is_pair(key: str) -> bool:
    halves = key.split("-")
    return len(halves) == 2 and all(map(_is_code, halves))


def _add_concerns(case: Case, draft: Draft, faults: Faults, notes: list[str]) -> None:
    for concern in concerns(case, across_teeth=("notation",) not in draft.dropped):
        place = draft.place(concern.path)
        if concern.is_refused:
            faults.add(where=place.path, line=place.line, found=concern.found, expected=concern.expected, do=concern.do)
        else:
            notes.append(f"{path_text(place.path)}: {concern.found}; usual is {concern.expected}. {concern.do}")

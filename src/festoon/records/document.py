"""A text file as a tree of tables, lists and scalars that know their lines, with the limits every file must keep.

The syntax readers (:mod:`festoon.records.yaml_syntax`, :mod:`festoon.records.json_syntax`) push what they meet into a
:class:`TreeBuilder`; nothing here knows what a case is.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NoReturn

from festoon.errors import Fault, InputRefusedError

MAX_BYTES = 2_000_000
"""A full mouth with every field in long form stays under a tenth of this."""
MAX_DEPTH = 16
"""A case is eight levels deep."""
MAX_NODES = 60_000
"""A full mouth of thirty-two teeth with ten sites each has some fifteen thousand values."""
MAX_TEXT = 2_000
"""Characters of one text: a remark, not an essay."""
MAX_KEY = 80
"""Characters of one key."""
MAX_FAULTS = 300
"""A file with more faults than this is not a case: the rest is counted, not listed."""
_STOP_AT_FAULTS = 2_000
"""Reading stops here: what follows would explain nothing more."""

Step = str | int
Path = tuple[Step, ...]

_ESCAPES_TERMINAL_OR_PAPER = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff]"
)


@dataclass(frozen=True, slots=True)
class Scalar:
    """One value, as written and as resolved."""

    line: int
    value: str | int | float | bool | None
    text: str
    """As written, without quotes."""
    is_quoted: bool = False


@dataclass(frozen=True, slots=True)
class Listing:
    """A list of nodes."""

    line: int
    items: tuple[Node, ...]


@dataclass(frozen=True, slots=True)
class Entry:
    """One key of a table and what it holds."""

    key: str
    line: int
    value: Node


@dataclass(frozen=True, slots=True)
class Table:
    """Keys and values, in the order of the file, no key twice."""

    line: int
    entries: tuple[Entry, ...]

    def entry(self, key: Step) -> Entry | None:
        """The entry of a key, or None."""
        return next((entry for entry in self.entries if entry.key == key), None)


Node = Scalar | Listing | Table


def shown(text: str, limit: int = 60) -> str:
    """Text of a file made safe to print: quoted, escaped where it would steer a terminal, cut where long."""
    cut = text if len(text) <= limit else f"{text[:limit]}…"
    return "".join(
        character if character.isprintable() else character.encode("unicode_escape").decode("ascii")
        for character in json.dumps(cut, ensure_ascii=False)
    )


def described(node: Node) -> str:
    """What stands in the file, in words, for ``found``."""
    if isinstance(node, Table):
        return f"a table with {len(node.entries)} keys" if node.entries else "an empty table"
    if isinstance(node, Listing):
        return f"a list of {len(node.items)}" if node.items else "an empty list"
    if node.is_quoted:
        return f"the text {shown(node.text)}"
    if node.value is None:
        return "nothing"
    return shown(node.text)[1:-1]


def path_text(path: Sequence[Step]) -> str:
    """A key path as people write it: ``teeth.11.sites.midfacial.sounding_mm[0].value``."""
    parts: list[str] = []
    for step in path:
        if isinstance(step, int):
            parts.append(f"[{step}]")
        else:
            parts.append(("." if parts else "") + (step if re.fullmatch(r"[\w-]{1,60}", step) else shown(step, 40)))
    return "".join(parts)


@dataclass
class Faults:
    """The faults of one file, collected so that they can be told together."""

    file: str
    found: list[Fault] = field(default_factory=list)
    kind: str = "case"
    """What the file should be, in words: a ``case`` file, a ``readings`` file."""

    def add(self, *, where: Sequence[Step] = (), line: int | None, found: str, expected: str, do: str) -> None:
        """Note one fault.

        Raises
        ------
        InputRefusedError
            If there are so many that the file is plainly no case.
        """
        self.found.append(
            Fault(file=self.file, where=path_text(where), found=found, expected=expected, do=do, line=line)
        )
        if len(self.found) >= _STOP_AT_FAULTS:
            raise self.error()

    def error(self) -> InputRefusedError:
        """All faults as one exception, by line."""
        by_line = sorted(dict.fromkeys(self.found), key=lambda fault: fault.line or 0)
        if len(by_line) > MAX_FAULTS:
            rest = len(by_line) - MAX_FAULTS
            by_line = by_line[:MAX_FAULTS]
            by_line.append(
                Fault(
                    file=self.file,
                    where="",
                    found=f"{rest} more faults"
                    + (", and reading stopped" if len(self.found) >= _STOP_AT_FAULTS else ""),
                    expected=f"a {self.kind} file",
                    do="Settle those above first, then read the file again.",
                    line=by_line[-1].line,
                )
            )
        return InputRefusedError(by_line)

    def refuse(self, *, line: int | None, found: str, expected: str, do: str, where: Sequence[Step] = ()) -> NoReturn:
        """Note one fault after which the file cannot be read any further.

        Raises
        ------
        InputRefusedError
            Always, with every fault noted so far.
        """
        last = Fault(file=self.file, where=path_text(where), found=found, expected=expected, do=do, line=line)
        self.found = [*self.found[: MAX_FAULTS - 1], last]
        raise self.error()


def decoded(data: bytes, faults: Faults) -> str:
    """The text of a file: UTF-8, with or without a byte order mark, and nothing that is not text.

    Raises
    ------
    InputRefusedError
        If the file is empty, too large, binary or in another encoding.
    """
    if len(data) > MAX_BYTES:
        faults.refuse(
            line=None,
            found=f"more than {MAX_BYTES // 1_000_000} MB",
            expected=f"a {faults.kind} file, which stays far below that",
            do=f"Check that this is the right file; scans and photographs do not go into a {faults.kind} file.",
        )
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        faults.refuse(
            line=1,
            found="UTF-16 text (its first two bytes say so)",
            expected="UTF-8 text",
            do="Save the file again with the encoding UTF-8.",
        )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        column = error.start - data.rfind(b"\n", 0, error.start)
        faults.refuse(
            line=line,
            found=f"the byte 0x{data[error.start]:02X} at place {column} of line {line} (byte {error.start})",
            expected="UTF-8 text",
            do=f"Save the file again as text with the encoding UTF-8; a picture, scan or spreadsheet is no {faults.kind} file.",
        )
    steering = re.search(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]", text)
    if steering:
        faults.refuse(
            line=text.count("\n", 0, steering.start()) + 1,
            found=f"the control character 0x{ord(steering[0]):02X}, which no text holds",
            expected="a text file",
            do="Check that this is the right file: it looks binary, or was damaged on the way.",
        )
    if not text.strip():
        faults.refuse(
            line=1,
            found="an empty file",
            expected=f"a {faults.kind} file, beginning with format: festoon-{faults.kind}/1",
            do="Check that the right file was named and that it was saved.",
        )
    return text


@dataclass
class _Open:
    """A table or a list whose end has not come yet."""

    is_table: bool
    line: int
    entries: list[Entry] = field(default_factory=list)
    items: list[Node] = field(default_factory=list)
    key: str | None = None
    key_line: int = 0
    is_repeat: bool = False
    """True while the value of a key that was there already is read: the first stays."""
    key_lines: dict[str, int] = field(default_factory=dict)


class TreeBuilder:
    """Builds the tree from what a syntax reader meets, and holds the limits of size and depth."""

    def __init__(self, faults: Faults) -> None:
        self.faults = faults
        self.root: Node | None = None
        self._open: list[_Open] = []
        self._n_nodes = 0

    @property
    def path(self) -> Path:
        """Where the next value will stand."""
        steps: list[Step] = []
        for frame in self._open:
            if not frame.is_table:
                steps.append(len(frame.items))
            elif frame.key is not None:
                steps.append(frame.key)
        return tuple(steps)

    @property
    def expects_key(self) -> bool:
        """True where the next scalar is a key of the innermost table."""
        return bool(self._open) and self._open[-1].is_table and self._open[-1].key is None

    def key(self, key: str, line: int) -> None:
        """A key of the innermost table; one that was there already is a fault."""
        frame = self._open[-1]
        if len(key) > MAX_KEY:
            self.faults.add(
                where=self.path,
                line=line,
                found=f"a key of {len(key)} characters, {shown(key, 20)}",
                expected=f"keys of at most {MAX_KEY} characters",
                do="Check the quotation marks and colons of this line.",
            )
            key = key[:MAX_KEY]
        frame.is_repeat = key in frame.key_lines
        if frame.is_repeat:
            self.faults.add(
                where=(*self.path, key),
                line=line,
                found=f"the key {shown(key)} again (first on line {frame.key_lines[key]})",
                expected="every key once",
                do=f"Keep one of the lines {frame.key_lines[key]} and {line}: only one of them can be right.",
            )
        frame.key_lines.setdefault(key, line)
        frame.key, frame.key_line = key, line

    def open(self, *, is_table: bool, line: int) -> None:
        """Begin a table or a list."""
        self._count(line)
        if len(self._open) >= MAX_DEPTH:
            self.refuse_depth(line)
        self._open.append(_Open(is_table, line))

    def refuse_depth(self, line: int | None) -> NoReturn:
        """Refuse a file whose tables and lists stand inside each other too deep."""
        self.faults.refuse(
            where=self.path[:3],
            line=line,
            found=f"tables and lists inside each other more than {MAX_DEPTH} deep",
            expected=f"a {self.faults.kind} file, which is at most eight deep",
            do="Check the indentation and the brackets, and that this is the right file.",
        )

    def close(self) -> None:
        """End the innermost table or list."""
        frame = self._open.pop()
        self._place(
            Table(frame.line, tuple(frame.entries)) if frame.is_table else Listing(frame.line, tuple(frame.items))
        )

    def scalar(self, scalar: Scalar) -> None:
        """A value."""
        self._count(scalar.line)
        if len(scalar.text) > MAX_TEXT:
            self.faults.add(
                where=self.path,
                line=scalar.line,
                found=f"a text of {len(scalar.text)} characters, {shown(scalar.text, 20)}",
                expected=f"texts of at most {MAX_TEXT} characters",
                do="Shorten it, or check where its quotation mark closes.",
            )
            scalar = Scalar(scalar.line, None, "")
        steering = _ESCAPES_TERMINAL_OR_PAPER.search(scalar.text)
        if steering:
            self.faults.add(
                where=self.path,
                line=scalar.line,
                found=f"text with the hidden character U+{ord(steering[0]):04X}",
                expected="text that can be printed as it stands",
                do="Type the text again without it.",
            )
        self._place(scalar)

    def _place(self, node: Node) -> None:
        if not self._open:
            self.root = node
            return
        frame = self._open[-1]
        if not frame.is_table:
            frame.items.append(node)
        elif frame.key is not None:
            if not frame.is_repeat:
                frame.entries.append(Entry(frame.key, frame.key_line, node))
            frame.key = None

    def _count(self, line: int) -> None:
        self._n_nodes += 1
        if self._n_nodes > MAX_NODES:
            self.faults.refuse(
                line=line,
                found=f"more than {MAX_NODES} values",
                expected=f"a {self.faults.kind} file; a full mouth with every field filled has a quarter of that",
                do="Check that this is the right file.",
            )

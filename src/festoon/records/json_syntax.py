"""Strict JSON into a tree with lines; the standard library's reader keeps neither lines nor doubled keys."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import NoReturn

from festoon.records.document import Faults, Node, Scalar, TreeBuilder, shown

_TOKEN = re.compile(
    r'(?P<text>"[^"\\\x00-\x1f]*(?:\\(?:["\\/bfnrt]|u[0-9a-fA-F]{4})[^"\\\x00-\x1f]*)*")'
    r"|(?P<number>-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?(?:[eE][-+]?[0-9]+)?(?![\w.]))"
    r"|(?P<word>(?:true|false|null|NaN|-?Infinity)(?!\w))"
    r"|(?P<mark>[][{}:,])"
    r"|(?P<space>[ \t\n\r]+)"
    r"|(?P<junk>[^\s,:\[\]{}]{1,60}|.)",
    re.DOTALL,
)
_WORDS = {"true": True, "false": False, "null": None}
_HINTS = (
    ("'", "Put text in double quotes, not single ones."),
    ("/", "Take comments out: JSON has none. Remarks go into flag, or the file is written as YAML."),
    ("#", "Take comments out: JSON has none. Remarks go into flag, or the file is written as YAML."),
    ('"', "Close the quotation mark on its own line, and write a backslash twice."),
)


def _tokens(text: str) -> Iterator[tuple[str, str, int]]:
    """Kind, text and line of each token; the last has the kind ``end``."""
    line = 1
    for match in _TOKEN.finditer(text):
        if match.lastgroup != "space":
            yield match.lastgroup or "junk", match.group(), line
        line += match.group().count("\n")
    yield "end", "the end of the file", line


def compose_json(text: str, faults: Faults) -> Node | None:
    """The value of a JSON text as a tree.

    Faults that leave the tree readable are added to ``faults``.

    Raises
    ------
    InputRefusedError
        If the text is no JSON, or breaks a limit of size or depth.
    """
    builder = TreeBuilder(faults)
    closers: list[str] = []
    want = "value"
    for kind, token, line in _tokens(text):
        if kind == "end" and want == "end":
            break
        if (
            token in ("}", "]")
            and closers
            and token == closers[-1]
            and want in (f"comma or {token}", f"first or {token}")
        ):
            closers.pop()
            builder.close()
        elif want.startswith("comma or") and token == ",":
            want = "key" if closers[-1] == "}" else "value"
            continue
        elif want == "colon" and token == ":":
            want = "value"
            continue
        elif want in ("key", "first or }") and kind == "text":
            builder.key(json.loads(token), line)
            want = "colon"
            continue
        elif want in ("value", "first or ]") and token in ("{", "["):
            builder.open(is_table=token == "{", line=line)
            closers.append("}" if token == "{" else "]")
            want = f"first or {closers[-1]}"
            continue
        elif want in ("value", "first or ]") and kind in ("text", "number", "word"):
            builder.scalar(_scalar(kind, token, line))
        else:
            _refuse(builder, want, token, line)
        want = f"comma or {closers[-1]}" if closers else "end"
    return builder.root


def _scalar(kind: str, token: str, line: int) -> Scalar:
    if kind == "text":
        text = json.loads(token)
        return Scalar(line, text, text, is_quoted=True)
    if token in _WORDS:
        return Scalar(line, _WORDS[token], token)
    is_whole = re.fullmatch(r"-?[0-9]{1,15}", token)
    return Scalar(line, int(token) if is_whole else float(token), token)


def _refuse(builder: TreeBuilder, want: str, token: str, line: int) -> NoReturn:
    expected = {
        "value": "a value",
        "key": "a key in double quotes (no comma before a closing bracket)",
        "first or }": "a key in double quotes, or }",
        "first or ]": "a value, or ]",
        "colon": "a colon after the key",
        "comma or }": "a comma or }",
        "comma or ]": "a comma or ]",
        "end": "nothing after the closing bracket",
    }[want]
    builder.faults.refuse(
        where=builder.path,
        line=line,
        found=token if token == "the end of the file" else shown(token),
        expected=f"strict JSON: {expected}",
        do=next((hint for start, hint in _HINTS if token.startswith(start)), "Mend this line or the one above it."),
    )

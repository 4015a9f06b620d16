"""YAML into a tree with lines, by a strict reading of the YAML 1.2 core rules.

PyYAML is used for its scanner only (events with line marks). Its constructors follow YAML 1.1, in which ``no`` is
false, ``012`` is ten and ``1:30`` is ninety; here those stay text. Whatever could make a reader and a file disagree
(anchors, aliases, tags, merge keys, several documents) is refused.
"""

from __future__ import annotations

import re

import yaml

from festoon.records.document import Faults, Node, Scalar, TreeBuilder, shown

_LOADER: type = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
"""The C scanner where it was built; both give the same events."""
_NUMBER = re.compile(r"[-+]?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?(?:[eE][-+]?[0-9]+)?")
"""Narrower than YAML's own rule: in ``012``, ``8.`` and ``.5`` a digit may be too many or missing."""
_LABELLED = (("teeth",), ("papillae",), ("limits",))
"""Tables whose keys are free text; elsewhere a key that is no text is an unknown key and is told as such."""
_WORDS = {"null": None, "Null": None, "NULL": None, "~": None, "": None} | {
    word: word.lower() == "true" for word in ("true", "True", "TRUE", "false", "False", "FALSE")
}
_PLAINLY = (
    ("mapping values are not allowed", "a colon where no key can stand"),
    ("could not find expected ':'", "a line without the colon of a key"),
    ("found character '\\t'", "a tab in the indentation"),
    ("found a tab character", "a tab in the indentation"),
    ("cannot start any token", "a character that no value can begin with (a tab, an @, a ` or a %)"),
    ("did not find expected key", "a line whose indentation fits no key above it"),
    ("did not find expected '-' indicator", "a line that does not belong to the list above it"),
    ("did not find expected node content", "a { or a [ without its end, or a comma too many"),
    ("expected ',' or '}'", "a { without its comma or }"),
    ("expected ',' or ']'", "a [ without its comma or ]"),
    ("unexpected end of stream", "a quotation mark that is never closed"),
    ("unexpected document separator", "a quotation mark that is never closed"),
    ("unknown escape character", "a \\ inside double quotes that means nothing there"),
    ("block sequence entries are not allowed", "a - where no list can begin"),
)
"""What the scanner says, and what it means to somebody who typed a chart."""


def number(text: str) -> int | float | None:
    """The number a plain scalar says, or None where it says none; infinite where it is beyond any float."""
    if not _NUMBER.fullmatch(text):
        return None
    is_whole = re.fullmatch(r"[-+]?[0-9]{1,15}", text)
    return int(text) if is_whole else float(text)


def compose_yaml(text: str, faults: Faults) -> Node | None:
    """The one document of a YAML text as a tree; None where it holds nothing.

    Faults that leave the tree readable are added to ``faults``.

    Raises
    ------
    InputRefusedError
        If the text is no YAML, or breaks a limit of size or depth.
    """
    builder = TreeBuilder(faults)
    n_documents = 0
    try:
        for event in yaml.parse(text, Loader=_LOADER):
            if isinstance(event, yaml.DocumentStartEvent):
                n_documents += 1
                if n_documents > 1:
                    faults.add(
                        line=_line(event),
                        found="a second document (after ---)",
                        expected="one case in one file",
                        do="Put each case into a file of its own.",
                    )
                    break
            _take(event, builder)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line = mark.line + 1 if mark else None
        if error.problem == "exceeded maximum nesting depth":
            builder.refuse_depth(line)  # the scanner looks ahead and met its own limit first
        problem = f"{error.context or ''} {error.problem or ''}"
        words = next((plain for said, plain in _PLAINLY if said in problem), "text that does not hold together")
        near = text.splitlines()[line - 1].strip() if line and line <= len(text.splitlines()) else ""
        faults.refuse(
            where=builder.path,
            line=line,
            found=words + (f", near {shown(near, 40)}" if near else ""),
            expected="YAML: one key, a colon, a space and a value on a line, indented with spaces",
            do="Mend this line or the one above it; text with a colon or a # goes into double quotes.",
        )
    except yaml.YAMLError:
        faults.refuse(
            line=None,
            found="a character that YAML does not allow",
            expected="plain text",
            do="Check that this is the right file and was not damaged on the way.",
        )
    return builder.root


def _line(event: yaml.Event) -> int:
    mark = event.start_mark
    return 1 if mark is None else int(mark.line) + 1


def _take(event: yaml.Event, builder: TreeBuilder) -> None:
    if isinstance(event, yaml.MappingEndEvent | yaml.SequenceEndEvent):
        builder.close()
        return
    if not isinstance(event, yaml.AliasEvent | yaml.ScalarEvent | yaml.CollectionStartEvent):
        return
    line = _line(event)
    if isinstance(event, yaml.AliasEvent):
        _refuse_anchor(builder, line, f"the alias *{event.anchor}")
        if builder.expects_key:
            builder.key(f"*{event.anchor}", line)
        else:
            builder.scalar(Scalar(line, None, f"*{event.anchor}"))
        return
    if event.anchor is not None:
        _refuse_anchor(builder, line, f"the anchor &{event.anchor}")
    if event.tag is not None:
        builder.faults.add(
            where=builder.path,
            line=line,
            found=f"the tag {shown(event.tag)}",
            expected="values without tags",
            do="Drop the tag: the format says what each value is.",
        )
    if not isinstance(event, yaml.ScalarEvent):
        if builder.expects_key:
            builder.faults.refuse(
                where=builder.path,
                line=line,
                found="a table or a list used as a key",
                expected="a key that is text",
                do="Write the key as plain text; a value that begins with { or [ goes after the colon.",
            )
        builder.open(is_table=isinstance(event, yaml.MappingStartEvent), line=line)
    elif builder.expects_key:
        builder.key(_key(event, builder, line), line)
    else:
        builder.scalar(_scalar(event, line))


def _scalar(event: yaml.ScalarEvent, line: int) -> Scalar:
    if event.tag is not None:
        return Scalar(line, None, event.value)  # the tag has its fault; what it makes of the text is nobody's guess
    if event.style:
        return Scalar(line, event.value, event.value, is_quoted=True)
    if event.value in _WORDS:
        return Scalar(line, _WORDS[event.value], event.value)
    value = number(event.value)
    return Scalar(line, event.value if value is None else value, event.value)


def _key(event: yaml.ScalarEvent, builder: TreeBuilder, line: int) -> str:
    key: str = event.value
    if builder.path[-1:] in _LABELLED and not isinstance(_scalar(event, line).value, str):
        builder.faults.add(
            where=(*builder.path, key),
            line=line,
            found=f"the key {shown(key)[1:-1]} without quotes",
            expected=f'the key in quotes: "{key}"' if key else "a key before the colon",
            do=f'Write "{key}": in quotes; a tooth is a label, not a number.' if key else "Write the key.",
        )
    return key


def _refuse_anchor(builder: TreeBuilder, line: int, found: str) -> None:
    builder.faults.add(
        where=builder.path,
        line=line,
        found=found,
        expected="every value written where it belongs",
        do="Write the value out in each place: a reference hides whose number it is. "
        "Text that begins with & or * goes in quotes.",
    )

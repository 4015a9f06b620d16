"""A case as YAML text that :func:`festoon.records.casefile.parse_case` reads back to an equal case."""

from __future__ import annotations

import re
from typing import Any

import yaml
from pydantic import BaseModel

from festoon.model.case import Case
from festoon.model.dentition import Notation, Tooth
from festoon.model.reading import Datum, Reading

_WIDTH = 110
_PLAIN = re.compile(r"[a-z][a-z_]*|festoon-case/1")
_TAKEN_FOR_NO_TEXT = {"true", "false", "null", "yes", "no", "on", "off", "y", "n"}


def write_case(case: Case, notation: Notation) -> str:
    """The case as YAML, its teeth named in ``notation``.

    What is unknown is left out. A level that holds nothing but a value from the present edge is written as a bare
    number, any other with its datum.

    Parameters
    ----------
    case : Case
        The case.
    notation : Notation
        How teeth, papillae and roles are named in the text. The case read back says this notation.

    Returns
    -------
    text : str
        UTF-8 YAML, format ``festoon-case/1``, ending in a newline.
    """
    data = _record(case)
    data["teeth"] = {_named(code, notation): _chart(chart, notation) for code, chart in data["teeth"].items()}
    if "papillae" in data:
        data["papillae"] = {
            "-".join(_named(code, notation) for code in pair.split("-")): entry
            for pair, entry in data["papillae"].items()
        }
    # The head first, whatever of it stands at its default.
    head = {"format": case.format, "case": case.case, "purpose": str(case.purpose), "notation": str(notation)}
    text: str = yaml.dump(
        head | {key: value for key, value in data.items() if key not in head},
        Dumper=_Dumper,
        sort_keys=False,
        allow_unicode=True,
        default_flow_style=None,
        width=_WIDTH,
    )
    return text


def _named(code: str, notation: Notation) -> str:
    return Tooth(code).shown(notation)


def _chart(chart: dict[str, Any], notation: Notation) -> dict[str, Any]:
    return chart | {"role": _named(chart["role"], notation)} if "role" in chart else chart


def _record(record: BaseModel) -> dict[str, Any]:
    """The fields of a record that say something, in the order of the model."""
    written = {}
    for key, info in type(record).model_fields.items():
        value = getattr(record, key)
        if info.is_required() or value != info.get_default(call_default_factory=True, validated_data={}):
            written[key] = _plain(value)
    return written


def _plain(value: Any) -> Any:
    if isinstance(value, Reading):
        long_form = _record(value)
        if long_form == {"value": value.value} or long_form == {
            "value": value.value,
            "datum": Datum.PRESENT_EDGE.value,
        }:
            return value.value
        return _OneLine(long_form)
    if isinstance(value, BaseModel):
        return _record(value)
    if isinstance(value, tuple):
        readings = [_plain(reading) for reading in value]
        return readings[0] if len(readings) == 1 else readings
    if isinstance(value, dict):
        return {str(key): _plain(entry) for key, entry in value.items()}
    return str(value) if isinstance(value, str) else value


class _OneLine(dict[str, Any]):
    """A long form, written on one line whatever it holds."""


class _Dumper(yaml.SafeDumper):
    """Quotes every text that some reader of YAML might take for something else."""

    def ignore_aliases(self, data: Any) -> bool:  # noqa: ARG002 - PyYAML calls it so
        """Equal values are written out each time: the reader refuses aliases."""
        return True


def _text(dumper: _Dumper, text: str) -> yaml.ScalarNode:
    is_plain = _PLAIN.fullmatch(text) and text not in _TAKEN_FOR_NO_TEXT
    return dumper.represent_scalar("tag:yaml.org,2002:str", text, style=None if is_plain else '"')


def _one_line(dumper: _Dumper, long_form: _OneLine) -> yaml.MappingNode:
    return dumper.represent_mapping("tag:yaml.org,2002:map", long_form, flow_style=True)


_Dumper.add_representer(str, _text)
_Dumper.add_representer(_OneLine, _one_line)
